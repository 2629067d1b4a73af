use timebase::{Moment, Seconds};

use crate::Error;
use crate::limits::TAKE_SECONDS;

/// The tempo a MIDI file has until it sets one: 120 quarters a minute.
pub(super) const UNSET_MICROS: u32 = 500_000;

/// How a MIDI file divides time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Division {
    /// So many ticks a quarter; how long a quarter is, tempo events say.
    Quarter(u16),
    /// So many ticks a second, as a fraction; tempo events mean nothing.
    Second {
        /// Ticks.
        ticks: u32,
        /// In so many seconds.
        seconds: u32,
    },
}

impl Division {
    /// Reads the division word of a header: ticks a quarter, or SMPTE frames a second (29 stands for 30000/1001) and ticks a frame.
    pub(super) fn read(word: u16) -> Result<Self, Error> {
        let wrong = Error::MidiDivision { given: word };
        let [high, low] = word.to_be_bytes();
        if high < 0x80 {
            return if word == 0 { Err(wrong) } else { Ok(Self::Quarter(word)) };
        }
        let ticks = u32::from(low);
        let (ticks, seconds) = match high.wrapping_neg() {
            _ if ticks == 0 => return Err(wrong),
            frames @ (24 | 25 | 30) => (u32::from(frames) * ticks, 1),
            29 => (30_000 * ticks, 1_001),
            _ => return Err(wrong),
        };
        Ok(Self::Second { ticks, seconds })
    }
}

/// When every tick of a MIDI file falls.
#[derive(Debug)]
pub(super) struct Clock {
    /// Rising in tick; the first stands at tick 0.
    segments: Vec<Segment>,
    /// Nanoseconds are [`Segment::begins`] times `numerator / denominator`.
    numerator: i128,
    denominator: i128,
}

#[derive(Clone, Copy, Debug)]
struct Segment {
    tick: u64,
    /// How much a tick counts from here on: microseconds a quarter, or 1.
    weight: u32,
    /// The weighted ticks before it: whole numbers, so nothing is rounded before the end.
    begins: i128,
}

impl Clock {
    /// A clock from the file's division and its tempo changes (tick, microseconds a quarter), in any order; of several at one tick the last given holds.
    pub(super) fn new(division: Division, mut tempi: Vec<(u64, u32)>) -> Self {
        let (first, numerator, denominator) = match division {
            Division::Quarter(ticks) => (UNSET_MICROS, 1_000, i128::from(ticks)),
            Division::Second { ticks, seconds } => {
                tempi.clear();
                (1, 1_000_000_000 * i128::from(seconds), i128::from(ticks))
            }
        };
        tempi.sort_by_key(|(tick, _)| *tick);
        let mut clock =
            Self { segments: vec![Segment { tick: 0, weight: first, begins: 0 }], numerator, denominator };
        for (tick, weight) in tempi {
            let begins = clock.weighted(tick);
            clock.segments.push(Segment { tick, weight, begins });
        }
        clock
    }

    fn weighted(&self, tick: u64) -> i128 {
        let after = self.segments.partition_point(|segment| segment.tick <= tick);
        let segment = self.segments[after.saturating_sub(1)];
        segment.begins + i128::from(tick - segment.tick) * i128::from(segment.weight)
    }

    /// When `tick` falls: rounded once, to the nearest nanosecond.
    ///
    /// # Errors
    /// Beyond [`TAKE_SECONDS`].
    pub(super) fn moment(&self, tick: u64) -> Result<Moment, Error> {
        let nanos = 2 * self.weighted(tick) * self.numerator + self.denominator;
        let nanos = nanos.div_euclid(2 * self.denominator);
        let seconds = i64::try_from(nanos / 1_000_000_000).unwrap_or(i64::MAX);
        match i64::try_from(nanos) {
            Ok(nanos) if TAKE_SECONDS.holds(seconds) => Ok(Moment::ZERO + Seconds::from_nanos(nanos)),
            _ => Err(Error::OutOfRange { given: seconds, limit: TAKE_SECONDS }),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn check(division: u16, tempi: &[(u64, u32)], tick: u64, nanos: i64) {
        let division = Division::read(division).expect("a division");
        let moment = Clock::new(division, tempi.to_vec()).moment(tick).expect("within a day");
        assert_eq!(moment.since_zero().as_nanos(), nanos, "{division:?} {tempi:?} {tick}");
    }

    /// The length of a tick follows from the definitions of the SMF specification (from memory).
    #[test]
    fn ticks_are_as_long_as_the_file_says() {
        // Without a tempo event: 120 quarters a minute.
        check(480, &[], 480, 500_000_000);
        check(480, &[(0, 1_000_000)], 480, 1_000_000_000);
        // The last of two tempi at one tick holds; a later one holds from its tick on.
        check(480, &[(0, 1), (0, 600_000)], 480, 600_000_000);
        check(480, &[(960, 250_000), (0, 500_000)], 1_440, 1_250_000_000);
        // A third of a microsecond is rounded once, at the end.
        check(3, &[(0, 1)], 1, 333);
        check(3, &[(0, 1)], 3_000, 1_000_000);
        // SMPTE: 25 frames of 40 ticks are milliseconds; tempo events mean nothing.
        check(0xE728, &[(0, 1)], 1_500, 1_500_000_000);
        check(0xE850, &[], 24 * 80, 1_000_000_000);
        check(0xE250, &[], 30 * 80, 1_000_000_000);
        // 29 stands for 30000/1001 frames a second.
        check(0xE364, &[], 30_000 * 100, 1_001_000_000_000);
    }

    #[test]
    fn divisions_that_cannot_be_are_refused() {
        for word in [0x0000, 0xE700, 0x8001, 0xFF28, 0xE628] {
            let error = Division::read(word).expect_err("no division").to_string();
            assert!(error.contains("1 to 32767 ticks"), "{error}");
        }
    }

    proptest! {
        #[test]
        fn time_never_goes_back(
            ticks in 1u16..0x7FFF,
            tempi in prop::collection::vec((0u64..1 << 20, 1u32..1 << 24), 0..20),
            a in 0u64..1 << 20,
            step in 0u64..1 << 10,
        ) {
            let clock = Clock::new(Division::Quarter(ticks), tempi);
            if let (Ok(before), Ok(after)) = (clock.moment(a), clock.moment(a + step)) {
                prop_assert!(before <= after);
            }
        }
    }
}
