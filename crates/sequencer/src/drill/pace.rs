use timebase::limits::TEMPO_BPM;
use timebase::{Ratio, Span, Tempo};

use super::plan::within;
use crate::Error;
use crate::limits::{STEP_AFTER, STEP_PLACES};

/// The tempo of a drill, in beats a minute of each rhythm's own beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// Every rhythm at its own tempo.
    Own,
    /// Every rhythm at this one.
    Steady(Ratio<u32>),
    /// Faster after good rounds, slower after bad ones.
    Stepping(Steps),
}

/// The steps a tempo takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Steps {
    /// The tempo of the first round.
    pub from: Ratio<u32>,
    /// How much faster or slower a step is.
    pub by: Ratio<u32>,
    /// After so many good rounds in a row at one tempo it steps up. Within [`STEP_AFTER`].
    pub up_after: u32,
    /// After so many bad rounds in a row at one tempo it steps down. Within [`STEP_AFTER`].
    pub down_after: u32,
    /// It never gets slower than this.
    pub least: Ratio<u32>,
    /// It never gets faster than this.
    pub most: Ratio<u32>,
    /// Whether the drill ends when `up_after` rounds in a row were good at the fastest tempo.
    pub ends_at_most: bool,
}

/// What became of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// It was good, whatever the caller calls so.
    Good,
    /// It was not.
    Bad,
}

impl Pace {
    /// The tempo of the first round; `None` where every rhythm has its own.
    #[must_use]
    pub const fn first(&self) -> Option<Ratio<u32>> {
        match self {
            Self::Own => None,
            Self::Steady(bpm) => Some(*bpm),
            Self::Stepping(steps) => Some(steps.from),
        }
    }

    /// The slowest and the fastest tempo that a rhythm may be played at, where it is not its own.
    pub(super) fn extremes(&self) -> impl Iterator<Item = Ratio<u32>> {
        let (least, most) = match self {
            Self::Own => (None, None),
            Self::Steady(bpm) => (Some(*bpm), None),
            Self::Stepping(steps) => (Some(steps.least), Some(steps.most)),
        };
        least.into_iter().chain(most)
    }

    pub(super) fn starting_at(self, bpm: Ratio<u32>) -> Self {
        match self {
            Self::Own | Self::Steady(_) => Self::Steady(bpm),
            Self::Stepping(steps) => {
                Self::Stepping(Steps { from: bpm, least: steps.least.min(bpm), ..steps })
            }
        }
    }

    pub(super) fn check(&self) -> Result<(), Error> {
        let tempo = |bpm: Ratio<u32>| Tempo::new(Span::QUARTER, bpm).map(|_| ());
        match self {
            Self::Own => Ok(()),
            Self::Steady(bpm) => Ok(tempo(*bpm)?),
            Self::Stepping(steps) => {
                [steps.from, steps.least, steps.most].into_iter().try_for_each(tempo)?;
                within(steps.up_after, STEP_AFTER)?;
                within(steps.down_after, STEP_AFTER)?;
                // A step that cannot be told exactly would not be the same up and down.
                let is_step = *steps.by.numer() > 0 && *steps.by.denom() <= 1_000;
                let rises = steps.least <= steps.from && steps.from <= steps.most;
                if is_step && rises && steps.by <= Ratio::from_integer(most()) {
                    Ok(())
                } else {
                    Err(Error::Steps { least: steps.least, from: steps.from, most: steps.most, by: steps.by })
                }
            }
        }
    }
}

impl Pace {
    /// Refuses steps so fine, over so many rounds, that what they may come to could not be told beforehand.
    pub(super) fn check_steps(&self, rounds: u32) -> Result<(), Error> {
        let Self::Stepping(steps) = self else { return Ok(()) };
        // From the first tempo, from the slowest and from the fastest the steps may fall on different numbers.
        let tempos = ((steps.most - steps.least) / steps.by).ceil().to_integer().saturating_add(1);
        let tempos = u64::from(tempos.saturating_mul(3).min(rounds.saturating_mul(2).saturating_add(1)));
        let places = u64::from(rounds) * tempos * u64::from(steps.up_after + steps.down_after);
        if places <= STEP_PLACES { Ok(()) } else { Err(Error::TooManySteps { rounds, by: steps.by }) }
    }
}

fn most() -> u32 {
    u32::try_from(TEMPO_BPM.most).unwrap_or(u32::MAX)
}

/// Where the tempo of a stepping drill has got to: a small state machine over what rounds became.
///
/// It counts good and bad rounds in a row at the present tempo; a step begins both counts anew, a round of the other kind
/// the one of its own. A step that would leave the bounds goes to the bound. A round of which nothing is told counts
/// as neither.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stepper {
    bpm: Ratio<u32>,
    good: u32,
    bad: u32,
    is_done: bool,
}

impl Stepper {
    /// Before the first round.
    #[must_use]
    pub fn new(steps: &Steps) -> Self {
        Self { bpm: steps.from, good: 0, bad: 0, is_done: false }
    }

    /// Beats a minute of the next round.
    #[must_use]
    pub fn bpm(&self) -> Ratio<u32> {
        self.bpm
    }

    /// Whether the drill has reached what it is for: enough good rounds in a row at the fastest tempo.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.is_done
    }

    /// After a round that became so.
    #[must_use]
    pub fn after(self, outcome: Outcome, steps: &Steps) -> Self {
        match outcome {
            Outcome::Good if self.good + 1 < steps.up_after => Self { good: self.good + 1, bad: 0, ..self },
            Outcome::Good => Self {
                bpm: (self.bpm + steps.by).min(steps.most),
                good: 0,
                bad: 0,
                is_done: self.is_done || (steps.ends_at_most && self.bpm == steps.most),
            },
            Outcome::Bad if self.bad + 1 < steps.down_after => Self { bad: self.bad + 1, good: 0, ..self },
            Outcome::Bad => {
                let slower =
                    if self.bpm > steps.least + steps.by { self.bpm - steps.by } else { steps.least };
                Self { bpm: slower, good: 0, bad: 0, ..self }
            }
        }
    }
}
