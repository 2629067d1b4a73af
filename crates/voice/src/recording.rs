use mixer::Sample;
use timebase::{Frames, SampleRate, Seconds};

use crate::decode::Decoded;
use crate::limits::RECORDING_MOST;
use crate::manifest::Entry;
use crate::{Error, Vowel};

/// The number of a recording in the pack that gave it out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RecordingId(pub(crate) usize);

/// One syllable said at one speed.
#[derive(Clone, Debug)]
pub struct Recording {
    pub(crate) syllable: String,
    pub(crate) speed: String,
    pub(crate) sample: Sample,
    pub(crate) centre: Seconds,
    /// Whether the centre was set by ear and not estimated.
    pub(crate) set_by_ear: bool,
    pub(crate) vowel: Option<Vowel>,
    pub(crate) rate: SampleRate,
}

impl Recording {
    /// The syllable said.
    #[must_use]
    pub fn syllable(&self) -> &str {
        &self.syllable
    }

    /// The speed it is said at, as the manifest calls it.
    #[must_use]
    pub fn speed(&self) -> &str {
        &self.speed
    }

    /// Its sound, at the pack's rate.
    #[must_use]
    pub const fn sample(&self) -> &Sample {
        &self.sample
    }

    /// How long it is, in frames at the pack's rate.
    #[must_use]
    pub fn length(&self) -> Frames {
        self.sample.length()
    }

    /// Its perceptual centre from its beginning, in frames at the pack's rate, to the nearest: what has to fall on
    /// the beat.
    #[must_use]
    pub fn centre(&self) -> Frames {
        Frames::of(self.centre, self.rate)
    }

    /// The same as time.
    #[must_use]
    pub const fn centre_seconds(&self) -> Seconds {
        self.centre
    }

    /// Whether that centre was set by ear, in place of the estimate.
    #[must_use]
    pub const fn is_set_by_ear(&self) -> bool {
        self.set_by_ear
    }

    /// Where its stressed vowel lies, if the manifest says so.
    #[must_use]
    pub const fn vowel(&self) -> Option<Vowel> {
        self.vowel
    }

    /// Decodes a file of a pack whose rate is `rate`.
    pub(crate) fn decode(
        syllable: &str,
        speed: &str,
        entry: &Entry,
        bytes: &[u8],
        rate: SampleRate,
    ) -> Result<Self, Error> {
        let file = &entry.file;
        let sample = decode(file, bytes, rate)?;
        let length = sample.length().seconds(rate);
        let given_ms = entry.override_ms.unwrap_or(entry.centre_ms);
        let centre = Seconds::from_millis_f64(given_ms);
        if !given_ms.is_finite() || centre < Seconds::ZERO || centre > length {
            return Err(Error::Centre { file: file.clone(), given_ms, length });
        }
        let vowel = entry.vowel_ms.map(|[begin, end]| Vowel {
            begin: Seconds::from_millis_f64(begin),
            end: Seconds::from_millis_f64(end),
            syllable: Seconds::from_millis_f64(entry.syllable_ms),
        });
        Ok(Self {
            syllable: syllable.to_owned(),
            speed: speed.to_owned(),
            sample,
            centre,
            set_by_ear: entry.override_ms.is_some(),
            vowel,
            rate,
        })
    }
}

/// A file of a pack as it is played: mono, at the pack's rate.
fn decode(file: &str, bytes: &[u8], rate: SampleRate) -> Result<Sample, Error> {
    let mut decoded = Decoded::of(file, bytes, RECORDING_MOST)?;
    let refused = |given: String, needed: String| Err(Error::Form { file: file.to_owned(), given, needed });
    if decoded.rate_hz != rate.hz() {
        return refused(format!("{} Hz", decoded.rate_hz), format!("{} Hz", rate.hz()));
    }
    match (decoded.channels.pop(), decoded.channels.len()) {
        (Some(only), 0) => {
            Sample::new(only).map_err(|reason| Error::Sample { file: file.to_owned(), reason })
        }
        (_, others) => refused(format!("{} channels", others + 1), "1".to_owned()),
    }
}
