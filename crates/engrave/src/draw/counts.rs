use rhythm::Deed;

use super::Pen;
use crate::engraving::System;
use crate::font::text_width;
use crate::metrics::{COUNT_SIZE, HELD_DROP, HELD_LINE};
use crate::placing::{Placed, Row};
use crate::plan::{Plan, count_text, count_weight};
use crate::{Anchor, Ink, Item};

/// The counts under their notes: struck bold, held light, rests light in parentheses.
pub(super) fn counts(pen: &mut Pen, plan: &Plan, bar: &Placed, y: f64) {
    for (column, &x) in plan.columns.iter().zip(&bar.columns) {
        let Some(count) = column.count.map(|index| &plan.counts[index]) else { continue };
        let Some(text) = count_text(count) else { continue };
        let ink = if count.deed == Deed::Attack { Ink::Main } else { Ink::Soft };
        pen.add(Item::text(text, (x, y), COUNT_SIZE, count_weight(count), Anchor::Middle, ink));
    }
}

/// Between a struck count and the line that goes on from it.
const CLEAR: f64 = 0.3;

/// A line under the held counts of a sound, from where it began to its last held count; over the end of a
/// system it goes on in the next.
pub(crate) fn held_lines(pen: &mut Pen, plans: &[Plan], rows: &[Row], systems: &[System]) {
    // Where the sound that is going on began, and up to where it is counted as held.
    let mut sound: Option<Held> = None;
    for (row, system) in rows.iter().zip(systems) {
        if let Some(held) = &mut sound {
            held.from = first_x(row, system);
        }
        for bar in &row.bars {
            let plan = &plans[bar.index];
            if plan.stands_apart {
                end(pen, sound.take(), system);
                sound = Some(Held { from: bar.inner_left, to: None });
            }
            for (column, &x) in plan.columns.iter().zip(&bar.columns) {
                let count = column.count.map(|index| &plan.counts[index]);
                let half = count.and_then(count_text).map_or(0.0, |text| {
                    text_width(&text, COUNT_SIZE, count.map_or(crate::Weight::Regular, count_weight)) / 2.0
                });
                let note = column.note.map(|index| plan.notes[index].deed);
                match note.or(count.map(|count| count.deed)) {
                    Some(Deed::Attack) => {
                        end(pen, sound.take(), system);
                        sound = Some(Held { from: x + half + CLEAR, to: None });
                    }
                    Some(Deed::Rest) => end(pen, sound.take(), system),
                    Some(Deed::Hold) => {
                        if let (Some(held), true) = (&mut sound, half > 0.0) {
                            held.to = Some(x + half);
                        }
                    }
                    None => {}
                }
            }
        }
        if let Some(held) = &mut sound {
            end(pen, Some(*held), system);
            held.to = None;
        }
    }
}

#[derive(Clone, Copy)]
struct Held {
    from: f64,
    to: Option<f64>,
}

fn first_x(row: &Row, system: &System) -> f64 {
    row.bars.first().map_or(system.left, |bar| bar.inner_left)
}

fn end(pen: &mut Pen, held: Option<Held>, system: &System) {
    if let Some(Held { from, to: Some(to) }) = held
        && from < to
    {
        let y = system.counts + HELD_DROP;
        pen.add(Item::line((from, y), (to, y), HELD_LINE, Ink::Soft));
    }
}
