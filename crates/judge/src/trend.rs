//! Where a drift begins, and in which values.

use std::collections::BTreeMap;

use timebase::{Seconds, Span};

use crate::Drift;
use crate::alignment::Alignment;
use crate::estimate::student;
use crate::written::{PARTS, Written, rounded};

/// A pulse that is steady first and drifts from somewhere on, or drifts up to somewhere and is found again there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Trend {
    /// The count from which on it drifts, or where it is found again.
    pub(crate) from: usize,
    /// Whether it is found again there.
    pub(crate) found_again: bool,
    /// Percent faster than written, and its standard error.
    pub(crate) percent: f64,
    pub(crate) error_percent: f64,
    /// How far it moved the pulse by the end, or until it is found again, in ms; negative is ahead.
    pub(crate) carried_ms: f64,
    /// Whether the bent course explains the take clearly better than a straight one.
    pub(crate) bends: bool,
    /// Whether the slope is more than chance, though the best place was looked for.
    pub(crate) sure: bool,
    /// When it bends, in ms.
    bend_ms: f64,
    before: Course,
    after: Course,
}

/// A straight piece of a pulse: where it lies at the bend, in ms, and its slope.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Course {
    level_ms: f64,
    slope: f64,
}

impl Trend {
    /// How far the pulse lies from the click at a written time, in ms.
    pub(crate) fn at(&self, written: i64) -> f64 {
        self.at_ms(ms(written))
    }

    /// It as the drift of the take: what is told of it.
    pub(crate) fn drift(&self) -> Drift {
        Drift {
            percent: self.percent,
            error_percent: self.error_percent,
            sure: true,
            carried: Seconds::from_millis_f64(self.carried_ms),
        }
    }

    /// The standard deviation of matches (written time and offset in nanoseconds) about it, three numbers of which are fitted.
    pub(crate) fn spread(&self, matches: &[(i64, i64)]) -> Seconds {
        let points: Vec<(f64, f64)> = matches.iter().map(|&(at, offset)| (ms(at), ms(offset))).collect();
        let freedom = (points.len() as f64 - FITTED).max(1.0);
        Seconds::from_millis_f64((self.squares(&points) / freedom).sqrt())
    }

    fn at_ms(&self, written_ms: f64) -> f64 {
        let course = if written_ms < self.bend_ms { self.before } else { self.after };
        course.level_ms + course.slope * (written_ms - self.bend_ms)
    }

    fn squares(&self, points: &[(f64, f64)]) -> f64 {
        points.iter().map(|&(at, offset)| (offset - self.at_ms(at)).powi(2)).sum()
    }
}

/// A tempo of its own in notes of one value.
#[derive(Clone, Debug)]
pub(crate) struct ValueTrend {
    pub(crate) called: String,
    pub(crate) percent: f64,
    pub(crate) error_percent: f64,
    /// Of how many values it is the one that stands out most.
    pub(crate) among: usize,
    /// What attacks scatter where every value has a tempo of its own, in ms.
    pub(crate) scatter_ms: f64,
}

/// How many numbers a pulse of two pieces is fitted by.
pub(crate) const FITTED: f64 = 3.0;
/// How many attacks there must be on either side of the bend.
const EITHER_SIDE: usize = 5;
/// By how much the logarithm of the likelihood must rise for a bend, and how many standard errors a slope must be.
const BENDS: f64 = 6.0;
const SURE: f64 = 5.0;
/// The offsets of people hang together, so errors are wider than those of independent ones: by 1.6, as for a correlation of 0.45.
const WIDER: f64 = 1.6;

fn ms(nanos: i64) -> f64 {
    nanos as f64 / 1e6
}

/// The best course of two pieces through offsets: level to the beginning of a bar and then a straight slope, or a straight slope that
/// breaks off where the pulse is found again.
pub(crate) fn trend(written: &Written<'_>, alignment: &Alignment, matches: &[(i64, i64)]) -> Option<Trend> {
    let points: Vec<(f64, f64)> = matches.iter().map(|&(at, offset)| (ms(at), ms(offset))).collect();
    let bent = bent_for_good(written, alignment, &points);
    found_again(written, alignment, &points, bent.as_ref()).or(bent)
}

fn bent_for_good(written: &Written<'_>, alignment: &Alignment, points: &[(f64, f64)]) -> Option<Trend> {
    let trend = bent(written, alignment, points)?;
    if !trend.bends {
        return Some(trend);
    }
    let mut points = points.to_vec();
    // One attack far off at the end must not bend the pulse: without the one that lies furthest from where it was, the pulse bends still.
    let off = |point: &(f64, f64)| {
        if point.0 < trend.bend_ms { 0.0 } else { (point.1 - trend.before.level_ms).abs() }
    };
    let furthest = (0..points.len()).max_by(|&a, &b| off(&points[a]).total_cmp(&off(&points[b])))?;
    points.remove(furthest);
    let bends = bent(written, alignment, &points).is_some_and(|without| without.bends);
    Some(Trend { bends, ..trend })
}

fn bent(written: &Written<'_>, alignment: &Alignment, points: &[(f64, f64)]) -> Option<Trend> {
    let count = points.len();
    if count < 2 * EITHER_SIDE {
        return None;
    }
    let behind = Sums::behind(points);
    let straight = behind[0].fit(f64::MIN, points[0].0, &behind[0])?;
    let mut best: Option<(Fit, usize, f64)> = None;
    for bar in &written.bars {
        let from = ms(alignment.moved[bar.start]);
        let before = points.partition_point(|&(t, _)| t < from);
        if before < EITHER_SIDE || count - before < EITHER_SIDE {
            continue;
        }
        let Some(fit) = behind[before].fit(from, points[0].0, &behind[0]) else { continue };
        if best.as_ref().is_none_or(|(known, ..)| fit.squares < known.squares) {
            best = Some((fit, bar.start, from));
        }
    }
    let (fit, from, at) = best?;
    let freedom = count as f64 - 3.0;
    let variance = (fit.squares / freedom).max(1.0);
    let error = WIDER * (variance / fit.moment).sqrt();
    let rise = 0.5 * count as f64 * (straight.squares.max(1.0) / fit.squares.max(1.0)).ln();
    let last = points[count - 1].0;
    let stretch = 1.0 + fit.slope;
    Some(Trend {
        from,
        found_again: false,
        percent: (1.0 / stretch.max(0.1) - 1.0) * 100.0,
        error_percent: error * 100.0,
        carried_ms: fit.slope * (last - at),
        bends: rise > BENDS && (fit.slope / error).abs() > SURE / 1.3,
        sure: (fit.slope / error).abs() > SURE,
        bend_ms: at,
        before: Course { level_ms: fit.level, slope: 0.0 },
        after: Course { level_ms: fit.level, slope: fit.slope },
    })
}

/// How much more the logarithm of the likelihood must rise for a pulse that is found again: it has two numbers more than one that bends,
/// and may break off at any note.
const FOUND_AGAIN: f64 = BENDS + 4.0;
/// The share of what it was carried that the pulse must be moved back by, where it is found again.
const MOVED_BACK: f64 = 0.6;

/// The best course that drifts straight up to some note and keeps its place from there on, if it explains the offsets clearly better
/// than one without a break, and the break takes back what the drift had carried.
fn found_again(
    written: &Written<'_>,
    alignment: &Alignment,
    points: &[(f64, f64)],
    bent: Option<&Trend>,
) -> Option<Trend> {
    let count = points.len();
    if count < 2 * EITHER_SIDE {
        return None;
    }
    let behind = Sums::behind(points);
    let all = behind[0];
    let straight = all.fit(f64::MIN, points[0].0, &all)?.squares;
    let unbroken = bent.map_or(straight, |bent| straight.min(bent.squares(points)));
    let pieces = (EITHER_SIDE..=count - EITHER_SIDE).filter_map(|split| {
        let (before, after) = (all.without(&behind[split]), behind[split]);
        let run = before.fit(f64::MIN, points[0].0, &before)?;
        let level = after.d / after.count;
        Some((run.squares + (after.dd - after.d * level).max(0.0), split, run, level))
    });
    let (squares, split, run, level) = pieces.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let variance = (squares / (count as f64 - 4.0)).max(1.0);
    let error = WIDER * (variance / run.moment).sqrt();
    let rise = 0.5 * count as f64 * (unbroken.max(1.0) / squares.max(1.0)).ln();
    let (first, last, at) = (points[0].0, points[split - 1].0, points[split].0);
    let carried_ms = run.slope * (last - first);
    let before = Course { level_ms: run.level + run.slope * (at - first), slope: run.slope };
    let back = (before.level_ms - level) * carried_ms.signum();
    let sure = (run.slope / error).abs() > SURE;
    let from = *written.notes.iter().find(|&&note| ms(alignment.moved[note]) >= at)?;
    (rise > FOUND_AGAIN && sure && back > MOVED_BACK * carried_ms.abs()).then_some(Trend {
        from,
        found_again: true,
        percent: (1.0 / (1.0 + run.slope).max(0.1) - 1.0) * 100.0,
        error_percent: error * 100.0,
        carried_ms,
        bends: true,
        sure,
        bend_ms: at,
        before,
        after: Course { level_ms: level, slope: 0.0 },
    })
}

#[derive(Clone, Copy, Debug)]
struct Fit {
    slope: f64,
    level: f64,
    squares: f64,
    /// The sum of squares of what the slope goes along.
    moment: f64,
}

/// Sums over the points from one on, their times counted from the first of all.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    count: f64,
    t: f64,
    tt: f64,
    d: f64,
    dd: f64,
    td: f64,
}

impl Sums {
    /// For each point, the sums from it on.
    fn behind(points: &[(f64, f64)]) -> Vec<Self> {
        let mut sums = vec![Self::default(); points.len() + 1];
        for (index, &(time, d)) in points.iter().enumerate().rev() {
            let (after, t) = (sums[index + 1], time - points[0].0);
            sums[index] = Self {
                count: after.count + 1.0,
                t: after.t + t,
                tt: after.tt + t * t,
                d: after.d + d,
                dd: after.dd + d * d,
                td: after.td + t * d,
            };
        }
        sums
    }

    /// These sums without those of some of the points.
    fn without(&self, other: &Self) -> Self {
        Self {
            count: self.count - other.count,
            t: self.t - other.t,
            tt: self.tt - other.tt,
            d: self.d - other.d,
            dd: self.dd - other.dd,
            td: self.td - other.td,
        }
    }

    /// Least squares of all offsets along max(0, t − `from`), these being the sums of the points behind `from` and `all` of all.
    fn fit(&self, from: f64, first: f64, all: &Self) -> Option<Fit> {
        let from = (from - first).max(0.0);
        let x = self.t - self.count * from;
        let xx = self.tt - 2.0 * from * self.t + self.count * from * from - x * x / all.count;
        let xy = self.td - from * self.d - x * all.d / all.count;
        let yy = all.dd - all.d * all.d / all.count;
        (xx > 0.0).then(|| {
            let slope = xy / xx;
            let level = (all.d - slope * x) / all.count;
            Fit { slope, level, squares: (yy - xy * slope).max(0.0), moment: xx }
        })
    }
}

/// So many intervals of a value there must be, so many standard errors, and this percentage of tempo.
const FEWEST: usize = 5;
const SURE_IN_VALUES: f64 = 3.5;
const LEAST_PERCENT: f64 = 3.0;
/// How much the other values together may differ the same way, in percent.
const STEADY_PERCENT: f64 = 1.2;

/// A tempo of its own in the intervals of one value, where the others are steady or make up for it.
pub(crate) fn in_values(
    written: &Written<'_>,
    alignment: &Alignment,
    strokes: &[i64],
    misread: &[bool],
) -> Option<ValueTrend> {
    let mut values: BTreeMap<i64, Vec<(f64, f64)>> = BTreeMap::new();
    for pair in written.notes.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let (Some(first), Some(second)) = (alignment.offset_of(a, strokes), alignment.offset_of(b, strokes))
        else {
            continue;
        };
        if misread[a] || misread[b] || alignment.skipped[a] || alignment.skipped[b] {
            continue;
        }
        let interval = alignment.moved[b] - alignment.moved[a];
        let parts = rounded(interval as f64 / written.beat_nanos(a) as f64 * PARTS as f64);
        if interval > 0 && (1..=4 * PARTS).contains(&parts) {
            values.entry(parts).or_default().push((ms(interval), ms(second - first)));
        }
    }
    let all: Vec<ValueTempo> = values.iter().map(|(&parts, each)| ValueTempo::of(parts, each)).collect();
    let candidate = all
        .iter()
        .filter(|value| value.count >= FEWEST && value.parts < PARTS)
        .filter(|value| value.percent.abs() >= LEAST_PERCENT)
        .filter(|value| value.percent.abs() > student(SURE_IN_VALUES, value.count as f64 - 1.0) * value.error)
        .max_by(|a, b| (a.percent / a.error).abs().total_cmp(&(b.percent / b.error).abs()))?;
    let others = all.iter().filter(|value| value.parts != candidate.parts);
    let (deviation, time) = others.fold((0.0, 0.0), |(d, t), other| (d + other.deviation, t + other.time));
    // Without other values to compare, it is the tempo and not the value.
    if time < candidate.time / 4.0 {
        return None;
    }
    let others_percent = -deviation / time * 100.0;
    let same_way = others_percent * candidate.percent.signum();
    (same_way < STEADY_PERCENT.min(candidate.percent.abs() / 3.0)).then(|| ValueTrend {
        called: called(candidate.parts, written),
        percent: candidate.percent,
        error_percent: candidate.error,
        among: all.len(),
        scatter_ms: scatter(&all),
    })
}

/// What single attacks scatter if intervals of one value scatter so about their own mean: each has two of them.
fn scatter(values: &[ValueTempo]) -> f64 {
    let squares: f64 = values.iter().map(|value| value.squares).sum();
    let freedom: f64 = values.iter().map(|value| value.count as f64 - 1.0).sum();
    (squares / freedom.max(1.0) / 2.0).sqrt()
}

/// How fast the intervals of one value are.
#[derive(Clone, Copy, Debug)]
struct ValueTempo {
    parts: i64,
    count: usize,
    percent: f64,
    error: f64,
    deviation: f64,
    time: f64,
    /// The sum of squares about the mean, in ms².
    squares: f64,
}

impl ValueTempo {
    fn of(parts: i64, each: &[(f64, f64)]) -> Self {
        let count = each.len();
        let (time, deviation) = each.iter().fold((0.0, 0.0), |(t, d), (interval, by)| (t + interval, d + by));
        let (mean, interval) = (deviation / count as f64, time / count as f64);
        let squares: f64 = each.iter().map(|(_, by)| (by - mean).powi(2)).sum();
        let variance = (squares / (count as f64 - 1.0).max(1.0)).max(16.0);
        Self {
            parts,
            count,
            percent: -mean / interval * 100.0,
            error: (variance / count as f64).sqrt() / interval * 100.0,
            deviation,
            time,
            squares,
        }
    }
}

/// A value by the name it has on paper, in the plural: so many parts of the felt beat.
fn called(parts: i64, written: &Written<'_>) -> String {
    let beat = written.notes.first().map_or(Span::QUARTER, |&note| written.counts[note].beat);
    let value = Span::new(beat.numerator() * parts, beat.denominator() * PARTS);
    let name = match (value.numerator(), value.denominator()) {
        (1, 2) => "half notes",
        (1, 4) => "quarters",
        (1, 8) => "eighths",
        (1, 16) => "sixteenths",
        (3, 8) => "dotted quarters",
        (3, 16) => "dotted eighths",
        (1, 12) => "triplets",
        _ => "short notes",
    };
    name.to_owned()
}

/// The straight line through points, as slope and intercept; `None` where they lie at fewer than two places.
pub(crate) fn line(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let count = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |(x, y), point| (x + point.0 / count, y + point.1 / count));
    let (xx, xy) = points
        .iter()
        .fold((0.0, 0.0), |(xx, xy), point| (xx + (point.0 - x).powi(2), xy + (point.0 - x) * (point.1 - y)));
    (xx > 0.0 && xy > 0.0).then(|| (xy / xx, y - xy / xx * x))
}
