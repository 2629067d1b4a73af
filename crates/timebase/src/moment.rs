use std::fmt;
use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};

/// A length of physical time in whole nanoseconds. May be negative: an attack before its written
/// moment has a negative offset. The range is ±292 years; results saturate at its ends.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Seconds(i64);

/// A point of physical time in whole nanoseconds from a zero that its owner states: count 1 of bar 1
/// for what is written, the beginning of the take for what was played.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(i64);

impl Seconds {
    /// No time.
    pub const ZERO: Self = Self(0);

    /// So many nanoseconds.
    #[must_use]
    pub const fn from_nanos(nanos: i64) -> Self {
        Self(nanos)
    }

    /// So many microseconds; saturates.
    #[must_use]
    pub const fn from_micros(micros: i64) -> Self {
        Self(micros.saturating_mul(1_000))
    }

    /// So many milliseconds; saturates.
    #[must_use]
    pub const fn from_millis(millis: i64) -> Self {
        Self(millis.saturating_mul(1_000_000))
    }

    /// So many seconds, rounded to the nearest nanosecond; not-a-number is read as zero, and the range saturates.
    #[must_use]
    pub fn from_secs_f64(seconds: f64) -> Self {
        Self(nanos_of(seconds * 1e9))
    }

    /// So many milliseconds, rounded to the nearest nanosecond; not-a-number is read as zero, and the range saturates.
    #[must_use]
    pub fn from_millis_f64(millis: f64) -> Self {
        Self(nanos_of(millis * 1e6))
    }

    /// Whole nanoseconds.
    #[must_use]
    pub const fn as_nanos(self) -> i64 {
        self.0
    }

    /// Whole microseconds, rounded to the nearest (a half up).
    #[must_use]
    pub const fn as_micros(self) -> i64 {
        self.0.saturating_add(500).div_euclid(1_000)
    }

    /// Milliseconds, for showing and for statistics.
    #[must_use]
    pub fn as_millis_f64(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// Seconds, for showing and for statistics.
    #[must_use]
    pub fn as_secs_f64(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// The length without its sign.
    #[must_use]
    pub const fn abs(self) -> Self {
        Self(self.0.saturating_abs())
    }

    /// One third, one half, one so-many-th of this length, rounded down.
    ///
    /// # Panics
    /// If `parts` is zero.
    #[must_use]
    pub const fn divided_by(self, parts: i64) -> Self {
        Self(self.0.div_euclid(parts))
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a float cast saturates, which is what is promised")]
fn nanos_of(value: f64) -> i64 {
    value.round() as i64
}

impl Moment {
    /// The stated zero.
    pub const ZERO: Self = Self(0);

    /// The distance from the stated zero; negative before it.
    #[must_use]
    pub const fn since_zero(self) -> Seconds {
        Seconds(self.0)
    }

    /// Milliseconds from the stated zero, for showing.
    #[must_use]
    pub fn as_millis_f64(self) -> f64 {
        self.since_zero().as_millis_f64()
    }

    /// Seconds from the stated zero, for showing.
    #[must_use]
    pub fn as_secs_f64(self) -> f64 {
        self.since_zero().as_secs_f64()
    }
}

impl Add for Seconds {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl AddAssign for Seconds {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Seconds {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl SubAssign for Seconds {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Neg for Seconds {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl Add<Seconds> for Moment {
    type Output = Self;
    fn add(self, length: Seconds) -> Self {
        Self(self.0.saturating_add(length.0))
    }
}

impl AddAssign<Seconds> for Moment {
    fn add_assign(&mut self, length: Seconds) {
        *self = *self + length;
    }
}

impl Sub<Seconds> for Moment {
    type Output = Self;
    fn sub(self, length: Seconds) -> Self {
        Self(self.0.saturating_sub(length.0))
    }
}

impl Sub for Moment {
    type Output = Seconds;
    fn sub(self, other: Self) -> Seconds {
        Seconds(self.0.saturating_sub(other.0))
    }
}

/// Seconds with three decimals: `1.250 s`.
impl fmt::Display for Seconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.3} s", self.as_secs_f64())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn floats_round_to_the_nearest_nanosecond_and_saturate() {
        assert_eq!(Seconds::from_secs_f64(0.05).as_nanos(), 50_000_000);
        assert_eq!(Seconds::from_millis_f64(-0.0004).as_nanos(), -400);
        assert_eq!(Seconds::from_secs_f64(f64::NAN), Seconds::ZERO);
        assert_eq!(Seconds::from_secs_f64(f64::INFINITY).as_nanos(), i64::MAX);
    }

    #[test]
    fn micros_round_to_the_nearest() {
        assert_eq!(Seconds::from_nanos(1_499).as_micros(), 1);
        assert_eq!(Seconds::from_nanos(1_500).as_micros(), 2);
        assert_eq!(Seconds::from_nanos(-1_501).as_micros(), -2);
    }
}
