use kurbo::{BezPath, Point};
use rhythm::Deed;
use rhythm::spelling::{Note, Value};

use super::{Pen, note_columns};
use crate::engraving::System;
use crate::metrics::{HALF_HEAD, TIE_END, TIE_MIDDLE};
use crate::placing::Row;
use crate::plan::Plan;
use crate::{Glyph, Ink, Item, Paint};

/// From the staff's line down to the ends of a tie.
const DROP: f64 = 0.75;
/// Between a head and the tie's end.
const GAP: f64 = 0.12;
/// How long the half of a tie is that has no head on its other side.
const HALF_TIE: f64 = 2.2;

/// A note and where it stands.
#[derive(Clone, Copy)]
struct Standing {
    note: Note,
    system: usize,
    x: f64,
    bar: usize,
    /// Where the signs at the beginning of its bar end.
    clear: f64,
}

/// Ties to every held note from the note before it; over the end of a system both halves; and a half
/// where a repeat comes back to a held note.
pub(crate) fn ties(pen: &mut Pen, plans: &[Plan], rows: &[Row], systems: &[System]) {
    let mut notes = Vec::new();
    for (system, row) in rows.iter().enumerate() {
        for bar in &row.bars {
            let plan = &plans[bar.index];
            let standing = plan.notes.iter().zip(note_columns(plan, bar));
            let (bar, clear) = (bar.index, bar.inner_left);
            notes.extend(standing.map(|(note, x)| Standing { note: *note, system, x, bar, clear }));
        }
    }
    for pair in notes.windows(2) {
        let apart = pair[1].bar != pair[0].bar && plans[pair[1].bar].stands_apart;
        if pair[1].note.deed == Deed::Hold && apart {
            // What it is tied to stands elsewhere: before the first ending, or where the coda is left for.
            let to = left_of(pair[1]);
            tie(pen, pair[1].clear.max(to - HALF_TIE), to, systems[pair[1].system].staff + DROP);
            continue;
        }
        if pair[1].note.deed != Deed::Hold || pair[0].note.deed == Deed::Rest {
            continue;
        }
        let y = |standing: Standing| systems[standing.system].staff + DROP;
        let (from, to) = (right_of(pair[0]), left_of(pair[1]));
        if pair[0].system == pair[1].system {
            tie(pen, from, to, y(pair[0]));
        } else {
            tie(pen, from, systems[pair[0].system].right - 0.3, y(pair[0]));
            tie(pen, pair[1].clear.max(to - HALF_TIE), to, y(pair[1]));
        }
    }
    for (index, _) in plans.iter().enumerate().filter(|(_, plan)| plan.closes_repeat.is_some()) {
        let opens = plans[..=index].iter().rev().find(|plan| plan.opens_repeat);
        let comes_back =
            opens.and_then(|plan| plan.notes.first()).is_some_and(|note| note.deed == Deed::Hold);
        let last = notes.iter().rev().find(|standing| standing.bar == index);
        if let Some(last) = last.filter(|last| comes_back && last.note.deed != Deed::Rest) {
            let from = right_of(*last);
            tie(pen, from, from + HALF_TIE, systems[last.system].staff + DROP);
        }
    }
}

fn half_head(standing: Standing) -> f64 {
    if standing.note.value == Value::Whole { Glyph::NoteWhole.bounds().width() / 2.0 } else { HALF_HEAD }
}

/// Ties begin and end under the heads, a little inside of their edges, so that short ones have room.
fn right_of(standing: Standing) -> f64 {
    standing.x + half_head(standing) * 0.5 + GAP
}

fn left_of(standing: Standing) -> f64 {
    standing.x - half_head(standing) * 0.5 - GAP
}

/// A crescent that hangs under the line `y`.
fn tie(pen: &mut Pen, from: f64, to: f64, y: f64) {
    let length = (to - from).max(0.5);
    let depth = (0.3 + length * 0.07).clamp(0.4, 1.1);
    // A cubic with its controls at 4/3 of the depth is as deep as the depth in its middle.
    let inset = (length * 0.3).min(1.6);
    let control = |x: f64, half: f64| Point::new(x, y + (depth + half) * 4.0 / 3.0);
    let (thin, thick) = (TIE_END / 2.0, TIE_MIDDLE / 2.0);
    let mut path = BezPath::new();
    path.move_to((from, y - thin));
    path.curve_to(control(from + inset, -thick), control(to - inset, -thick), Point::new(to, y - thin));
    path.line_to((to, y + thin));
    path.curve_to(control(to - inset, thick), control(from + inset, thick), Point::new(from, y + thin));
    path.close_path();
    pen.add(Item::Path { path, paint: Paint::Fill, ink: Ink::Main });
}
