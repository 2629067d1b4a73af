use timebase::Span;

use super::cell::Cell;
use super::region::Regions;
use super::{House, Note, ThreeFour, Value};
use crate::{Deed, Meter};

/// Gives every note that shares a beam its beam's index, and so every short rest inside a beam. `broken` says
/// of every note whether its author broke the beam before it.
pub(super) fn beam(meter: Meter, regions: &Regions, house: House, broken: &[bool], notes: &mut [Note]) {
    if !notes.iter().any(is_flagged) {
        return;
    }
    let groups = groups(meter);
    let mut keys = keys(&groups, regions, notes);
    for joined in joined(meter, &groups, house) {
        join(joined, notes, &mut keys);
    }
    let mut next = 0;
    let mut first = 0;
    while first < notes.len() {
        let breaks = |index: usize| keys[index] != keys[first] || broken[index] || is_bare(&notes[index]);
        let end = (first + 1..notes.len()).find(|&index| breaks(index)).unwrap_or(notes.len());
        next += beam_run(&mut notes[first..end], next);
        first = end;
    }
}

fn is_flagged(note: &Note) -> bool {
    note.deed != Deed::Rest && note.value.flags() > 0
}

/// Whether a note has no flag, or a rest is as long as a note without one, and so ends a beam.
fn is_bare(note: &Note) -> bool {
    note.value.flags() == 0
}

/// Beams the flagged notes of a run, from its first to its last, if they are two or more; returns how many beams that made.
fn beam_run(run: &mut [Note], index: usize) -> usize {
    let Some(first) = run.iter().position(is_flagged) else { return 0 };
    let last = run.iter().rposition(is_flagged).unwrap_or(first);
    if first == last {
        return 0;
    }
    for note in &mut run[first..=last] {
        note.beam = Some(index);
    }
    1
}

/// A stretch whose notes may share a beam.
#[derive(Clone, Copy, Debug)]
struct Group {
    at: Span,
    length: Span,
}

impl Group {
    fn end(&self) -> Span {
        self.at + self.length
    }
}

/// The stretches of a bar that are beamed by themselves, in order: three units in compound meter, else a
/// quarter; a unit where the bar divides neither in twos nor in threes; and what the author declared.
fn groups(meter: Meter) -> Vec<Group> {
    let mut groups = Vec::new();
    if meter.groups().is_empty() {
        let unit = Span::new(1, i64::from(meter.unit()));
        let length = if meter.unit() <= 4 || meter.beats().is_power_of_two() {
            Span::QUARTER
        } else if meter.beats().is_multiple_of(3) {
            unit * 3
        } else {
            unit
        };
        let mut at = Span::ZERO;
        while at < meter.bar_length() {
            groups.push(Group { at, length });
            at += length;
        }
    } else {
        for cell in declared(meter) {
            by_beat(cell, &mut groups);
        }
    }
    groups
}

/// The declared groups as cells.
fn declared(meter: Meter) -> impl Iterator<Item = Cell> {
    let units: Vec<i64> = meter.groups().iter().map(|&units| i64::from(units)).collect();
    let spans: Vec<(Span, Span)> = meter.group_spans().collect();
    spans.into_iter().zip(units).map(|((at, length), units)| Cell::new(at, length, units))
}

/// A declared group of two, three, five or seven short units is beamed as one; four are two and two, six are three and three.
fn by_beat(cell: Cell, groups: &mut Vec<Group>) {
    let is_long = cell.length > Span::QUARTER;
    let in_halves = cell.parts() == 2 && cell.units > 1 && cell.units % 3 != 0;
    let long_units = cell.length > Span::QUARTER * cell.units || cell.length / cell.units == Span::QUARTER;
    if is_long && (in_halves || cell.units == 6 || long_units) {
        cell.children().for_each(|child| by_beat(child, groups));
    } else {
        groups.push(Group { at: cell.at, length: cell.length });
    }
}

/// For every note where the group begins that it is beamed with: its beat, or its tuplet where that reaches
/// beyond the beat.
fn keys(groups: &[Group], regions: &Regions, notes: &[Note]) -> Vec<Span> {
    let mut here = 0;
    let mut keys = Vec::with_capacity(notes.len());
    for note in notes {
        while here + 1 < groups.len() && groups[here].end() <= note.at {
            here += 1;
        }
        let region = regions.outermost(note.tuplet).filter(|region| {
            // Where the note's beat begins before the region, or ends before it does, the region is in two.
            region.at < groups[here].at || groups[here].end() < region.end()
        });
        keys.push(region.map_or(groups[here].at, |region| region.at));
    }
    keys
}

/// Stretches of several groups that share a beam where they are plain eighths: half a bar of four, a
/// declared group as long, and all of a waltz felt in one or wherever the house wants it.
fn joined(meter: Meter, groups: &[Group], house: House) -> Vec<Group> {
    if !meter.groups().is_empty() {
        let mut halves = Vec::new();
        for cell in declared(meter) {
            half_notes(cell, &mut halves);
        }
        return halves;
    }
    let in_fours = meter.beats().is_power_of_two() || meter.unit() == 2;
    let three_four = meter.beats() == 3 && meter.unit() == 4;
    if in_fours {
        groups
            .chunks(2)
            .filter(|pair| pair.len() == 2)
            .map(|pair| Group { at: pair[0].at, length: Span::HALF })
            .collect()
    } else if three_four && (meter.felt_beats() == 1 || house.three_four == ThreeFour::Six) {
        vec![Group { at: Span::ZERO, length: meter.bar_length() }]
    } else {
        Vec::new()
    }
}

/// The parts of a declared group that are as long as a half note.
fn half_notes(cell: Cell, halves: &mut Vec<Group>) {
    if cell.length == Span::HALF {
        halves.push(Group { at: cell.at, length: cell.length });
    } else if cell.length > Span::HALF {
        cell.children().for_each(|child| half_notes(child, halves));
    }
}

/// Joins what lies in `group` if it is filled with plain eighths.
fn join(group: Group, notes: &[Note], keys: &mut [Span]) {
    let plain = |note: &Note| {
        is_flagged(note) && note.value == Value::Eighth && note.dots == 0 && note.tuplet.is_none()
    };
    let first = notes.partition_point(|note| note.at < group.at);
    let inside = notes[first..].iter().take_while(|note| note.at < group.end());
    let (mut many, mut length) = (0, Span::ZERO);
    for note in inside {
        if !plain(note) {
            return;
        }
        many += 1;
        length += note.length;
    }
    if length == group.length {
        keys[first..first + many].fill(group.at);
    }
}
