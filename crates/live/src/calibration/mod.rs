//! How late sound is heard, and a stroke known: measured, never guessed.
//!
//! Drivers tell part of their latency and do not know of the rest: converters, the air, a wireless speaker, the pad's own
//! reckoning. What is left is constant for a device, its block size and its rate, and is measured once:
//!
//! - by **loopback**, a cable from the output to the input or a microphone before the loudspeaker: bursts of noise are played
//!   and found again in the recording ([`Probe`], [`delay`], [`measure_sound`]);
//! - by **a pad struck beside the microphone**: the stamp against the knock ([`knocks`], [`measure_pad`]);
//! - by **tapping** along with a click, where there is no microphone ([`Tapping`], [`taps`]). People tap ahead of a click by some tens of
//!   milliseconds and do not know it, so that this contains the player's own lead.
//!
//! Everything measured here is what remains after the drivers' own word: it is added to it, not set in its place.

mod error;
mod knock;
mod measure;
mod probe;
mod tap;
mod tapping;

pub use error::CalibrationError;
pub use knock::knocks;
pub use measure::{PadMeasured, SoundMeasured, measure_pad, measure_sound};
pub use probe::{Delay, Probe, delay};
pub use tap::taps;
pub use tapping::Tapping;

use timebase::Seconds;

/// A length of time with how it lies to something else: later than it, or earlier.
///
/// ```
/// use timebase::Seconds;
/// let says = |micros| live::calibration::to_either_side(Seconds::from_micros(micros), 2, ["later", "earlier"]);
/// assert_eq!(says(21_330), "21.33 ms later");
/// assert_eq!(says(-21_330), "21.33 ms earlier");
/// ```
#[must_use]
pub fn to_either_side(length: Seconds, decimals: usize, [later, earlier]: [&str; 2]) -> String {
    let side = if length < Seconds::ZERO { earlier } else { later };
    format!("{:.decimals$} ms {side}", length.abs().as_millis_f64())
}

/// From this delay on, over what the driver tells, a speaker is taken for a wireless one. Converters and a system's mixer add
/// some milliseconds that no driver tells, seldom 30; radio links add 100 to 300 ms, the quickest about 40 (common
/// practice, no source).
pub const WIRELESS: Seconds = Seconds::from_millis(40);

/// Whether a loop so late has a radio link in it, most likely.
#[must_use]
pub fn is_wireless(late: Seconds) -> bool {
    late >= WIRELESS
}

/// A delay found from single ones: their median, and how sure it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Typical {
    /// The median.
    pub median: Seconds,
    /// How far the single ones stand from it: 1.4826 times their median distance, which for a bell curve is its standard
    /// deviation.
    pub scatter: Seconds,
    /// The standard error of the median: 1.2533 times the scatter by the root of the number (for a bell curve).
    pub uncertainty: Seconds,
    /// How many there were.
    pub count: usize,
}

impl Typical {
    /// Of these delays; `None` of fewer than `least`.
    #[must_use]
    pub fn of(delays: &[Seconds], least: usize) -> Option<Self> {
        if delays.len() < least.max(1) {
            return None;
        }
        let median = middle(delays.iter().map(|delay| delay.as_nanos()).collect());
        let distance = middle(delays.iter().map(|delay| (delay.as_nanos() - median).abs()).collect());
        let scatter = 1.4826 * distance as f64;
        let uncertainty = 1.2533 * scatter / (delays.len() as f64).sqrt();
        let nanos = |nanos: f64| Seconds::from_secs_f64(nanos / 1e9);
        Some(Self {
            median: Seconds::from_nanos(median),
            scatter: nanos(scatter),
            uncertainty: nanos(uncertainty),
            count: delays.len(),
        })
    }
}

/// The middle one, or the mean of the two middle ones; at least one is given.
fn middle(mut values: Vec<i64>) -> i64 {
    values.sort_unstable();
    let half = values.len() / 2;
    if values.len() % 2 == 1 { values[half] } else { (values[half - 1] + values[half]) / 2 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_typical_delay_is_the_median_and_leaves_the_stray_ones_out() {
        let delays = [7, 8, 9, 10, 500].map(Seconds::from_millis);
        let typical = Typical::of(&delays, 5).expect("enough");
        assert_eq!((typical.median, typical.count), (Seconds::from_millis(9), 5));
        // Distances 2, 1, 0, 1, 491: their median is 1.
        assert_eq!(typical.scatter.as_micros(), 1_483);
        assert_eq!(typical.uncertainty.as_micros(), 831);
        assert_eq!(Typical::of(&delays, 6), None);
        assert_eq!(Typical::of(&[], 0), None);
        assert_eq!(Typical::of(&delays[..2], 1).expect("enough").median.as_micros(), 7_500);
    }

    #[test]
    fn radio_is_told_by_its_size() {
        let check = |ms, expected| assert_eq!(is_wireless(Seconds::from_millis(ms)), expected, "{ms} ms");
        check(-5, false);
        check(12, false);
        check(39, false);
        check(40, true);
        check(220, true);
    }
}
