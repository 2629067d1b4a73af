use std::ops::{Add, Sub};

use crate::Seconds;

/// A point on the computer's monotonic clock, in nanoseconds from an origin that lasts as long as the process.
///
/// Whoever reads a clock makes it (`audio`, `input`, `live`); this crate only does sums with it. Only
/// stamps of one clock may meet: a driver's own stamps are another type, in `input`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HostTime(i64);

impl HostTime {
    /// The point so many nanoseconds after the origin.
    #[must_use]
    pub const fn from_nanos(nanos: i64) -> Self {
        Self(nanos)
    }

    /// Nanoseconds since the origin.
    #[must_use]
    pub const fn as_nanos(self) -> i64 {
        self.0
    }
}

impl Sub for HostTime {
    type Output = Seconds;
    fn sub(self, other: Self) -> Seconds {
        Seconds::from_nanos(self.0.saturating_sub(other.0))
    }
}

impl Add<Seconds> for HostTime {
    type Output = Self;
    fn add(self, length: Seconds) -> Self {
        Self(self.0.saturating_add(length.as_nanos()))
    }
}

impl Sub<Seconds> for HostTime {
    type Output = Self;
    fn sub(self, length: Seconds) -> Self {
        Self(self.0.saturating_sub(length.as_nanos()))
    }
}
