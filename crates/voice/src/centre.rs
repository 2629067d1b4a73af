use timebase::{SampleRate, Seconds};

use crate::Vowel;
use crate::filter::{Filter, Order};

/// What three published estimators, and one that checks them, say of a recording's perceptual centre, from its beginning.
///
/// | estimator | how |
/// |---|---|
/// | Cummins & Port 1998, *Journal of Phonetics* 26, appendix A | 1000 ± 300 Hz by a first-order Butterworth band-pass, rectified, smoothed by a first-order low-pass of 10 Hz; the middle between 10 and 90 % of the rise |
/// | Scott 1993 | 288 to 909 Hz by a second-order band-pass, smoothed by a first-order low-pass of 25 Hz; half of the rise (the half from memory) |
/// | Marcus 1981, *Perception & Psychophysics* 30 | 0.65 of what stands before the vowel, 0.25 of the rest, and a constant (from memory) |
///
/// None is right by itself; their median is within 10 to 20 ms of what is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Estimates {
    /// Cummins and Port's.
    pub cummins_port: Seconds,
    /// Scott's.
    pub scott: Seconds,
    /// Marcus', before [its constant](marcus_constant) is added.
    pub marcus_without_constant: Seconds,
    /// When the energy changes fastest, between 300 and 3000 Hz smoothed at 20 Hz: no part of the centre, but a check of
    /// it.
    pub fastest_change: Seconds,
}

/// The sound may begin to rise so long before the vowel: no first consonant of English is much longer.
const RISE_BEFORE_VOWEL: Seconds = Seconds::from_millis(160);
/// The top of the rise is looked for from so long before the vowel, for boundaries are never exact,
const TOP_BEFORE_VOWEL: Seconds = Seconds::from_millis(20);
/// and up to so long into it.
const TOP_INTO_VOWEL: Seconds = Seconds::from_millis(140);
/// The fastest change is looked for from so long before the vowel,
const CHANGE_BEFORE_VOWEL: Seconds = Seconds::from_millis(80);
/// and never so long before the sound,
const CHANGE_BEFORE_SOUND: Seconds = Seconds::from_millis(20);
/// and up to so long into the vowel.
const CHANGE_INTO_VOWEL: Seconds = Seconds::from_millis(100);

impl Estimates {
    /// Estimates the centre of a recording whose vowel is known, or was [found](Vowel::find).
    #[must_use]
    pub fn of(frames: &[f32], rate: SampleRate, vowel: &Vowel) -> Self {
        let cummins_port = Envelope::of(frames, rate, (Order::First, 700.0, 1_300.0), (Order::First, 10.0));
        let scott = Envelope::of(frames, rate, (Order::Second, 288.0, 909.0), (Order::First, 25.0));
        let length = Seconds::from_secs_f64(frames.len() as f64 / f64::from(rate.hz()));
        Self {
            cummins_port: cummins_port.rise_time(vowel, &[0.1, 0.9]),
            scott: scott.rise_time(vowel, &[0.5]),
            marcus_without_constant: Self::marcus_of(vowel.begin, length),
            fastest_change: Self::fastest_change_of(frames, rate, vowel),
        }
    }

    /// The fastest change of energy alone.
    #[must_use]
    pub fn fastest_change_of(frames: &[f32], rate: SampleRate, vowel: &Vowel) -> Seconds {
        let envelope = Envelope::of(frames, rate, (Order::First, 300.0, 3_000.0), (Order::Second, 20.0));
        let from =
            vowel.syllable.max(vowel.begin - CHANGE_BEFORE_VOWEL).max(Seconds::ZERO - CHANGE_BEFORE_SOUND);
        let low = envelope.place(from);
        let high = envelope.place(vowel.end.min(vowel.begin + CHANGE_INTO_VOWEL)).max(low + 1);
        let values = envelope.values();
        let rise = |place: usize| values.get(place + 1).map_or(f64::MIN, |next| next - values[place]);
        let fastest = first_by(low..=high - 1, |a, b| rise(a) > rise(b));
        envelope.time(fastest).max(Seconds::ZERO)
    }

    /// Marcus' estimate, without its constant, of a recording of this length whose vowel begins here.
    pub(crate) fn marcus_of(vowel: Seconds, length: Seconds) -> Seconds {
        Seconds::from_secs_f64(0.65 * vowel.as_secs_f64() + 0.25 * (length - vowel).as_secs_f64())
    }

    /// Marcus' estimate with its constant; never before the beginning.
    #[must_use]
    pub fn marcus(&self, constant: Seconds) -> Seconds {
        (self.marcus_without_constant + constant).max(Seconds::ZERO)
    }

    /// The perceptual centre: the median of the three.
    #[must_use]
    pub fn centre(&self, marcus_constant: Seconds) -> Seconds {
        let mut three = [self.cummins_port, self.scott, self.marcus(marcus_constant)];
        three.sort_unstable();
        three[1]
    }
}

/// Marcus' constant for recordings of one voice at one speed: with it, his estimator agrees with Scott's on
/// average. Nothing for no recording.
#[must_use]
pub fn marcus_constant(recordings: &[Estimates]) -> Seconds {
    let sum: i64 = recordings.iter().map(|e| (e.scott - e.marcus_without_constant).as_nanos()).sum();
    i64::try_from(recordings.len())
        .ok()
        .filter(|&count| count > 0)
        .map_or(Seconds::ZERO, |count| Seconds::from_nanos(sum / count))
}

/// The rectified and smoothed sound of one band, with silence set before and after so that the filters settle.
#[derive(Clone, Debug)]
pub(crate) struct Envelope {
    values: Vec<f64>,
    rate_hz: f64,
}

/// Silence before and after, in seconds.
const SETTLE_S: f64 = 0.25;

impl Envelope {
    pub(crate) fn of(
        frames: &[f32],
        rate: SampleRate,
        band: (Order, f64, f64),
        smooth: (Order, f64),
    ) -> Self {
        let rate_hz = f64::from(rate.hz());
        let silence = index(SETTLE_S * rate_hz);
        let mut values = vec![0.0; silence];
        values.extend(frames.iter().map(|&frame| f64::from(frame)));
        values.resize(values.len() + silence, 0.0);
        let (order, low_hz, high_hz) = band;
        Filter::band(order, low_hz, high_hz, rate_hz).run_both_ways(&mut values);
        values.iter_mut().for_each(|value| *value = value.abs());
        let (order, hz) = smooth;
        Filter::low_pass(order, hz, rate_hz).run_both_ways(&mut values);
        values.iter_mut().for_each(|value| *value = value.max(0.0));
        Self { values, rate_hz }
    }

    pub(crate) fn values(&self) -> &[f64] {
        &self.values
    }

    /// The time of a value from the recording's beginning.
    pub(crate) fn time(&self, place: usize) -> Seconds {
        Seconds::from_secs_f64(place as f64 / self.rate_hz - SETTLE_S)
    }

    /// The place of a time, within the values.
    fn place(&self, time: Seconds) -> usize {
        index((SETTLE_S + time.as_secs_f64()) * self.rate_hz).min(self.values.len().saturating_sub(1))
    }

    /// The mean of the times at which these shares of the rise into the vowel are first reached; not before 0.
    ///
    /// The top is the greatest value in the vowel's first part, the foot the least value before it.
    fn rise_time(&self, vowel: &Vowel, shares: &[f64]) -> Seconds {
        let first = self.place(vowel.syllable.max(vowel.begin - RISE_BEFORE_VOWEL));
        let low = self.place(vowel.begin - TOP_BEFORE_VOWEL).max(first);
        let high = self.place(vowel.end.min(vowel.begin + TOP_INTO_VOWEL)).max(low);
        let at = |place: usize| self.values[place];
        let top = first_by(low..=high, |a, b| at(a) > at(b));
        let foot = first_by(first..=top, |a, b| at(a) < at(b));
        let reached = |share: f64| {
            let level = at(foot) + share * (at(top) - at(foot));
            (foot..=top).find(|&place| at(place) >= level).unwrap_or(top)
        };
        let times = shares.iter().map(|&share| self.time(reached(share)).as_secs_f64());
        Seconds::from_secs_f64(times.sum::<f64>() / shares.len() as f64).max(Seconds::ZERO)
    }
}

/// The first place that no other beats.
fn first_by(places: std::ops::RangeInclusive<usize>, beats: impl Fn(usize, usize) -> bool) -> usize {
    let start = *places.start();
    places.fold(start, |best, place| if beats(place, best) { place } else { best })
}

/// A time in frames, rounded down and never negative, as a place in memory.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a float cast saturates, at 0 below"
)]
fn index(frames: f64) -> usize {
    frames as usize
}
