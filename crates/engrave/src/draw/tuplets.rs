use rhythm::Deed;
use rhythm::spelling::{Note, Tuplet};

use super::notes::{stem_length, stem_x};
use super::{Pen, note_columns};
use crate::Glyph;
use crate::metrics::{BRACKET, HALF_HEAD, STEM_LENGTH};
use crate::placing::Placed;
use crate::plan::Plan;

/// Between a beam and the number over it.
const NUMBER_GAP: f64 = 0.45;
/// Between the stems' ends and a bracket.
const BRACKET_GAP: f64 = 0.9;
/// How far the hooks of a bracket reach down.
const HOOK: f64 = 0.6;
/// What is kept free around the number in a bracket.
const NUMBER_PAD: f64 = 0.35;
/// Half the height of a tuplet's digit.
const HALF_DIGIT: f64 = 0.75;

/// How far the signs of a bar reach over its staff: stems, and numbers over them.
pub(crate) fn reach(plan: &Plan) -> f64 {
    let stems = plan.notes.iter().filter(|note| note.deed != Deed::Rest).map(|note| {
        stem_length(plan, note) + if note.tuplet.is_some() { NUMBER_GAP + 2.0 * HALF_DIGIT } else { 0.0 }
    });
    let silent =
        plan.notes.iter().any(|note| note.tuplet.is_some()).then_some(STEM_LENGTH + BRACKET_GAP + HALF_DIGIT);
    stems.chain(silent).fold(0.0, f64::max)
}

/// Numbers over tuplets, with a bracket where no one beam shows the group: where a rest or a note without
/// a beam is in it, or the beam holds others too (read in open teaching texts).
pub(super) fn tuplets(pen: &mut Pen, plan: &Plan, bar: &Placed, y: f64) {
    let xs = note_columns(plan, bar);
    let mut first = 0;
    while first < plan.notes.len() {
        let Some(tuplet) = plan.notes[first].tuplet else {
            first += 1;
            continue;
        };
        let same = |note: &Note| note.tuplet.is_some_and(|other| other.index == tuplet.index);
        let length = plan.notes[first..].iter().take_while(|note| same(note)).count();
        let end = first + length;
        draw(pen, plan, &xs, tuplet, first..end, y);
        first = end;
    }
}

fn draw(pen: &mut Pen, plan: &Plan, xs: &[f64], tuplet: Tuplet, notes: std::ops::Range<usize>, y: f64) {
    let (first, last) = (notes.start, notes.end - 1);
    let inside = &plan.notes[notes];
    let digits = label(tuplet);
    let height = inside.iter().filter(|note| note.deed != Deed::Rest).map(|note| stem_length(plan, note));
    let top = y - height.fold(STEM_LENGTH, f64::max);
    if is_shown_by_a_beam(plan, inside) {
        let middle = f64::midpoint(stem_x(xs[first]), stem_x(xs[last]));
        pen.digits_about(&digits, middle, top - NUMBER_GAP);
        return;
    }
    let (left, right) = (xs[first] - HALF_HEAD, xs[last] + HALF_HEAD + 0.2);
    let (middle, line) = (f64::midpoint(left, right), top - BRACKET_GAP);
    let half = digits.iter().map(|digit| digit.advance()).sum::<f64>() / 2.0 + NUMBER_PAD;
    pen.digits_about(&digits, middle, line + HALF_DIGIT);
    for (end, inner) in [(left, middle - half), (right, middle + half)] {
        pen.line((end, line - BRACKET / 2.0), (end, line + HOOK), BRACKET);
        if (end < middle && end < inner) || (end > middle && inner < end) {
            pen.line((end, line), (inner, line), BRACKET);
        }
    }
}

/// Whether one beam holds exactly these notes.
fn is_shown_by_a_beam(plan: &Plan, inside: &[Note]) -> bool {
    let Some(beam) = inside.first().and_then(|note| note.beam) else { return false };
    let struck = inside.iter().all(|note| note.beam == Some(beam) && note.deed != Deed::Rest);
    struck && plan.notes.iter().filter(|note| note.beam == Some(beam)).count() == inside.len()
}

/// The number of a usual tuplet (3, 5, 6, 7), else the ratio.
fn label(tuplet: Tuplet) -> Vec<Glyph> {
    let usual = matches!((tuplet.actual, tuplet.normal), (3, 2) | (5..=7, 4) | (9..=15, 8));
    let mut digits = Glyph::tuplet_digits(tuplet.actual);
    if !usual {
        digits.push(Glyph::TupletColon);
        digits.extend(Glyph::tuplet_digits(tuplet.normal));
    }
    digits
}
