//! The sound between the samples: what a converter makes of them, and so how high they really reach.

use std::f64::consts::PI;

use timebase::SampleRate;

/// Samples on each side that a point between two of them is made of. From [`FAST_HZ`] on meters take twice as many.
const REACH: usize = 6;
const FAST_HZ: u32 = 96_000;

/// Points between two samples: with the samples themselves four times as many as there are samples, which is what
/// ITU-R BS.1770 (annex 2) asks of a true-peak meter below 96 kHz; above it is more than is asked.
const POINTS: usize = 3;

/// Peaks are reckoned for so many samples in one go, so that the compiler makes vectors of them.
const RUN: usize = 64;

/// Finds the greatest amplitude in and between samples, by a sinc of twelve samples under a Hann window.
#[derive(Clone, Debug)]
pub(crate) struct Between {
    reach: usize,
    points: [Box<[f32]>; POINTS],
    /// The greatest amplitude between samples that lie within ±1.
    most: f32,
}

impl Between {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let reach = if rate.hz() < FAST_HZ { REACH } else { 2 * REACH };
        let mut points = [(); POINTS].map(|()| vec![0.0; 2 * reach].into_boxed_slice());
        let mut most = 1.0_f64;
        for (point, part) in points.iter_mut().zip(1_u8..) {
            let mut sum = 0.0;
            for (tap, sample) in point.iter_mut().zip(0_u8..) {
                // From the point to this sample, in samples; never a whole number.
                let away = f64::from(sample) - (reach - 1) as f64 - f64::from(part) / (POINTS + 1) as f64;
                let window = 0.5 * (1.0 + (PI * away / reach as f64).cos());
                let value = window * (PI * away).sin() / (PI * away);
                sum += value.abs();
                *tap = narrowed(value);
            }
            most = most.max(sum);
        }
        // A little more than it is, so that rounding cannot matter.
        Self { reach, points, most: narrowed(most * 1.000_1) }
    }

    /// Samples before the first of the two that a point lies between, that have a part in it.
    pub(crate) const fn before(&self) -> usize {
        self.reach - 1
    }

    /// Samples after the first of the two.
    pub(crate) const fn after(&self) -> usize {
        self.reach
    }

    /// How high sound can reach whose samples reach `peak`.
    pub(crate) fn bound(&self, peak: f32) -> f32 {
        peak * self.most
    }

    /// Raises each of `peaks` to the greatest amplitude from one sample to the next, both included. The first is that
    /// of the sample with [`Between::before`] before it; there are so many samples more than peaks and
    /// [`Between::after`].
    /// Stretches in which nothing can be higher than `from` are passed over.
    ///
    /// Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn raise(&self, samples: &[f32], peaks: &mut [f32], from: f32) {
        for (number, peaks) in peaks.chunks_mut(RUN).enumerate() {
            let Some(samples) = samples.get(number * RUN..) else { return };
            let heard = samples.iter().take(peaks.len() + self.before() + self.after());
            if self.bound(heard.fold(0.0_f32, |most, sample| most.max(sample.abs()))) <= from {
                continue;
            }
            for (peak, pair) in peaks.iter_mut().zip(samples[self.before()..].windows(2)) {
                *peak = peak.max(pair[0].abs()).max(pair[1].abs());
            }
            for point in &self.points {
                let mut sums = [0.0_f32; RUN];
                for (tap, samples) in point.iter().zip(samples.windows(peaks.len())) {
                    for (sum, sample) in sums.iter_mut().zip(samples) {
                        *sum += tap * sample;
                    }
                }
                for (peak, sum) in peaks.iter_mut().zip(sums) {
                    *peak = peak.max(sum.abs());
                }
            }
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a filter's coefficient is one of single precision")]
fn narrowed(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sine of a quarter of the rate whose samples all lie 45° beside its peaks, so that they reach 0.7071 of it:
    /// the case that ITU-R BS.1770 names.
    #[test]
    fn a_peak_between_the_samples_is_found() {
        let between = Between::new(SampleRate::HZ_48000);
        let sine: Vec<f32> =
            (0..64_u8).map(|n| ((f32::from(n) + 0.5) * std::f32::consts::FRAC_PI_2).sin()).collect();
        let mut peaks = [0.0; 64 - 11];
        between.raise(&sine, &mut peaks, 0.0);
        assert!(sine.iter().all(|sample| sample.abs() < 0.7072));
        // Every second interval has a peak.
        assert!(peaks.windows(2).all(|pair| (0.99..1.01).contains(&pair[0].max(pair[1]))), "{peaks:?}");
    }

    #[test]
    fn no_peak_is_higher_than_the_bound() {
        for hz in [48_000, 96_000] {
            let between = Between::new(SampleRate::new(hz).expect("in range"));
            // Signs that make the most of the middle point.
            let worst: Vec<f32> = between.points[1].iter().map(|tap| tap.signum()).collect();
            let mut peak = [0.0];
            between.raise(&worst, &mut peak, 0.0);
            assert!(peak[0] > 1.5 && peak[0] <= between.bound(1.0), "{peak:?}, {}", between.bound(1.0));
        }
    }
}
