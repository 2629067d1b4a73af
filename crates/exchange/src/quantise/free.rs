//! Strokes without a click: tempo, count 1 and meter are found.

use rhythm::Meter;
use timebase::limits::TEMPO_BPM;
use timebase::{Ratio, Span, Tempo};

use super::course::{Beat, Plan, PlannedCell};
use super::heard::Heard;
use super::induction::{periods, preference};
use super::limits::BEATS;
use super::measure::downbeats;
use super::motion::Motion;
use super::pattern::{Patterns, Strength, log_sum};
use super::search::{self, Found, Trial, best, settled};
use super::timing::PlannedBar;
use super::vocabulary::{Cell, Taught};
use super::writing::{self, Written};
use super::{Error, Free, Quantised, Settings, Tap};

/// Strokes without which no tempo is found.
const NEEDED: usize = 4;
/// Beats that are tried.
const PERIODS: usize = 14;

pub(super) fn quantise(taps: &[Tap], free: Free, settings: &Settings) -> Result<Quantised, Error> {
    let origin = taps.iter().map(|tap| tap.at).min().ok_or(Error::NoStroke { left_out: 0 })?;
    let heard = Heard::of(taps, origin, None, settings.vocabulary.has(Taught::Flams));
    if free.tempo.is_none() && heard.len() < NEEDED {
        return Err(Error::NoTempo { given: heard.len(), needed: NEEDED });
    }
    let meters = meters(free, settings)?;
    // One kind of cell each; several meters share a kind.
    let mut cells: Vec<(Cell, f64)> = Vec::new();
    for meter in &meters {
        let cell = Cell::of(*meter);
        if !cells.iter().any(|(other, _)| *other == cell) {
            cells.push((cell, usual(*meter, cell)));
        }
    }
    let kinds: Vec<Patterns> =
        cells.iter().map(|(cell, _)| Patterns::of(*cell, settings.vocabulary)).collect();
    let mut trials = Vec::new();
    for (kind, &(cell, usual)) in cells.iter().enumerate() {
        trials.extend(tried(&heard, &kinds, kind, cell, usual, free)?);
    }
    let found = best(&heard, trials).ok_or(Error::NoTempo { given: heard.len(), needed: NEEDED })?;
    let kind = found.plan.cells[0].kind;
    let mut bars: Vec<(Meter, usize, f64)> = Vec::new();
    for &meter in meters.iter().filter(|meter| Cell::of(**meter) == cells[kind].0) {
        let weights = downbeats(&heard, &found.plan, &found.way, cells[kind].0.in_bar(meter));
        bars.extend(
            weights.into_iter().enumerate().map(|(phase, weight)| (meter, phase, weight + liking(meter))),
        );
    }
    // Of equally likely ones the first: 4/4 from the first stroke.
    let mut best_bar = bars.first().copied().ok_or(Error::NoTempo { given: heard.len(), needed: NEEDED })?;
    for &bar in &bars {
        if bar.2 > best_bar.2 {
            best_bar = bar;
        }
    }
    let (meter, phase, weight) = best_bar;
    let sure = (weight - log_sum(bars.iter().map(|(.., weight)| *weight))).exp();
    let mut quantised = written(&heard, &found, meter, phase, &kinds, settings)?;
    quantised.count_one = Some(sure);
    Ok(quantised)
}

/// The meters that come into question.
fn meters(free: Free, settings: &Settings) -> Result<Vec<Meter>, Error> {
    if let Some(meter) = free.meter {
        return Ok(vec![meter]);
    }
    let mut meters = vec![Meter::COMMON, Meter::new(3, 4)?, Meter::new(2, 4)?];
    if settings.vocabulary.has(Taught::Compound) {
        meters.push(Meter::new(6, 8)?);
    }
    Ok(meters)
}

/// What speaks for a meter before anything is heard.
fn liking(meter: Meter) -> f64 {
    match (meter.beats(), meter.unit()) {
        (4, 4) => 2.0,
        (3, 4) => 0.5,
        _ => 0.0,
    }
}

/// How much shorter a cell is than the beat that people tap their feet to.
fn usual(meter: Meter, cell: Cell) -> f64 {
    let quarter = Span::QUARTER;
    let beat = meter.felt_beat();
    let ratio = |a: Span, b: Span| {
        let ratio = a.in_units_of(b);
        *ratio.numer() as f64 / *ratio.denom() as f64
    };
    // A felt eighth is half a walking step.
    let foot = if beat < quarter && !cell.in_three { quarter } else { beat };
    ratio(cell.length, foot)
}

/// Every beat that is tried for one kind of cell.
fn tried<'a>(
    heard: &Heard,
    kinds: &'a [Patterns],
    kind: usize,
    cell: Cell,
    usual: f64,
    free: Free,
) -> Result<Vec<Trial<'a>>, Error> {
    let candidates: Vec<(f64, f64)> = match free.tempo {
        None => periods(heard, usual, PERIODS).into_iter().map(|p| (p, preference(p / usual))).collect(),
        Some(tempo) => {
            let beats = cell.length.in_units_of(tempo.beat());
            let period = 60.0 / tempo.bpm_f64() * *beats.numer() as f64 / *beats.denom() as f64;
            [1.0, 0.95, 1.05].map(|part| (part * period, 0.0)).into()
        }
    };
    let parts: &[f64] = if cell.in_three { &[0.0, 2.0 / 3.0, 1.0 / 3.0] } else { &[0.0, 0.5, 0.75] };
    let is_place = |part: &f64| kinds[kind].places.iter().any(|place| (place - part).abs() < 1e-9);
    let span = heard.at.last().copied().unwrap_or_default();
    let mut trials = Vec::new();
    for (period, preference) in candidates {
        if search::cells_needed(span, period) > BEATS.most as f64 {
            return Err(Error::OutOfRange { given: BEATS.most + 1, limit: BEATS });
        }
        for &part in parts.iter().filter(|part| is_place(part)) {
            trials.extend(search::alone(kinds, kind, (period, part), preference));
        }
    }
    Ok(trials)
}

fn written(
    heard: &Heard,
    found: &Found<'_>,
    meter: Meter,
    phase: usize,
    kinds: &[Patterns],
    settings: &Settings,
) -> Result<Quantised, Error> {
    let cell = Cell::of(meter);
    let in_bar = cell.in_bar(meter);
    // Cells of the first bar before the first stroke's.
    let before = (in_bar - phase) % in_bar;
    let laid = laid(found, meter, before, kinds);
    let last = heard.at.last().copied().unwrap_or_default();
    let bars = writing::reached(&laid.bars, &laid.beat, last);
    let (plan, beat) = writing::cut(&laid.plan, laid.beat, &laid.bars[..bars]);
    let tempo = tempo(&beat, meter, cell, before)?;
    let lasts = beat.begins[before + 1] - beat.begins[before];
    let motion = Motion::alone(beat.spread, 0.004 * lasts, (0.0, beat.spread), 0.01 * lasts);
    let Some((beat, posterior, way)) = settled(heard, &plan, &motion, beat) else {
        return Err(Error::NoStroke { left_out: heard.len() });
    };
    Written {
        heard,
        plan: &plan,
        beat: &beat,
        posterior: &posterior,
        bars: &laid.bars[..bars],
        way: &way,
        first_is_pickup: before > 0,
        tempo,
        marks: &[],
        settings,
    }
    .quantised()
}

/// The bars of a beat that was found.
struct Laid<'a> {
    plan: Plan<'a>,
    bars: Vec<PlannedBar>,
    beat: Beat,
}

fn laid<'a>(found: &Found<'_>, meter: Meter, before: usize, kinds: &'a [Patterns]) -> Laid<'a> {
    let cell = Cell::of(meter);
    let in_bar = cell.in_bar(meter);
    let lasts = found.beat.begins[1] - found.beat.begins[0];
    let back = |index: usize| found.beat.begins[0] - (before - index) as f64 * lasts;
    let mut begins: Vec<f64> = (0..before).map(back).collect();
    begins.extend(&found.beat.begins);
    let mut variance = vec![found.beat.variance[0]; before];
    variance.extend(&found.beat.variance);
    // Whole bars only.
    while !(begins.len() - 1).is_multiple_of(in_bar) {
        let ends = begins.len() - 1;
        begins.push(2.0 * begins[ends] - begins[ends - 1]);
        variance.push(variance[ends]);
    }
    let kind = found.plan.cells[0].kind;
    let bars = (begins.len() - 1) / in_bar;
    let bars = (0..bars)
        .map(|bar| PlannedBar {
            meter,
            at: meter.bar_length() * i64::try_from(bar).unwrap_or(i64::MAX),
            cell: bar * in_bar,
            cells: in_bar,
            cell_length: cell.length,
        })
        .collect();
    let strength =
        |cell: usize| if cell.is_multiple_of(in_bar) { Strength::Downbeat } else { Strength::Other };
    let cells = (0..begins.len() - 1).map(|cell| PlannedCell { kind, strength: strength(cell) }).collect();
    let plan = Plan { expected: begins.clone(), kinds, cells };
    Laid { plan, bars, beat: Beat { begins, variance, ..found.beat.clone() } }
}

/// The tempo on the whole, to a whole beat a minute.
fn tempo(beat: &Beat, meter: Meter, cell: Cell, from: usize) -> Result<Tempo, Error> {
    let to = beat.begins.len() - 1;
    let lasts = (beat.begins[to] - beat.begins[from]) / (to - from).max(1) as f64;
    let cells = meter.felt_beat().in_units_of(cell.length);
    let felt = lasts * *cells.numer() as f64 / *cells.denom() as f64;
    let (least, most) = (TEMPO_BPM.least, TEMPO_BPM.most);
    let bpm = (60.0 / felt).round().clamp(least as f64, most as f64);
    let bpm = (least..=most).find(|&whole| (whole as f64 - bpm).abs() < 0.5).unwrap_or(least);
    Ok(Tempo::new(meter.felt_beat(), Ratio::from_integer(u32::try_from(bpm).unwrap_or(80)))?)
}
