use kurbo::Rect;
use rhythm::spelling::Note;
use timebase::Span;

use super::canvas::Canvas;
use crate::metrics::{BEAM, BEAM_STEP, STEM};
use crate::placing::Placed;
use crate::plan::part::Sign;
use crate::{Ink, Item};

/// How long the stub of a beam is that no neighbour shares: a notehead's width.
const STUB: f64 = 1.1;
/// Of this many beams on, the second and further ones are broken at every eighth.
const BROKEN_FROM: u8 = 3;

/// Level beams, the second and further ones only where neighbours share them.
pub(super) fn beams(canvas: &mut Canvas, signs: &[Sign], bar: &Placed) {
    let mut first = 0;
    while first < signs.len() {
        let beam = signs[first].note.beam;
        let many = signs[first..].iter().take_while(|sign| sign.note.beam == beam).count();
        if beam.is_some() {
            one(canvas, &signs[first..first + many], bar);
        }
        first += many;
    }
}

fn one(canvas: &mut Canvas, signs: &[Sign], bar: &Placed) {
    let struck = signs.iter().filter(|sign| !sign.is_rest());
    let under: Vec<(&Note, f64)> =
        struck.map(|sign| (&sign.note, sign.stem_x(bar.columns[sign.column]))).collect();
    let most = under.iter().map(|(note, _)| note.value.flags()).max().unwrap_or(0);
    for level in 1..=most {
        let top = BEAM_STEP * f64::from(level - 1) - signs[0].stem;
        for (left, right) in segments(&under, level, most) {
            let rect = Rect::new(left - STEM / 2.0, top, right + STEM / 2.0, top + BEAM);
            canvas.solid(Item::block(rect, Ink::Main));
        }
    }
}

/// From where to where the beam of this level goes.
fn segments(under: &[(&Note, f64)], level: u8, most: u8) -> Vec<(f64, f64)> {
    let mut segments = Vec::new();
    let has = |index: usize| under.get(index).is_some_and(|(note, _)| note.value.flags() >= level);
    let is_broken = |index: usize| {
        level > 1 && most >= BROKEN_FROM && under.get(index).is_some_and(|(note, _)| begins_eighth(note))
    };
    let mut first = 0;
    while first < under.len() {
        if !has(first) {
            first += 1;
            continue;
        }
        let mut last = first;
        while has(last + 1) && !is_broken(last + 1) {
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

/// Where thirty-seconds stand under a beam, only the first beam goes on over an eighth's end (from memory).
fn begins_eighth(note: &Note) -> bool {
    note.tuplet.is_none() && note.at.is_multiple_of(Span::EIGHTH)
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
