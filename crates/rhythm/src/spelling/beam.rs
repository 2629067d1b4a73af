use timebase::Span;

use super::tuplet::Region;
use super::{Note, Value};
use crate::{Bar, Deed, Meter};

/// Gives every note that shares a beam its beam's index, and so every short rest inside a beam.
pub(super) fn beam(bar: &Bar, regions: &[Region], broken: &[Span], notes: &mut [Note]) {
    let groups: Vec<Span> = notes.iter().map(|note| group_of(bar.meter(), regions, note)).collect();
    let groups = join_eighths(bar.meter(), notes, groups);
    let mut next = 0;
    let mut first = 0;
    while first < notes.len() {
        let breaks = |index: usize| groups[index] != groups[first] || broken.contains(&notes[index].at);
        let end = (first + 1..notes.len())
            .find(|&index| breaks(index) || is_bare(&notes[index]))
            .unwrap_or(notes.len());
        next += beam_run(&mut notes[first..end], next);
        first = end;
    }
}

/// Whether a note has no flag and so ends a beam.
fn is_bare(note: &Note) -> bool {
    note.deed != Deed::Rest && note.value.flags() == 0
}

/// Beams the flagged notes of a run, from its first to its last, if they are two or more; returns how many beams that made.
fn beam_run(run: &mut [Note], index: usize) -> usize {
    let flagged = |note: &Note| note.deed != Deed::Rest && note.value.flags() > 0;
    let Some(first) = run.iter().position(flagged) else { return 0 };
    let last = run.iter().rposition(flagged).unwrap_or(first);
    if first == last {
        return 0;
    }
    for note in &mut run[first..=last] {
        note.beam = Some(index);
    }
    1
}

/// Where the group begins that a note is beamed with: its beat, or its tuplet where that is longer.
fn group_of(meter: Meter, regions: &[Region], note: &Note) -> Span {
    let group = group_length(meter);
    let region = note.tuplet.and_then(|tuplet| regions.get(tuplet.index));
    match region {
        Some(region) if region.length > group => region.at,
        _ => note.at - note.at.modulo(group),
    }
}

/// How long a beam may last: three units in compound meter, else a quarter; a unit where the bar divides
/// neither in twos nor in threes.
fn group_length(meter: Meter) -> Span {
    let unit = Span::new(1, i64::from(meter.unit()));
    if meter.unit() <= 4 || meter.beats().is_power_of_two() {
        Span::QUARTER
    } else if meter.beats().is_multiple_of(3) {
        unit * 3
    } else {
        unit
    }
}

/// Joins the two beats of a half bar where they are four plain eighths, and all of a waltz felt in one.
fn join_eighths(meter: Meter, notes: &[Note], mut groups: Vec<Span>) -> Vec<Span> {
    let in_fours = meter.beats().is_power_of_two() || meter.unit() == 2;
    let waltz_in_one = meter.beats() == 3 && meter.unit() == 4 && meter.felt_beats() == 1;
    let (length, eighths) = match (in_fours, waltz_in_one) {
        (true, _) => (Span::HALF, 4),
        (_, true) => (meter.bar_length(), 6),
        _ => return groups,
    };
    let plain = |note: &Note| {
        note.deed != Deed::Rest && note.value == Value::Eighth && note.dots == 0 && note.tuplet.is_none()
    };
    let mut half = Span::ZERO;
    while half < meter.bar_length() {
        let inside: Vec<usize> =
            (0..notes.len()).filter(|&i| half <= notes[i].at && notes[i].at < half + length).collect();
        if inside.len() == eighths && inside.iter().all(|&index| plain(&notes[index])) {
            inside.iter().for_each(|&index| groups[index] = half);
        }
        half += length;
    }
    groups
}
