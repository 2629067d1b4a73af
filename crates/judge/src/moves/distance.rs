//! Distances from the click at which a player may lie, and what a take costs at each.

use super::{LookingFor, units};
use crate::alignment::{Explained, Follow, rows, width};
use crate::lattice::{Between, Pulse, RowKind, Rule, best_path};
use crate::written::rounded;

/// How many moments of the grid make a beat.
pub(super) const STEPS: usize = 4;
/// How many distances are tried, and within how many nanoseconds they are looked for.
const TRIED: usize = 20;
/// How many more are looked for in stretches of so many strokes, of so many at least, behind those that answer nothing; and in how
/// many stretches.
const LOCALS: usize = 4;
const LOCAL: usize = 8;
const FEWEST_LOCAL: usize = 4;
const MOST_LOCAL: usize = 24;
const WIDEST: i64 = 16_000_000_000;
/// Of so many notes of the beginning, this share must be struck once more where it is begun again; so many distances are tried for that.
const BEGINNING: usize = 16;
const BEGUN_AGAIN: f64 = 0.7;
const BEGINNINGS: usize = 3;
/// Out of so many.
const LOOKED_AT: usize = 40;
/// So many more of the first strokes must lie elsewhere than where the crowd of all has them.
const CLEARLY: u32 = 1;
/// How late a beginning is looked for, in nanoseconds.
const LATEST: i64 = 120_000_000_000;
/// How wide the bins are in which distances between strokes and notes are counted, in nanoseconds.
const BIN: i64 = 10_000_000;
/// Distances nearer than this are one.
const APART: i64 = 60_000_000;
/// The same for those of a stretch, where a few strokes must say where it lies.
const CLOSE: i64 = 25_000_000;
/// A distance from the click below this share of a beat is the player's bias and no move.
pub(crate) const NO_MOVE: f64 = 0.34;

/// What a take costs at every beat of the grid if the player lies at one distance throughout.
#[derive(Clone, Debug)]
pub(super) struct Distance {
    pub(super) shift: i64,
    /// What notes and strokes between the moment before and this one cost.
    pub(super) costs: Vec<f64>,
    /// How many notes lie before each moment.
    pub(super) notes: Vec<u32>,
}

impl Distance {
    pub(super) fn at(follow: &Follow<'_>, moved: &[i64], reach: i64, shift: i64, grid: &[i64]) -> Self {
        let all: Vec<usize> = (0..moved.len()).collect();
        let mut rows = rows(follow.written, &all, moved, follow.settings, reach, |i| width(i, follow.most));
        // A note that lay where nobody could be heard costs nothing there.
        for row in &mut rows {
            if row.kind == RowKind::Due && follow.heard.misses(row, shift) {
                row.kind = RowKind::Pending;
            }
        }
        let rule = Rule::Likely { reach };
        let path = best_path(&rows, follow.strokes, rule, Pulse::Known(&vec![shift; rows.len()]));
        let mut events: Vec<(i64, f64, u32)> = Vec::with_capacity(rows.len() + follow.strokes.len());
        let mut taken = vec![false; follow.strokes.len()];
        for (row, stroke) in rows.iter().zip(&path.strokes) {
            let note = u32::from(row.kind != RowKind::Silent);
            let due = row.kind != RowKind::Pending && follow.heard.is_past(row, shift);
            let lies = row.at.saturating_add(shift);
            match *stroke {
                Some(stroke) => {
                    taken[stroke] = true;
                    let distance = follow.strokes[stroke] - lies;
                    events.push((lies, units(rule.taken(row, distance).rest), note));
                }
                None if due => events.push((lies, f64::from(note), note)),
                None => {}
            }
        }
        let strays = follow.strokes.iter().zip(taken).filter(|(_, taken)| !taken);
        events.extend(strays.map(|(&at, _)| {
            let passed = rows.partition_point(|row| row.at.saturating_add(shift) <= at);
            (at, units(Between::new(rule, &rows, passed).extra(at, shift).rest), 0)
        }));
        events.sort_unstable_by_key(|(at, ..)| *at);
        let mut events = events.into_iter().peekable();
        let mut notes = 0_u32;
        let (costs, noted) = (0..grid.len())
            .map(|k| {
                let mut cost = 0.0;
                while let Some((_, c, n)) = events.next_if(|(at, ..)| k + 1 == grid.len() || *at < grid[k]) {
                    cost += c;
                    notes += n;
                }
                (cost, notes)
            })
            .unzip();
        Self { shift, costs, notes: noted }
    }
}

/// How much earlier than a beat the moment lies at which a player goes on with it.
const fn lead(beat: i64) -> i64 {
    beat * 3 / 20
}

/// From when on strokes belong to what begins at `at`, and no longer to the last note before it, which lies so much earlier: half-way between
/// them, or a little before.
pub(crate) fn begins(at: i64, gap: i64, beat: i64) -> i64 {
    at - (gap / 2).clamp(0, lead(beat))
}

/// Moments a little before each beat, from before the first stroke or note until after the last of both.
pub(super) fn grid(follow: &Follow<'_>, moved: &[i64], beat: i64, bias: i64, shifts: &[i64]) -> Vec<i64> {
    let beats: Vec<i64> =
        follow.written.beats.iter().map(|&count| moved[count] + bias - lead(beat)).collect();
    let mut grid = beats;
    let least = shifts.iter().min().copied().unwrap_or(0);
    let first = follow.strokes.first().copied().unwrap_or(0).min(moved[0] + least);
    let most = shifts.iter().max().copied().unwrap_or(0);
    let last = follow.strokes.last().copied().unwrap_or(0).min(moved[moved.len() - 1] + most.max(0) + beat);
    let mut front: Vec<i64> = std::iter::successors(Some(grid[0] - beat), |at| Some(at - beat))
        .take_while(|at| *at > first - 2 * beat)
        .take(64)
        .collect();
    front.reverse();
    let end = grid[grid.len() - 1];
    grid.extend(
        std::iter::successors(Some(end + beat), |at| Some(at + beat))
            .take_while(|at| *at < last + 2 * beat)
            .take(64),
    );
    front.extend(grid);
    // Between the beats (a quarter of one apart) a course can be taken up again, not left.
    let mut fine = Vec::with_capacity(front.len() * STEPS);
    for pair in front.windows(2) {
        let steps = (0_i64..).take(STEPS).map(|step| pair[0] + (pair[1] - pair[0]) / 4 * step);
        fine.extend(steps);
    }
    fine.extend(front.last());
    fine
}

/// How many strokes and notes lie so far from one another, in bins.
struct Crowd {
    bins: Vec<u32>,
    widest: i64,
}

impl Crowd {
    /// So many bins to either side belong to a crowd.
    const SPAN: usize = 2;

    /// Of these strokes and notes, both in order, as far as `widest`.
    fn of(strokes: &[i64], notes: &[i64], widest: i64) -> Self {
        let mut bins = vec![0_u32; usize::try_from(2 * widest / BIN + 1).unwrap_or(1)];
        let last = bins.len() - 1;
        let mut from = 0;
        for &stroke in strokes {
            while from < notes.len() && notes[from] < stroke - widest {
                from += 1;
            }
            for note in notes[from..].iter().take_while(|&&note| note <= stroke + widest) {
                let bin = usize::try_from((stroke - note + widest) / BIN).unwrap_or(0).min(last);
                bins[bin] += 1;
            }
        }
        Self { bins, widest }
    }

    fn near(&self, bin: usize) -> std::ops::Range<usize> {
        bin.saturating_sub(Self::SPAN)..(bin + Self::SPAN + 1).min(self.bins.len())
    }

    fn around(&self, bin: usize) -> u32 {
        self.bins[self.near(bin)].iter().sum()
    }

    /// The bins around which at least so many lie, the most crowded first.
    fn ranked(&self, least: u32) -> Vec<usize> {
        let all = (0..self.bins.len()).map(|bin| (self.around(bin), bin));
        let mut ranked: Vec<(u32, usize)> = all.filter(|(n, _)| *n >= least).collect();
        ranked.sort_unstable_by_key(|&(n, bin)| (std::cmp::Reverse(n), bin));
        ranked.into_iter().map(|(_, bin)| bin).collect()
    }

    /// The centre of a crowd: the mean of the distances in it.
    fn centre(&self, bin: usize) -> i64 {
        let at = |bin: usize| i64::try_from(bin).unwrap_or(0) * BIN - self.widest + BIN / 2;
        let (sum, n) = self.near(bin).fold((0_i64, 0_i64), |(sum, n), b| {
            (sum + at(b) * i64::from(self.bins[b]), n + i64::from(self.bins[b]))
        });
        if n == 0 { at(bin) } else { sum / n }
    }
}

/// Distances at which most of the strokes lie that follow one that answers nothing, where the player may have left the written
/// course: what moved near the end of a long take does not crowd among all. The most crowded first.
fn after_left_over(follow: &Follow<'_>, notes: &[i64], found: &Explained, widest: i64) -> Vec<i64> {
    let mut answers = vec![false; follow.strokes.len()];
    let answering = follow.written.notes.iter().filter_map(|&note| found.strokes[note]);
    answering.for_each(|stroke| answers[stroke] = true);
    let mut crowded = Vec::new();
    let mut from = 0;
    for _ in 0..MOST_LOCAL {
        let Some(left) = answers[from..].iter().position(|answers| !answers) else { break };
        from += left;
        let strokes = &follow.strokes[from..(from + LOCAL).min(follow.strokes.len())];
        if strokes.len() < FEWEST_LOCAL {
            break;
        }
        let first = notes.partition_point(|&note| note < strokes[0] - widest);
        let local = Crowd::of(strokes, &notes[first..], widest);
        let least = u32::try_from(strokes.len()).unwrap_or(u32::MAX) / 4 * 3;
        let ranked = local.ranked(least);
        let best = ranked.iter().take(24).map(|&bin| (local.around(bin), local.centre(bin)));
        crowded.extend(best);
        from += LOCAL / 2;
        if from >= answers.len() {
            break;
        }
    }
    crowded.sort_by_key(|&(many, _)| std::cmp::Reverse(many));
    crowded.into_iter().map(|(_, centre)| centre).collect()
}

/// Distances at which the beginning is played once more: whoever stops and begins again may do so at any time. Those
/// that fit best.
fn beginnings(follow: &Follow<'_>, notes: &[i64], beat: i64) -> Vec<i64> {
    let first = &notes[..notes.len().min(BEGINNING)];
    let (Some(&last), false) = (follow.strokes.last(), first.is_empty()) else { return Vec::new() };
    let widest = (last - first[0]).min(LATEST);
    if widest < 2 * beat {
        return Vec::new();
    }
    let crowd = Crowd::of(follow.strokes, first, widest);
    let least = crate::written::rounded(BEGUN_AGAIN * first.len() as f64);
    let centres = crowd.ranked(u32::try_from(least).unwrap_or(u32::MAX).max(3));
    let mut beginnings: Vec<i64> = Vec::new();
    for centre in centres.into_iter().map(|bin| crowd.centre(bin)).filter(|&centre| centre > beat) {
        if beginnings.len() < LOOKED_AT && beginnings.iter().all(|other| (other - centre).abs() > APART) {
            beginnings.push(centre);
        }
    }
    // Music that repeats itself lies on some of its notes at many distances, on most of many only where it was begun again.
    let more = &notes[..notes.len().min(3 * BEGINNING)];
    beginnings.sort_by_key(|&distance| std::cmp::Reverse(struck(follow.strokes, more, distance)));
    beginnings.truncate(BEGINNINGS);
    beginnings
}

/// How many of these notes are struck so much later.
fn struck(strokes: &[i64], notes: &[i64], later: i64) -> usize {
    let is_struck = |note: &&i64| {
        let from = strokes.partition_point(|&stroke| stroke < *note + later - APART);
        strokes.get(from).is_some_and(|&stroke| stroke <= *note + later + APART)
    };
    notes.iter().filter(is_struck).count()
}

/// Where the first strokes lie if they lie together and not at this place, which is within a move of the click: who begins again soon has
/// most of his strokes elsewhere, and some of those crowd near the click by chance.
fn opening(follow: &Follow<'_>, notes: &[i64], no_move: i64, else_at: i64) -> Option<i64> {
    let strokes = &follow.strokes[..follow.strokes.len().min(LOCAL)];
    let crowd = Crowd::of(strokes, notes, no_move.max(BIN));
    let least = u32::try_from(strokes.len()).unwrap_or(u32::MAX).div_ceil(4) * 3;
    let best = *crowd.ranked(least).first()?;
    let other = usize::try_from((else_at + crowd.widest) / BIN).ok()?.min(crowd.bins.len() - 1);
    (crowd.around(best) >= crowd.around(other) + CLEARLY).then(|| crowd.centre(best))
}

/// The distances to try, in order; which of them is the player's bias, and that bias.
pub(super) fn shifts(
    follow: &Follow<'_>,
    moved: &[i64],
    found: &Explained,
    beat: i64,
    bar_starts: &[i64],
    looking_for: LookingFor,
) -> (Vec<i64>, usize, i64) {
    let bar = bar_starts.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap_or(4 * beat);
    let widest = (2 * bar + beat).clamp(2 * beat, WIDEST);
    let notes: Vec<i64> = follow.written.notes.iter().map(|&note| moved[note]).collect();
    let crowd = Crowd::of(follow.strokes, &notes, widest);
    let ranked = crowd.ranked(3);
    let centre = |bin: usize| crowd.centre(bin);
    // The bias: what the most crowded distance lies beside a whole number of beats.
    let bias = ranked.first().map_or(0, |&bin| {
        let rest = centre(bin).rem_euclid(beat);
        let rest = if rest > beat / 2 { rest - beat } else { rest };
        if (rest as f64 / beat as f64).abs() < NO_MOVE { rest } else { 0 }
    });
    let no_move = rounded(beat as f64 * NO_MOVE);
    // A crowd near home is home, wherever exactly it lies.
    let near_home = ranked.iter().find(|&&bin| centre(bin).abs() < no_move.min(150_000_000));
    let begun_again = match looking_for {
        LookingFor::Moves => Vec::new(),
        LookingFor::Beginnings => beginnings(follow, &notes, beat),
    };
    let near_home = near_home.map(|&bin| centre(bin));
    let home = opening(follow, &notes, no_move, near_home.unwrap_or(bias))
        .filter(|_| !begun_again.is_empty())
        .or(near_home)
        .unwrap_or(bias);
    let mut shifts = vec![home];
    let add = |shift: i64, apart: i64, shifts: &mut Vec<i64>| {
        if (shift - home).abs() >= no_move && shifts.iter().all(|s| (s - shift).abs() > apart) {
            shifts.push(shift);
        }
    };
    // Longer ways than the crowd was looked for: passages that are played more than once, and once too often.
    for passage in passages(follow, bar_starts) {
        add(home - passage, APART, &mut shifts);
        add(home + passage, APART, &mut shifts);
    }
    let before = shifts.len();
    for shift in begun_again {
        add(shift, APART, &mut shifts);
    }
    let tried = shifts.len() - before + TRIED - 8;
    for &bin in ranked.iter().take(400) {
        if shifts.len() < tried {
            add(centre(bin), APART, &mut shifts);
        }
    }
    for by in [beat, bar, 2 * beat, 2 * bar] {
        add(home + by, APART, &mut shifts);
        add(home - by, APART, &mut shifts);
    }
    let most = shifts.len();
    for shift in after_left_over(follow, &notes, found, widest) {
        if shifts.len() < most + LOCALS {
            add(shift, CLOSE, &mut shifts);
        }
    }
    shifts.sort_unstable();
    let index = shifts.iter().position(|&shift| shift == home).unwrap_or(0);
    (shifts, index, home)
}

/// How long it is that a repeat plays once more: from where the player goes back to where he goes on to what he has not played
/// yet. Where there are endings that is less than from one time to the next, for whoever goes straight on plays them both.
pub(super) fn passages(follow: &Follow<'_>, bar_starts: &[i64]) -> Vec<i64> {
    let bars = &follow.written.bars;
    let pass = |bar: usize| follow.written.counts[bars[bar].start].id;
    let mut lengths = Vec::new();
    let mut furthest = 0;
    for bar in 1..bars.len() {
        let (before, now) = (pass(bar - 1), pass(bar));
        furthest = furthest.max(before.bar);
        if now.bar <= before.bar && now.pass > 1 {
            let goes_on = (bar..bars.len()).find(|&b| pass(b).bar > furthest || pass(b).pass > now.pass);
            lengths.extend(goes_on.map(|goes_on| bar_starts[goes_on] - bar_starts[bar]));
            // Whoever goes straight into a later ending passes over the earlier one and the time that leads to his.
            let began = (0..bar).rev().find(|&b| pass(b).bar == now.bar && pass(b).pass + 1 == now.pass);
            lengths.extend(began.map(|began| bar_starts[bar] - bar_starts[began]));
        }
    }
    lengths.sort_unstable();
    lengths.dedup();
    lengths.truncate(6);
    lengths
}
