use std::time::Instant;

use crate::HostTime;

/// The instant from which every [`HostTime`] of a run is counted.
///
/// One origin is made where the program begins and handed to whoever stamps: sound and MIDI devices that
/// share it have stamps of one clock, which may be compared. This type turns instants into host times; it
/// never reads the clock itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HostOrigin(Instant);

impl HostOrigin {
    /// Counts from `instant`.
    #[must_use]
    pub const fn at(instant: Instant) -> Self {
        Self(instant)
    }

    /// The host time of `instant`: nanoseconds since the origin, negative before it; saturates after 292 years.
    /// Real-time: no allocation, lock, I/O or panic.
    #[must_use]
    pub fn time(self, instant: Instant) -> HostTime {
        let nanos = |length: std::time::Duration| i64::try_from(length.as_nanos()).unwrap_or(i64::MAX);
        HostTime::from_nanos(match instant.checked_duration_since(self.0) {
            Some(after) => nanos(after),
            None => -nanos(self.0.duration_since(instant)),
        })
    }

    /// The instant of `time`, for waiting until it comes.
    #[must_use]
    pub fn instant(self, time: HostTime) -> Instant {
        let distance = std::time::Duration::from_nanos(time.as_nanos().unsigned_abs());
        let moved =
            if time.as_nanos() < 0 { self.0.checked_sub(distance) } else { self.0.checked_add(distance) };
        moved.unwrap_or(self.0)
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn instants_on_both_sides_of_the_origin_keep_their_distance() {
        // Any instant serves as an origin; nothing here depends on which.
        let instant = Instant::now() + Duration::from_secs(10);
        let origin = HostOrigin::at(instant);
        let check = |other: Instant, expected: i64| {
            assert_eq!(origin.time(other).as_nanos(), expected);
            assert_eq!(origin.instant(HostTime::from_nanos(expected)), other);
        };
        check(instant, 0);
        check(instant + Duration::from_micros(7), 7_000);
        check(instant - Duration::from_micros(7), -7_000);
    }
}
