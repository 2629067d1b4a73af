use timebase::Span;

use super::Note;
use super::cell::Cell;
use super::symbol::Symbol;
use crate::{Bar, Division, Event, Form};

/// The largest odd number of parts that is written as a tuplet; beyond it every event is one symbol.
const MOST_PARTS: i64 = 63;

/// A stretch of a bar that divides otherwise than its meter: `actual` in the time of `normal`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Region {
    pub(super) at: Span,
    pub(super) length: Span,
    pub(super) actual: u32,
    pub(super) normal: u32,
}

impl Region {
    pub(super) fn end(&self) -> Span {
        self.at + self.length
    }

    /// What lasts `length` under the tuplet, as it is written.
    pub(super) fn written(&self, length: Span) -> Span {
        length * i64::from(self.actual) / i64::from(self.normal)
    }

    /// What is written `length` under the tuplet, as it lasts.
    pub(super) fn sounding(&self, length: Span) -> Span {
        length * i64::from(self.normal) / i64::from(self.actual)
    }

    /// The tuplet as a cell of its own, measured as it is written, beginning at 0.
    pub(super) fn cell(&self) -> Cell {
        let length = self.written(self.length);
        Cell { at: Span::ZERO, length, units: length.numerator() }
    }
}

/// Whether plain values can reach `at`.
fn is_plain(at: Span) -> bool {
    odd_part(at.denominator()) == 1
}

fn odd_part(number: i64) -> i64 {
    number >> number.trailing_zeros()
}

/// The tuplets of a bar in order, or `None` if one would divide into more than [`MOST_PARTS`].
pub(super) fn regions(bar: &Bar, events: &[Event]) -> Option<Vec<Region>> {
    let mut cells: Vec<Cell> = Vec::new();
    let mut index = 0;
    while index < events.len() {
        // A run of events from one place that plain values reach to the next.
        let run = &events[index..];
        let run = &run[..=run.iter().position(|event| is_plain(event.end())).unwrap_or(run.len() - 1)];
        index += run.len();
        if run.len() == 1 && is_plain(run[0].at) {
            continue;
        }
        match bar.form() {
            Form::Lengths if is_as_written(run) => cells.push(run_cell(run)),
            _ => cells
                .extend(run.iter().zip(1..).flat_map(|(event, next)| beat_cell(bar, *event, run.get(next)))),
        }
    }
    tidy(bar, &mut cells);
    cells.into_iter().map(|cell| region(cell, events)).collect()
}

/// Whether every event of the run is one symbol under a tuplet as long as the run.
fn is_as_written(run: &[Event]) -> bool {
    region(run_cell(run), run).is_some_and(|region| {
        is_plain(region.at) && run.iter().all(|event| Symbol::of(region.written(event.length), 2).is_some())
    })
}

fn run_cell(run: &[Event]) -> Cell {
    let (first, last) = (run[0], run[run.len() - 1]);
    Cell { at: first.at, length: last.end() - first.at, units: 1 }
}

/// The smallest part of a beat that holds what meets where `event` ends and `next` begins, and likewise
/// where a pickup begins between the plain places.
fn beat_cell(bar: &Bar, event: Event, next: Option<&Event>) -> Vec<Cell> {
    let around = |boundary: Span, from: Span, to: Span| {
        let beat = bar.meter().felt_beat();
        let units = if bar.meter().division() == Division::Three { 3 } else { 1 };
        let at = boundary - boundary.modulo(beat);
        let beat = Cell { at, length: beat, units };
        beat.around(from.max(beat.at), to.min(beat.end()))
    };
    let mut cells = Vec::new();
    if !is_plain(event.at) && event.at == bar.start() {
        cells.push(around(event.at, event.at, event.end()));
    }
    if let Some(next) = next
        && !is_plain(event.end())
    {
        cells.push(around(next.at, event.at, next.end()));
    }
    cells
}

/// In order, none inside another, and the two halves of a beat joined where both are tuplets.
fn tidy(bar: &Bar, cells: &mut Vec<Cell>) {
    loop {
        cells.sort_by_key(|cell| (cell.at, std::cmp::Reverse(cell.length)));
        let mut kept: Vec<Cell> = Vec::with_capacity(cells.len());
        for cell in cells.iter() {
            if !kept.last().is_some_and(|before| before.holds(cell.at, cell.end())) {
                kept.push(*cell);
            }
        }
        let beat = bar.meter().felt_beat();
        let halves = kept.windows(2).position(|pair| {
            let joined = pair[0].length * 2;
            pair[0].length == pair[1].length
                && pair[0].end() == pair[1].at
                && joined <= beat
                && beat.is_multiple_of(joined)
                && pair[0].at.is_multiple_of(joined)
        });
        *cells = kept;
        let Some(first) = halves else { return };
        cells[first].length = cells[first].length * 2;
        cells.remove(first + 1);
    }
}

/// The tuplet that makes every boundary inside `cell` plain.
fn region(cell: Cell, events: &[Event]) -> Option<Region> {
    let inside = events.iter().map(|event| event.at).filter(|&at| cell.at <= at && at < cell.end());
    let mut parts = 1;
    for at in inside {
        let odd = odd_part(at.denominator());
        parts = parts / gcd(parts, odd) * odd;
        if parts > MOST_PARTS {
            return None;
        }
    }
    // A cell of three units (a dotted beat) holds five in the time of three, any other five in the time of four.
    let in_threes = odd_part(cell.length.numerator()) == 3 && parts % 3 != 0 && parts > 3;
    let mut normal = if in_threes { 3 } else { 1 };
    while normal * 2 < parts {
        normal *= 2;
    }
    Some(Region {
        at: cell.at,
        length: cell.length,
        actual: u32::try_from(parts).ok()?,
        normal: u32::try_from(normal).ok()?,
    })
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// A triplet none of whose notes is longer than a sixth of it is numbered as a sextuplet.
pub(super) fn number_sextuplets(regions: &[Region], notes: &mut [Note]) {
    for (index, region) in regions.iter().enumerate().filter(|(_, region)| region.actual == 3) {
        let mut inside: Vec<_> = notes
            .iter_mut()
            .filter_map(|note| {
                let fits = note.length * 6 <= region.length;
                note.tuplet.as_mut().filter(|tuplet| tuplet.index == index).map(|tuplet| (fits, tuplet))
            })
            .collect();
        if inside.iter().all(|(fits, _)| *fits) {
            for (_, tuplet) in &mut inside {
                (tuplet.actual, tuplet.normal) = (6, 4);
            }
        }
    }
}
