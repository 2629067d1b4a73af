//! What is told of sound that is lost again and again.

use timebase::{HostTime, Seconds};

/// How often losses that go on are told: a machine that cannot keep up has them at every block, and the strokes are to be seen between.
const TOLD_EVERY: Seconds = Seconds::from_millis(10_000);

/// The losses of sound of one drill: the first is told at once, later ones together.
#[derive(Debug, Default)]
pub(super) struct Losses {
    /// When some were told last.
    told: Option<HostTime>,
    /// How often sound was lost since, and how much of it.
    times: u32,
    lost: Seconds,
}

impl Losses {
    /// Sound was lost `now`, so much where that is known. Says what is to be told of it now, if anything.
    pub(super) fn lost(&mut self, now: HostTime, why: &str, lost: Seconds) -> Option<String> {
        let Some(told) = self.told else {
            self.told = Some(now);
            return Some(why.to_owned());
        };
        self.times += 1;
        self.lost += lost;
        if now - told < TOLD_EVERY {
            return None;
        }
        self.told = Some(now);
        self.rest()
    }

    /// Those that were not told yet.
    pub(super) fn rest(&mut self) -> Option<String> {
        let (times, lost) = (std::mem::take(&mut self.times), std::mem::take(&mut self.lost));
        let times = match times {
            0 => return None,
            1 => "once more".to_owned(),
            times => format!("{times} times more"),
        };
        // A driver may say that sound was lost and not how much.
        let lost = match lost.as_millis_f64().round() {
            ms if ms >= 1.0 => format!(", {ms} ms in all"),
            _ => String::new(),
        };
        Some(format!("sound was lost {times}{lost}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn later_losses_are_told_together() {
        let mut losses = Losses::default();
        let mut lost = |ms: i64, by_ms: i64| {
            losses.lost(HostTime::from_nanos(ms * 1_000_000), "3 ms", Seconds::from_millis(by_ms))
        };
        assert_eq!(lost(0, 3).as_deref(), Some("3 ms"));
        assert_eq!(lost(20, 3), None);
        assert_eq!(lost(9_999, 0), None);
        assert_eq!(lost(10_000, 5).as_deref(), Some("sound was lost 3 times more, 8 ms in all"));
        assert_eq!(lost(10_010, 0), None);
        assert_eq!(losses.rest().as_deref(), Some("sound was lost once more"));
        assert_eq!(losses.rest(), None);
    }
}
