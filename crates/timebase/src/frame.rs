use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};

use crate::limits::SAMPLE_RATE;
use crate::{Error, Moment, Seconds};

/// A point in a sound: the index of a frame (one sample of every channel) from the sound's beginning.
/// Negative indices lie before it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Frame(i64);

/// A length of sound in whole frames. May be negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Frames(i64);

/// Frames a second, within [`SAMPLE_RATE`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SampleRate(u32);

impl Frame {
    /// The sound's first frame.
    pub const ZERO: Self = Self(0);

    /// The frame of this index.
    #[must_use]
    pub const fn new(index: i64) -> Self {
        Self(index)
    }

    /// Its index.
    #[must_use]
    pub const fn index(self) -> i64 {
        self.0
    }

    /// The moment at which this frame sounds, counted from frame 0, rounded to the nearest nanosecond.
    #[must_use]
    pub fn moment(self, rate: SampleRate) -> Moment {
        Moment::ZERO + Frames(self.0).seconds(rate)
    }

    /// The frame that sounds at `moment`, counted from frame 0: the nearest, a half up.
    #[must_use]
    pub fn at(moment: Moment, rate: SampleRate) -> Self {
        Self(Frames::of(moment.since_zero(), rate).0)
    }
}

impl Frames {
    /// No length.
    pub const ZERO: Self = Self(0);

    /// So many frames.
    #[must_use]
    pub const fn new(count: i64) -> Self {
        Self(count)
    }

    /// How many.
    #[must_use]
    pub const fn count(self) -> i64 {
        self.0
    }

    /// The number of frames in `length`: the nearest, a half up.
    #[must_use]
    pub fn of(length: Seconds, rate: SampleRate) -> Self {
        Self(nearest(i128::from(length.as_nanos()) * i128::from(rate.0), 1_000_000_000))
    }

    /// How long so many frames last, rounded to the nearest nanosecond.
    #[must_use]
    pub fn seconds(self, rate: SampleRate) -> Seconds {
        Seconds::from_nanos(nearest(i128::from(self.0) * 1_000_000_000, i128::from(rate.0)))
    }
}

/// `numerator / denominator` to the nearest whole number, a half up; saturates at the ends of an `i64`.
pub(crate) fn nearest(numerator: i128, denominator: i128) -> i64 {
    let rounded = (2 * numerator + denominator).div_euclid(2 * denominator);
    i64::try_from(rounded).unwrap_or(if rounded < 0 { i64::MIN } else { i64::MAX })
}

impl SampleRate {
    /// 48,000 frames a second: the rate of the shipped voices and of written WAV files.
    pub const HZ_48000: Self = Self(48_000);

    /// A rate in Hz.
    ///
    /// # Errors
    /// Outside [`SAMPLE_RATE`].
    pub fn new(hz: u32) -> Result<Self, Error> {
        if SAMPLE_RATE.holds(i64::from(hz)) {
            Ok(Self(hz))
        } else {
            Err(Error::OutOfRange { given: hz.to_string(), limit: SAMPLE_RATE })
        }
    }

    /// Frames a second.
    #[must_use]
    pub const fn hz(self) -> u32 {
        self.0
    }
}

impl Add<Frames> for Frame {
    type Output = Self;
    fn add(self, length: Frames) -> Self {
        Self(self.0.saturating_add(length.0))
    }
}

impl AddAssign<Frames> for Frame {
    fn add_assign(&mut self, length: Frames) {
        *self = *self + length;
    }
}

impl Sub<Frames> for Frame {
    type Output = Self;
    fn sub(self, length: Frames) -> Self {
        Self(self.0.saturating_sub(length.0))
    }
}

impl Sub for Frame {
    type Output = Frames;
    fn sub(self, other: Self) -> Frames {
        Frames(self.0.saturating_sub(other.0))
    }
}

impl Add for Frames {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Frames {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Frames {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl SubAssign for Frames {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Neg for Frames {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// A frame lasts over 5 µs at any rate allowed, so a nanosecond's rounding never moves it.
        #[test]
        fn a_frame_survives_the_way_through_nanoseconds(index in -(1i64 << 40)..1 << 40, hz in 8_000u32..=192_000) {
            let rate = SampleRate::new(hz).expect("in range");
            prop_assert_eq!(Frame::at(Frame::new(index).moment(rate), rate), Frame::new(index));
        }
    }

    #[test]
    fn rates_outside_the_limit_are_refused_with_the_limit() {
        let error = SampleRate::new(4_000).expect_err("too low");
        assert_eq!(error.to_string(), "4000 is not a sample rate in Hz: it goes from 8000 to 192000");
    }
}
