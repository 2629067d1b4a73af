use timebase::Span;

use super::cell::Cell;
use super::region::Region;
use super::symbol::Symbol;
use super::{Note, Values};
use crate::{Bar, Division, Event, Tuplet};

/// The largest odd number of parts that is written as a tuplet; beyond it every event is one symbol.
const MOST_PARTS: i64 = 63;

/// Whether plain values can reach `at`.
fn is_plain(at: Span) -> bool {
    at.denominator().count_ones() == 1
}

fn odd_part(number: i64) -> i64 {
    number >> number.trailing_zeros()
}

/// The tuplets that the events outside the author's need, in order, or `None` if one would divide into more than
/// [`MOST_PARTS`].
pub(super) fn derived(
    bar: &Bar,
    grid: Cell,
    events: &[Event],
    authors: &[Tuplet],
    values: Values,
) -> Option<Vec<Region>> {
    let mut cells: Vec<Cell> = Vec::new();
    let mut tuplets = tops(authors).peekable();
    let mut index = 0;
    while let Some(event) = events.get(index) {
        while tuplets.next_if(|tuplet| tuplet.end() <= event.at).is_some() {}
        if tuplets.peek().is_some_and(|tuplet| tuplet.at <= event.at) {
            index += 1;
            continue;
        }
        // A run of events from one place that plain values reach to the next, or to a tuplet.
        let run = &events[index..];
        let limit = tuplets.peek().map(|tuplet| tuplet.at);
        let ends = |event: &Event| is_plain(event.end()) || limit == Some(event.end());
        let run = &run[..=run.iter().position(ends).unwrap_or(run.len() - 1)];
        index += run.len();
        if run.len() == 1 && is_plain(run[0].at) && is_plain(run[0].end()) {
            continue;
        }
        let whole = run_cell(run);
        if match values {
            Values::Authors => is_as_written(run, 2),
            Values::Rules => is_as_written(run, 1) && stands_across_beats(bar, grid, run),
        } {
            cells.push(whole);
        } else {
            let next = |index: usize| run.get(index + 1);
            cells.extend(
                run.iter().enumerate().flat_map(|(index, event)| beat_cells(bar, *event, next(index))),
            );
        }
    }
    tidy(bar, &mut cells);
    // What an author wrote stands as it is; no other tuplet reaches into it.
    let mut tuplets = tops(authors).peekable();
    cells.retain(|cell| {
        while tuplets.next_if(|tuplet| tuplet.end() <= cell.at).is_some() {}
        tuplets.peek().is_none_or(|tuplet| cell.end() <= tuplet.at)
    });
    cells.into_iter().map(|cell| region(cell, events)).collect()
}

/// The tuplets that stand in no other.
fn tops(tuplets: &[Tuplet]) -> impl Iterator<Item = Tuplet> + '_ {
    let mut reached = None;
    tuplets.iter().copied().filter(move |tuplet| {
        let is_top = reached.is_none_or(|reached| reached <= tuplet.at);
        if is_top {
            reached = Some(tuplet.end());
        }
        is_top
    })
}

/// Whether every event of the run is one symbol under a tuplet as long as the run.
fn is_as_written(run: &[Event], most_dots: u8) -> bool {
    region(run_cell(run), run).is_some_and(|region| {
        is_plain(region.at)
            && run.iter().all(|event| Symbol::of(region.written(event.length), most_dots).is_some())
    })
}

/// Whether a run is better gathered in one tuplet than cut at the beats: it fills several beats that the
/// meter makes one, its notes are equal or leave no beat as it is, and what goes over a beat is whole parts of it:
/// three quarters in two beats, one of them as two eighths; not a note and a half, which is tied at the beat.
fn stands_across_beats(bar: &Bar, grid: Cell, run: &[Event]) -> bool {
    let whole = run_cell(run);
    let cell = grid.around(whole.at, whole.end());
    let beats = whole.length.in_units_of(bar.meter().felt_beat());
    if (cell.at, cell.length) != (whole.at, whole.length) || beats <= 1.into() {
        return false;
    }
    let beat = bar.meter().felt_beat();
    let goes_over = |event: &&Event| event.at.modulo(beat) + event.length > beat;
    let Some(unit) = region(whole, run).map(|region| whole.length / i64::from(region.actual)) else {
        return false;
    };
    let in_parts =
        |event: &Event| [event.at, event.end()].iter().all(|at| (*at - whole.at).is_multiple_of(unit));
    if !run.iter().filter(goes_over).all(in_parts) {
        return false;
    }
    let mut beat_before = None;
    let mut touched = 0;
    for event in run.iter().filter(|event| !is_plain(event.at)) {
        let beat = Some(bar.meter().beat_of(event.at).0);
        touched += i64::from(beat != beat_before);
        beat_before = beat;
    }
    run.iter().all(|event| event.length == run[0].length) || beats == touched.into()
}

fn run_cell(run: &[Event]) -> Cell {
    let (first, last) = (run[0], run[run.len() - 1]);
    Cell::new(first.at, last.end() - first.at, 1)
}

/// The smallest parts of beats that hold what meets where `event` ends and `next` begins, and likewise
/// where the bar, or what stands outside the author's tuplets, begins or ends between the plain places.
fn beat_cells(bar: &Bar, event: Event, next: Option<&Event>) -> Vec<Cell> {
    let around = |boundary: Span, from: Span, to: Span| {
        let beat = bar.meter().felt_beat();
        let units = if bar.meter().division() == Division::Three { 3 } else { 1 };
        let at = boundary - boundary.modulo(beat);
        let beat = Cell::new(at, beat, units);
        beat.around(from.max(beat.at), to.min(beat.end()))
    };
    let mut cells = Vec::new();
    if !is_plain(event.at) && event.at == bar.start() {
        cells.push(around(event.at, event.at, event.end()));
    }
    if !is_plain(event.end()) {
        match next {
            Some(next) => cells.push(around(next.at, event.at, next.end())),
            None if event.end() == bar.end() => cells.push(around(event.end(), event.at, event.end())),
            None => {}
        }
    }
    cells
}

/// In order, none inside another or over its edge, and the two halves of a beat joined where both are tuplets.
fn tidy(bar: &Bar, cells: &mut Vec<Cell>) {
    cells.sort_by_key(|cell| (cell.at, std::cmp::Reverse(cell.length)));
    let beat = bar.meter().felt_beat();
    let halves_of_one = |first: Cell, second: Cell| {
        let joined = first.length * 2;
        first.length == second.length
            && first.end() == second.at
            && joined <= beat
            && beat.is_multiple_of(joined)
            && first.at.is_multiple_of(joined)
    };
    let mut kept: Vec<Cell> = Vec::with_capacity(cells.len());
    for cell in cells.drain(..) {
        if kept.last().is_some_and(|before| cell.at < before.end()) {
            continue;
        }
        kept.push(cell);
        while let [.., first, second] = kept[..]
            && halves_of_one(first, second)
        {
            kept.truncate(kept.len() - 2);
            kept.push(Cell::new(first.at, first.length * 2, first.units));
        }
    }
    *cells = kept;
}

/// The tuplet that makes every boundary inside `cell` plain.
fn region(cell: Cell, events: &[Event]) -> Option<Region> {
    let first = events.partition_point(|event| event.end() <= cell.at);
    let mut parts = 1;
    for event in events[first..].iter().take_while(|event| event.at < cell.end()) {
        for edge in [event.at, event.end()] {
            if !cell.holds(edge, edge) {
                continue;
            }
            let odd = odd_part(edge.denominator());
            parts = parts / gcd(parts, odd) * odd;
            if parts > MOST_PARTS {
                return None;
            }
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
        is_authors: false,
    })
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// The least common multiple of the denominators of all places, or `None` above `most`.
pub(super) fn common_denominator(places: impl Iterator<Item = Span>, most: i64) -> Option<i64> {
    places.map(Span::denominator).try_fold(1_i64, |common, denominator| {
        if common % denominator == 0 {
            return Some(common);
        }
        let multiple = (common / gcd(common, denominator)).checked_mul(denominator)?;
        (multiple <= most).then_some(multiple)
    })
}

/// A triplet that no author wrote and none of whose notes is longer than a sixth of it is numbered as a sextuplet.
pub(super) fn number_sextuplets(regions: &[Region], notes: &mut [Note]) {
    let is_derived_triplet = |region: &Region| region.actual == 3 && !region.is_authors;
    let index_of = |note: &Note| note.tuplet.map(|tuplet| tuplet.index);
    let mut first = 0;
    while first < notes.len() {
        let index = index_of(&notes[first]);
        let many = notes[first..].iter().take_while(|note| index_of(note) == index).count();
        let inside = &mut notes[first..first + many];
        first += many;
        let Some(region) = index.and_then(|index| regions.get(index)).filter(|r| is_derived_triplet(r))
        else {
            continue;
        };
        if inside.iter().all(|note| note.length * 6 <= region.length) {
            for tuplet in inside.iter_mut().filter_map(|note| note.tuplet.as_mut()) {
                (tuplet.actual, tuplet.normal) = (6, 4);
            }
        }
    }
}
