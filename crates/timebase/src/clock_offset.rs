use crate::{HostTime, Seconds};

/// How many readings are remembered.
const WINDOW: usize = 32;

/// How far another clock stands from the host's, found from pairs of readings of which the host's is never the earlier.
///
/// A callback gets a stamp of the driver's clock and then reads the host's; whatever comes between
/// (a wake-up, rounding down to a frame) only ever adds. So the smallest of the last 32 differences is the
/// truest. Because old pairs are forgotten, two clocks that drift apart are followed: at 100 ppm and
/// 256-frame blocks of 48 kHz the answer lags by 17 µs at most.
///
/// Real-time: no allocation, lock, I/O or panic.
#[derive(Clone, Debug)]
pub struct ClockOffset {
    differences: [i64; WINDOW],
    filled: usize,
    next: usize,
}

impl ClockOffset {
    /// Nothing read yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { differences: [0; WINDOW], filled: 0, next: 0 }
    }

    /// Takes one pair of readings and returns what must be added to the other clock's nanoseconds to get
    /// host time.
    pub fn add(&mut self, host: HostTime, other_nanos: i64) -> Seconds {
        self.differences[self.next] = host.as_nanos().saturating_sub(other_nanos);
        self.next = (self.next + 1) % WINDOW;
        self.filled = (self.filled + 1).min(WINDOW);
        self.offset()
    }

    /// What must be added to the other clock's nanoseconds; zero while nothing was read.
    #[must_use]
    pub fn offset(&self) -> Seconds {
        Seconds::from_nanos(self.differences[..self.filled].iter().copied().min().unwrap_or(0))
    }

    /// Forgets what was read, after a break in either clock.
    pub const fn forget(&mut self) {
        self.filled = 0;
        self.next = 0;
    }
}

impl Default for ClockOffset {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// Late readings never pull the answer below the truth, and one punctual reading in the window is enough.
        #[test]
        fn the_most_punctual_reading_decides(
            truth in -1_000_000_000i64..1_000_000_000,
            late in prop::collection::vec(0i64..10_000_000, 1..100),
        ) {
            let mut offset = ClockOffset::new();
            for (index, late) in late.iter().enumerate() {
                let other = i64::try_from(index).expect("small") * 5_000_000;
                offset.add(HostTime::from_nanos(other + truth + late), other);
            }
            let recent = &late[late.len().saturating_sub(WINDOW)..];
            let least = recent.iter().min().expect("not empty");
            prop_assert_eq!(offset.offset().as_nanos(), truth + least);
        }
    }

    #[test]
    fn clocks_that_drift_apart_are_followed() {
        // 100 ppm apart, one reading every 5.333 ms for ten seconds.
        let mut offset = ClockOffset::new();
        let mut worst = 0;
        for block in 0..1_875i64 {
            let host = block * 5_333_333;
            let other = host - host / 10_000;
            let found = offset.add(HostTime::from_nanos(host), other).as_nanos();
            worst = worst.max((other + found - host).abs());
        }
        assert!(worst <= 17_000, "{worst} ns");
    }

    #[test]
    fn nothing_read_is_no_offset() {
        let mut offset = ClockOffset::new();
        assert_eq!(offset.offset(), Seconds::ZERO);
        offset.add(HostTime::from_nanos(5), 2);
        offset.forget();
        assert_eq!(offset.offset(), Seconds::ZERO);
    }
}
