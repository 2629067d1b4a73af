//! Strokes to a click, or in a file with a tempo of its own.

use rhythm::TempoMark;
use timebase::{Position, Span, Tempo};

use super::course::{Beat, Plan, PlannedCell};
use super::heard::Heard;
use super::limits::BEATS;
use super::pattern::{Patterns, Strength};
use super::search::{self, best, settled};
use super::timing::{Grid, PlannedBar};
use super::vocabulary::{Cell, Taught};
use super::writing::{self, Written};
use super::{Error, Quantised, Settings, Tap};

/// A player may be so much faster than the click before cells run out.
const FASTER: f64 = 1.12;

pub(super) fn quantise(taps: &[Tap], grid: &Grid, settings: &Settings) -> Result<Quantised, Error> {
    let pickup = grid.meter(0);
    let origin = Position::ZERO - pickup.bar_length();
    let cell = Cell::of(pickup).length;
    // What fell before the bar in front of count 1 belongs to the count-in.
    let earliest = grid.seconds(origin) - 0.25 * (grid.seconds(origin + cell) - grid.seconds(origin));
    let is_in = |tap: &&Tap| (tap.at - grid.bar_one()).as_secs_f64() >= earliest;
    let inside: Vec<Tap> = taps.iter().filter(is_in).copied().collect();
    let early = taps.iter().filter(|tap| !is_in(tap)).map(|tap| tap.at);
    if inside.is_empty() {
        return Err(Error::NoStroke { left_out: taps.len() });
    }
    let laid = Laid::of(&inside, grid, settings)?;
    let cell_lasts = laid.expected[1] - laid.expected[0];
    let step = laid.finest(cell_lasts);
    let heard = Heard::of(&inside, grid.bar_one(), Some(step), settings.vocabulary.has(Taught::Flams));
    let plan = Plan { expected: laid.expected.clone(), kinds: &laid.kinds, cells: laid.cells.clone() };
    let found = best(&heard, search::with_click(&plan, cell_lasts));
    let (beat, motion) = match found {
        Some(found) => (found.beat, found.motion),
        None => (laid.as_clicked(), super::motion::Motion::with_click(0.02)),
    };
    let last = heard.at.last().copied().unwrap_or_default();
    let bars = writing::reached(&laid.bars, &beat, last);
    let (plan, beat) = writing::cut(&plan, beat, &laid.bars[..bars]);
    let Some((beat, posterior, way)) = settled(&heard, &plan, &motion, beat) else {
        return Err(Error::NoStroke { left_out: heard.len() });
    };
    let marks = laid.tempo_marks(grid);
    let written = Written {
        heard: &heard,
        plan: &plan,
        beat: &beat,
        posterior: &posterior,
        bars: &laid.bars[..bars],
        way: &way,
        first_is_pickup: laid.has_pickup,
        tempo: grid.tempo().tempo_at(Position::ZERO),
        marks: &marks,
        settings,
    };
    let mut quantised = written.quantised()?;
    quantised.left_out.splice(0..0, early);
    quantised.left_out.sort_unstable();
    Ok(quantised)
}

/// The bars and cells that the click counted, from the bar in front of count 1 if a stroke lies in it.
struct Laid {
    bars: Vec<PlannedBar>,
    cells: Vec<PlannedCell>,
    expected: Vec<f64>,
    kinds: Vec<Patterns>,
    has_pickup: bool,
    /// Where the first of the bars begins.
    origin: Position,
}

impl Laid {
    fn of(taps: &[Tap], grid: &Grid, settings: &Settings) -> Result<Self, Error> {
        let seconds = |tap: &Tap| (tap.at - grid.bar_one()).as_secs_f64();
        let first = taps.iter().map(seconds).fold(f64::INFINITY, f64::min);
        let last = taps.iter().map(seconds).fold(0.0, f64::max);
        let has_pickup = first < 0.0;
        let mut number = i64::from(!has_pickup);
        let origin = if has_pickup { Position::ZERO - grid.meter(0).bar_length() } else { Position::ZERO };
        let mut laid = Self {
            bars: Vec::new(),
            cells: Vec::new(),
            expected: Vec::new(),
            kinds: Vec::new(),
            has_pickup,
            origin,
        };
        let mut known: Vec<Cell> = Vec::new();
        let mut at = Span::ZERO;
        let mut spare = 2;
        while spare > 0 {
            let meter = grid.meter(number);
            let cell = Cell::of(meter);
            let kind = known.iter().position(|other| *other == cell).unwrap_or_else(|| {
                known.push(cell);
                laid.kinds.push(Patterns::of(cell, settings.vocabulary));
                known.len() - 1
            });
            let cells = cell.in_bar(meter);
            laid.bars.push(PlannedBar { meter, at, cell: laid.cells.len(), cells, cell_length: cell.length });
            for index in 0..cells {
                let strength = if index == 0 { Strength::Downbeat } else { Strength::Other };
                let place = at + cell.length * i64::try_from(index).unwrap_or(i64::MAX);
                laid.expected.push(grid.seconds(origin + place));
                laid.cells.push(PlannedCell { kind, strength });
            }
            at = at
                .checked_add(meter.bar_length())
                .ok_or(Error::OutOfRange { given: BEATS.most + 1, limit: BEATS })?;
            let beats = i64::try_from(laid.cells.len()).unwrap_or(i64::MAX);
            if !BEATS.holds(beats) {
                return Err(Error::OutOfRange { given: beats, limit: BEATS });
            }
            if grid.seconds(origin + at) > last * FASTER {
                spare -= 1;
            }
            number += 1;
        }
        laid.expected.push(grid.seconds(origin + at));
        Ok(laid)
    }

    /// The shortest distance of two places, in seconds.
    fn finest(&self, cell: f64) -> f64 {
        let parts = self.kinds.iter().map(Patterns::finest).fold(1.0, f64::min);
        parts * cell
    }

    /// The beat of the click itself.
    fn as_clicked(&self) -> Beat {
        let variance = vec![0.0; self.expected.len()];
        Beat { begins: self.expected.clone(), variance, spread: 0.02, bias: None }
    }

    /// For every bar, the tempo that begins with it where that is another than before.
    fn tempo_marks(&self, grid: &Grid) -> Vec<Option<TempoMark>> {
        let mut before = grid.tempo().tempo_at(Position::ZERO);
        self.bars
            .iter()
            .map(|bar| {
                let here = grid.tempo().tempo_at((self.origin + bar.at).max(Position::ZERO));
                let changed = !same_speed(here, before);
                before = here;
                changed.then_some(TempoMark::Beats(here))
            })
            .collect()
    }
}

/// Whether a whole note lasts as long in both.
fn same_speed(a: Tempo, b: Tempo) -> bool {
    a == b || {
        let wholes = |tempo: Tempo| {
            let beat = tempo.beat();
            tempo.bpm_f64() * beat.numerator() as f64 / beat.denominator() as f64
        };
        (wholes(a) / wholes(b) - 1.0).abs() < 1e-6
    }
}
