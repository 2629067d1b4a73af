use std::ops::Range;

use timebase::{Span, Tempo};

use crate::limits::{DEFAULT_BPM, PERFORMED_BARS, TIMES_THROUGH, WRITTEN_BARS};
use crate::{Bar, Deed, Error, Performance};

/// A passage that is played more than once.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Repeat {
    /// The written bars it holds, as indices into [`Rhythm::bars`].
    pub bars: Range<usize>,
    /// How often it is played in all: at least 2.
    pub times: u32,
}

/// A whole written rhythm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rhythm {
    title: Option<String>,
    tempo: Option<Tempo>,
    bars: Vec<Bar>,
    repeats: Vec<Repeat>,
}

impl Rhythm {
    /// A rhythm of these bars.
    ///
    /// # Errors
    /// If there is no bar, a pickup stands elsewhere than first, numbers do not follow one another,
    /// repeats overlap or leave the piece, a hold has nothing to go on from in some pass, or a limit is passed.
    pub fn new(
        title: Option<String>,
        tempo: Option<Tempo>,
        bars: Vec<Bar>,
        repeats: Vec<Repeat>,
    ) -> Result<Self, Error> {
        let count = i64::try_from(bars.len()).unwrap_or(i64::MAX);
        if !WRITTEN_BARS.holds(count) {
            return Err(Error::OutOfRange { given: count, limit: WRITTEN_BARS });
        }
        let first = bars[0].number();
        if let Some((_, bar)) = (first..).zip(&bars).find(|(expected, bar)| bar.number() != *expected) {
            return Err(Error::BarNumber { bar: bar.number() });
        }
        if first > 1 {
            return Err(Error::BarNumber { bar: first });
        }
        let mut reached = 0;
        for repeat in &repeats {
            if repeat.bars.is_empty() || repeat.bars.start < reached || repeat.bars.end > bars.len() {
                return Err(Error::Repeat { first: repeat.bars.start, end: repeat.bars.end });
            }
            if !TIMES_THROUGH.holds(i64::from(repeat.times)) {
                return Err(Error::OutOfRange { given: i64::from(repeat.times), limit: TIMES_THROUGH });
            }
            reached = repeat.bars.end;
        }
        let rhythm = Self { title, tempo, bars, repeats };
        let performed = rhythm.performed_bars();
        if !PERFORMED_BARS.holds(performed) {
            return Err(Error::OutOfRange { given: performed, limit: PERFORMED_BARS });
        }
        rhythm.check_holds()?;
        Ok(rhythm)
    }

    fn performed_bars(&self) -> i64 {
        let again: i64 = self
            .repeats
            .iter()
            .map(|repeat| {
                i64::try_from(repeat.bars.len())
                    .unwrap_or(i64::MAX)
                    .saturating_mul(i64::from(repeat.times - 1))
            })
            .fold(0, i64::saturating_add);
        again.saturating_add(i64::try_from(self.bars.len()).unwrap_or(i64::MAX))
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

    /// The bars as they are played, repeats written out.
    #[must_use]
    pub fn performance(&self) -> Performance {
        Performance::of(self)
    }
}
