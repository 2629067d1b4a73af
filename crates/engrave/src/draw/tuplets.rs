use std::ops::Range;

use rhythm::Deed;
use rhythm::spelling::Note;

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

/// How much higher a tuplet stands that holds another.
const OUTER_RISE: f64 = 2.0;

/// How far the signs of a bar reach over its staff: stems, and numbers over them.
pub(crate) fn reach(plan: &Plan) -> f64 {
    let number = NUMBER_GAP + 2.0 * HALF_DIGIT;
    let stems = plan
        .notes
        .iter()
        .filter(|note| note.deed != Deed::Rest)
        .map(|note| stem_length(plan, note) + if note.tuplet.is_some() { number } else { 0.0 });
    let highest = stems.fold(0.0, f64::max);
    let groups = groups(&plan.notes);
    let bracket = if groups.is_empty() { 0.0 } else { STEM_LENGTH + BRACKET_GAP + HALF_DIGIT };
    let rise = groups.iter().map(Group::rise).fold(0.0, f64::max);
    highest.max(bracket) + rise
}

/// Notes of one bar under one number.
struct Group {
    actual: u32,
    normal: u32,
    notes: Range<usize>,
    /// Whether another tuplet stands in it.
    holds_another: bool,
}

impl Group {
    fn rise(&self) -> f64 {
        if self.holds_another { OUTER_RISE } else { 0.0 }
    }
}

/// The tuplets of a bar: the inner ones and those by themselves, then those around others.
fn groups(notes: &[Note]) -> Vec<Group> {
    let inner = |note: &Note| note.tuplet.map(|tuplet| (tuplet.index, tuplet.actual, tuplet.normal));
    let outer = |note: &Note| {
        let tuplet = note.tuplet?;
        let outer = tuplet.outer.map(|outer| (outer.index, outer.actual, outer.normal));
        outer.or(Some((tuplet.index, tuplet.actual, tuplet.normal)))
    };
    let mut groups = runs(notes, inner, |_| false);
    let holds =
        |inside: &[Note]| inside.iter().any(|note| note.tuplet.is_some_and(|own| own.outer.is_some()));
    let around = runs(notes, outer, holds);
    // What stands in another tuplet's run beside inner ones belongs to the outer number alone.
    groups.retain(|group| {
        let holder =
            around.iter().find(|outer| outer.holds_another && outer.notes.contains(&group.notes.start));
        holder.is_none() || notes[group.notes.start].tuplet.is_some_and(|own| own.outer.is_some())
    });
    groups.extend(around.into_iter().filter(|group| group.holds_another));
    groups
}

/// Notes side by side with the same tuplet.
fn runs(
    notes: &[Note],
    tuplet: impl Fn(&Note) -> Option<(usize, u32, u32)>,
    holds_another: impl Fn(&[Note]) -> bool,
) -> Vec<Group> {
    let mut groups = Vec::new();
    let mut first = 0;
    while first < notes.len() {
        let here = tuplet(&notes[first]);
        let length = notes[first..].iter().take_while(|note| tuplet(note) == here).count();
        let range = first..first + length;
        first = range.end;
        if let Some((_, actual, normal)) = here {
            let holds_another = holds_another(&notes[range.clone()]);
            groups.push(Group { actual, normal, notes: range, holds_another });
        }
    }
    groups
}

/// Numbers over tuplets, with a bracket where no one beam shows the group: where a rest or a note without
/// a beam is in it, values differ, or the beam holds others too (read in open teaching texts). A tuplet
/// around another stands over it.
pub(super) fn tuplets(pen: &mut Pen, plan: &Plan, bar: &Placed, y: f64) {
    let groups = groups(&plan.notes);
    if groups.is_empty() {
        return;
    }
    let xs = note_columns(plan, bar);
    let stems = plan.notes.iter().filter(|note| note.deed != Deed::Rest);
    let highest = stems.map(|note| stem_length(plan, note)).fold(STEM_LENGTH, f64::max);
    for group in groups {
        draw(pen, plan, &xs, &group, y, highest);
    }
}

fn draw(pen: &mut Pen, plan: &Plan, xs: &[f64], group: &Group, y: f64, highest: f64) {
    let (first, last) = (group.notes.start, group.notes.end - 1);
    let inside = &plan.notes[group.notes.clone()];
    let digits = label(group);
    let height = inside.iter().filter(|note| note.deed != Deed::Rest).map(|note| stem_length(plan, note));
    // Over another tuplet it stands over all of the bar, so that none is crossed.
    let height = if group.holds_another { highest } else { height.fold(STEM_LENGTH, f64::max) };
    let top = y - height - group.rise();
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

/// Whether one beam holds exactly these notes, and they are alike.
fn is_shown_by_a_beam(plan: &Plan, inside: &[Note]) -> bool {
    let Some(first) = inside.first().filter(|note| note.beam.is_some()) else { return false };
    let alike = |note: &Note| (note.beam, note.value, note.dots) == (first.beam, first.value, first.dots);
    let struck = inside.iter().all(|note| alike(note) && note.deed != Deed::Rest);
    struck && plan.notes.iter().filter(|note| note.beam == first.beam).count() == inside.len()
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
