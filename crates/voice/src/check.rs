use timebase::Seconds;

use crate::making::{DOUBTFUL, usual};
use crate::{Estimates, Loudness, Recording, VoicePack, Vowel};

/// What is measured of one recording of a pack.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The syllable.
    pub syllable: String,
    /// The speed it is said at.
    pub speed: String,
    /// How long it is.
    pub length: Seconds,
    /// How loud it is.
    pub loudness: Loudness,
    /// The centre it is played by.
    pub centre: Seconds,
    /// Whether that was set by ear.
    pub set_by_ear: bool,
    /// When its energy changes fastest: an estimate of the centre that had no part in choosing it.
    pub fastest_change: Seconds,
    /// Whether that, counted from the centre, lies more than 25 ms off from where it lies with most of the voice's
    /// recordings: a centre that is worth a listener's check.
    pub is_doubtful: bool,
}

/// How evenly a voice's syllables fall, by the estimate that had no part in choosing their centres: standard
/// deviations over its recordings. The second is below the first where the centres are good for something.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evenness {
    /// Played from the beginnings of their files.
    pub from_beginning: Seconds,
    /// Played by their centres.
    pub from_centre: Seconds,
}

impl VoicePack {
    /// Measures every recording, in the order of their syllables' names, the slowest speed first. It reads all sound
    /// through filters: some milliseconds a recording.
    #[must_use]
    pub fn measure(&self) -> Vec<Measured> {
        let mut measured: Vec<Measured> =
            self.recordings().map(|(_, recording)| self.measured(recording)).collect();
        let usual = usual(measured.iter().map(|m| m.fastest_change - m.centre));
        for m in &mut measured {
            m.is_doubtful = (m.fastest_change - m.centre - usual).abs() > DOUBTFUL;
        }
        measured
    }

    fn measured(&self, recording: &Recording) -> Measured {
        let frames = recording.sample().data();
        let vowel = recording.vowel().or_else(|| Vowel::find(frames, self.rate()));
        let fastest_change =
            vowel.map_or(Seconds::ZERO, |vowel| Estimates::fastest_change_of(frames, self.rate(), &vowel));
        Measured {
            syllable: recording.syllable().to_owned(),
            speed: recording.speed().to_owned(),
            length: recording.length().seconds(self.rate()),
            loudness: Loudness::of(frames, self.rate()),
            centre: recording.centre_seconds(),
            set_by_ear: recording.is_set_by_ear(),
            fastest_change,
            is_doubtful: false,
        }
    }
}

impl Evenness {
    /// Over all these recordings; `None` for fewer than two.
    #[must_use]
    pub fn of(measured: &[Measured]) -> Option<Self> {
        let from_beginning = deviation(measured.iter().map(|m| m.fastest_change))?;
        let from_centre = deviation(measured.iter().map(|m| m.fastest_change - m.centre))?;
        Some(Self { from_beginning, from_centre })
    }
}

/// The standard deviation of a sample.
fn deviation(times: impl Iterator<Item = Seconds>) -> Option<Seconds> {
    let times: Vec<f64> = times.map(Seconds::as_secs_f64).collect();
    if times.len() < 2 {
        return None;
    }
    let mean = times.iter().sum::<f64>() / times.len() as f64;
    let squares = times.iter().map(|time| (time - mean).powi(2)).sum::<f64>();
    Some(Seconds::from_secs_f64((squares / (times.len() - 1) as f64).sqrt()))
}
