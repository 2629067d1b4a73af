use timebase::{Span, Tempo, TempoMap};

use crate::limits::{DEFAULT_BPM, REPEATED_BARS};
use crate::size::Size;
use crate::written_tempo::{self, WrittenTempo};
use crate::{Bar, BarsOfRest, Deed, Error, Jump, Performance, Repeat, route};

/// A whole written rhythm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rhythm {
    title: Option<String>,
    tempo: Option<Tempo>,
    bars: Vec<Bar>,
    repeats: Vec<Repeat>,
    jump: Option<Jump>,
}

impl Rhythm {
    /// A rhythm of these bars.
    ///
    /// # Errors
    /// If there is no bar, a pickup stands elsewhere than first, numbers do not follow one another,
    /// repeats overlap or leave the piece, a hold has nothing to go on from in some pass, a tempo leaves its
    /// limits, or a limit is passed.
    pub fn new(
        title: Option<String>,
        tempo: Option<Tempo>,
        bars: Vec<Bar>,
        repeats: Vec<Repeat>,
    ) -> Result<Self, Error> {
        Size::of(&bars).check()?;
        if bars[0].number() > 1 {
            return Err(Error::BarNumber { bar: bars[0].number() });
        }
        for pair in bars.windows(2) {
            let [before, bar] = pair else { continue };
            // The second half of a bar that was cut goes on where the first ended.
            let goes_on = bar.start().is_positive();
            let expected = if goes_on { before.number() } else { before.number().saturating_add(1) };
            let joins = !goes_on || (before.end() == bar.start() && before.meter() == bar.meter());
            if bar.number() != expected || !joins || bar.number() == 0 {
                return Err(Error::BarNumber { bar: bar.number() });
            }
        }
        let late = bars[0].start().is_positive();
        if late != bars[0].is_pickup() || (late && bars[0].end() != bars[0].meter().bar_length()) {
            return Err(Error::BarNumber { bar: bars[0].number() });
        }
        let mut rest = None;
        for bar in &bars {
            // Bars of rest written as one stand together.
            let expected = rest.filter(|rest: &BarsOfRest| rest.index < rest.of);
            let next = expected.map(|rest| BarsOfRest { index: rest.index + 1, ..rest });
            let begins = bar.rest().is_none_or(|rest| rest.index == 1);
            if (next.is_some() && bar.rest() != next) || (next.is_none() && !begins) {
                return Err(Error::BarsOfRest { bar: bar.number() });
            }
            rest = bar.rest();
        }
        if rest.is_some_and(|rest| rest.index < rest.of) {
            return Err(Error::BarsOfRest { bar: bars[bars.len() - 1].number() });
        }
        let mut reached = 0;
        for repeat in &repeats {
            repeat.check(reached, bars.len())?;
            reached = repeat.bars.end;
        }
        let rhythm = Self { title, tempo, bars, repeats, jump: None };
        let added: usize = rhythm
            .repeats
            .iter()
            .map(|repeat| (2..=repeat.times).map(|pass| repeat.pass(pass).count()).sum::<usize>())
            .sum();
        let added = i64::try_from(added).unwrap_or(i64::MAX);
        if !REPEATED_BARS.holds(added) {
            return Err(Error::OutOfRange { given: added, limit: REPEATED_BARS });
        }
        rhythm.check_holds()?;
        written_tempo::check(&rhythm)?;
        Ok(rhythm)
    }

    /// The same rhythm with a jump back to the sign or to the beginning.
    ///
    /// # Errors
    /// If it names a bar that is not there or that it cannot reach, or a hold behind it has nothing to go on from.
    pub fn with_jump(self, jump: Jump) -> Result<Self, Error> {
        jump.check(self.bars.len())?;
        let rhythm = Self { jump: Some(jump), ..self };
        rhythm.check_holds()?;
        Ok(rhythm)
    }

    /// Every hold goes on from a sound, in every pass.
    fn check_holds(&self) -> Result<(), Error> {
        let mut before = Deed::Rest;
        for performed in self.performance().bars() {
            let bar = &self.bars[performed.index];
            for event in bar.events() {
                if event.deed == Deed::Hold && before == Deed::Rest {
                    return Err(Error::HoldAfterSilence {
                        bar: bar.number(),
                        pass: performed.pass,
                        at: event.at,
                    });
                }
                before = event.deed;
            }
        }
        Ok(())
    }

    /// Its title, if it has one.
    #[must_use]
    pub fn title(&self) -> Option<&str> {
        self.title.as_deref()
    }

    /// The tempo written at its head, if there is one.
    #[must_use]
    pub fn written_tempo(&self) -> Option<Tempo> {
        self.tempo
    }

    /// The tempo to play it at: the written one, else [`DEFAULT_BPM`] felt beats of the first bar.
    #[must_use]
    pub fn tempo(&self) -> Tempo {
        self.tempo.unwrap_or_else(|| {
            Tempo::new(self.bars[0].meter().felt_beat(), DEFAULT_BPM.into())
                .expect("a felt beat has a length")
        })
    }

    /// The written bars in order; never empty. A pickup is the first of them.
    #[must_use]
    pub fn bars(&self) -> &[Bar] {
        &self.bars
    }

    /// The repeated passages, in order, without overlap.
    #[must_use]
    pub fn repeats(&self) -> &[Repeat] {
        &self.repeats
    }

    /// The repeated passage that the written bar of this index lies in.
    #[must_use]
    pub fn repeat_of(&self, bar: usize) -> Option<&Repeat> {
        let after = self.repeats.partition_point(|repeat| repeat.bars.end <= bar);
        self.repeats.get(after).filter(|repeat| repeat.bars.contains(&bar))
    }

    /// The pickup, if the rhythm begins with one.
    #[must_use]
    pub fn pickup(&self) -> Option<&Bar> {
        self.bars.first().filter(|bar| bar.is_pickup())
    }

    /// How long the pickup lasts; zero without one.
    #[must_use]
    pub fn pickup_length(&self) -> Span {
        self.pickup().map_or(Span::ZERO, Bar::length)
    }

    /// The jump back to the sign or to the beginning, if one is written.
    #[must_use]
    pub fn jump(&self) -> Option<Jump> {
        self.jump
    }

    /// The written bars in the order they are played, as indices into [`Rhythm::bars`].
    #[must_use]
    pub fn order(&self) -> Vec<usize> {
        route::order(self.bars.len(), &self.repeats, self.jump)
    }

    /// The tempo at the beginning of every written bar, at its own speed; inside a gradual change to the nearest thousandth of
    /// a beat a minute.
    pub fn tempos(&self) -> impl Iterator<Item = Tempo> {
        WrittenTempo::of(self, self.tempo()).tempos().collect::<Vec<_>>().into_iter()
    }

    /// Where every place of `performance` falls when the rhythm begins at `tempo`; changes of tempo keep their
    /// proportion to it.
    ///
    /// `performance` must be of this rhythm. A tempo that its proportion takes out of the limits stays at the limit;
    /// [`Rhythm::can_begin_at`] tells.
    #[must_use]
    pub fn tempo_map(&self, performance: &Performance, tempo: Tempo) -> TempoMap {
        WrittenTempo::of(self, tempo).played(performance)
    }

    /// Whether every change of tempo stays within [`timebase::limits::TEMPO_BPM`] when the rhythm begins at `tempo`.
    ///
    /// # Errors
    /// If one does not, with the tempos at which the rhythm can begin.
    pub fn can_begin_at(&self, tempo: Tempo) -> Result<(), Error> {
        written_tempo::can_begin_at(self, tempo)
    }

    /// The bars as they are played, repeats written out.
    #[must_use]
    pub fn performance(&self) -> Performance {
        Performance::of(self)
    }
}
