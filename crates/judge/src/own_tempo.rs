//! A take without a click: how fast the player played, and from where on otherwise.
//!
//! The line through all that was matched is his tempo as long as he keeps it and his place. Where he left a beat out or stood still, half of
//! the strokes lie beside that line; where he rushes from some bar on, all of them do. So other lines are tried where much is
//! left to explain, and where the tempo turns, the one he began with is his own.

use crate::alignment::{Alignment, Follow};
use crate::moves::MoveKind;
use crate::trend::trend;
use crate::written::rounded;

/// What must be left to explain, in misses, before another tempo or another beginning is tried; and by how much one must be cheaper.
const WORTH_A_LOOK: f64 = 2.0;
const CHEAPER: f64 = 0.8;
/// Where more of the take than this is left to explain, a miss a note, it may have begun otherwise than with its first notes; and what
/// share of it may still be left if it did.
const LOST: f64 = 0.25;
const CLEARLY: f64 = 0.6;
/// How much dearer a take may be about the tempo he began with: the pulse has to be followed then.
const FOLLOWED: f64 = 3.0;
/// A tempo is seen in distances of so many notes: less is the hand's scatter, and more goes over places where he left the course.
const FEWEST_APART: usize = 3;
const MOST_APART: usize = 8;
/// Notes between which the course was left lie otherwise than the tempo has them, by more than this in nanoseconds.
const SAME_PLACE: i64 = 2_000_000;
/// Strokes below which there is no tempo to be heard, of a rhythm that has as many notes.
pub(crate) const FEWEST_FOR_TEMPO: usize = 4;
/// Matches below which no line is laid through them.
const FEWEST: usize = 6;

/// A tempo as a line: nanoseconds played for each written, and where the first count lies.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Line {
    slope: f64,
    at_first: f64,
}

/// An explanation and what it costs in all, in misses.
type Costed = (Alignment, f64);

impl Follow<'_> {
    /// The take explained in the player's own tempo.
    pub(crate) fn in_own_tempo(&self) -> Alignment {
        if self.strokes.len() < FEWEST_FOR_TEMPO.min(self.written.notes.len()) {
            return self.as_written_throughout();
        }
        let Some((ratio, moved)) = self.own_tempo() else { return self.as_written_throughout() };
        let mut best = self.explained_at(moved, Some(ratio));
        if !self.is_thorough() {
            return best.0;
        }
        // When he began is not known, so nobody begins early or late.
        let begins_otherwise =
            |alignment: &Alignment| alignment.moves.iter().any(|made| made.kind == MoveKind::Start);
        let shifted = begins_otherwise(&best.0);
        if shifted || best.1 > LOST * self.written.notes.len() as f64 {
            // Half of the strokes fit half of the tempo whatever is played: the beginning may be another one.
            let otherwise = self.own_tempo_begun_otherwise();
            let other = otherwise.map(|(ratio, moved)| self.explained_at(moved, Some(ratio)));
            let most = if shifted { best.1 + WORTH_A_LOOK } else { CLEARLY * best.1 };
            if let Some(other) = other.filter(|other| other.1 < most && !begins_otherwise(&other.0)) {
                best = other;
            }
        }
        if best.1 > WORTH_A_LOOK {
            let first = best.0.clone();
            for line in self.other_lines(&first) {
                let other = self.about_line(line);
                if other.1 + CHEAPER < best.1 && !begins_otherwise(&other.0) {
                    best = other;
                }
            }
        }
        if !best.0.moves.is_empty() {
            // Where he left the course, the line through all is none of his: the tempo is that of the pieces.
            let again = self.line_of_pieces(&best.0).map(|line| self.about_line(line));
            if let Some(again) = again.filter(|again| again.1 <= best.1) {
                best = again;
            }
        }
        self.turning(&best).unwrap_or(best.0)
    }

    /// As written from the first stroke on: where there are too few for a tempo.
    fn as_written_throughout(&self) -> Alignment {
        let begins = self.strokes.first().zip(self.written.notes.first());
        let later = begins.map_or(0, |(stroke, &note)| stroke - self.written.at[note]);
        self.explained_at(self.written.at.iter().map(|at| at + later).collect(), None).0
    }

    fn about_line(&self, line: Line) -> Costed {
        let first = self.written.at[0];
        let at = |&at: &i64| rounded(line.at_first + line.slope * (at - first) as f64);
        self.explained_at(self.written.at.iter().map(at).collect(), Some(1.0 / line.slope))
    }

    /// The notes that were struck and not misread: which count, and when.
    fn matched<'a>(&'a self, alignment: &'a Alignment) -> impl Iterator<Item = (usize, i64)> + 'a {
        let misread = |note: usize| alignment.readings.iter().any(|reading| reading.notes.contains(&note));
        let notes = self.written.notes.iter().filter(move |&&note| !misread(note));
        notes.filter_map(|&note| Some((note, self.strokes[alignment.strokes[note]?])))
    }

    /// The tempo of an explanation and the one between neighbours, each with the first stroke on one of the first three notes.
    fn other_lines(&self, alignment: &Alignment) -> Vec<Line> {
        let (Some(&stroke), Some(ratio)) = (self.strokes.first(), alignment.tempo) else { return Vec::new() };
        let slopes = [self.slope_between_neighbours(alignment), Some(1.0 / ratio)];
        let lines = slopes.into_iter().flatten().flat_map(|slope| {
            self.written.notes.iter().take(3).map(move |&note| {
                let before = (self.written.at[note] - self.written.at[0]) as f64;
                Line { slope, at_first: stroke as f64 - slope * before }
            })
        });
        lines.collect()
    }

    /// The median of the tempos between notes near each other (after Theil and Sen): what happened in one place moves few of them.
    fn slope_between_neighbours(&self, alignment: &Alignment) -> Option<f64> {
        let matched: Vec<(usize, i64)> = self.matched(alignment).collect();
        let mut slopes = Vec::new();
        for (index, &(note, stroke)) in matched.iter().enumerate() {
            for &(later, at) in matched.iter().take(index + MOST_APART + 1).skip(index + FEWEST_APART) {
                let written = self.written.at[later] - self.written.at[note];
                if written > 0 && at > stroke {
                    slopes.push((at - stroke) as f64 / written as f64);
                }
            }
        }
        if slopes.len() < FEWEST {
            return None;
        }
        let middle = slopes.len() / 2;
        Some(*slopes.select_nth_unstable_by(middle, f64::total_cmp).1)
    }

    /// One tempo through the pieces between the moves, and the place of the first of them.
    fn line_of_pieces(&self, alignment: &Alignment) -> Option<Line> {
        let slope = 1.0 / alignment.tempo?;
        let first = self.written.at[0];
        let time = |note: usize| (self.written.at[note] - first) as f64;
        let place = |note: usize| alignment.moved[note] - rounded(slope * time(note));
        let matched: Vec<(usize, i64)> = self.matched(alignment).collect();
        let (mut xx, mut xy) = (0.0, 0.0);
        let mut beginning = None;
        for piece in matched.chunk_by(|a, b| (place(a.0) - place(b.0)).abs() < SAME_PLACE) {
            let count = piece.len() as f64;
            let x = piece.iter().map(|&(note, _)| time(note)).sum::<f64>() / count;
            let y = piece.iter().map(|&(_, stroke)| stroke as f64).sum::<f64>() / count;
            for &(note, stroke) in piece {
                xx += (time(note) - x).powi(2);
                xy += (time(note) - x) * (stroke as f64 - y);
            }
            beginning.get_or_insert((x, y));
        }
        let (x, y) = beginning?;
        (matched.len() >= FEWEST && xy > 0.0).then(|| Line { slope: xy / xx, at_first: y - xy / xx * x })
    }

    /// The take in the tempo it began with, where that is another from some bar on.
    fn turning(&self, best: &Costed) -> Option<Alignment> {
        let (alignment, cost) = best;
        if !alignment.moves.is_empty() {
            return None;
        }
        let first = self.written.at[0];
        let points: Vec<(f64, f64)> = self
            .matched(alignment)
            .map(|(note, stroke)| ((self.written.at[note] - first) as f64, stroke as f64))
            .collect();
        let bars = self.written.bars.iter().map(|bar| (self.written.at[bar.start] - first) as f64);
        let line = turn(&points, bars)?;
        let (turned, dearer) = self.about_line(line);
        let matches: Vec<(i64, i64)> = self
            .matched(&turned)
            .map(|(note, stroke)| (turned.moved[note], stroke - turned.moved[note]))
            .collect();
        let told = trend(self.written, &turned, &matches).is_some_and(|trend| trend.bends && trend.sure);
        (told && turned.moves.is_empty() && dearer <= cost + FOLLOWED).then_some(turned)
    }
}

/// How many matches there must be on either side of a turn, by how much the logarithm of the likelihood must rise for one, and how
/// many standard errors the tempos must differ.
const EITHER_SIDE: usize = 6;
const RISES: f64 = 6.0;
const DIFFERS: f64 = 3.5;
/// So many strokes apart residuals are compared.
const SOME_STROKES: usize = 8;

/// The tempo up to the bar at which it turns, if it does: two lines that meet there explain the strokes clearly better than one, and the
/// tempos differ by more than those of somebody whose clock is not even.
fn turn(points: &[(f64, f64)], bars: impl Iterator<Item = f64>) -> Option<Line> {
    let count = points.len() as f64;
    let mean = |value: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(value).sum::<f64>() / count;
    let (x, y) = (mean(&|point| point.0), mean(&|point| point.1));
    let (xx, xy) = (mean(&|point| (point.0 - x).powi(2)), mean(&|point| (point.0 - x) * (point.1 - y)));
    if xx <= 0.0 {
        return None;
    }
    let straight = xy / xx;
    let off = |point: &(f64, f64)| point.1 - y - straight * (point.0 - x);
    let unturned = points.iter().map(|point| off(point).powi(2)).sum::<f64>();
    let turns = bars.filter_map(|from| {
        let before = points.partition_point(|point| point.0 < from);
        if before < EITHER_SIDE || points.len() - before < EITHER_SIDE {
            return None;
        }
        // Along what goes beyond the bar, less what a straight line has of that.
        let beyond = |point: &(f64, f64)| (point.0 - from).max(0.0);
        let h = mean(&beyond);
        let along = mean(&|point| (beyond(point) - h) * (point.0 - x)) / xx;
        let own = |point: &(f64, f64)| beyond(point) - h - along * (point.0 - x);
        let (moment, product) = points.iter().fold((0.0, 0.0), |(moment, product), point| {
            (moment + own(point).powi(2), product + own(point) * off(point))
        });
        let change = product / moment.max(1.0);
        let slope = straight - change * along;
        let level = y - slope * x - change * h;
        Some((unturned - change * product, before, from, change, Line { slope, at_first: level }))
    });
    let (squares, before, from, change, line) = turns.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let rise = 0.5 * count * (unturned.max(1.0) / squares.max(1.0)).ln();
    let residual = |point: &(f64, f64)| {
        point.1 - line.at_first - line.slope * point.0 - change * (point.0 - from).max(0.0)
    };
    let residuals: Vec<f64> = points.iter().map(residual).collect();
    let error = (error_of_tempo(&points[..before], &residuals[..before], &residuals).powi(2)
        + error_of_tempo(&points[before..], &residuals[before..], &residuals).powi(2))
    .sqrt();
    (rise > RISES && change.abs() > DIFFERS * error && line.slope > 0.0).then_some(line)
}

/// The standard error of the tempo of a piece: what the hand scatters, and what the clock adds up to over so many strokes, as seen in how
/// far apart residuals are that lie some strokes from one another. Neighbours alone would take for clock what is put right a little later.
fn error_of_tempo(piece: &[(f64, f64)], residuals: &[f64], all: &[f64]) -> f64 {
    let apart = SOME_STROKES.min(all.len() / 4).max(1);
    let pairs = all.iter().zip(&all[apart..]);
    let wandered = pairs.map(|(a, b)| (b - a).powi(2)).sum::<f64>() / (all.len() - apart) as f64;
    let clock = wandered / apart as f64;
    let (Some(first), Some(last)) = (piece.first(), piece.last()) else { return f64::INFINITY };
    let (time, count) = ((last.0 - first.0).max(1.0), residuals.len() as f64);
    let scatter = residuals.iter().map(|residual| residual * residual).sum::<f64>() / count;
    ((clock * count + 12.0 * scatter / count) / (time * time)).sqrt()
}
