use std::fmt;
use std::sync::Arc;

use timebase::{Frames, SampleRate};

use crate::Error;

/// A mono sound at its bank's rate. Cloning shares the data.
#[derive(Clone, PartialEq)]
pub struct Sample {
    data: Arc<[f32]>,
    /// Where it goes on when it has been played to its end, if it does.
    again: Option<usize>,
}

impl Sample {
    /// The sound of these frames; full scale is ±1.
    ///
    /// # Errors
    /// If a frame is infinite or not a number.
    pub fn new(data: impl Into<Arc<[f32]>>) -> Result<Self, Error> {
        let data = data.into();
        match data.iter().position(|value| !value.is_finite()) {
            Some(frame) => Err(Error::NotFinite { frame, value: data[frame] }),
            None => Ok(Self { data, again: None }),
        }
    }

    /// The sound of these frames that goes on from frame `again` whenever it has come to its end, for as long as
    /// the event that plays it lasts.
    ///
    /// # Errors
    /// If a frame is infinite or not a number, or `again` lies behind the last one.
    pub fn sustained(data: impl Into<Arc<[f32]>>, again: usize) -> Result<Self, Error> {
        let once = Self::new(data)?;
        if again >= once.data.len() {
            return Err(Error::Loop { from: again, frames: once.data.len() });
        }
        Ok(Self { again: Some(again), ..once })
    }

    /// The frame that it goes on from behind its last one; nothing where it ends there.
    #[must_use]
    pub const fn again(&self) -> Option<usize> {
        self.again
    }

    /// Its frames.
    #[must_use]
    pub fn data(&self) -> &[f32] {
        &self.data
    }

    /// How long it is, played once.
    #[must_use]
    pub fn length(&self) -> Frames {
        Frames::new(i64::try_from(self.data.len()).unwrap_or(i64::MAX))
    }

    /// The greatest amplitude in it; 0 if it is empty.
    #[must_use]
    pub fn peak(&self) -> f32 {
        self.data.iter().fold(0.0, |peak, value| peak.max(value.abs()))
    }
}

/// Its length and peak; nobody reads ten thousand frames in a message.
impl fmt::Debug for Sample {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Sample").field("frames", &self.data.len()).field("peak", &self.peak()).finish()
    }
}

/// The number of a sample in the bank that gave it out. Means nothing in another bank.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SampleId(usize);

impl SampleId {
    /// Its place in the bank, from 0.
    #[must_use]
    pub const fn index(self) -> usize {
        self.0
    }
}

/// The samples of a programme, all at one rate.
#[derive(Clone, Debug, PartialEq)]
pub struct Bank {
    rate: SampleRate,
    samples: Vec<Sample>,
}

impl Bank {
    /// A bank without samples.
    #[must_use]
    pub const fn new(rate: SampleRate) -> Self {
        Self { rate, samples: Vec::new() }
    }

    /// Puts a sample in and says under which number it stands. Its frames are taken to be at
    /// [`Bank::rate`]; nothing is resampled here.
    pub fn add(&mut self, sample: Sample) -> SampleId {
        self.samples.push(sample);
        SampleId(self.samples.len() - 1)
    }

    /// The rate of every sample in it.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// The sample of this number, if this bank has one.
    #[must_use]
    pub fn sample(&self, id: SampleId) -> Option<&Sample> {
        self.samples.get(id.0)
    }

    /// How many samples there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.samples.len()
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.samples.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sample_with_a_hole_is_refused_with_its_place() {
        let error = Sample::new(vec![0.0, f32::NAN]).expect_err("not a number");
        assert!(error.to_string().starts_with("frame 1 of the sample is NaN"), "{error}");
        assert!(Sample::new(vec![f32::INFINITY]).is_err());
    }

    #[test]
    fn a_bank_gives_out_what_was_put_in() {
        let mut bank = Bank::new(SampleRate::HZ_48000);
        assert!(bank.is_empty());
        let first = bank.add(Sample::new(vec![0.1]).expect("finite"));
        let second = bank.add(Sample::new(vec![0.2, -0.3]).expect("finite"));
        assert_eq!((first.index(), second.index(), bank.len()), (0, 1, 2));
        let sample = bank.sample(second).expect("just added");
        assert_eq!((sample.length(), sample.peak()), (Frames::new(2), 0.3));
    }
}
