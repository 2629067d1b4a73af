//! Where the player left the written course: came in a beat early or late, left a bar out or played it again, dropped or
//! added a beat, stood still.
//!
//! A player's place in the music is a distance from the click: one who skipped a bar is a bar ahead from there on. For each distance
//! that strokes and notes suggest, the whole take is explained once; then the cheapest way through time is found that changes
//! from one distance to another, each change at a price (a Viterbi path over beats × distances).

use crate::alignment::{Explained, Follow, rows, width};
use crate::lattice::{Between, Pulse, RowKind, Rule, UNIT, best_path};
use crate::written::rounded;

/// One change of the player's place in the music.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Move {
    pub(crate) kind: MoveKind,
    /// The first count after it; the number of counts where nothing follows.
    pub(crate) to: usize,
    /// The counts that were passed over, or played again; as many as none where nothing was.
    pub(crate) from: usize,
    /// By how many felt beats the player then lies later than before; negative is ahead.
    pub(crate) beats: f64,
    /// How much dearer the take is explained without it, in units of a miss.
    pub(crate) gain: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum MoveKind {
    /// All lies early or late from the beginning.
    Start,
    /// What was passed over lies between `from` and `to`.
    Skip,
    /// What lies between `to` and `from` was played again.
    Again,
    /// Time passed and nothing was played.
    Pause,
}

/// A take explained with moves.
#[derive(Clone, Debug)]
pub(crate) struct Left {
    pub(crate) explained: Explained,
    pub(crate) moved: Vec<i64>,
    pub(crate) skipped: Vec<bool>,
    pub(crate) again: Vec<bool>,
    pub(crate) moves: Vec<Move>,
}

/// What must be left to explain before a move is looked for.
const WORTH_A_LOOK: u64 = 2 * UNIT;
/// By how much a take with moves must be cheaper than one without.
const MARGIN: f64 = 0.8;
/// No change costs more than this.
const DEAREST: f64 = ANYWHERE + 1.1;
/// What each note may still cost with moves, in misses.
const LEFT_OVER: f64 = 0.3;
/// The price of changing by whole bars, by whole beats, and by anything else (standing still at a bar line, and elsewhere).
const BARS: f64 = 1.9;
/// The price of passing over a repeat, and of every moment that a change comes earlier than it must: whoever may have gone on as written did.
const REPEAT: f64 = 0.9;
const EARLIER: f64 = 1e-6;
const BEATS: f64 = 2.4;
const AT_BAR_LINE: f64 = 2.4;
const ANYWHERE: f64 = 3.2;
/// The price of beginning late or stopping early, whatever is left out: no move is to be made of it.
const NOT_PLAYED: f64 = 1.8;
/// How many moments of the grid make a beat.
const STEPS: usize = 4;
/// How many distances are tried, and within how many nanoseconds they are looked for.
const TRIED: usize = 24;
const WIDEST: i64 = 16_000_000_000;
const BIN: i64 = 10_000_000;
/// Distances nearer than this are one.
const APART: i64 = 60_000_000;
/// A distance from the click below this share of a beat is the player's bias and no move.
const NO_MOVE: f64 = 0.34;
/// Strokes below which no move is claimed.
const FEWEST: usize = 4;

pub(crate) fn find(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Option<Left> {
    let off = beats_off(follow, moved, found);
    let notes = u64::try_from(follow.written.notes.len()).unwrap_or(0);
    // Where much is left to explain, the phrase was not off from the beginning, or not that alone.
    if off.as_ref().is_some_and(|left| left.explained.cost < WORTH_A_LOOK + UNIT * notes / 8) {
        return off;
    }
    searched(follow, moved, found).or(off)
}

fn searched(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Option<Left> {
    if found.cost < WORTH_A_LOOK || follow.strokes.len() < FEWEST || follow.written.beats.len() < 2 {
        return None;
    }
    let search = Search::new(follow, moved, found.reach)?;
    let (cost, way) = search.cheapest()?;
    let left = search.applied(&way)?;
    let price: f64 = left.moves.iter().map(|made| made.gain).sum();
    let with = cost.min(units(left.explained.cost) + price);
    let without = search.without.min(units(found.cost));
    let without = without.min(follow.struck_instead(moved, found).map_or(f64::MAX, |(cost, ..)| cost));
    // What is left after so many moves that it might be anything is explained by none of them.
    let most = follow.strokes.len().max(follow.written.notes.len()) as f64;
    let explains =
        units(left.explained.cost) < LEFT_OVER * most && left.moves.len() as f64 <= 1.0 + most / 8.0;
    (!left.moves.is_empty() && explains && with + MARGIN < without).then(|| {
        let share = (without - with) / left.moves.len() as f64;
        let moves = left.moves.iter().map(|made| Move { gain: share, ..*made }).collect();
        Left { moves, ..left }
    })
}

/// A pulse that was followed some whole beats beside the click: a phrase that came early or late, and no bias.
fn beats_off(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Option<Left> {
    let written = follow.written;
    let courses: Vec<i64> =
        written.notes.iter().filter(|&&n| found.strokes[n].is_some()).map(|&n| found.course[n]).collect();
    if courses.len() < FEWEST {
        return None;
    }
    // A pulse that drifts by a beat was not off from the beginning: its first part must lie where its last does.
    let part = courses.len().div_ceil(4);
    let of = |courses: &[i64]| {
        let mut sorted = courses.to_vec();
        sorted.sort_unstable();
        sorted[sorted.len() / 2] as f64
    };
    let beat = written.beat_nanos(written.notes[0]);
    let beats = of(&courses) / beat as f64;
    let all_alike = [&courses[..part], &courses[courses.len() - part..]]
        .iter()
        .all(|part| (of(part) / beat as f64 - beats.round()).abs() < 0.4);
    if beats.round() == 0.0 || (beats - beats.round()).abs() > 0.25 || !all_alike {
        return None;
    }
    let by = rounded(beat as f64 * beats.round());
    let moved: Vec<i64> = moved.iter().map(|at| at + by).collect();
    let none = vec![false; moved.len()];
    let again = vec![false; follow.strokes.len()];
    let explained = follow.about(&moved, &none, &again);
    let made = Move { kind: MoveKind::Start, to: 0, from: 0, beats: beats.round(), gain: 2.0 };
    (explained.cost <= found.cost + UNIT).then(|| Left {
        explained,
        moved,
        skipped: none,
        again,
        moves: vec![made],
    })
}

fn units(cost: u64) -> f64 {
    cost as f64 / UNIT as f64
}

/// What a take costs at every beat of the grid if the player lies at one distance throughout.
#[derive(Clone, Debug)]
struct Distance {
    shift: i64,
    /// What notes and strokes between the moment before and this one cost.
    costs: Vec<f64>,
    /// How many notes lie before each moment.
    notes: Vec<u32>,
}

/// The least cost of being at each distance at each moment, and how one came there.
struct Table {
    distances: usize,
    costs: Vec<f64>,
    steps: Vec<Step>,
}

/// From which distance and how many moments before; packed, for there are many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Step(u32);

impl Step {
    /// From nowhere.
    const BEGIN: Self = Self(u32::MAX);

    fn new(back: usize, distance: usize) -> Self {
        Self(u32::try_from(back << 8 | distance).unwrap_or(u32::MAX))
    }
}

impl Table {
    fn new(moments: usize, distances: usize) -> Self {
        let cells = moments * distances;
        Self { distances, costs: vec![f64::MAX; cells], steps: vec![Step::BEGIN; cells] }
    }

    fn cost(&self, k: usize, s: usize) -> f64 {
        self.costs[k * self.distances + s]
    }

    fn offer(&mut self, k: usize, s: usize, cost: f64, step: Step) {
        let cell = k * self.distances + s;
        if cost < self.costs[cell] {
            self.costs[cell] = cost;
            self.steps[cell] = step;
        }
    }

    fn came(&self, k: usize, s: usize) -> Option<(usize, usize)> {
        let step = self.steps[k * self.distances + s];
        (step != Step::BEGIN).then_some(((step.0 >> 8) as usize, (step.0 & 0xff) as usize))
    }
}

struct Search<'a> {
    follow: &'a Follow<'a>,
    moved: &'a [i64],
    /// Moments a little before each beat, on the player's clock.
    grid: Vec<i64>,
    /// How many strokes were heard up to each of them.
    heard: Vec<f64>,
    distances: Vec<Distance>,
    /// Which distance is no move.
    home: usize,
    beat: i64,
    bar_starts: Vec<i64>,
    /// How long the passages are that are written to be played again.
    passages: Vec<i64>,
    /// What the best explanation without a move costs.
    without: f64,
}

/// A stretch of time at one distance, from a moment of the grid on.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    from: usize,
    /// Where on the grid the player left the distance before; earlier than `from` where time passed.
    left: usize,
    distance: usize,
    price: f64,
}

impl<'a> Search<'a> {
    fn new(follow: &'a Follow<'a>, moved: &'a [i64], reach: i64) -> Option<Self> {
        let written = follow.written;
        let mut lengths: Vec<i64> =
            written.beats.windows(2).map(|pair| moved[pair[1]] - moved[pair[0]]).collect();
        lengths.sort_unstable();
        let beat = lengths[lengths.len() / 2];
        if beat <= 0 {
            return None;
        }
        let bar_starts: Vec<i64> = written.bars.iter().map(|bar| moved[bar.start]).collect();
        let (shifts, home, bias) = shifts(follow, moved, beat, &bar_starts);
        let grid = grid(follow, moved, beat, bias, &shifts);
        let heard =
            grid.iter().map(|&at| follow.strokes.partition_point(|&stroke| stroke < at) as f64).collect();
        let distances =
            shifts.iter().map(|&shift| Distance::at(follow, moved, reach, shift, &grid)).collect();
        let mut search = Self {
            follow,
            moved,
            grid,
            heard,
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

    fn cheapest(&self) -> Option<(f64, Vec<Stretch>)> {
        self.way(None).filter(|(cost, _)| cost + MARGIN / 2.0 < self.without)
    }

    /// The cheapest way through the distances, or along `only` one of them.
    fn way(&self, only: Option<usize>) -> Option<(f64, Vec<Stretch>)> {
        let (moments, number) = (self.grid.len(), self.distances.len());
        let mut table = Table::new(moments, number);
        let mut best: (f64, usize, usize) = (f64::MAX, 0, 0);
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
                table.offer(k, to, cost + self.change_price(k, from, to), Step::new(0, from));
                let length = self.distances[to].shift - self.distances[from].shift;
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
            (true, false) => BEATS + if length > 0 { 0.6 } else { 0.0 },
            (false, _) => ANYWHERE + if length > 0 { 1.0 } else { 0.0 },
        }
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

    /// The take with these changes: where every count then lies, what was passed over and what was played again, explained once more.
    fn applied(&self, way: &[Stretch]) -> Option<Left> {
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
                self.latest(count(left), count(goes_on))
            };
            let nothing_before = to <= first_note || self.heard[now.left] == 0.0;
            let kind = if nothing_before && to <= first_note.max(from) {
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
                let until = left + next;
                let strokes = self.follow.strokes;
                let played = strokes.partition_point(|&s| s < self.grid[now.from])
                    ..strokes.partition_point(|&s| s < until);
                again[played].iter_mut().for_each(|again| *again = true);
            }
            reached = resumes;
            moves.push(Move { kind, to, from, beats: self.beats(length), gain: now.price });
        }
        let explained = self.follow.about(&moved, &skipped, &again);
        Some(Left { explained, moved, skipped, again, moves })
    }
}

impl Distance {
    fn at(follow: &Follow<'_>, moved: &[i64], reach: i64, shift: i64, grid: &[i64]) -> Self {
        let all: Vec<usize> = (0..moved.len()).collect();
        let rows = rows(follow.written, moved, &all, follow.settings, reach, |i| width(i, follow.most));
        let rule = Rule::Likely { reach };
        let path = best_path(&rows, follow.strokes, rule, Pulse::Known(&vec![shift; rows.len()]));
        let mut events: Vec<(i64, f64, u32)> = Vec::with_capacity(rows.len() + follow.strokes.len());
        let mut taken = vec![false; follow.strokes.len()];
        for (row, stroke) in rows.iter().zip(&path.strokes) {
            let note = u32::from(row.kind != RowKind::Silent);
            let due = follow.now.is_none_or(|now| row.at + shift + row.late <= now);
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

/// Moments a little before each beat, from before the first stroke or note until after the last of both.
fn grid(follow: &Follow<'_>, moved: &[i64], beat: i64, bias: i64, shifts: &[i64]) -> Vec<i64> {
    let before = beat * 3 / 20;
    let beats: Vec<i64> = follow.written.beats.iter().map(|&count| moved[count] + bias - before).collect();
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

/// The distances to try, in order; which of them is the player's bias, and that bias.
fn shifts(follow: &Follow<'_>, moved: &[i64], beat: i64, bar_starts: &[i64]) -> (Vec<i64>, usize, i64) {
    let bar = bar_starts.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap_or(4 * beat);
    let widest = (2 * bar + beat).clamp(2 * beat, WIDEST);
    let bins = usize::try_from(2 * widest / BIN + 1).unwrap_or(1);
    let mut crowd = vec![0_u32; bins];
    let notes: Vec<i64> = follow.written.notes.iter().map(|&note| moved[note]).collect();
    let mut from = 0;
    for &stroke in follow.strokes {
        while from < notes.len() && notes[from] < stroke - widest {
            from += 1;
        }
        for note in notes[from..].iter().take_while(|&&note| note <= stroke + widest) {
            let bin = usize::try_from((stroke - note + widest) / BIN).unwrap_or(0).min(bins - 1);
            crowd[bin] += 1;
        }
    }
    let span = 2_usize;
    let around = |bin: usize| crowd[bin.saturating_sub(span)..(bin + span + 1).min(bins)].iter().sum::<u32>();
    let mut ranked: Vec<(u32, usize)> =
        (0..bins).map(|bin| (around(bin), bin)).filter(|(n, _)| *n >= 3).collect();
    ranked.sort_unstable_by_key(|&(n, bin)| (std::cmp::Reverse(n), bin));
    let at = |bin: usize| i64::try_from(bin).unwrap_or(0) * BIN - widest + BIN / 2;
    // The centre of a crowd: the mean of the distances in it.
    let centre = |bin: usize| {
        let near = bin.saturating_sub(span)..(bin + span + 1).min(bins);
        let (sum, n) = near
            .fold((0_i64, 0_i64), |(sum, n), b| (sum + at(b) * i64::from(crowd[b]), n + i64::from(crowd[b])));
        if n == 0 { at(bin) } else { sum / n }
    };
    // The bias: what the most crowded distance lies beside a whole number of beats.
    let bias = ranked.first().map_or(0, |&(_, bin)| {
        let rest = centre(bin).rem_euclid(beat);
        let rest = if rest > beat / 2 { rest - beat } else { rest };
        if (rest as f64 / beat as f64).abs() < NO_MOVE { rest } else { 0 }
    });
    let no_move = rounded(beat as f64 * NO_MOVE);
    // A crowd near home is home, wherever exactly it lies.
    let near_home = ranked.iter().find(|&&(_, bin)| centre(bin).abs() < no_move.min(150_000_000));
    let home = near_home.map_or(bias, |&(_, bin)| centre(bin));
    let mut shifts = vec![home];
    let add = |shift: i64, shifts: &mut Vec<i64>| {
        if shifts.len() < TRIED
            && (shift - home).abs() >= no_move
            && shifts.iter().all(|s| (s - shift).abs() > APART)
        {
            shifts.push(shift);
        }
    };
    // Longer ways than the crowd was looked for: passages that are played more than once.
    for passage in passages(follow, bar_starts) {
        add(home - passage, &mut shifts);
    }
    for &(_, bin) in ranked.iter().take(400) {
        if shifts.len() < TRIED - 8 {
            add(centre(bin), &mut shifts);
        }
    }
    for by in [beat, bar, 2 * beat, 2 * bar] {
        add(home + by, &mut shifts);
        add(home - by, &mut shifts);
    }
    shifts.sort_unstable();
    let index = shifts.iter().position(|&shift| shift == home).unwrap_or(0);
    (shifts, index, home)
}

/// How long the passages are that a repeat plays once more.
fn passages(follow: &Follow<'_>, bar_starts: &[i64]) -> Vec<i64> {
    let bars = &follow.written.bars;
    let pass = |bar: usize| follow.written.counts[bars[bar].start].id;
    let mut lengths = Vec::new();
    let mut from = 0;
    for bar in 1..bars.len() {
        let (before, now) = (pass(bar - 1), pass(bar));
        if now.bar <= before.bar && now.pass > 1 {
            // Back to a bar that was played before: the passage lies between its last time and here.
            let began = (from..bar).rev().find(|&b| pass(b).bar == now.bar);
            if let Some(began) = began {
                lengths.push(bar_starts[bar] - bar_starts[began]);
            }
            from = began.unwrap_or(from);
        }
    }
    lengths.sort_unstable();
    lengths.dedup();
    lengths.truncate(4);
    lengths
}
