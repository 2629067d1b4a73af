use rhythm::Rhythm;
use timebase::{Ratio, Tempo};

use crate::limits::COUNT_IN_BARS;
use crate::{Choice, Error};

/// How a rhythm is to be played once through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Plan {
    tempo: Tempo,
    count_in_bars: u32,
    choice: Choice,
}

impl Plan {
    /// The rhythm at its own tempo after one bar of count-in, with the usual sounds.
    #[must_use]
    pub fn of(rhythm: &Rhythm) -> Self {
        Self { tempo: rhythm.tempo(), count_in_bars: 1, choice: Choice::default() }
    }

    /// The same plan at `bpm` of the rhythm's own beats a minute.
    ///
    /// # Errors
    /// If `bpm` lies outside [`timebase::limits::TEMPO_BPM`].
    pub fn with_bpm(self, bpm: Ratio<u32>) -> Result<Self, Error> {
        Ok(Self { tempo: self.tempo.with_bpm(bpm)?, ..self })
    }

    /// The same plan at `bpm` of the beats a minute of `rhythm`, whose plan it is, as far as that one's changes of tempo allow.
    ///
    /// # Errors
    /// If `bpm`, or what it makes of a change of tempo, lies outside [`timebase::limits::TEMPO_BPM`].
    pub fn beginning_at(self, bpm: Ratio<u32>, rhythm: &Rhythm) -> Result<Self, Error> {
        let plan = self.with_bpm(bpm)?;
        rhythm.can_begin_at(plan.tempo)?;
        Ok(plan)
    }

    /// The same plan with so many full bars counted before the rhythm begins; before a pickup, the counts up to it
    /// are added.
    ///
    /// # Errors
    /// If `bars` lies outside [`COUNT_IN_BARS`].
    pub fn with_count_in(self, bars: u32) -> Result<Self, Error> {
        if COUNT_IN_BARS.holds(i64::from(bars)) {
            Ok(Self { count_in_bars: bars, ..self })
        } else {
            Err(Error::OutOfRange { given: bars, limit: COUNT_IN_BARS })
        }
    }

    /// The same plan with other sounds.
    #[must_use]
    pub fn with_choice(self, choice: Choice) -> Self {
        Self { choice, ..self }
    }

    /// The tempo at the beginning.
    #[must_use]
    pub fn tempo(self) -> Tempo {
        self.tempo
    }

    /// Full bars counted before the rhythm begins.
    #[must_use]
    pub fn count_in_bars(self) -> u32 {
        self.count_in_bars
    }

    /// What sounds.
    #[must_use]
    pub fn choice(self) -> Choice {
        self.choice
    }
}
