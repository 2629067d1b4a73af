use std::time::{Duration, Instant};

/// A millisecond of the server's clock, in nanoseconds.
const TICK: i64 = 1_000_000;

/// Where the X server's clock stands against ours.
///
/// The server says its time in whole milliseconds, rounded down. A question put at one of our instants and
/// answered at another bounds the difference of the clocks from both sides; many such questions, asked at
/// different parts of a millisecond, leave a narrow gap. A stamp is then known to half a tick and half that gap.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ServerClock {
    /// Where both are counted from.
    ours: Instant,
    theirs: u32,
    /// Bounds of ours minus theirs, in nanoseconds.
    least: i64,
    most: i64,
}

impl ServerClock {
    /// From a first question: put at `asked`, answered with `server` (in ms), which was known here at `answered`.
    pub(crate) fn new(asked: Instant, server: u32, answered: Instant) -> Self {
        let mut clock = Self { ours: asked, theirs: server, least: i64::MIN, most: i64::MAX };
        (clock.least, clock.most) = clock.bounds(asked, server, answered);
        clock
    }

    /// Takes another question and its answer. One that contradicts those before (a clock was set) replaces them.
    pub(crate) fn add(&mut self, asked: Instant, server: u32, answered: Instant) {
        let (least, most) = self.bounds(asked, server, answered);
        (self.least, self.most) = (self.least.max(least), self.most.min(most));
        if self.least > self.most {
            *self = Self::new(asked, server, answered);
        }
    }

    /// Our instant of a stamp of the server's: the middle of where it can be.
    pub(crate) fn instant(&self, server: u32) -> Instant {
        let nanos = self.theirs_nanos(server) + TICK / 2 + self.least.midpoint(self.most);
        let distance = Duration::from_nanos(nanos.unsigned_abs());
        let moved = if nanos < 0 { self.ours.checked_sub(distance) } else { self.ours.checked_add(distance) };
        moved.unwrap_or(self.ours)
    }

    fn bounds(&self, asked: Instant, server: u32, answered: Instant) -> (i64, i64) {
        let theirs = self.theirs_nanos(server);
        // The true time lies from the tick on and before the next one.
        (self.ours_nanos(asked) - theirs - TICK, self.ours_nanos(answered) - theirs)
    }

    /// Milliseconds wrap round after 49 days; the distance from where we count is right all the same.
    fn theirs_nanos(&self, server: u32) -> i64 {
        i64::from(server.wrapping_sub(self.theirs).cast_signed()) * TICK
    }

    fn ours_nanos(&self, instant: Instant) -> i64 {
        let nanos = |length: Duration| i64::try_from(length.as_nanos()).unwrap_or(i64::MAX);
        match instant.checked_duration_since(self.ours) {
            Some(after) => nanos(after),
            None => -nanos(self.ours.duration_since(instant)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A server whose clock is `ahead_us` ahead of ours and is asked every 13.37 ms, each answer taking 40 µs each way.
    fn check(ahead_us: u64, first: u32) {
        // Any instant serves: nothing depends on which.
        let start = Instant::now();
        let us = |us: u64| start + Duration::from_micros(us);
        let server = |ours_us: u64| {
            first.wrapping_add(u32::try_from((ours_us + ahead_us) / 1_000).expect("a short test"))
        };
        let mut clock = ServerClock::new(us(0), server(40), us(80));
        for n in 1..64 {
            let at = n * 13_370;
            clock.add(us(at), server(at + 40), us(at + 80));
        }
        for at in [100, 7_777, 1_000_000, 9_876_543] {
            let found = clock.instant(server(at));
            let off = if found > us(at) { found - us(at) } else { us(at) - found };
            assert!(off <= Duration::from_micros(560), "{off:?} off at {at} µs, {ahead_us} µs ahead");
        }
    }

    #[test]
    fn stamps_are_right_to_half_a_millisecond() {
        for ahead_us in [0, 1, 400, 999, 123_456] {
            check(ahead_us, 5_000);
            check(ahead_us, u32::MAX - 20);
        }
    }

    #[test]
    fn a_clock_that_was_set_is_followed() {
        let start = Instant::now();
        let ms = |ms: u64| start + Duration::from_millis(ms);
        let mut clock = ServerClock::new(ms(0), 1_000, ms(0));
        clock.add(ms(10), 5_010, ms(10));
        let found = clock.instant(5_020);
        assert!(found >= ms(19) && found <= ms(21));
    }
}
