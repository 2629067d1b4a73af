use std::fmt;

use num_rational::Ratio;

use crate::limits::TEMPO_BPM;
use crate::{Error, Span};

/// So many beats a minute, and the note value that is the beat: `dotted quarter = 60`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Tempo {
    beat: Span,
    bpm: Ratio<u32>,
}

impl Tempo {
    /// `bpm` beats a minute, each as long as `beat`.
    ///
    /// # Errors
    /// If the beat has no length, or `bpm` lies outside [`TEMPO_BPM`].
    pub fn new(beat: Span, bpm: Ratio<u32>) -> Result<Self, Error> {
        if !beat.is_positive() {
            return Err(Error::EmptyBeat(beat.to_string()));
        }
        let outside = || Error::OutOfRange { given: decimal(bpm), limit: TEMPO_BPM };
        let least = u32::try_from(TEMPO_BPM.least).map_err(|_| outside())?;
        let most = u32::try_from(TEMPO_BPM.most).map_err(|_| outside())?;
        if bpm < Ratio::from_integer(least) || bpm > Ratio::from_integer(most) || *bpm.denom() > 1_000 {
            return Err(outside());
        }
        Ok(Self { beat, bpm })
    }

    /// Reads beats a minute as a person writes them: `88`, `87.5`; three decimals at most.
    ///
    /// # Errors
    /// If `text` is no such number or lies outside [`TEMPO_BPM`].
    pub fn parse_bpm(text: &str) -> Result<Ratio<u32>, Error> {
        let wrong = || Error::OutOfRange { given: text.to_owned(), limit: TEMPO_BPM };
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let digits = |d: &str| d.len() <= 3 && d.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(part) {
            return Err(wrong());
        }
        let scale = 10_u32.pow(u32::try_from(part.len()).map_err(|_| wrong())?);
        let number: u32 = format!("{whole}{part}").parse().map_err(|_| wrong())?;
        let bpm = Ratio::new(number, scale);
        Self::new(Span::QUARTER, bpm).map_err(|_| wrong())?;
        Ok(bpm)
    }

    /// The note value of one beat.
    #[must_use]
    pub fn beat(self) -> Span {
        self.beat
    }

    /// Beats a minute, exactly.
    #[must_use]
    pub fn bpm(self) -> Ratio<u32> {
        self.bpm
    }

    /// Beats a minute, for showing.
    #[must_use]
    pub fn bpm_f64(self) -> f64 {
        f64::from(*self.bpm.numer()) / f64::from(*self.bpm.denom())
    }

    /// The same beat at another speed.
    ///
    /// # Errors
    /// If `bpm` lies outside [`TEMPO_BPM`].
    pub fn with_bpm(self, bpm: Ratio<u32>) -> Result<Self, Error> {
        Self::new(self.beat, bpm)
    }

    /// Seconds a whole note lasts, exactly.
    pub(crate) fn seconds_per_whole(self) -> Ratio<i128> {
        // One beat lasts 60 / bpm seconds and is `beat` of a whole note.
        let (numer, denom) = (i128::from(*self.bpm.numer()), i128::from(*self.bpm.denom()));
        let beat = self.beat.ratio();
        Ratio::new(60 * denom * i128::from(*beat.denom()), numer * i128::from(*beat.numer()))
    }
}

/// At most three decimals, none where the number is whole.
fn decimal(bpm: Ratio<u32>) -> String {
    let value = f64::from(*bpm.numer()) / f64::from((*bpm.denom()).max(1));
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// As it stands over a staff: `quarter = 88`, `dotted quarter = 60`; a beat without a name is written as its fraction.
impl fmt::Display for Tempo {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} = {}", Self::beat_word(self.beat), decimal(self.bpm))
    }
}

/// The beats that have a name in the trade, and the names.
const BEAT_NAMES: [(Span, &str); 9] = [
    (Span::WHOLE, "whole"),
    (Span::HALF, "half"),
    (Span::QUARTER, "quarter"),
    (Span::EIGHTH, "eighth"),
    (Span::SIXTEENTH, "sixteenth"),
    (Span::new(3, 2), "dotted whole"),
    (Span::new(3, 4), "dotted half"),
    (Span::new(3, 8), "dotted quarter"),
    (Span::new(3, 16), "dotted eighth"),
];

fn beat_name(beat: Span) -> Option<&'static str> {
    BEAT_NAMES.iter().find(|(span, _)| *span == beat).map(|(_, name)| *name)
}

impl Tempo {
    /// The note value that a beat's name stands for: `dotted quarter` is 3/8. Case and doubled blanks do not
    /// matter. A beat without a name is written as its fraction of a whole note, `5/8`.
    #[must_use]
    pub fn beat_named(name: &str) -> Option<Span> {
        let words = name.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ");
        if let Some((upper, lower)) = words.split_once('/') {
            let span = Span::checked_new(upper.parse().ok()?, lower.parse().ok()?)?;
            return span.is_positive().then_some(span);
        }
        BEAT_NAMES.iter().find(|(_, known)| *known == words).map(|(span, _)| *span)
    }

    /// The name of a beat, `dotted quarter`, or its fraction of a whole note where it has none.
    #[must_use]
    pub fn beat_word(beat: Span) -> String {
        // Two wholes are 2/1: a bare number would be a tempo.
        beat_name(beat).map_or_else(|| format!("{}/{}", beat.numerator(), beat.denominator()), str::to_owned)
    }

    /// Every name that [`Tempo::beat_named`] knows.
    pub fn beat_names() -> impl Iterator<Item = &'static str> {
        BEAT_NAMES.iter().map(|(_, name)| *name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bpm_is_read_as_it_is_written() {
        for text in ["20", "88", "87.5", "120.125", "300"] {
            let tempo = Tempo::new(Span::QUARTER, Tempo::parse_bpm(text).expect(text)).expect(text);
            assert_eq!(tempo.to_string(), format!("quarter = {text}"));
        }
        for text in ["", "19.999", "300.1", "-88", "fast", "1e2", "88.1234", ".", "8 8"] {
            let error = Tempo::parse_bpm(text).expect_err(text).to_string();
            assert!(error.contains("from 20 to 300"), "{error}");
        }
    }

    #[test]
    fn every_beat_name_is_read_again() {
        for name in Tempo::beat_names() {
            let beat = Tempo::beat_named(name).expect(name);
            let tempo = Tempo::new(beat, 60.into()).expect(name);
            assert_eq!(tempo.to_string(), format!("{name} = 60"));
        }
        assert_eq!(Tempo::beat_named(" Dotted  Quarter"), Some(Span::new(3, 8)));
        // A whole number of whole notes is no bare number.
        for beat in [Span::new(2, 1), Span::new(5, 8)] {
            assert_eq!(Tempo::beat_named(&Tempo::beat_word(beat)), Some(beat));
        }
    }
}
