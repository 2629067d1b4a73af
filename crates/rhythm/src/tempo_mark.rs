use std::fmt;

use timebase::{Ratio, Span, Tempo};

use crate::Meter;

/// What is written where the tempo changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TempoMark {
    /// So many beats a minute: `quarter = 120`.
    Beats(Tempo),
    /// What stays: a note of `after` now lasts as long as one of `before` did, `quarter = dotted quarter`.
    Equal {
        /// The note value of the bars before.
        before: Span,
        /// The note value from here on.
        after: Span,
    },
}

impl TempoMark {
    /// The tempo from here on, in felt beats of `meter` where it is told by an equality; `None` if it would
    /// leave the limits of a tempo.
    #[must_use]
    pub fn after(self, tempo: Tempo, meter: Meter) -> Option<Tempo> {
        match self {
            Self::Beats(tempo) => Some(tempo),
            Self::Equal { before, after } => {
                // In wholes a minute: a note of `before` a so many times, each now `after` long.
                let faster = after.in_units_of(before) * tempo.beat().in_units_of(meter.felt_beat());
                let ratio =
                    Ratio::new(u32::try_from(*faster.numer()).ok()?, u32::try_from(*faster.denom()).ok()?);
                let bpm = tempo.bpm();
                let numerator = u64::from(*bpm.numer()) * u64::from(*ratio.numer());
                let denominator = u64::from(*bpm.denom()) * u64::from(*ratio.denom());
                let exact = Ratio::new(numerator, denominator);
                let bpm =
                    Ratio::new(u32::try_from(*exact.numer()).ok()?, u32::try_from(*exact.denom()).ok()?);
                Tempo::new(meter.felt_beat(), bpm).ok()
            }
        }
    }
}

/// As it is written in rhythm text.
impl fmt::Display for TempoMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Beats(tempo) => tempo.fmt(f),
            Self::Equal { before, after } => {
                write!(f, "{} = {}", Tempo::beat_word(*before), Tempo::beat_word(*after))
            }
        }
    }
}
