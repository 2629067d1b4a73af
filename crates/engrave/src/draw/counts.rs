use rhythm::Deed;

use super::Sheets;
use crate::font::{Weight, text_width};
use crate::metrics::{HELD_DROP, HELD_LINE};
use crate::placing::Placed;
use crate::plan::part::PartBar;
use crate::plan::words::{count_weight, count_words};
use crate::{Anchor, Ink, Item, Layout};

/// The counts of one line under their notes: struck bold, held light, rests light and in parentheses if so wanted.
pub(super) fn counts(
    items: &mut Vec<Item>,
    part: &PartBar,
    line: usize,
    bar: &Placed,
    y: f64,
    layout: &Layout,
) {
    for at in &part.counts[line] {
        let Some(text) = count_words(&at.count, layout) else { continue };
        let ink = if at.count.deed == Deed::Attack { Ink::Main } else { Ink::Soft };
        let (x, weight) = (bar.columns[at.column], count_weight(&at.count));
        items.push(Item::text(text, (x, y), layout.print.count(), weight, Anchor::Middle, ink));
    }
}

/// Between a struck count and the line that goes on from it.
const CLEAR: f64 = 0.3;

#[derive(Clone, Copy)]
struct Held {
    from: f64,
    to: Option<f64>,
}

/// A line under the held counts of a sound, from where it began to its last held count; over the end of a
/// system it goes on in the next.
pub(crate) fn held_lines(sheets: &mut Sheets<'_>, staff: usize, line: usize) {
    let size = sheets.layout.print.count();
    // Where the sound that is going on began, and up to where it is counted as held.
    let mut sound: Option<Held> = None;
    for row in 0..sheets.rows.len() {
        let y = sheets.systems[row][staff].count_lines[line] + HELD_DROP * size;
        let mut draw = |held: Option<Held>| {
            if let Some(Held { from, to: Some(to) }) = held.filter(|held| held.to > Some(held.from)) {
                sheets.items[row].push(Item::line((from, y), (to, y), HELD_LINE, Ink::Soft));
            }
        };
        let bars = &sheets.rows[row].bars;
        if let (Some(held), Some(first)) = (&mut sound, bars.first()) {
            held.from = first.inner_left;
        }
        for bar in bars {
            let plan = &sheets.plans[bar.index];
            let part = &plan.parts[staff];
            if plan.stands_apart {
                draw(sound.take());
                sound = Some(Held { from: bar.inner_left, to: None });
            }
            let mut counted = part.counts[line].iter().peekable();
            for (column, &x) in bar.columns.iter().enumerate() {
                let count = counted.next_if(|count| count.column == column).map(|at| &at.count);
                let half = count.and_then(|count| count_words(count, sheets.layout)).map_or(0.0, |text| {
                    text_width(&text, size, count.map_or(Weight::Regular, count_weight)) / 2.0
                });
                // The counts alone tell: they may be those of several parts together.
                match count.map(|count| count.deed) {
                    Some(Deed::Attack) => {
                        draw(sound.take());
                        sound = Some(Held { from: x + half + CLEAR, to: None });
                    }
                    Some(Deed::Rest) => draw(sound.take()),
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
            draw(Some(*held));
            held.to = None;
        }
    }
}
