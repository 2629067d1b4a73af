//! What a player may do all the way from some bar on: play at half or double the speed, or count every bar longer than it is.
//!
//! Neither is a move: the place in the music goes on changing. So the written times themselves are stretched from a bar on, and the take is
//! explained about them once more. Which bar it is, the explanation as written tells: until there it fits.

use timebase::Span;

use crate::alignment::{Explained, Follow};
use crate::lattice::UNIT;

/// What was done from a count on that begins a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Altered {
    pub(crate) how: How,
    pub(crate) from: usize,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum How {
    HalfSpeed,
    DoubleSpeed,
    /// Every bar was so much longer.
    LongerBars(Span),
}

/// A take explained with it.
#[derive(Clone, Debug)]
pub(crate) struct Changed {
    pub(crate) altered: Altered,
    pub(crate) explained: Explained,
    pub(crate) moved: Vec<i64>,
    /// The notes behind the last stroke: who takes longer than written is in the middle when the click ends.
    pub(crate) unplayed: Vec<usize>,
}

/// What it is held against, in misses: as another speed throughout, and a little for the bar that had to be found.
const PRICE: f64 = 3.5;
/// The reach of the steadiest player, in nanoseconds.
const STEADY: f64 = 57_000_000.0;
/// What a miss is worth in the logarithm of likelihood.
const PER_UNIT: f64 = 3.6;
/// What each note that was played may still cost with it, in misses.
const LEFT_OVER: f64 = 0.2;
/// What is left to explain must be less than this share of what it is otherwise.
const MUST_GO: f64 = 0.4;
/// So many notes must be answered from that bar on, in so many bars that are longer.
const FEWEST_ANSWERED: usize = 6;
const FEWEST_BARS: usize = 3;
/// So many notes and strokes may answer nothing for each note that is answered there: where more does, it was not all done that way.
const ASTRAY: f64 = 0.15;
/// How many bars before the first that does not fit are tried.
const BEFORE: usize = 4;
/// Where a bar fits, less than this share of its notes and strokes answers nothing.
const MISFIT: f64 = 0.2;

/// The cheapest of these ways, if it explains the take much better than it can be explained otherwise, at `cost` misses. `found` is
/// the explanation as written, with the counts where `moved` says.
pub(crate) fn find(follow: &Follow<'_>, moved: &[i64], found: &Explained, cost: f64) -> Option<Changed> {
    let bars = follow.written.bars.len();
    // Who stopped before the end stopped, whichever way it is looked at.
    let played = found.cost.saturating_sub(UNIT * follow.unplayed_end(found).len() as u64);
    let cost = cost.min(played as f64 / UNIT as f64);
    if cost <= PRICE + 1.0 || bars < 2 {
        return None;
    }
    // Where every bar fits as written, there is nothing to explain.
    let first = first_misfit(follow, moved, found)?;
    // A pulse that is followed holds on for some bars, or was led astray from the beginning.
    let before = follow.written.bars[first.saturating_sub(BEFORE)].start;
    if left_before(follow, moved, found, before) >= MUST_GO * cost {
        // What was played as written until there is left to explain whatever comes behind it.
        return None;
    }
    let near = (0..bars).filter(|&bar| bar < 2 || (first.saturating_sub(BEFORE)..first + 2).contains(&bar));
    let tried = near.flat_map(|bar| ways(follow, bar).into_iter().map(move |how| (bar, how)));
    let changed = tried.filter_map(|(bar, how)| {
        let from = follow.written.bars[bar].start;
        let moved = stretched(follow, moved, bar, how)?;
        let explained = follow.about(&moved, &vec![false; moved.len()], &vec![false; follow.strokes.len()]);
        let unplayed = follow.unplayed_end(&explained);
        Some(Changed { altered: Altered { how, from }, explained, moved, unplayed })
    });
    let best = changed.min_by(|a, b| a.unlikely().total_cmp(&b.unlikely()))?;
    let left = best.left() as f64 / UNIT as f64;
    let played = follow.written.notes.len() - best.unplayed.len();
    let (answered, astray) = best.behind_the_bar(follow);
    let holds = answered >= FEWEST_ANSWERED
        && astray as f64 <= ASTRAY * answered as f64
        && left < LEFT_OVER * played as f64
        && left < MUST_GO * cost
        && left + PRICE < cost;
    holds.then_some(best)
}

impl Changed {
    /// How many notes are answered from that bar on, and how many notes and strokes answer nothing, but for the end that was not played.
    fn behind_the_bar(&self, follow: &Follow<'_>) -> (usize, usize) {
        let from = self.altered.from;
        let notes = &follow.written.notes[follow.written.notes.partition_point(|&note| note < from)..];
        let mut answers = vec![false; follow.strokes.len()];
        for stroke in notes.iter().filter_map(|&note| self.explained.strokes[note]) {
            answers[stroke] = true;
        }
        let begins = self.moved[from] + self.explained.course[from] - self.explained.reach;
        let heard = follow.strokes.partition_point(|&at| at < begins)..follow.strokes.len();
        let strokes = heard.len();
        let answered = answers[heard].iter().filter(|answers| **answers).count();
        let missed = notes.len().saturating_sub(answered + self.unplayed.len());
        (answered, missed + strokes - answered)
    }

    /// What it costs where a loose player is less likely than a steady one: each is weighed by his own reach, so as many misses are
    /// added as the logarithm of it, beside the steadiest, is worth for every note that is answered.
    fn unlikely(&self) -> f64 {
        let answered = self.explained.strokes.iter().flatten().count() as f64;
        self.left() as f64 / UNIT as f64
            + answered * (self.explained.reach as f64 / STEADY).ln().max(0.0) / PER_UNIT
    }

    /// What is left to explain, in [`UNIT`]s, of what was played.
    fn left(&self) -> u64 {
        self.explained.cost.saturating_sub(UNIT * self.unplayed.len() as u64)
    }
}

/// What is left to explain as written of the notes before this count, in misses.
fn left_before(follow: &Follow<'_>, moved: &[i64], found: &Explained, before: usize) -> f64 {
    let notes = follow.written.notes.iter().take_while(|&&note| note < before);
    let left = notes.map(|&note| match found.strokes[note] {
        None => 1.0,
        // At the reach a stroke is as likely a stray beside a missed note.
        Some(stroke) => {
            let off = (follow.strokes[stroke] - moved[note] - found.course[note]) as f64;
            2.0 * (off / found.reach as f64).powi(2)
        }
    });
    left.sum()
}

/// What may have been done from this bar on.
fn ways(follow: &Follow<'_>, bar: usize) -> Vec<How> {
    let (counts, bars) = (follow.written.counts, &follow.written.bars);
    let first = &counts[bars[bar].start];
    let mut ways = Vec::new();
    if bar > 0 {
        // From the first bar on it is the whole take, which is asked before.
        ways.extend([How::HalfSpeed, How::DoubleSpeed]);
    }
    if first.id.bar > 0 && bars.len() - bar >= FEWEST_BARS {
        let parts = if first.beat.numerator() == 3 { 3 } else { 2 };
        let part = Span::new(first.beat.numerator(), first.beat.denominator() * parts);
        ways.extend([How::LongerBars(first.beat), How::LongerBars(part)]);
    }
    ways
}

/// Where every count lies with this done from a bar on.
fn stretched(follow: &Follow<'_>, moved: &[i64], bar: usize, how: How) -> Option<Vec<i64>> {
    let written = follow.written;
    let from = written.bars[bar].start;
    let origin = moved[from];
    let mut stretched = moved.to_vec();
    match how {
        How::HalfSpeed => stretched[from..].iter_mut().for_each(|at| *at += *at - origin),
        How::DoubleSpeed => stretched[from..].iter_mut().for_each(|at| *at -= (*at - origin) / 2),
        How::LongerBars(length) => {
            let mut by = 0;
            for bar in &written.bars[bar..] {
                stretched[bar.clone()].iter_mut().for_each(|at| *at += by);
                // As long as the first beat of the bar shows it to be.
                let beat = written.counts[bar.start].beat;
                let next = (bar.start + 1..moved.len()).find(|&count| written.counts[count].on_beat);
                let lasts =
                    next.map_or_else(|| written.beat_nanos(bar.start), |next| moved[next] - moved[bar.start]);
                let times = length.numerator() as f64 * beat.denominator() as f64
                    / (length.denominator() as f64 * beat.numerator() as f64);
                by += crate::written::rounded(lasts as f64 * times);
            }
        }
    }
    stretched.is_sorted().then_some(stretched)
}

/// The bar from which on most answers nothing: notes missed and strokes too many, beyond what there may be in a bar that fits.
fn first_misfit(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Option<usize> {
    let bars = &follow.written.bars;
    let mut answers = vec![false; follow.strokes.len()];
    let mut beyond = vec![0.0; bars.len()];
    for &note in &follow.written.notes {
        let bar = follow.written.bar_of(note);
        beyond[bar] -= MISFIT;
        match found.strokes[note] {
            Some(stroke) => answers[stroke] = true,
            None => beyond[bar] += 1.0,
        }
    }
    for (&at, answers) in follow.strokes.iter().zip(answers) {
        let bar = bars.partition_point(|bar| moved[bar.start] <= at).saturating_sub(1);
        beyond[bar] += if answers { -MISFIT } else { 1.0 - MISFIT };
    }
    let mut sum = 0.0;
    let mut best = (0.0, 0);
    for bar in (0..bars.len()).rev() {
        sum += beyond[bar];
        if sum >= best.0 {
            best = (sum, bar);
        }
    }
    (best.0 > 0.0).then_some(best.1)
}
