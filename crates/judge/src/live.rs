//! A take judged while it is played.

use std::ops::Range;
use std::sync::Arc;

use counting::TimedCount;
use rhythm::Deed;
use timebase::{Moment, Seconds};

use crate::alignment::{self, Alignment, Follow, THOROUGH};
use crate::findings::Found;
use crate::judgement::{Heard, aligned, judgement};
use crate::place::{Standing, standings};
use crate::readings::Reading;
use crate::written::{Written, nanos};
use crate::{Delay, Gate, Judgement, Played, Presence, Settings, Task, TempoOf, judge_within};

/// How far back a stroke may change what was said, in nanoseconds: two bars of 4/4 at 80.
const REVISED: i64 = 6_000_000_000;
/// So many notes at least, however long they take: fewer say little of where a player's pulse lies.
const REVISED_NOTES: usize = 16;

/// One player's take while it is played.
///
/// [`Self::provisional`] says after a stroke what it answers. It looks at the last bars only, about the pulse the
/// player had before them, so that the thousandth stroke costs no more than the hundredth. [`Self::revised`] weighs
/// everything again: a bar left out, half the speed, a figure misread. What it found holds for the strokes that
/// follow, until it is asked again. [`Self::whole`] is the last word.
///
/// A judgement made here may be changed by any stroke that follows. Belongs to one thread; never waits.
#[derive(Clone, Debug)]
pub struct Live {
    counts: Arc<[TimedCount]>,
    settings: Settings,
    standings: Arc<[Standing]>,
    heard: Heard,
    /// When the player could not be heard; the last absence may end at a moment that has not come.
    presence: Presence,
    /// What is held of the take so far, and up to when it was heard; `None` before it was judged.
    known: Option<(Alignment, i64)>,
    found: Found,
}

impl Live {
    /// A player of whom nothing has been heard. `counts` as [`judge()`](crate::judge()) takes them.
    #[must_use]
    pub fn new(counts: Arc<[TimedCount]>, settings: Settings) -> Self {
        let counts = match settings.task() {
            Task::Rhythm => counts,
            task @ Task::Pulse => task.counts(&counts).into(),
        };
        let standings = standings(&Written::new(&counts)).into();
        Self {
            counts,
            settings,
            standings,
            heard: Heard::default(),
            presence: Presence::default(),
            known: None,
            found: Found::default(),
        }
    }

    /// All the times at which the player could not be heard, as far as they are known: what is written then is neither struck nor
    /// missed.
    pub fn went_unheard(&mut self, absent: Vec<Range<Moment>>) {
        if self.presence.absent != absent {
            self.presence.absent = absent;
            // What was known of the take rests on what could be heard of it.
            self.known = None;
        }
    }

    /// The next stroke's stamp is worth so much, and so much is known of its delay: the coarsest of them holds for all figures, and a
    /// delay is taken off where it is of every stroke.
    pub fn stamped(&mut self, resolution: Seconds, delay: Delay) {
        if resolution > self.settings.resolution() {
            self.settings = self.settings.with_resolution(resolution);
        }
        if self.heard.strokes.is_empty() || delay == Delay::Unknown {
            self.settings = self.settings.with_delay(delay);
        }
    }

    /// One more stroke; it may have come before others that were heard already.
    pub fn strike(&mut self, played: Played) {
        let place = self.heard.insert(played);
        let Some((known, _)) = &mut self.known else { return };
        known.again.insert(place, false);
        for stroke in known.strokes.iter_mut().flatten().filter(|stroke| **stroke >= place) {
            *stroke += 1;
        }
    }

    /// The stroke that was heard as number `index`, from 0, was the grace of this one, which takes its place.
    pub fn restrike(&mut self, index: usize, played: Played) {
        self.heard.restrike(index, played);
    }

    /// The stroke that was heard as number `index`, from 0, has been let go: for keyboards.
    pub fn release(&mut self, index: usize, released: Moment) {
        self.heard.release(index, released);
    }

    /// Forgets every stroke, and what was made of them: some have turned out to be none, and the others are told again.
    pub fn hear_again(&mut self) {
        (self.heard, self.known, self.found) = (Heard::default(), None, Found::default());
    }

    /// How many strokes were heard.
    #[must_use]
    pub fn strokes(&self) -> usize {
        self.heard.strokes.len()
    }

    /// What is to be said at once, with the findings of the last revision.
    pub fn provisional(&mut self, now: Moment) -> Judgement {
        let written = Written::new(&self.counts);
        let absent = self.presence.absent_nanos();
        let about_a_click = self.settings.tempo_of() == TempoOf::Click;
        let (Gate::Following { most }, true) = (self.settings.gate(), about_a_click) else {
            return self.revised(now);
        };
        let alignment = match self.known.take() {
            Some((known, heard)) if known.instead.is_none() => {
                let follow = Follow {
                    written: &written,
                    strokes: &self.heard.strokes,
                    heard: alignment::Heard { until: Some(nanos(now)), absent: &absent },
                    settings: &self.settings,
                    most: most.as_nanos(),
                };
                follow.onwards(known, heard.min(nanos(now)))
            }
            _ => {
                let heard = alignment::Heard { until: Some(nanos(now)), absent: &absent };
                aligned(&written, &self.heard, heard, &self.settings)
            }
        };
        let (standings, told) = (Arc::clone(&self.standings), self.found.clone());
        let judgement = judgement(&written, &self.heard, &alignment, &self.settings, standings, Some(told));
        self.known = Some((alignment, nanos(now)));
        judgement
    }

    /// Everything heard up to `now` weighed anew, as [`crate::judge_so_far`] does. Takes time in proportion to the take.
    pub fn revised(&mut self, now: Moment) -> Judgement {
        let written = Written::new(&self.counts);
        let absent = self.presence.absent_nanos();
        let heard = alignment::Heard { until: Some(nanos(now)), absent: &absent };
        let alignment = aligned(&written, &self.heard, heard, &self.settings);
        let standings = Arc::clone(&self.standings);
        let judgement = judgement(&written, &self.heard, &alignment, &self.settings, standings, None);
        self.known = Some((alignment, nanos(now)));
        self.found = judgement.found().clone();
        judgement
    }

    /// Whether time alone may change what was last said: a note without an answer lies before `now`, and nobody has said yet
    /// that it was missed.
    #[must_use]
    pub fn awaits(&self, now: Moment) -> bool {
        let Some((known, _)) = &self.known else { return true };
        let now = nanos(now);
        let open =
            |count: usize| known.strokes[count].is_none() && !known.due[count] && !known.unheard[count];
        let lies = |count: usize| known.moved[count].saturating_add(known.course[count]);
        let is_awaited = |count: usize| {
            self.counts[count].deed == Deed::Attack
                && open(count)
                && !known.skipped[count]
                && lies(count) <= now
        };
        (0..self.counts.len()).rev().any(is_awaited)
    }

    /// Whether [`Self::revised`] weighs more than [`Self::provisional`]: in pieces of up to some forty bars. In longer
    /// ones only [`Self::whole`] does.
    #[must_use]
    pub fn gains_by_revision(&self) -> bool {
        self.counts.len() <= THOROUGH
    }

    /// The judgement of the whole take, once nothing more is to come: that of [`judge_within`].
    #[must_use]
    pub fn whole(&self) -> Judgement {
        judge_within(&self.counts, &self.heard.given(), &self.presence, &self.settings)
    }
}

impl Follow<'_> {
    /// What is known, gone on with: counts and strokes of the last bars before `heard` and of all that follow are
    /// brought together anew, about the pulse as it was there.
    fn onwards(&self, mut known: Alignment, heard: i64) -> Alignment {
        let now = self.heard.until.unwrap_or(i64::MAX);
        let soon = now.saturating_add(2 * self.most);
        let to = known.moved.iter().rposition(|&at| at <= soon).map_or(0, |last| last + 1);
        let from = self.window_from(&known, heard, to);
        let pulse = if from == 0 { 0 } else { known.course[from] };
        let moved: Vec<i64> = known.moved[from..to].iter().map(|at| at + pulse).collect();
        let first = self.first_stroke(&known, from, moved.first().copied());

        let written = Written::new(&self.written.counts[from..to]);
        let window = Follow { written: &written, strokes: &self.strokes[first..], ..*self };
        let found = window.about(&moved, &known.skipped[from..to], &known.again[first..]);

        let before = known.strokes[from..to].to_vec();
        for (index, count) in (from..to).enumerate() {
            known.strokes[count] = found.strokes[index].map(|stroke| stroke + first);
            known.course[count] = found.course[index] + pulse;
            known.due[count] = found.due[index];
            known.unheard[count] = found.unheard[index];
        }
        for count in 0..from {
            known.due[count] = !known.unheard[count];
        }
        let last = to.checked_sub(1).map_or(0, |last| known.course[last]);
        known.course[to..].fill(last);
        known.strokes[to..].fill(None);
        known.reach = found.reach;
        let strokes = &known.strokes;
        let unchanged = |reading: &Reading| {
            let same = |&note: &usize| note < from || note < to && strokes[note] == before[note - from];
            reading.notes.iter().all(same)
        };
        known.readings.retain(unchanged);
        known
    }

    /// The first count that may still be told something else of.
    fn window_from(&self, known: &Alignment, heard: i64, to: usize) -> usize {
        let since = heard.saturating_sub(REVISED);
        let (mut from, mut notes) = (to, 0);
        while from > 0 && (notes < REVISED_NOTES || known.moved[from - 1] >= since) {
            from -= 1;
            notes += usize::from(known.moved[from] <= heard && self.written.deed(from) == Deed::Attack);
        }
        from
    }

    /// The first stroke that may answer the counts from `from` on, of which the first lies at `at`.
    fn first_stroke(&self, known: &Alignment, from: usize, at: Option<i64>) -> usize {
        let taken = known.strokes[..from].iter().rev().find_map(|stroke| *stroke).map_or(0, |last| last + 1);
        let Some(at) = at.filter(|_| from > 0) else { return taken };
        let gap = at - (known.moved[from - 1] + known.course[from - 1]);
        let opens = at - crate::alignment::width(gap.max(0), self.most);
        taken.max(self.strokes.partition_point(|&stroke| stroke < opens))
    }
}
