use std::fmt;

use timebase::{Ratio, Span, Tempo};

use crate::Meter;

/// What is written where the tempo changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TempoMark {
    /// So many beats a minute: `quarter = 120`.
    Beats(Tempo),
    /// So many beats a minute, reached gradually over so many bars: `quarter = 120 over 4 bars`.
    Gradual {
        /// The tempo that is reached where those bars end.
        tempo: Tempo,
        /// How many bars, this one the first of them, within [`GRADUAL_BARS`](crate::limits::GRADUAL_BARS).
        bars: u32,
    },
    /// What stays: a note of `after` now lasts as long as one of `before` did, `quarter = dotted quarter`.
    Equal {
        /// The note value of the bars before.
        before: Span,
        /// The note value from here on.
        after: Span,
    },
}

impl TempoMark {
    /// A mark in the words of rhythm text, as they are displayed; `None` where the text is none.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        crate::text::tempo_mark(text)
    }

    /// The tempo from here on, or the one that is reached; `None` if it would leave the limits of a tempo.
    ///
    /// Where it is told by an equality it is in felt beats of `meter`, or in another note value that keeps it within the
    /// limits: the one named, or the meter's unit.
    #[must_use]
    pub fn after(self, tempo: Tempo, meter: Meter) -> Option<Tempo> {
        match self {
            Self::Beats(tempo) | Self::Gradual { tempo, .. } => Some(tempo),
            Self::Equal { before, after } => {
                let unit = Span::new(1, i64::from(meter.unit()));
                [meter.felt_beat(), after, unit].into_iter().find_map(|beat| {
                    // A note of `before` becomes one of `after`; its speed is told in notes of `beat`.
                    let times = after.in_units_of(before) * tempo.beat().in_units_of(beat);
                    let bpm = wide(*tempo.bpm().numer(), *tempo.bpm().denom())?
                        * wide(u32::try_from(*times.numer()).ok()?, u32::try_from(*times.denom()).ok()?)?;
                    let bpm =
                        Ratio::new(u32::try_from(*bpm.numer()).ok()?, u32::try_from(*bpm.denom()).ok()?);
                    Tempo::new(beat, bpm).ok()
                })
            }
        }
    }
}

fn wide(numerator: u32, denominator: u32) -> Option<Ratio<u64>> {
    (denominator > 0).then(|| Ratio::new(u64::from(numerator), u64::from(denominator)))
}

/// As it is written in rhythm text.
impl fmt::Display for TempoMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Beats(tempo) => tempo.fmt(f),
            Self::Gradual { tempo, bars: 1 } => write!(f, "{tempo} over 1 bar"),
            Self::Gradual { tempo, bars } => write!(f, "{tempo} over {bars} bars"),
            Self::Equal { before, after } => {
                write!(f, "{} = {}", Tempo::beat_word(*before), Tempo::beat_word(*after))
            }
        }
    }
}
