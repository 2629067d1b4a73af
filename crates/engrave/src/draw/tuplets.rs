use std::ops::Range;

use super::canvas::Canvas;
use crate::Glyph;
use crate::metrics::{BRACKET, HALF_HEAD, STEM_LENGTH};
use crate::placing::Placed;
use crate::plan::part::Sign;

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

/// Notes of one bar under one number.
struct Group {
    actual: u32,
    normal: u32,
    notes: Range<usize>,
    /// Whether another tuplet stands in it.
    holds_another: bool,
}

/// The tuplets of a bar: the inner ones and those by themselves, then those around others.
fn groups(signs: &[Sign]) -> Vec<Group> {
    let inner = |sign: &Sign| sign.note.tuplet.map(|tuplet| (tuplet.index, tuplet.actual, tuplet.normal));
    let outer = |sign: &Sign| {
        let tuplet = sign.note.tuplet?;
        let outer = tuplet.outer.map(|outer| (outer.index, outer.actual, outer.normal));
        outer.or(Some((tuplet.index, tuplet.actual, tuplet.normal)))
    };
    let mut groups = runs(signs, inner, |_| false);
    let holds =
        |inside: &[Sign]| inside.iter().any(|sign| sign.note.tuplet.is_some_and(|own| own.outer.is_some()));
    let mut around = runs(signs, outer, holds);
    around.retain(|group| group.holds_another);
    // What stands in another tuplet's run beside inner ones belongs to the outer number alone.
    groups.retain(|group| {
        let holder = around.iter().find(|outer| outer.notes.contains(&group.notes.start));
        holder.is_none() || signs[group.notes.start].note.tuplet.is_some_and(|own| own.outer.is_some())
    });
    groups.extend(around);
    groups
}

/// Notes side by side with the same tuplet.
fn runs(
    signs: &[Sign],
    tuplet: impl Fn(&Sign) -> Option<(usize, u32, u32)>,
    holds_another: impl Fn(&[Sign]) -> bool,
) -> Vec<Group> {
    let mut groups = Vec::new();
    let mut first = 0;
    while first < signs.len() {
        let here = tuplet(&signs[first]);
        let length = signs[first..].iter().take_while(|sign| tuplet(sign) == here).count();
        let range = first..first + length;
        first = range.end;
        if let Some((_, actual, normal)) = here {
            let holds_another = holds_another(&signs[range.clone()]);
            groups.push(Group { actual, normal, notes: range, holds_another });
        }
    }
    groups
}

/// Numbers over tuplets, with a bracket where no one beam shows the group: where a rest or a note without
/// a beam is in it, values differ, or the beam holds others too (read in open teaching texts). A tuplet
/// around another stands over it.
pub(super) fn tuplets(canvas: &mut Canvas, signs: &[Sign], bar: &Placed) {
    for group in groups(signs) {
        draw(canvas, signs, &group, bar);
    }
}

fn draw(canvas: &mut Canvas, signs: &[Sign], group: &Group, bar: &Placed) {
    let x = |index: usize| bar.columns[signs[index].column];
    let (first, last) = (x(group.notes.start), x(group.notes.end - 1));
    let digits = label(group);
    let half_label = digits.iter().map(|digit| digit.advance()).sum::<f64>() / 2.0;
    if is_shown_by_a_beam(signs, &group.notes) {
        let sign = &signs[group.notes.start];
        let middle = f64::midpoint(sign.stem_x(first), sign.stem_x(last));
        let top = canvas.top(middle - half_label, middle + half_label, -sign.stem);
        canvas.digits_about(&digits, middle, top - NUMBER_GAP);
        return;
    }
    let (left, right) = (first - HALF_HEAD, last + HALF_HEAD + 0.2);
    let line = canvas.top(left, right, -STEM_LENGTH) - BRACKET_GAP;
    let middle = f64::midpoint(left, right);
    let half = half_label + NUMBER_PAD;
    canvas.digits_about(&digits, middle, line + HALF_DIGIT);
    for (end, inner) in [(left, middle - half), (right, middle + half)] {
        canvas.line((end, line - BRACKET / 2.0), (end, line + HOOK), BRACKET);
        if (end < middle && end < inner) || (end > middle && inner < end) {
            canvas.line((end, line), (inner, line), BRACKET);
        }
    }
}

/// Whether one beam holds exactly these notes, and they are alike.
fn is_shown_by_a_beam(signs: &[Sign], notes: &Range<usize>) -> bool {
    let beam = |index: usize| signs.get(index).and_then(|sign| sign.note.beam);
    let first = &signs[notes.start].note;
    let alike = |sign: &Sign| {
        let note = &sign.note;
        (note.beam, note.value, note.dots) == (first.beam, first.value, first.dots) && !sign.is_rest()
    };
    let begins = notes.start.checked_sub(1).and_then(beam) != first.beam;
    let ends = beam(notes.end) != first.beam;
    first.beam.is_some() && begins && ends && signs[notes.clone()].iter().all(alike)
}

/// The number of a usual tuplet (3, 5, 6, 7), else the ratio.
fn label(group: &Group) -> Vec<Glyph> {
    let usual = matches!((group.actual, group.normal), (3, 2) | (5..=7, 4) | (9..=15, 8));
    let mut digits = Glyph::tuplet_digits(group.actual);
    if !usual {
        digits.push(Glyph::TupletColon);
        digits.extend(Glyph::tuplet_digits(group.normal));
    }
    digits
}
