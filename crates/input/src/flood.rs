use timebase::HostTime;

use crate::limits::MESSAGES_A_SECOND;

/// What one device may send: so many messages a second, and as many at once. What comes faster is not of hands.
///
/// A bucket that a second fills and every message takes one out of.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Flood {
    /// What is left, in nanoseconds of filling.
    left_ns: i64,
    last: Option<HostTime>,
    wild: bool,
}

/// What becomes of a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Flow {
    /// It is let through.
    Through,
    /// It is held back; the first of this flood.
    FirstHeld,
    /// It is held back too.
    Held,
}

/// A second fills it.
const FULL_NS: i64 = 1_000_000_000;
const MESSAGE_NS: i64 = FULL_NS / MESSAGES_A_SECOND;

impl Flood {
    pub(crate) const fn new() -> Self {
        Self { left_ns: FULL_NS, last: None, wild: false }
    }

    pub(crate) fn admit(&mut self, stamp: HostTime) -> Flow {
        // A stamp that goes back brings nothing.
        let since = self.last.map_or(FULL_NS, |last| (stamp - last).as_nanos().clamp(0, FULL_NS));
        self.last = Some(self.last.map_or(stamp, |last| last.max(stamp)));
        self.left_ns = (self.left_ns + since).min(FULL_NS);
        if self.left_ns >= MESSAGE_NS {
            self.left_ns -= MESSAGE_NS;
            // Tame again once half of it is full.
            self.wild &= self.left_ns < FULL_NS / 2;
            return Flow::Through;
        }
        if std::mem::replace(&mut self.wild, true) { Flow::Held } else { Flow::FirstHeld }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many of so many messages a second, for so many seconds, go through, and how often it is said.
    fn check(a_second: i64, seconds: i64, through: std::ops::RangeInclusive<i64>, said: i64) {
        let mut flood = Flood::new();
        let (mut passed, mut told) = (0, 0);
        for number in 0..a_second * seconds {
            match flood.admit(HostTime::from_nanos(number * 1_000_000_000 / a_second)) {
                Flow::Through => passed += 1,
                Flow::FirstHeld => told += 1,
                Flow::Held => {}
            }
        }
        assert!(through.contains(&passed), "{a_second} a second for {seconds} s: {passed}");
        assert_eq!(told, said);
    }

    #[test]
    fn hands_pass_and_a_wild_device_is_held() {
        // Thirty-two players at sixteen strokes a second and their releases, on one port.
        check(1_024, 600, 614_400..=614_400, 0);
        check(10_000, 10, 16_000..=17_700, 1);
    }

    #[test]
    fn a_chord_at_once_passes_and_a_device_that_calms_down_is_heard_again() {
        let mut flood = Flood::new();
        for _ in 0..1_600 {
            assert_eq!(flood.admit(HostTime::from_nanos(5)), Flow::Through);
        }
        assert_eq!(flood.admit(HostTime::from_nanos(5)), Flow::FirstHeld);
        assert_eq!(flood.admit(HostTime::from_nanos(5)), Flow::Held);
        assert_eq!(flood.admit(HostTime::from_nanos(1_000_000_000)), Flow::Through);
        assert_eq!(flood.admit(HostTime::from_nanos(0)), Flow::Through, "a stamp that goes back is no harm");
    }
}
