//! Who waits before every bar line: bar after bar comes later, and inside the bars the tempo is kept.
//!
//! A straight line through such a take is slower than its bars, so the bars look rushed and their first notes late. So each bar is given a
//! place of its own about one tempo; where bar after bar lies later by about as much, the take is explained anew with those waits in it.

use crate::TempoOf;
use crate::alignment::{Alignment, Follow, Speed};
use crate::altered::How;
use crate::moves::MoveKind;
use crate::written::rounded;

/// What is waited before every bar line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Waiting {
    /// On the average, in ms.
    pub(crate) ms: f64,
    /// Its standard error.
    pub(crate) error_ms: f64,
    /// The bar behind the first of these bar lines, an index into [`crate::written::Written::bars`].
    pub(crate) first: usize,
}

/// Bar lines below which it is no habit.
const FEWEST: usize = 4;
/// The least that is told, in ms and as a share of a beat: less is breath.
const LEAST_MS: f64 = 60.0;
const LEAST_SHARE: f64 = 0.08;
/// How many standard errors it must be: the habit is one explanation of many that are tried.
const SURE: f64 = 4.5;
/// The share of the bar lines at which there must be a wait, and which part of the usual one it must be.
const MOSTLY: f64 = 0.75;
const PART: f64 = 0.4;
/// The share of the wait that the tempo inside a bar may take back where there is a click: who is late on count 1 and back with the click
/// in each bar, or runs in his short notes and is found again at the bar line, is told otherwise.
const IN_TEMPO: f64 = 0.35;
/// How many standard errors the tempo inside the bars must differ from the click's to be another.
const ANOTHER_TEMPO: f64 = 4.0;
/// Bars that lie no further from even waits than so many times what single attacks scatter are taken to be waited for evenly.
const EVEN: f64 = 1.0;
/// A bar that is a part of a beat too long by this share of a beat or less is counted wrongly and not waited for.
const COUNTED: f64 = 0.03;
/// The share of the usual wait that waits differ among themselves at most where bars are counted longer.
const ALIKE: f64 = 0.2;

/// One tempo, and a place for each bar about it.
struct Bars {
    /// Nanoseconds played for each written, and the standard error.
    slope: f64,
    slope_error: f64,
    /// The standard deviation of the strokes about it, in nanoseconds.
    scatter: f64,
    /// Whether these places explain the strokes better than that the first note of every bar is late and nothing else.
    explain_more_than_late_firsts: bool,
    /// Of each bar in which something was struck: which, and how much later than the tempo has it from the first on.
    late: Vec<(usize, f64)>,
}

impl Follow<'_> {
    /// The take explained by waits before every bar line, if it shows them.
    pub(crate) fn with_waits(&self, known: Alignment) -> Alignment {
        if self.heard.until.is_some() || !self.may_wait(&known) {
            return known;
        }
        self.waited(&known).unwrap_or(known)
    }

    /// Whether an explanation leaves room for waits: it knows of nothing but time that was put in.
    fn may_wait(&self, known: &Alignment) -> bool {
        known.speed == Speed::Written
            && known.instead.is_none()
            && known.moves.iter().all(|made| made.kind == MoveKind::Pause)
            && known.altered.is_none_or(|altered| matches!(altered.how, How::LongerBars(_)))
    }

    fn waited(&self, known: &Alignment) -> Option<Alignment> {
        let free = self.settings.tempo_of() == TempoOf::Player;
        let bars = self.bars(known)?;
        let waits = bars.waits();
        let (mean, error) = bars.mean_wait(&waits, self.bar_nanos())?;
        let beat = self.written.beat_nanos(self.written.notes[0]) as f64;
        let least = (LEAST_MS * 1e6).max(LEAST_SHARE * beat);
        let waited = waits.iter().filter(|(_, wait)| *wait > PART * mean).count();
        let kept = free || (bars.slope - 1.0).abs() * self.bar_nanos() < IN_TEMPO * mean;
        let is_habit = mean > least.max(SURE * error) && waited as f64 >= MOSTLY * waits.len() as f64 && kept;
        if !is_habit || !bars.explain_more_than_late_firsts {
            return None;
        }
        let tempo = if free { bars.slope } else { 1.0 };
        let moved = self.with(&bars, mean, tempo)?;
        let (mut found, _) = self.explained_at(moved, free.then(|| 1.0 / tempo));
        let explains = found.altered.is_none()
            && found.speed == Speed::Written
            && found.instead.is_none()
            && found.moves.len() <= known.moves.len()
            && self.left_over(&found) <= self.left_over(known);
        if are_alike(&waits, mean) && self.is_counted(known, mean, error, beat) {
            // And what was left unplayed behind it.
            found.altered = known.altered;
            found.skipped.clone_from(&known.skipped);
        } else {
            found.waiting = Some(Waiting { ms: mean / 1e6, error_ms: error / 1e6, first: waits[0].0 });
        }
        explains.then_some(found)
    }

    /// The tempo inside the bars, by least squares, and the place of each bar about it.
    fn bars(&self, known: &Alignment) -> Option<Bars> {
        let written = self.written;
        let misread = |note: usize| known.readings.iter().any(|reading| reading.notes.contains(&note));
        let played: Vec<(usize, f64, f64)> = written
            .notes
            .iter()
            .filter(|&&note| !misread(note))
            .filter_map(|&note| {
                let stroke = self.strokes[known.strokes[note]?] as f64;
                Some((written.bar_of(note), written.at[note] as f64, stroke))
            })
            .collect();
        let bars: Vec<&[(usize, f64, f64)]> = played.chunk_by(|a, b| a.0 == b.0).collect();
        let mean = |bar: &[(usize, f64, f64)]| {
            let (x, y) = bar.iter().fold((0.0, 0.0), |(x, y), note| (x + note.1, y + note.2));
            (x / bar.len() as f64, y / bar.len() as f64)
        };
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for bar in &bars {
            let (x, y) = mean(bar);
            for note in *bar {
                xx += (note.1 - x).powi(2);
                xy += (note.1 - x) * (note.2 - y);
                yy += (note.2 - y).powi(2);
            }
        }
        let freedom = played.len() as f64 - bars.len() as f64 - 1.0;
        if xx <= 0.0 || freedom < FEWEST as f64 || bars.len() <= FEWEST {
            return None;
        }
        let slope = xy / xx;
        let variance = (yy - slope * xy).max(0.0) / freedom;
        let slope_error = (variance / xx).sqrt();
        // Whoever hears a click keeps its tempo, unless he shows another.
        let is_the_clicks =
            self.settings.tempo_of() == TempoOf::Click && (slope - 1.0).abs() < ANOTHER_TEMPO * slope_error;
        let slope = if is_the_clicks { 1.0 } else { slope };
        let place = |bar: &&[(usize, f64, f64)]| {
            let (x, y) = mean(bar);
            (bar[0].0, y - slope * x)
        };
        let late = bars.iter().map(place).collect();
        let of_bars = variance * freedom;
        let parameters = bars.len() as f64 - 2.0;
        let count = played.len() as f64;
        let firsts = late_firsts(&played, |bar| written.bars[bar].start, &written.at)?;
        // Each parameter more must be worth half the logarithm of the number of strokes (Schwarz 1978).
        let explain_more_than_late_firsts =
            count * (firsts.max(1.0) / of_bars.max(1.0)).ln() > parameters * count.ln();
        Some(Bars { slope, slope_error, scatter: variance.sqrt(), explain_more_than_late_firsts, late })
    }

    /// How long a bar is written to be, on the average.
    fn bar_nanos(&self) -> f64 {
        let starts = &self.written.bars;
        let (first, last) = (starts[0].start, starts[starts.len() - 1].start);
        (self.written.at[last] - self.written.at[first]) as f64 / (starts.len() as f64 - 1.0).max(1.0)
    }

    /// Whether every bar was counted longer by so much: what is put in is a beat or a part of it, as near as can be told.
    fn is_counted(&self, known: &Alignment, mean: f64, error: f64, beat: f64) -> bool {
        let Some(How::LongerBars(length)) = known.altered.map(|altered| altered.how) else { return false };
        let of = self.written.counts[self.written.notes[0]].beat;
        let times = length.numerator() as f64 * of.denominator() as f64
            / (length.denominator() as f64 * of.numerator() as f64);
        (mean - times * beat).abs() < (2.5 * error).max(COUNTED * beat)
    }

    /// Where every count lies with these waits: even ones where the bars lie as even waits have them, else each bar where it lay.
    fn with(&self, bars: &Bars, mean: f64, tempo: f64) -> Option<Vec<i64>> {
        let written = self.written;
        let (first, begins) = bars.late[0];
        let even = |bar: usize| begins + mean * (bar as f64 - first as f64);
        let is_even = bars.lie_evenly(mean);
        let late = |bar: usize| {
            let before = bars.late.partition_point(|(known, _)| *known <= bar).saturating_sub(1);
            let (known, late) = bars.late[before];
            if is_even { even(bar) } else { late + mean * (bar as f64 - known as f64) }
        };
        // With a click the first bar lies where it is written, and what lies beside it is the player's distance from the click.
        let beside = if self.settings.tempo_of() == TempoOf::Player { 0.0 } else { late(first) };
        let mut moved = Vec::with_capacity(written.at.len());
        for (bar, counts) in written.bars.iter().enumerate() {
            let by = late(bar) - beside;
            moved.extend(written.at[counts.clone()].iter().map(|&at| rounded(tempo * at as f64 + by)));
        }
        moved.is_sorted().then_some(moved)
    }

    /// How many notes and strokes answer nothing.
    fn left_over(&self, explained: &Alignment) -> usize {
        let struck = |note: &&usize| explained.strokes[**note].is_some();
        let answered = self.written.notes.iter().filter(struck).count();
        let missed = self.written.notes.len() - answered;
        missed + self.strokes.len().saturating_sub(answered)
    }
}

/// Whether waits are as long as one another, as far as hands are even.
fn are_alike(waits: &[(usize, f64)], mean: f64) -> bool {
    let squares = waits.iter().map(|(_, wait)| (wait - mean).powi(2)).sum::<f64>();
    (squares / waits.len() as f64).sqrt() <= ALIKE * mean
}

/// What a straight line leaves of the strokes, as a sum of squares, where those on the first count of a bar may lie beside it by an amount of
/// their own.
fn late_firsts(played: &[(usize, f64, f64)], begins: impl Fn(usize) -> usize, at: &[i64]) -> Option<f64> {
    let is_first = |note: &(usize, f64, f64)| (note.1 - at[begins(note.0)] as f64).abs() < 1.0;
    let groups: [Vec<&(usize, f64, f64)>; 2] =
        [true, false].map(|first| played.iter().filter(|note| is_first(note) == first).collect());
    // One slope within both groups, and a level for each.
    let (mut xx, mut xy, mut yy) = (0.0_f64, 0.0_f64, 0.0_f64);
    for group in groups.iter().filter(|group| !group.is_empty()) {
        let count = group.len() as f64;
        let x = group.iter().map(|note| note.1).sum::<f64>() / count;
        let y = group.iter().map(|note| note.2).sum::<f64>() / count;
        for note in group {
            xx += (note.1 - x).powi(2);
            xy += (note.1 - x) * (note.2 - y);
            yy += (note.2 - y).powi(2);
        }
    }
    (xx > 0.0).then(|| (yy - xy * xy / xx).max(0.0))
}

impl Bars {
    /// Whether the bars lie where waits of this length before every one have them.
    fn lie_evenly(&self, mean: f64) -> bool {
        let (first, begins) = self.late[0];
        let off = |&(bar, late): &(usize, f64)| late - begins - mean * (bar as f64 - first as f64);
        let squares = self.late.iter().map(|bar| off(bar).powi(2)).sum::<f64>();
        (squares / self.late.len() as f64).sqrt() <= EVEN * self.scatter
    }

    /// What was waited before each bar behind the first in which something was struck; over bars without a stroke, the share of each.
    fn waits(&self) -> Vec<(usize, f64)> {
        let wait =
            |pair: &[(usize, f64)]| (pair[1].0, (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0) as f64);
        self.late.windows(2).map(wait).collect()
    }

    /// The mean of the waits and its standard error: what the waits differ among themselves, and how well the tempo inside the bars is
    /// known, for what it adds to a bar looks like a wait before the next.
    fn mean_wait(&self, waits: &[(usize, f64)], bar: f64) -> Option<(f64, f64)> {
        let count = waits.len() as f64;
        if waits.len() < FEWEST {
            return None;
        }
        let mean = waits.iter().map(|(_, wait)| wait).sum::<f64>() / count;
        let squares = waits.iter().map(|(_, wait)| (wait - mean).powi(2)).sum::<f64>();
        let of_waits = squares / (count - 1.0) / count;
        Some((mean, (of_waits + (self.slope_error * bar).powi(2)).sqrt()))
    }
}
