use std::sync::Arc;

use counting::Word;
use timebase::{Ratio, Seconds, Span, Tempo};

use super::lay::{Before, Exercise, Geometry, Order, lay};
use super::plan::within;
use super::{CountInWhen, DrillPlan, Material, Outcome, Pace, Round, RoundKind, Stepper, TurnOrder};
use crate::limits::{DRILL_ROUNDS, RHYTHMS};
use crate::{Cue, Cued, Error, Plan};

/// A plan with its rhythms, checked. Cloning shares the data.
#[derive(Clone, Debug)]
pub struct Drill {
    plan: Arc<DrillPlan>,
    materials: Arc<[Material]>,
    /// Once through the list.
    exercises: Arc<[Exercise]>,
}

/// Where a drill has got to, apart from what is only counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    pub(super) time: u32,
    pub(super) exercise: usize,
    /// How often this exercise was played again.
    pub(super) again: u32,
    pub(super) bpm: Option<Ratio<u32>>,
    pub(super) stepper: Option<Stepper>,
    /// The exercise of the round before, and the step it was played at.
    pub(super) before: Option<(usize, Option<Ratio<u32>>)>,
    pub(super) is_over: bool,
}

impl Drill {
    /// The drill of this plan over these rhythms.
    ///
    /// # Errors
    /// If a number is outside its limits, a rhythm or bar is named that is not there, or there would be too many rounds.
    pub fn new(plan: DrillPlan, rhythms: Vec<Material>) -> Result<Self, Error> {
        plan.check()?;
        within(u32::try_from(rhythms.len()).unwrap_or(u32::MAX), RHYTHMS)?;
        for hard in &plan.hard {
            let bar = rhythms.get(hard.rhythm).map(|material| material.bar(hard.bar));
            match bar {
                None => return Err(Error::NoRhythm { given: hard.rhythm + 1, held: rhythms.len() }),
                Some(None) => {
                    let held = rhythms[hard.rhythm].bars_told();
                    return Err(Error::NoBar { rhythm: hard.rhythm + 1, bar: hard.bar, held });
                }
                Some(Some(_)) => {}
            }
        }
        let has = |bar: u32| rhythms.iter().any(|material| material.bar(bar).is_some());
        if let Some(&bar) = plan.silent.bars.iter().find(|&&bar| !has(bar)) {
            let longest = rhythms.iter().max_by_key(|material| material.rhythm().bars().len());
            return Err(Error::NoSilentBar {
                bar,
                held: longest.map(Material::bars_told).unwrap_or_default(),
            });
        }
        for (number, material) in (1..).zip(&rhythms) {
            for bpm in plan.pace.extremes() {
                let rhythm = material.rhythm();
                rhythm
                    .can_begin_at(rhythm.tempo().with_bpm(bpm)?)
                    .map_err(|reason| Error::BeginningTempo { rhythm: number, reason })?;
            }
        }
        let exercises = exercises(&plan, &rhythms);
        let each = u32::try_from(exercises.len()).unwrap_or(u32::MAX);
        let rounds = each.saturating_mul(plan.times).saturating_mul(plan.again + 1);
        within(rounds, DRILL_ROUNDS)?;
        plan.pace.check_steps(rounds)?;
        Ok(Self { plan: plan.into(), materials: rhythms.into(), exercises: exercises.into() })
    }

    /// The same drill with its first round at this tempo: all of it, or where the tempo steps, from there. It may get as slow
    /// as that then, but never faster than the plan says.
    ///
    /// # Errors
    /// If the tempo is outside its limits, or beyond the plan's fastest.
    pub fn starting_at(&self, bpm: Ratio<u32>) -> Result<Self, Error> {
        let plan = DrillPlan { pace: self.plan.pace.starting_at(bpm), ..(*self.plan).clone() };
        Self::new(plan, self.materials.to_vec())
    }

    /// The plan.
    #[must_use]
    pub fn plan(&self) -> &DrillPlan {
        &self.plan
    }

    /// The rhythms.
    #[must_use]
    pub fn rhythms(&self) -> &[Material] {
        &self.materials
    }

    /// Every word that may be said in it, the numbers of the count-in among them.
    #[must_use]
    pub fn words(&self) -> Vec<Word> {
        let mut words: Vec<Word> = Vec::new();
        for material in self.rhythms() {
            let said = material.sequence().cues().iter().filter_map(|cue| match &cue.cued {
                Cued::Count { say, .. } => Some(say.clone()),
                _ => None,
            });
            words.extend(said);
            let beats = material.rhythm().bars().iter().map(|bar| bar.meter().felt_beats()).max();
            words.extend((1..=beats.unwrap_or(0)).map(Word::number));
        }
        let entry = self.plan.count_in.entry.words().into_iter().flatten();
        words.extend(entry.filter_map(Word::syllable));
        words.sort_unstable_by(|a, b| a.as_str().cmp(b.as_str()));
        words.dedup();
        words
    }

    /// Whether anything in it is whispered.
    pub(crate) fn is_whispered(&self) -> bool {
        self.rhythms().iter().any(|material| material.sequence().cues().iter().any(Cue::is_whispered))
    }

    /// The rounds, one by one.
    #[must_use]
    pub fn rounds(&self) -> Rounds {
        Rounds { drill: self.clone(), place: self.first(), number: 0, turn: 0, before: None, told: None }
    }

    /// The rounds if each becomes what `outcome` says of it.
    pub fn rounds_if(&self, outcome: impl Fn(&Round) -> Outcome) -> impl Iterator<Item = Round> {
        let mut rounds = self.rounds();
        std::iter::from_fn(move || {
            let round = rounds.next_round()?;
            rounds.told(outcome(&round));
            Some(round)
        })
    }

    /// The shortest and the longest it may last, from the beginning of the first round to the end of the last: the same where it
    /// does not depend on what rounds become. To the nanosecond a round.
    #[must_use]
    pub fn bounds(&self) -> (Seconds, Seconds) {
        super::bounds::bounds(self)
    }

    pub(super) fn first(&self) -> Place {
        let stepper = match &self.plan.pace {
            Pace::Stepping(steps) => Some(Stepper::new(steps)),
            _ => None,
        };
        let mut place =
            Place { time: 0, exercise: 0, again: 0, bpm: None, stepper, before: None, is_over: false };
        place.bpm = self.bpm(&place);
        place
    }

    fn bpm(&self, place: &Place) -> Option<Ratio<u32>> {
        match &self.plan.pace {
            Pace::Own => None,
            Pace::Steady(bpm) => Some(*bpm),
            Pace::Stepping(_) => place.stepper.map(|stepper| stepper.bpm()),
        }
    }

    /// Where it goes on after the round at `place` if that became so; `None` where nobody said.
    pub(super) fn after(&self, place: &Place, outcome: Option<Outcome>) -> Place {
        let asked = self.exercises[place.exercise].kind != RoundKind::Model;
        let outcome = outcome.filter(|_| asked);
        let mut next = Place { before: Some((place.exercise, place.bpm)), ..*place };
        if let (Pace::Stepping(steps), Some(outcome), Some(stepper)) =
            (&self.plan.pace, outcome, place.stepper)
        {
            let stepper = stepper.after(outcome, steps);
            next.stepper = Some(stepper);
            next.is_over = stepper.is_done();
        }
        if outcome == Some(Outcome::Bad) && place.again < self.plan.again {
            next.again += 1;
        } else {
            (next.again, next.exercise) = (0, place.exercise + 1);
            if next.exercise == self.exercises.len() {
                (next.exercise, next.time) = (0, place.time + 1);
            }
            // The model is for those who have not heard it.
            while next.time > 0
                && next.time < self.plan.times
                && self.exercises[next.exercise].kind == RoundKind::Model
            {
                next.exercise += 1;
            }
            next.is_over |= next.time >= self.plan.times;
        }
        next.bpm = self.bpm(&next);
        next
    }

    /// What there is to play at `place`.
    pub(super) fn order(&self, place: &Place, number: usize, turn: usize, bars_before: u32) -> Order<'_> {
        let exercise = &self.exercises[place.exercise];
        let material = &self.materials[exercise.rhythm];
        let players = match (self.plan.turns.players.len(), self.plan.turns.order) {
            (0 | 1, _) => vec![None],
            (many, TurnOrder::ByRound) => vec![Some(turn % many)],
            (many, TurnOrder::WithinRound) => (0..many).map(Some).collect(),
        };
        Order {
            number,
            exercise,
            material,
            tempo: self.tempo(exercise.rhythm, place.bpm),
            counted_in: if self.is_counted_in(place) { self.plan.count_in.bars } else { 0 },
            players,
            bars_before,
        }
    }

    /// How much the last bar of an exercise lacks, whatever its tempo.
    pub(super) fn tail(&self, place: &Place) -> Span {
        let order = self.order(place, 0, 0, 0);
        Geometry::of(&self.plan, &order, None).tail()
    }

    fn tempo(&self, rhythm: usize, bpm: Option<Ratio<u32>>) -> Tempo {
        let plan = Plan::of(self.materials[rhythm].rhythm());
        // The plan was checked when it came in.
        bpm.and_then(|bpm| plan.with_bpm(bpm).ok()).unwrap_or(plan).tempo()
    }

    /// The beat and how many of it come a minute where a rhythm goes at `own` by itself and is now played at `bpm`.
    fn pulse(&self, rhythm: usize, own: Tempo, bpm: Option<Ratio<u32>>) -> (Span, Ratio<u128>) {
        let wide = |bpm: Ratio<u32>| Ratio::new(u128::from(*bpm.numer()), u128::from(*bpm.denom()));
        let written = wide(self.materials[rhythm].rhythm().tempo().bpm());
        (own.beat(), wide(own.bpm()) * wide(self.tempo(rhythm, bpm).bpm()) / written)
    }

    fn is_counted_in(&self, place: &Place) -> bool {
        let Some((before, bpm)) = place.before else { return true };
        let (before, now) = (&self.exercises[before], &self.exercises[place.exercise]);
        let meters = || {
            let last = self.materials[before.rhythm].meter(before.bars.end - 1);
            last != self.materials[now.rhythm].meter(now.bars.start)
        };
        // From where the round before ends to where this begins: a rhythm may change its tempo between them.
        let other_tempo =
            self.pulse(before.rhythm, before.exit, bpm) != self.pulse(now.rhythm, now.entry, place.bpm);
        match self.plan.count_in.when {
            CountInWhen::Rounds => true,
            CountInWhen::Start => other_tempo,
            CountInWhen::Changes => other_tempo || before.rhythm != now.rhythm || meters(),
        }
    }

    /// Whether what rounds become changes what comes after them.
    #[must_use]
    pub fn depends_on_outcomes(&self) -> bool {
        self.plan.again > 0 || matches!(self.plan.pace, Pace::Stepping(_))
    }
}

/// Once through the list: of every rhythm the model, the hard bars, the phrases.
fn exercises(plan: &DrillPlan, rhythms: &[Material]) -> Vec<Exercise> {
    let mut exercises = Vec::new();
    for (rhythm, material) in rhythms.iter().enumerate() {
        let written = material.rhythm();
        let played = written.tempo_map(material.sequence().performance(), written.tempo());
        let exercise = |bars, kind| Exercise::of((rhythm, material), &played, bars, kind);
        if plan.heard.model.is_some() {
            exercises.push(exercise(material.whole(), RoundKind::Model));
        }
        for hard in plan.hard.iter().filter(|hard| hard.rhythm == rhythm) {
            if let Some(bars) = material.bar(hard.bar) {
                let exercise = exercise(bars, RoundKind::Hard);
                exercises.extend((0..hard.times).map(|_| exercise.clone()));
            }
        }
        let phrases = plan.bars.map_or_else(|| vec![material.whole()], |bars| material.phrases(bars));
        exercises.extend(phrases.into_iter().map(|bars| exercise(bars, RoundKind::Phrase)));
    }
    exercises
}

/// The rounds of a drill as they come.
///
/// [`Rounds::next_round`] lays out the next; [`Rounds::told`] says what became of it. What is not told by then counts for nothing:
/// the tempo stays and the round is not played again. The same serves a drill that is written to a file and one that is
/// played.
#[derive(Clone, Debug)]
pub struct Rounds {
    drill: Drill,
    /// Of the next round, or of the last one laid out until it is known what became of it.
    place: Place,
    number: usize,
    turn: usize,
    before: Option<Before>,
    told: Option<Outcome>,
}

impl Rounds {
    /// The next round, laid out; `None` when the drill is over.
    pub fn next_round(&mut self) -> Option<Round> {
        if self.number > 0 && !self.place.is_over {
            let was_asked = self.drill.exercises[self.place.exercise].kind != RoundKind::Model;
            self.place = self.drill.after(&self.place, self.told.take());
            // A round that is played again is for whom it was.
            self.turn += usize::from(was_asked && self.place.again == 0);
        }
        if self.place.is_over {
            return None;
        }
        self.number += 1;
        let bars_before = self.before.as_ref().map_or(0, |before| before.bars_played);
        let order = self.drill.order(&self.place, self.number, self.turn, bars_before);
        let (round, before) = lay(&self.drill.plan, &order, self.before.as_ref());
        self.before = Some(before);
        Some(round)
    }

    /// What became of the round last laid out; told again, the last word stands. Of a model nothing is asked.
    pub fn told(&mut self, outcome: Outcome) {
        self.told = Some(outcome);
    }

    /// Where the tempo has got to, in a drill that steps.
    #[must_use]
    pub fn stepper(&self) -> Option<Stepper> {
        self.place.stepper
    }
}

/// Round after round, of which nothing is told unless [`Rounds::told`] is called between.
impl Iterator for Rounds {
    type Item = Round;

    fn next(&mut self) -> Option<Round> {
        self.next_round()
    }
}
