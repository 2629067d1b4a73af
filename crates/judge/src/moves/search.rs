//! The cheapest way through time that changes from one distance to another.

use rhythm::Deed;

use super::distance::{Distance, NO_MOVE, STEPS, begins, grid, passages, shifts};
use super::table::{Step, Table};
use super::{Left, LookingFor, MARGIN, Move, MoveKind};
use crate::alignment::{Explained, Follow};
use crate::written::middle;

/// The price of a change, in misses: passing over a repeat, whole bars, whole beats, standing still at a bar line, anything else.
const REPEAT: f64 = 0.9;
const BARS: f64 = 1.9;
const BEATS: f64 = 2.4;
const AT_BAR_LINE: f64 = 2.4;
/// The price of beginning again from the beginning, whenever that is.
const BEGUN_AGAIN: f64 = 2.4;
const ANYWHERE: f64 = 3.2;
/// No change costs more than this.
const DEAREST: f64 = ANYWHERE + 1.1;
/// What every moment adds that a change comes earlier than it must: whoever may have gone on as written did.
const EARLIER: f64 = 1e-6;
/// The price of beginning late, stopping early or playing nothing for a while, whatever is left out: no move is to be made of it.
const NOT_PLAYED: f64 = 1.8;
/// How many moments a silence must last for a place to have been lost in it: two beats and a half. Whoever plays slower than written
/// leaves such of two beats between his strokes.
const SILENCE: usize = STEPS * 5 / 2;

/// So many strokes tell that a player was where he left from, and so little dearer may what is one deed be than what are two.
const FEWEST_LEFT: f64 = 6.0;
const AS_LIKELY: f64 = 0.5;

/// So many strokes say where a stretch lies, and by less than this, in nanoseconds, it is left where it is.
const FEWEST_TO_REFINE: usize = 3;
const NOT_WORTH: i64 = 12_000_000;

/// How much dearer it is that a player stopped than that he passed a repeat over.
pub(crate) const STOPPED_FOR_A_REPEAT: f64 = NOT_PLAYED - REPEAT;

/// A take at every distance, and the ways from one to another.
pub(super) struct Search<'a> {
    follow: &'a Follow<'a>,
    moved: &'a [i64],
    /// Moments a little before each beat, on the player's clock.
    grid: Vec<i64>,
    /// How many strokes were heard up to each of them.
    heard: Vec<f64>,
    /// From which moment to which nothing was heard, between strokes.
    silences: Vec<(usize, usize)>,
    distances: Vec<Distance>,
    /// Which distance is no move.
    home: usize,
    beat: i64,
    bar_starts: Vec<i64>,
    /// How long the passages are that are written to be played again.
    passages: Vec<i64>,
    /// What the best explanation without a move costs.
    pub(super) without: f64,
}

/// A stretch of time at one distance, from a moment of the grid on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    from: usize,
    /// Where on the grid the player left the distance before; earlier than `from` where time passed.
    left: usize,
    distance: usize,
    price: f64,
}

/// Stretches of moments in which nothing was heard, with strokes before and behind; `heard` is how many were up to each, `all` in all.
fn silences(heard: &[f64], all: f64) -> Vec<(usize, usize)> {
    let mut silences = Vec::new();
    let mut from = 0;
    for same in heard.chunk_by(|a, b| a == b) {
        if same.len() > SILENCE && same[0] > 0.0 && same[0] < all {
            silences.push((from, from + same.len() - 1));
        }
        from += same.len();
    }
    silences
}

impl<'a> Search<'a> {
    pub(super) fn new(
        follow: &'a Follow<'a>,
        moved: &'a [i64],
        found: &Explained,
        looking_for: LookingFor,
    ) -> Option<Self> {
        let written = follow.written;
        let mut lengths: Vec<i64> =
            written.beats.windows(2).map(|pair| moved[pair[1]] - moved[pair[0]]).collect();
        lengths.sort_unstable();
        let beat = lengths[lengths.len() / 2];
        if beat <= 0 {
            return None;
        }
        let bar_starts: Vec<i64> = written.bars.iter().map(|bar| moved[bar.start]).collect();
        let (shifts, home, bias) = shifts(follow, moved, found, beat, &bar_starts, looking_for);
        let grid = grid(follow, moved, beat, bias, &shifts);
        let heard: Vec<f64> =
            grid.iter().map(|&at| follow.strokes.partition_point(|&stroke| stroke < at) as f64).collect();
        let silences = silences(&heard, follow.strokes.len() as f64);
        let distances =
            shifts.iter().map(|&shift| Distance::at(follow, moved, found.reach, shift, &grid)).collect();
        let mut search = Self {
            follow,
            moved,
            grid,
            heard,
            silences,
            distances,
            home,
            beat,
            passages: passages(follow, &bar_starts),
            bar_starts,
            without: f64::MAX,
        };
        search.without = search.way(Some(home))?.0;
        Some(search)
    }

    pub(super) fn cheapest(&self) -> Option<(f64, Vec<Stretch>)> {
        let (cost, way) = self.way(None).filter(|(cost, _)| cost + MARGIN / 2.0 < self.without)?;
        Some(self.off_throughout(cost, &way).unwrap_or((cost, way)))
    }

    /// The way that lies throughout where this one goes at once, if that costs hardly more: who strikes something before the first note and
    /// is a beat off soon behind it was off from the beginning.
    fn off_throughout(&self, cost: f64, way: &[Stretch]) -> Option<(f64, Vec<Stretch>)> {
        let [first, then] = way else { return None };
        let begins = self.moved[*self.follow.written.notes.first()?] + self.distances[first.distance].shift;
        let before = self.follow.strokes.partition_point(|&stroke| stroke < begins - self.beat / 2);
        let soon = self.heard[then.left] < FEWEST_LEFT;
        let earlier = self.distances[then.distance].shift < self.distances[first.distance].shift;
        if before == 0 || !soon || !earlier || first.distance != self.home {
            return None;
        }
        self.way(Some(then.distance)).filter(|(throughout, _)| *throughout < cost + AS_LIKELY)
    }

    /// The cheapest way through the distances, or along `only` one of them.
    fn way(&self, only: Option<usize>) -> Option<(f64, Vec<Stretch>)> {
        let (moments, number) = (self.grid.len(), self.distances.len());
        let mut table = Table::new(moments, number);
        let mut best: (f64, usize, usize) = (f64::MAX, 0, 0);
        let mut silences = self.silences.iter().peekable();
        for k in 0..moments {
            for s in (0..number).filter(|s| only.is_none_or(|only| only == *s)) {
                let here = &self.distances[s];
                // Beginning here: what was written before is not played, or it is the beginning.
                let missed = f64::from(here.notes[k]).min(NOT_PLAYED);
                table.offer(k, s, missed + self.heard[k] + self.start_price(s), Step::BEGIN);
                if k > 0 {
                    let stay = table.cost(k - 1, s) + here.costs[k];
                    table.offer(k, s, stay, Step::new(1, s));
                }
            }
            if only.is_none() && k % STEPS == 0 {
                self.change(k, &mut table);
            }
            if let Some(&(_, until)) = silences.next_if(|(from, _)| *from == k) {
                // Whoever loses his place for a while and is in again in time went nowhere. Elsewhere it would make moves cheaper.
                let home = self.home;
                table.offer(until, home, table.cost(k, home) + NOT_PLAYED, Step::new(until - k, home));
            }
            for s in 0..number {
                let notes = &self.distances[s].notes;
                let rest = f64::from(notes[moments - 1] - notes[k]).min(NOT_PLAYED);
                let total = table.cost(k, s) + rest + self.heard[moments - 1] - self.heard[k];
                if total < best.0 {
                    best = (total, k, s);
                }
            }
        }
        (best.0 < f64::MAX).then(|| (best.0, self.traced(&table, best.1, best.2)))
    }

    /// Lets every distance be left for every other at moment `k`.
    fn change(&self, k: usize, table: &mut Table) {
        let row: Vec<f64> = (0..self.distances.len()).map(|s| table.cost(k, s)).collect();
        // Whatever lies dearer than the cheapest and the dearest change is left better from the cheapest.
        let dearest = row.iter().copied().fold(f64::MAX, f64::min) + DEAREST;
        for (from, &cost) in row.iter().enumerate().filter(|(_, cost)| **cost < dearest) {
            for to in (0..row.len()).filter(|&s| s != from) {
                let length = self.distances[to].shift - self.distances[from].shift;
                // So little is the pulse of one place and no other place.
                if self.beats(length).abs() < NO_MOVE {
                    continue;
                }
                table.offer(k, to, cost + self.change_price(k, from, to), Step::new(0, from));
                if length > 0 {
                    // The moment at which he goes on lies between two of the grid: both are tried.
                    let goes_on = self.grid.partition_point(|&at| at <= self.grid[k] + length);
                    let price = self.pause_price(self.grid[k] - self.distances[from].shift, length);
                    for after in [goes_on - 1, goes_on] {
                        if after > k && after < self.grid.len() {
                            let total = cost + price + self.heard[after] - self.heard[k];
                            table.offer(after, to, total, Step::new(after - k, from));
                        }
                    }
                }
            }
        }
    }

    /// The price of changing from one distance to another at once.
    fn change_price(&self, k: usize, from: usize, to: usize) -> f64 {
        let length = self.distances[to].shift - self.distances[from].shift;
        let position = self.grid[k] - self.distances[from].shift;
        self.price(position, position - length, length) + EARLIER * (self.grid.len() - k) as f64
    }

    fn traced(&self, table: &Table, k: usize, s: usize) -> Vec<Stretch> {
        let (mut k, mut s) = (k, s);
        let mut way = Vec::new();
        while let Some((back, from)) = table.came(k, s) {
            let left = k - back;
            if from != s {
                let price = if back == 0 {
                    self.change_price(k, from, s)
                } else {
                    let length = self.distances[s].shift - self.distances[from].shift;
                    self.pause_price(self.grid[left] - self.distances[from].shift, length)
                };
                way.push(Stretch { from: k, left, distance: s, price });
            }
            (k, s) = (left, from);
        }
        way.push(Stretch { from: 0, left: 0, distance: s, price: self.start_price(s) });
        way.reverse();
        way
    }

    fn beats(&self, length: i64) -> f64 {
        length as f64 / self.beat as f64
    }

    fn is_whole(&self, length: i64) -> bool {
        let beats = self.beats(length);
        (beats - beats.round()).abs() < 0.2 && beats.round() != 0.0
    }

    fn at_bar_line(&self, position: i64) -> bool {
        let near = self.bar_starts.partition_point(|&start| start < position - self.beat / 4);
        self.bar_starts.get(near).is_some_and(|&start| start <= position + self.beat * 2 / 5)
    }

    fn price(&self, from: i64, to: i64, length: i64) -> f64 {
        if self.passages.iter().any(|passage| (passage + length).abs() < self.beat / 5)
            && self.at_bar_line(to)
        {
            return REPEAT;
        }
        let bars = self.at_bar_line(from)
            && self.at_bar_line(to)
            && from.abs_diff(to) > self.beat.unsigned_abs() * 3 / 2;
        match (self.is_whole(length), bars) {
            (true, true) => BARS,
            _ if self.begins_again(from, to) => BEGUN_AGAIN,
            (true, false) => BEATS + if length > 0 { 0.6 } else { 0.0 },
            (false, _) => ANYWHERE + if length > 0 { 1.0 } else { 0.0 },
        }
    }

    /// Whether who goes from one written moment to another begins again from the beginning, however long he waited before.
    fn begins_again(&self, from: i64, to: i64) -> bool {
        let bars = &self.follow.written.bars;
        let pickup = self.follow.written.counts[bars[0].start].id.bar == 0;
        let one = self.bar_starts[usize::from(pickup && bars.len() > 1)];
        to <= one + self.beat / 4 && from > one + self.beat * 3 / 2
    }

    fn pause_price(&self, position: i64, length: i64) -> f64 {
        match (self.at_bar_line(position), self.is_whole(length)) {
            (true, _) => AT_BAR_LINE,
            (false, true) => BEATS,
            (false, false) => ANYWHERE,
        }
    }

    fn start_price(&self, s: usize) -> f64 {
        let length = self.distances[s].shift - self.distances[self.home].shift;
        if s == self.home {
            0.0
        } else if self.is_whole(length) {
            BEATS
        } else {
            ANYWHERE + 1.0
        }
    }

    /// Whether more than a bar is said to have been played again, and not from a bar line on: who goes back so far goes back to one. Such a
    /// move only finds a place for strokes that fit nowhere.
    pub(super) fn goes_back_to_nowhere(&self, made: &Move) -> bool {
        let bars = &self.follow.written.bars;
        let at_bar_line =
            |count: usize| count == self.moved.len() || bars.iter().any(|bar| bar.start == count);
        let bar = self.bar_starts.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap_or(0);
        made.kind == MoveKind::Again && made.beats > self.beats(bar) + 0.5 && !at_bar_line(made.to)
    }

    /// What was passed over, as late as it can have been: of two times through a passage it is the second that was left out.
    fn latest(&self, from: usize, to: usize) -> (usize, usize) {
        let counts = self.follow.written.counts;
        let (Some(first), Some(next)) = (counts.get(from), counts.get(to)) else { return (from, to) };
        if to <= from
            || (first.id.bar, first.id.at) != (next.id.bar, next.id.at)
            || next.id.pass != first.id.pass + 1
        {
            return (from, to);
        }
        let begins = (from + 1..to + 1).find(|&n| counts[n].id.bar < counts[n - 1].id.bar).unwrap_or(from);
        let by = begins - from;
        // Both times through have the same counts, so what is left of the passage is as long.
        if to + by <= counts.len() { (begins, to + by) } else { (from, to) }
    }

    /// What was passed over, moved back to where a passage begins again where it is as long as that and what lies between was
    /// written alike before and after: who passes a repeat over passes over the whole of it.
    fn whole_passage(&self, from: usize, to: usize) -> (usize, usize) {
        let counts = self.follow.written.counts;
        let begins = |n: usize| {
            let (before, here) = (counts[n - 1].id, counts[n].id);
            here.pass > 1 && (here.bar, here.at) <= (before.bar, before.at)
        };
        if to <= from || to > counts.len() || from >= counts.len() {
            return (from, to);
        }
        let within = |n: &usize| self.moved[from] - self.moved[*n] < 16 * self.beat;
        let Some(start) = (1..=from).rev().take_while(within).find(|&n| begins(n)) else { return (from, to) };
        let by = from - start;
        let Some(end) = to.checked_sub(by).filter(|&end| end > start) else { return (from, to) };
        // Where the passage ends: another time begins, or what follows it.
        let ends = counts.get(end).is_some_and(|next| {
            let last = counts[end - 1].id;
            next.id.pass != last.pass || (next.id.bar, next.id.at) <= (last.bar, last.at)
        });
        let alike = (0..by).all(|n| {
            let (one, other) = (start + n, end + n);
            counts[one].deed == counts[other].deed
                && (self.moved[one] - self.moved[start]).abs_diff(self.moved[other] - self.moved[end])
                    < 1_000_000
        });
        if ends && alike { (start, end) } else { (from, to) }
    }

    /// What was passed over, moved to the bar lines where it is as long as bars and what lies between is struck alike before and
    /// after: who leaves out as much as a bar leaves out the bar.
    fn whole_bars(&self, from: usize, to: usize) -> (usize, usize) {
        let counts = self.follow.written.counts;
        let (Some(first), Some(next)) = (counts.get(from), counts.get(to)) else { return (from, to) };
        let bar = |count: usize| &self.follow.written.bars[self.follow.written.bar_of(count)];
        let (one, other) = (bar(from), bar(to));
        if to <= from || first.id.at != next.id.at || from == one.start {
            return (from, to);
        }
        let struck = |start: usize, end: usize| -> Vec<i64> {
            let notes = (start..end).filter(|&count| counts[count].deed == Deed::Attack);
            notes.map(|count| (self.moved[count] - self.moved[start]) / 1_000_000).collect()
        };
        if struck(one.start, from) == struck(other.start, to) {
            (one.start, other.start)
        } else if struck(from, one.end) == struck(to, other.end) {
            (one.end, other.end)
        } else {
            (from, to)
        }
    }

    /// The take with these changes: where every count then lies, what was passed over and what was played again, explained once more.
    pub(super) fn applied(&self, way: &[Stretch]) -> Option<Left> {
        let counts = self.moved.len();
        let mut moved = self.moved.to_vec();
        let mut skipped = vec![false; counts];
        let mut again = vec![false; self.follow.strokes.len()];
        let mut moves = Vec::new();
        let home = self.distances[self.home].shift;
        let first = way.first()?;
        // The bias stays in the offsets: only what goes beyond it moves the counts.
        let by = |s: usize| if s == self.home { 0 } else { self.distances[s].shift - home };
        let first_by = by(first.distance);
        moved.iter_mut().for_each(|at| *at += first_by);
        if first.distance != self.home {
            let made = Move {
                kind: MoveKind::Start,
                to: 0,
                from: 0,
                beats: self.beats(first_by),
                gain: first.price,
            };
            moves.push(made);
        }
        let mut reached = 0;
        let first_note = self.follow.written.notes.first().copied().unwrap_or(0);
        for pair in way.windows(2) {
            let (before, now) = (pair[0], pair[1]);
            let (shift, next) = (self.distances[before.distance].shift, self.distances[now.distance].shift);
            let length = next - shift;
            // The written moment at which the course was left, and at which it goes on.
            let left = self.grid[now.left] - shift;
            let goes_on = self.grid[now.from] - next;
            let count = |position: i64| self.moved.partition_point(|&at| at < position);
            let (from, to) = if now.from > now.left {
                (count(left), count(left))
            } else {
                let (from, to) = self.latest(count(left), count(goes_on));
                let (from, to) = self.whole_passage(from, to);
                self.whole_bars(from, to)
            };
            // Whoever struck something and is back before the first note begins again.
            let nothing_before = to.max(from) <= first_note || self.heard[now.left] == 0.0;
            // What comes earlier than leaving out some notes before makes it, was off from the beginning too.
            let passed = self.moved[to.min(counts - 1)] - self.moved[first_note];
            let off = to <= first_note.max(from) || passed + self.beat / 2 < -length;
            let kind = if nothing_before && off {
                MoveKind::Start
            } else if now.from > now.left {
                MoveKind::Pause
            } else if to >= from {
                MoveKind::Skip
            } else {
                MoveKind::Again
            };
            // A skip back to what was passed over before is no way through the music.
            let resumes = match kind {
                MoveKind::Again => from,
                MoveKind::Start => 0,
                MoveKind::Skip | MoveKind::Pause => to.max(reached),
            };
            for (at, written) in moved.iter_mut().zip(self.moved).skip(resumes) {
                *at = written + by(now.distance);
            }
            if kind == MoveKind::Skip {
                skipped[from.min(to)..to].iter_mut().for_each(|skipped| *skipped = true);
            }
            if kind == MoveKind::Again {
                let begins = self.goes_on_at(from, shift, to, next).unwrap_or(self.grid[now.from]);
                let ends = self.goes_on_at(from, next, from, next).unwrap_or(left + next);
                let strokes = self.follow.strokes;
                let played = strokes.partition_point(|&s| s < begins)..strokes.partition_point(|&s| s < ends);
                again[played].iter_mut().for_each(|again| *again = true);
            }
            reached = resumes;
            moves.push(Move { kind, to, from, beats: self.beats(length), gain: now.price });
        }
        let mut explained = self.follow.about(&moved, &skipped, &again);
        if self.refined(&mut moved, &explained, &moves) {
            explained = self.follow.about(&moved, &skipped, &again);
        }
        Some(Left { explained, moved, skipped, again, moves, with: 0.0, without: 0.0 })
    }

    /// From when on a stroke belongs to the count `to`, played at the distance `then`, and no longer to what comes before the count `from`, played
    /// at the distance `before`: halfway between the last note there and that count, or a little before it. `None` behind the last count.
    fn goes_on_at(&self, from: usize, before: i64, to: usize, then: i64) -> Option<i64> {
        let at = self.moved.get(to)? + then;
        let notes = &self.follow.written.notes;
        let last = notes.partition_point(|&note| note < from).checked_sub(1);
        let gap = last.map_or(i64::MAX, |last| at - (self.moved[notes[last]] + before));
        Some(begins(at, gap, self.beat))
    }

    /// Moves what follows each move to where its strokes lie: the distances that were tried are as coarse as the bins in
    /// which they were counted. Says whether anything was moved.
    fn refined(&self, moved: &mut [i64], explained: &Explained, moves: &[Move]) -> bool {
        let mut by = vec![0; moved.len()];
        let notes = &self.follow.written.notes;
        let off = |begins: usize, ends: usize| {
            let here = notes.iter().filter(|&&note| (begins..ends).contains(&note));
            let mut off: Vec<i64> = here
                .filter_map(|&note| {
                    Some(self.follow.strokes[explained.strokes[note]?] - moved[note] - explained.course[note])
                })
                .collect();
            let enough = off.len() >= FEWEST_TO_REFINE;
            middle(&mut off).filter(|_| enough)
        };
        let begins: Vec<usize> = moves
            .iter()
            .map(|made| if made.kind == MoveKind::Again { made.from } else { made.to }.min(moved.len()))
            .collect();
        // The pulse is the one before the first move, if enough was struck there.
        let home = begins.first().and_then(|&first| off(0, first)).unwrap_or(0);
        for (index, &begins_at) in begins.iter().enumerate() {
            let ends = begins.get(index + 1).map_or(moved.len(), |next| (*next).max(begins_at));
            let Some(median) = off(begins_at, ends) else { continue };
            if (median - home).abs() > NOT_WORTH {
                by[begins_at..ends].fill(median - home);
            }
        }
        moved.iter_mut().zip(&by).for_each(|(at, by)| *at += by);
        by.iter().any(|by| *by != 0)
    }
}
