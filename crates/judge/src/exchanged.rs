//! Another bar played where one is written, while the pulse goes on: two bars that change places, the bar before once more, the
//! wrong ending of a repeat.
//!
//! That is no move, for what follows comes in its time. So every bar that does not fit is held against the bars around it and the other
//! endings, about the same pulse; where one of those fits much better, the take is explained once more without that bar and its strokes.

use std::collections::HashMap;
use std::ops::Range;

use rhythm::Deed;

use crate::alignment::{Explained, Follow, rows, width};
use crate::lattice::{Pulse, Row, Rule, UNIT, best_path};
use crate::moves::{Move, NO_MOVE, begins};
use crate::written::{Written, middle};

/// Bars, one behind the other, for which others were played.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Exchanged {
    /// The bars that are written there, indices into [`Written::bars`].
    pub(crate) bars: Range<usize>,
    /// The first of those that were played.
    pub(crate) played: usize,
    /// The strokes they were played with.
    pub(crate) strokes: Range<usize>,
    /// How much dearer the take is explained without it, in misses.
    pub(crate) gain: f64,
}

/// A take explained with it.
#[derive(Clone, Debug)]
pub(crate) struct Changed {
    pub(crate) exchanged: Vec<Exchanged>,
    pub(crate) explained: Explained,
    pub(crate) skipped: Vec<bool>,
    pub(crate) again: Vec<bool>,
    /// What the take costs with it, in misses, beside what figures misread explain.
    pub(crate) extra: f64,
}

/// What it is held against, in misses: a little more than a bar left out or played again, of which two would do as much.
const PRICE: f64 = 2.2;
/// The same for the wrong ending, which is taken easily; to go straight on into the other and back again would be two deeds.
const WRONG_ENDING: f64 = 1.0;
/// By how much a take must be cheaper with it than without.
const MARGIN: f64 = 0.8;
/// How much dearer it may be than moves that undo one another: one deed is likelier than several.
const UNDONE: f64 = 3.5;
/// So much cheaper bars must be by it that it is weighed at all.
const LEAST_GAIN: f64 = 2.2;
/// What a bar must cost as it is written to be looked at, and how much cheaper it must be as another, in misses.
const MISFIT: f64 = 1.8;
const LEAST_OF_ONE: f64 = 1.5;
/// What every note of the bar that was played may cost, in misses, and what each note of the take may where it is explained.
const LEFT_OVER: f64 = 0.25;
/// And the bar as a whole.
const BAR_LEFT: f64 = 1.2;
/// So many strokes tell one bar from another.
const FEWEST: usize = 3;
/// How many bars before and behind are tried.
const NEAR: usize = 2;
/// At most one of so many bars, or two in all: more are another rhythm.
const MOST: usize = 3;

/// The bars that were exchanged, if that explains the take better than it can be explained otherwise, at `cost` misses. `found` is
/// the explanation as written, with the counts where `moved` says.
pub(crate) fn find(follow: &Follow<'_>, moved: &[i64], found: &Explained, cost: f64) -> Option<Changed> {
    let written = follow.written;
    if cost < PRICE || written.bars.len() < 2 {
        return None;
    }
    let mut followers: HashMap<u32, Vec<usize>> = HashMap::new();
    for bar in 1..written.bars.len() {
        let follow = followers.entry(bar_number(written, bar - 1)).or_default();
        if follow.iter().all(|&other| bar_number(written, other) != bar_number(written, bar)) {
            follow.push(bar);
        }
    }
    let search = Search { follow, moved, found, misfit: misfits(follow, moved, found), followers };
    let exchanged = search.all();
    let many: usize = exchanged.iter().map(|one| one.bars.len()).sum();
    if exchanged.is_empty() || many > (written.bars.len() / MOST).max(2) {
        return None;
    }
    let (mut skipped, mut again) = (vec![false; moved.len()], vec![false; follow.strokes.len()]);
    let mut extra = 0.0;
    for one in &exchanged {
        for bar in &written.bars[one.bars.clone()] {
            skipped[bar.clone()].fill(true);
        }
        again[one.strokes.clone()].fill(true);
    }
    for runs in exchanged.chunk_by(are_swapped) {
        extra += price(runs, written);
        for (bar, played) in runs.iter().flat_map(Exchanged::pairs) {
            extra += search.cost_of(bar, played).0;
        }
    }
    let explained = follow.about(moved, &skipped, &again);
    let left = explained.cost as f64 / UNIT as f64;
    let fits = left < LEFT_OVER * written.notes.len() as f64 && left + extra < cost + UNDONE;
    fits.then_some(Changed { exchanged, explained, skipped, again, extra })
}

/// By how much a take must be cheaper with it than with these moves, in misses.
pub(crate) fn margin(moves: &[Move]) -> f64 {
    let beats: f64 = moves.iter().map(|made| made.beats).sum();
    if moves.len() > 1 && beats.abs() < NO_MOVE { -UNDONE } else { MARGIN }
}

/// Whether two bars changed places with one another.
pub(crate) fn are_swapped(one: &Exchanged, other: &Exchanged) -> bool {
    one.played == other.bars.start && other.played == one.bars.start && one.bars.len() == other.bars.len()
}

/// What bars played for others are held against; two that change places are one deed.
fn price(same: &[Exchanged], written: &Written<'_>) -> f64 {
    let is_ending = |one: &Exchanged| is_other_ending(written, one.bars.start, one.played);
    if same.iter().all(is_ending) { WRONG_ENDING } else { PRICE }
}

impl Exchanged {
    /// Which bar is written, and which was played.
    fn pairs(&self) -> impl Iterator<Item = (usize, usize)> {
        self.bars.clone().zip(self.played..)
    }
}

struct Search<'a> {
    follow: &'a Follow<'a>,
    moved: &'a [i64],
    found: &'a Explained,
    /// What each bar costs as it is written.
    misfit: Vec<f64>,
    /// The bars that come behind each bar by its number, where they are played first.
    followers: HashMap<u32, Vec<usize>>,
}

impl Search<'_> {
    /// All bars that others explain so much better, those together that follow one another in both.
    fn all(&self) -> Vec<Exchanged> {
        let bars = self.follow.written.bars.len();
        let mut all: Vec<Exchanged> = Vec::new();
        let mut bar = 0;
        while bar < bars {
            let free = all.last().map_or(0, |one| one.bars.end);
            let best = self.best(bar, free);
            bar = best.iter().map(|one| one.bars.end).max().unwrap_or(bar + 1);
            all.extend(best);
        }
        let gains: Vec<f64> = all
            .chunk_by(are_swapped)
            .flat_map(|same| {
                let gain: f64 = same.iter().map(|one| one.gain).sum();
                std::iter::repeat_n(gain, same.len())
            })
            .collect();
        let mut gains = gains.into_iter();
        all.retain(|_| gains.next().is_some_and(|gain| gain >= LEAST_GAIN));
        all
    }

    /// What explains a bar best: the run of bars from it on that is others, or that it changed places with one beside it, none before `free`. In
    /// order; nothing where it is itself.
    fn best(&self, bar: usize, free: usize) -> Vec<Exchanged> {
        if self.misfit[bar] < MISFIT {
            return Vec::new();
        }
        let runs = self.others(bar).into_iter().filter_map(|played| {
            let mut gain = self.gain(bar, played)?;
            let strokes = self.strokes_of(bar, played);
            let one = Exchanged { bars: bar..bar + 1, played, strokes, gain };
            if let Some(back) = self.back(&one).filter(|back| back.bars.start >= free) {
                let mut both = vec![one, back];
                both.sort_unstable_by_key(|one| one.bars.start);
                return Some(both);
            }
            let mut long = 1;
            while let Some(more) = self.gain(bar + long, played + long) {
                gain += more;
                long += 1;
            }
            let strokes =
                self.strokes_of(bar, played).start..self.strokes_of(bar + long - 1, played + long - 1).end;
            Some(vec![Exchanged { bars: bar..bar + long, played, strokes, gain }])
        });
        let worth = |same: &[Exchanged]| {
            let gain: f64 = same.iter().map(|one| one.gain).sum();
            gain - price(same, self.follow.written)
        };
        runs.max_by(|a, b| worth(a).total_cmp(&worth(b))).unwrap_or_default()
    }

    /// That one bar was played for another beside it where that was played for it: those changed places, which needs less than that it
    /// was exchanged alone.
    fn back(&self, one: &Exchanged) -> Option<Exchanged> {
        let (bar, other) = (one.bars.start, one.played);
        if one.bars.len() != 1 || bar.abs_diff(other) != 1 {
            return None;
        }
        let gain = self.cost_of(other, other).0 - self.cost_of(other, bar).0;
        let strokes = self.strokes_of(other, bar);
        (gain > 0.0).then(|| Exchanged { bars: other..other + 1, played: bar, strokes, gain })
    }

    /// The bars that may have been played for one: those around it, and those that another time follow the same bar.
    fn others(&self, bar: usize) -> Vec<usize> {
        let written = self.follow.written;
        let bars = written.bars.len();
        let near = bar.saturating_sub(NEAR)..(bar + NEAR + 1).min(bars);
        let before = bar.checked_sub(1).and_then(|before| self.followers.get(&bar_number(written, before)));
        let endings =
            before.into_iter().flatten().copied().filter(|&other| is_other_ending(written, bar, other));
        let mut others: Vec<usize> = near.chain(endings).filter(|&other| other != bar).collect();
        others.sort_unstable();
        others.dedup();
        others
    }

    /// How much cheaper the strokes in one bar are explained by another; `None` where they are not.
    fn gain(&self, bar: usize, played: usize) -> Option<f64> {
        let written = self.follow.written;
        if bar >= written.bars.len() || played >= written.bars.len() || !are_alike_long(written, bar, played)
        {
            return None;
        }
        if self.misfit[bar] < MISFIT || self.strokes_of(bar, played).len() < FEWEST {
            return None;
        }
        let (own, _) = self.cost_of(bar, bar);
        let (other, notes) = self.cost_of(bar, played);
        let gain = own - other;
        (notes >= FEWEST && other <= BAR_LEFT + LEFT_OVER * notes as f64 && gain >= LEAST_OF_ONE)
            .then_some(gain)
    }

    /// The strokes that fell into a bar in which another may have been played.
    fn strokes_of(&self, bar: usize, played: usize) -> Range<usize> {
        let strokes = self.follow.strokes;
        let first = |bar: usize, before: [usize; 2]| {
            let begins = self.begins(bar, before);
            begins.map_or(strokes.len(), |at| strokes.partition_point(|&stroke| stroke < at))
        };
        // Where two change places, this bar was played before.
        first(bar, [bar.saturating_sub(1), bar])..first(bar + 1, [bar, played])
    }

    /// When the strokes of a bar begin: half-way from the last note that lies before it, whichever of these bars was played there, but no
    /// more than a little before. `None` behind the last bar.
    fn begins(&self, bar: usize, before: [usize; 2]) -> Option<i64> {
        let written = self.follow.written;
        let start = written.bars.get(bar)?.start;
        let at = self.moved[start] + self.found.course[start];
        let gap = |bar: usize| {
            let ends = *self.moved.get(written.bars[bar].end)?;
            let last = written.bars[bar].clone().rev().find(|&count| written.deed(count) == Deed::Attack)?;
            Some(ends - self.moved[last])
        };
        let least = before.into_iter().filter_map(gap).min().unwrap_or(i64::MAX);
        Some(begins(at, least, written.beat_nanos(start)))
    }

    /// What it costs in misses that the strokes in one bar are those of another, and how many notes that has.
    fn cost_of(&self, bar: usize, played: usize) -> (f64, usize) {
        let written = self.follow.written;
        let (here, there) = (written.bars[bar].clone(), written.bars[played].clone());
        let length = |bar: &Range<usize>| match self.moved.get(bar.end) {
            Some(next) => (next - self.moved[bar.start]).max(1),
            None => (self.moved[bar.end - 1] - self.moved[bar.start]).max(1),
        };
        let (origin, from) = (self.moved[here.start], self.moved[there.start]);
        // A bar at another tempo is played in the tempo of its place; of the last bar the end is not known.
        let known = here.end < self.moved.len() && there.end < self.moved.len();
        let (long, was) = if known { (length(&here), length(&there)) } else { (1, 1) };
        let at = |&count: &usize| {
            let into = i128::from(self.moved[count] - from) * i128::from(long) / i128::from(was);
            origin.saturating_add(i64::try_from(into).unwrap_or(0))
        };
        let counts: Vec<usize> = there.collect();
        let at: Vec<i64> = counts.iter().map(at).collect();
        let most = self.follow.most;
        let rows: Vec<Row> =
            rows(written, &counts, &at, self.follow.settings, self.found.reach, |i| width(i, most));
        let strokes = &self.follow.strokes[self.strokes_of(bar, played)];
        let rule = Rule::Likely { reach: self.found.reach };
        let about = |course: i64| best_path(&rows, strokes, rule, Pulse::Known(&vec![course; rows.len()]));
        let course = self.found.course[here.start];
        let mut path = about(course);
        // Where the player's own pulse lies in this bar, its strokes tell.
        let mut off: Vec<i64> = rows
            .iter()
            .zip(&path.strokes)
            .filter_map(|(row, stroke)| Some(strokes[(*stroke)?] - row.at - course))
            .collect();
        let enough = off.len() >= FEWEST;
        if let Some(median) = middle(&mut off).filter(|_| enough) {
            let other = about(course + median.clamp(-self.found.reach / 2, self.found.reach / 2));
            path = if other.cost < path.cost { other } else { path };
        }
        let notes = counts.iter().filter(|&&count| written.deed(count) == Deed::Attack).count();
        (path.cost.rest as f64 / UNIT as f64, notes)
    }
}

/// What each bar costs as it is explained, in misses.
fn misfits(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Vec<f64> {
    let written = follow.written;
    let mut misfits = vec![0.0; written.bars.len()];
    let mut answers = vec![false; follow.strokes.len()];
    for &note in &written.notes {
        misfits[written.bar_of(note)] += found.cost_of(note, follow.strokes, moved);
        if let Some(stroke) = found.strokes[note] {
            answers[stroke] = true;
        }
    }
    for (&at, _) in follow.strokes.iter().zip(answers).filter(|(_, answers)| !answers) {
        let begun = |bar: &Range<usize>| moved[bar.start] + found.course[bar.start] <= at;
        misfits[written.bars.partition_point(begun).saturating_sub(1)] += 1.0;
    }
    misfits
}

/// Whether two bars are as long in felt beats, and the beats as long.
fn are_alike_long(written: &Written<'_>, one: usize, other: usize) -> bool {
    let of = |bar: usize| {
        let counts = &written.counts[written.bars[bar].clone()];
        (counts[0].beat, counts[0].id.at, counts.iter().filter(|count| count.on_beat).count())
    };
    of(one) == of(other)
}

fn bar_number(written: &Written<'_>, bar: usize) -> u32 {
    written.counts[written.bars[bar].start].id.bar
}

/// Whether these are different bars that are written to follow the same one at different times.
pub(crate) fn is_other_ending(written: &Written<'_>, one: usize, other: usize) -> bool {
    let bar = |index: usize| bar_number(written, index);
    one > 0
        && other > 0
        && bar(one) != bar(other)
        && bar(one - 1) == bar(other - 1)
        && (bar(one) > bar(one - 1) && bar(other) > bar(other - 1))
}
