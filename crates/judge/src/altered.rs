//! What a player may do all the way from some bar on, or for some bars: play at half or double the speed, or count every bar longer or
//! shorter than it is.
//!
//! Neither is a move: the place in the music goes on changing. So the written times themselves are stretched from a bar on, and the take is
//! explained about them once more. Which bar it is, the explanation as written tells: until there it fits. Up to which bar, the
//! stretched one tells in the same way.

use std::ops::Range;

use timebase::Span;

use crate::alignment::{Explained, Follow};
use crate::lattice::UNIT;

/// What was done from a count on that begins a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Altered {
    pub(crate) how: How,
    pub(crate) from: usize,
    /// The count from which on all is as written again, if there is one.
    pub(crate) until: Option<usize>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum How {
    HalfSpeed,
    DoubleSpeed,
    /// Every bar was so much longer.
    LongerBars(Span),
    /// Every bar was shorter by its last beat.
    ShorterBars,
}

/// A take explained with it.
#[derive(Clone, Debug)]
pub(crate) struct Changed {
    pub(crate) altered: Altered,
    pub(crate) explained: Explained,
    pub(crate) moved: Vec<i64>,
    /// For each count, whether it was left out.
    pub(crate) skipped: Vec<bool>,
    /// The notes behind the last stroke: who takes longer than written is in the middle when the click ends.
    pub(crate) unplayed: Vec<usize>,
}

/// What it is held against, in misses: as another speed throughout, and a little for the bar that had to be found.
const PRICE: f64 = 3.5;
/// A little more for the bar up to which it was so.
const AND_BACK: f64 = 0.5;
/// One bar at half the speed comes later at one place only, as with a beat too many.
const ONE_BAR: f64 = 2.4;
/// The reach of the steadiest player, in nanoseconds.
const STEADY: f64 = 57_000_000.0;
/// What a miss is worth in the logarithm of likelihood.
const PER_UNIT: f64 = 3.6;
/// What each note that was played may still cost with it, in misses.
const LEFT_OVER: f64 = 0.2;
/// What is left to explain must be less than this share of what it is otherwise.
const MUST_GO: f64 = 0.4;
/// The same for one bar, beside which the rest of the take has its share.
const MUST_GO_OF_ONE: f64 = 0.55;
/// So many notes must be answered from that bar on, in so many bars that are longer.
const FEWEST_ANSWERED: usize = 6;
const FEWEST_BARS: usize = 3;
/// So many notes and strokes may answer nothing for each note that is answered there: where more does, it was not all done that way.
const ASTRAY: f64 = 0.15;
/// What must be left to explain for each note, in misses, for bars to be looked at one by one.
const MUCH: f64 = 1.0 / 16.0;
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
    let first = first_misfit(follow, moved, &vec![false; moved.len()], found)?;
    // A pulse that is followed holds on for some bars, or was led astray from the beginning.
    let before = follow.written.bars[first.saturating_sub(BEFORE)].start;
    if left_before(follow, moved, found, before) >= MUST_GO * cost {
        // What was played as written until there is left to explain whatever comes behind it.
        return None;
    }
    let near = (0..bars).filter(|&bar| bar < 2 || (first.saturating_sub(BEFORE)..first + 2).contains(&bar));
    // Who is elsewhere in every bar leaves much to explain, beyond what a long take has here and there.
    let much = cost > MUCH * follow.written.notes.len() as f64;
    let tried: Vec<(usize, How)> = near
        .flat_map(|bar| ways(follow, bar).into_iter().map(move |how| (bar, how)))
        .filter(|(_, how)| much || *how != How::ShorterBars)
        .collect();
    let to_the_end: Vec<Changed> =
        tried.iter().filter_map(|&(bar, how)| Changed::of(follow, moved, bar..bars, how)).collect();
    let one_bar = (first.saturating_sub(1)..first + 2).map(|bar| (bar..bar + 1, How::HalfSpeed));
    let longer = if much { stretches(follow, &to_the_end) } else { Vec::new() };
    let for_some_bars = one_bar.filter(|_| much).chain(longer);
    let for_some_bars: Vec<Changed> = for_some_bars
        .filter(|(stretch, _)| stretch.end < bars)
        .filter_map(|(stretch, how)| Changed::of(follow, moved, stretch, how))
        .collect();
    let all = to_the_end.into_iter().chain(for_some_bars);
    all.min_by(|a, b| a.unlikely().total_cmp(&b.unlikely())).filter(|best| best.holds(follow, cost))
}

/// From where to where bars may have been longer or shorter, by where the explanations that have them so to the end stop to fit: of
/// each way the one that fits for most bars.
fn stretches(follow: &Follow<'_>, to_the_end: &[Changed]) -> Vec<(Range<usize>, How)> {
    let mut longest: Vec<(Range<usize>, How)> = Vec::new();
    for changed in to_the_end {
        let how = changed.altered.how;
        if !matches!(how, How::LongerBars(_) | How::ShorterBars) {
            continue;
        }
        let from = follow.written.bar_of(changed.altered.from);
        let Some(until) = first_misfit(follow, &changed.moved, &changed.skipped, &changed.explained) else {
            continue;
        };
        match longest.iter_mut().find(|(_, other)| *other == how) {
            Some((stretch, _)) if stretch.len() < until.saturating_sub(from) => *stretch = from..until,
            Some(_) => {}
            None => longest.push((from..until.max(from), how)),
        }
    }
    let near = longest.into_iter().flat_map(|(stretch, how)| {
        let ends = stretch.end.saturating_sub(1)..stretch.end + 2;
        ends.map(move |end| (stretch.start..end, how))
    });
    near.filter(|(stretch, _)| stretch.len() >= FEWEST_BARS).collect()
}

impl Changed {
    /// The take explained with these bars changed so.
    fn of(follow: &Follow<'_>, moved: &[i64], bars: Range<usize>, how: How) -> Option<Self> {
        let written = follow.written;
        let until = written.bars.get(bars.end).map(|bar| bar.start);
        let altered = Altered { how, from: written.bars.get(bars.start)?.start, until };
        let (moved, skipped) = stretched(follow, moved, bars, how)?;
        let explained = follow.about(&moved, &skipped, &vec![false; follow.strokes.len()]);
        let unplayed = follow.unplayed_end(&explained).into_iter().filter(|&note| !skipped[note]).collect();
        Some(Self { altered, explained, moved, skipped, unplayed })
    }

    /// Whether it explains the take much better than it can be explained otherwise, at `cost` misses.
    fn holds(&self, follow: &Follow<'_>, cost: f64) -> bool {
        let left = self.left() as f64 / UNIT as f64;
        let (price, must_go) = match (self.altered.until, self.altered.how) {
            (None, _) => (PRICE, MUST_GO),
            (Some(_), How::HalfSpeed) => (ONE_BAR, MUST_GO_OF_ONE),
            (Some(_), _) => (PRICE + AND_BACK, MUST_GO),
        };
        let asked = follow.written.notes.iter().filter(|&&note| !self.skipped[note]).count();
        let (answered, astray) = self.behind_the_bar(follow);
        answered >= FEWEST_ANSWERED
            && astray as f64 <= ASTRAY * answered as f64
            && left < LEFT_OVER * (asked - self.unplayed.len()) as f64
            && left < must_go * cost
            && left + price < cost
    }

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
        let asked = notes.iter().filter(|&&note| !self.skipped[note]).count();
        let missed = asked.saturating_sub(answered + self.unplayed.len());
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
    notes.map(|&note| found.cost_of(note, follow.strokes, moved)).sum()
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
    let beats = counts[bars[bar].clone()].iter().filter(|count| count.on_beat).count();
    if first.id.bar > 0 && bars.len() - bar >= FEWEST_BARS {
        if beats > 1 {
            ways.push(How::ShorterBars);
        }
        let parts = if first.beat.numerator() == 3 { 3 } else { 2 };
        let part = Span::new(first.beat.numerator(), first.beat.denominator() * parts);
        ways.extend([How::LongerBars(first.beat), How::LongerBars(part)]);
    }
    ways
}

/// Where every count lies with this done in some bars, and which counts are left out.
fn stretched(
    follow: &Follow<'_>,
    moved: &[i64],
    bars: Range<usize>,
    how: How,
) -> Option<(Vec<i64>, Vec<bool>)> {
    let written = follow.written;
    let from = written.bars[bars.start].start;
    let end = written.bars.get(bars.end).map_or(moved.len(), |bar| bar.start);
    let origin = moved[from];
    // How long these bars are; to the end it does not matter.
    let length = moved.get(end).map_or(0, |at| at - origin);
    let mut stretched = moved.to_vec();
    let mut skipped = vec![false; moved.len()];
    match how {
        How::HalfSpeed => {
            stretched[from..end].iter_mut().for_each(|at| *at += *at - origin);
            stretched[end..].iter_mut().for_each(|at| *at += length);
        }
        How::DoubleSpeed => {
            stretched[from..end].iter_mut().for_each(|at| *at -= (*at - origin) / 2);
            stretched[end..].iter_mut().for_each(|at| *at -= length / 2);
        }
        How::LongerBars(length) => {
            let mut by = 0;
            for bar in &written.bars[bars] {
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
            stretched[end..].iter_mut().for_each(|at| *at += by);
        }
        How::ShorterBars => {
            let mut by = 0;
            for bar in &written.bars[bars] {
                let last = bar.clone().rev().find(|&count| written.counts[count].on_beat)?;
                stretched[bar.start..last].iter_mut().for_each(|at| *at -= by);
                // Where the last beat would be, the next bar begins.
                stretched[last..bar.end].fill(moved[last] - by);
                skipped[last..bar.end].fill(true);
                by += moved.get(bar.end).map_or(0, |next| next - moved[last]);
            }
            stretched[end..].iter_mut().for_each(|at| *at -= by);
        }
    }
    stretched.is_sorted().then_some((stretched, skipped))
}

/// The bar from which on most answers nothing: notes missed and strokes too many, beyond what there may be in a bar that fits.
fn first_misfit(follow: &Follow<'_>, moved: &[i64], skipped: &[bool], found: &Explained) -> Option<usize> {
    let bars = &follow.written.bars;
    let mut answers = vec![false; follow.strokes.len()];
    let mut beyond = vec![0.0; bars.len()];
    for &note in follow.written.notes.iter().filter(|&&note| !skipped[note]) {
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
