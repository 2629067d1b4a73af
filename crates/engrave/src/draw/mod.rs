//! Placed bars made items of a scene.

mod beams;
mod counts;
mod head;
mod notes;
mod staff;
mod ties;
mod tuplets;

use kurbo::Point;

use crate::engraving::System;
use crate::placing::{Placed, Row};
use crate::plan::Plan;
use crate::{Glyph, Ink, Item, Layout};

pub(crate) use self::counts::held_lines;
pub(crate) use self::head::head;
pub use self::head::tempo_mark;
pub(crate) use self::staff::{ending_rise, has_print};
pub(crate) use self::ties::ties;
pub(crate) use self::tuplets::reach;

/// Collects the items of a scene.
#[derive(Clone, Debug, Default)]
pub(crate) struct Pen {
    items: Vec<Item>,
}

impl Pen {
    pub(crate) fn add(&mut self, item: Item) {
        self.items.push(item);
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), width: f64) {
        self.add(Item::line(from, to, width, Ink::Main));
    }

    pub(crate) fn glyph(&mut self, glyph: Glyph, x: f64, y: f64) {
        self.add(Item::glyph(glyph, Point::new(x, y), Ink::Main));
    }

    /// A glyph with the middle of its outline at `x`.
    pub(crate) fn glyph_about(&mut self, glyph: Glyph, x: f64, y: f64) {
        self.glyph(glyph, x - glyph.bounds().center().x, y);
    }

    /// A row of digits with its middle at `x`.
    pub(crate) fn digits_about(&mut self, digits: &[Glyph], x: f64, y: f64) {
        let mut at = x - digits.iter().map(|digit| digit.advance()).sum::<f64>() / 2.0;
        for digit in digits {
            self.glyph(*digit, at, y);
            at += digit.advance();
        }
    }

    pub(crate) fn into_items(self) -> Vec<Item> {
        self.items
    }
}

/// Everything of one system but what goes on from system to system.
pub(crate) fn system(pen: &mut Pen, plans: &[Plan], row: &Row, system: &System, layout: &Layout) {
    staff::staff(pen, system);
    for (number, bar) in row.bars.iter().enumerate() {
        let plan = &plans[bar.index];
        staff::signs(pen, plan, bar, number == 0, system);
        if layout.bar_numbers {
            staff::number(pen, plan, bar, number == 0, system);
        }
        staff::print(pen, plan, bar, system);
        notes::notes(pen, plan, bar, system.staff);
        beams::beams(pen, plan, bar, system.staff);
        tuplets::tuplets(pen, plan, bar, system.staff);
        counts::counts(pen, plan, bar, system.counts);
    }
}

/// The x of every note of a bar, in the order of its notes.
fn note_columns(plan: &Plan, bar: &Placed) -> Vec<f64> {
    let mut xs = vec![0.0; plan.notes.len()];
    for (column, &x) in plan.columns.iter().zip(&bar.columns) {
        if let Some(note) = column.note {
            xs[note] = x;
        }
    }
    xs
}
