use std::io::Cursor;

use hound::{SampleFormat, WavReader};
use mixer::Sample;
use timebase::{Frames, SampleRate, Seconds};

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
        Ok(Self { syllable: syllable.to_owned(), speed: speed.to_owned(), sample, centre, vowel, rate })
    }
}

fn decode(file: &str, bytes: &[u8], rate: SampleRate) -> Result<Sample, Error> {
    let wav = |error: hound::Error| Error::Wav { file: file.to_owned(), reason: error.to_string() };
    let reader = WavReader::new(Cursor::new(bytes)).map_err(wav)?;
    let form = reader.spec();
    let refused = |given: String, needed: String| Err(Error::Form { file: file.to_owned(), given, needed });
    if form.channels != 1 {
        return refused(format!("{} channels", form.channels), "1".to_owned());
    }
    if form.sample_rate != rate.hz() {
        return refused(format!("{} Hz", form.sample_rate), format!("{} Hz", rate.hz()));
    }
    let length = Frames::new(i64::from(reader.duration())).seconds(rate);
    if length == Seconds::ZERO || length > RECORDING_MOST {
        return Err(Error::Length { file: file.to_owned(), given: length });
    }
    let data: Result<Vec<f32>, hound::Error> = match (form.sample_format, form.bits_per_sample) {
        (SampleFormat::Float, 32) => reader.into_samples::<f32>().collect(),
        (SampleFormat::Int, bits @ 8..=24) => {
            let full = (1_i32 << (bits - 1)) as f32;
            reader.into_samples::<i32>().map(|sample| sample.map(|sample| sample as f32 / full)).collect()
        }
        (kind, bits) => {
            let kind = if kind == SampleFormat::Int { "integer" } else { "float" };
            return refused(
                format!("{bits}-bit {kind} samples"),
                "8- to 24-bit integer or 32-bit float".to_owned(),
            );
        }
    };
    Sample::new(data.map_err(wav)?).map_err(|reason| Error::Sample { file: file.to_owned(), reason })
}
