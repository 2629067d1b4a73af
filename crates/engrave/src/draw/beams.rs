use kurbo::Rect;
use rhythm::Deed;
use rhythm::spelling::Note;

use super::notes::{stem_length, stem_x};
use super::{Pen, note_columns};
use crate::metrics::{BEAM, BEAM_STEP, STEM};
use crate::placing::Placed;
use crate::plan::Plan;
use crate::{Ink, Item};

/// How long the stub of a beam is that no neighbour shares: a notehead's width.
const STUB: f64 = 1.1;

/// Level beams, the second and further ones only where neighbours share them.
pub(super) fn beams(pen: &mut Pen, plan: &Plan, bar: &Placed, y: f64) {
    let xs = note_columns(plan, bar);
    let beamed = |beam: usize| {
        let notes = plan.notes.iter().zip(&xs);
        notes.filter(move |(note, _)| note.beam == Some(beam) && note.deed != Deed::Rest)
    };
    for beam in 0.. {
        let under: Vec<(&Note, f64)> = beamed(beam).map(|(note, x)| (note, stem_x(*x))).collect();
        let Some((first, _)) = under.first() else { return };
        let top = y - stem_length(plan, first);
        let most = under.iter().map(|(note, _)| note.value.flags()).max().unwrap_or(0);
        for level in 1..=most {
            let top = top + BEAM_STEP * f64::from(level - 1);
            for (left, right) in segments(&under, level) {
                pen.add(Item::block(
                    Rect::new(left - STEM / 2.0, top, right + STEM / 2.0, top + BEAM),
                    Ink::Main,
                ));
            }
        }
    }
}

/// From where to where the beam of this level goes.
fn segments(under: &[(&Note, f64)], level: u8) -> Vec<(f64, f64)> {
    let mut segments = Vec::new();
    let has = |index: usize| under.get(index).is_some_and(|(note, _)| note.value.flags() >= level);
    let mut first = 0;
    while first < under.len() {
        if !has(first) {
            first += 1;
            continue;
        }
        let mut last = first;
        while has(last + 1) {
            last += 1;
        }
        let (x, end) = (under[first].1, under[last].1);
        segments.push(match (last > first, points_left(under, first)) {
            (true, _) => (x, end),
            (false, true) => (x - STUB, x),
            (false, false) => (x, x + STUB),
        });
        first = last + 1;
    }
    segments
}

/// A stub points to the note that its own note completes: back from the end of a beat's part, else onwards.
fn points_left(under: &[(&Note, f64)], index: usize) -> bool {
    let note = under[index].0;
    match (index, index + 1 == under.len()) {
        (0, _) => false,
        (_, true) => true,
        _ => !note.at.is_multiple_of(note.length * 2),
    }
}
