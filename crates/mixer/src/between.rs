//! The sound between the samples: what a converter makes of them, and so how high they really reach.

use std::f64::consts::PI;

use timebase::SampleRate;

/// Samples on each side that a point between two of them is made of. From [`FAST_HZ`] on meters take twice as many, and below
/// [`SLOW_HZ`] they are needed, for there sound goes up to half the rate.
const REACH: usize = 6;
const FAST_HZ: u32 = 96_000;
const SLOW_HZ: u32 = 44_100;

/// Points between two samples: with the samples themselves four times as many as there are samples, which is what
/// ITU-R BS.1770 (annex 2) asks of a true-peak meter at 48 kHz; above it is more than is asked.
const POINTS: usize = 3;

/// What it asks for as frames a second, which at rates below [`SLOW_HZ`] are more points.
const METER_HZ: u32 = 192_000;

/// Peaks are reckoned for so many samples in one go, so that the compiler makes vectors of them.
const RUN: usize = 64;

/// Finds the greatest amplitude in and between samples, by a sinc of twelve samples or 24 under a Hann window.
#[derive(Clone, Debug)]
pub(crate) struct Between {
    reach: usize,
    points: Box<[Box<[f32]>]>,
    /// The greatest amplitude between samples that lie within ±1.
    most: f32,
}

impl Between {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let finer = usize::try_from(METER_HZ.div_ceil(rate.hz())).map_or(0, |times| times.saturating_sub(1));
        // How many points, of how many samples on each side. At low rates meters that know nothing of them count too.
        let (reach, sets) = match rate.hz() {
            FAST_HZ.. => (2 * REACH, vec![(POINTS, 2 * REACH)]),
            SLOW_HZ.. => (REACH, vec![(POINTS, REACH)]),
            _ => (2 * REACH, vec![(POINTS, REACH), (finer, 2 * REACH)]),
        };
        let points: Box<[Box<[f32]>]> = sets
            .into_iter()
            .flat_map(|(many, of)| {
                (1..=many).map(move |part| point(part as f64 / (many + 1) as f64, of, reach))
            })
            .collect();
        let sums = points.iter().map(|point| point.iter().map(|tap| f64::from(tap.abs())).sum::<f64>());
        // A little more than it is, so that rounding cannot matter.
        let most = narrowed(sums.fold(1.0, f64::max) * 1.000_1);
        Self { reach, points, most }
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
            let heard = samples.len().min(peaks.len() + self.before() + self.after());
            if self.bound(loudest(&samples[..heard])) <= from {
                continue;
            }
            for (peak, pair) in peaks.iter_mut().zip(samples[self.before()..].windows(2)) {
                *peak = peak.max(pair[0].abs()).max(pair[1].abs());
            }
            for point in &*self.points {
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

/// The greatest amplitude of these samples; what is no number counts for nothing.
///
/// In eight lanes, of which the compiler makes vectors: one after the other, each sample would wait for the one before.
/// Real-time: no allocation, lock, I/O or panic.
pub(crate) fn loudest(samples: &[f32]) -> f32 {
    let louder = |most: f32, sample: f32| if sample > most { sample } else { most };
    let (runs, rest) = samples.as_chunks::<8>();
    let mut lanes = [0.0_f32; 8];
    for run in runs {
        for (most, sample) in lanes.iter_mut().zip(run) {
            *most = louder(*most, sample.abs());
        }
    }
    lanes.iter().chain(rest).fold(0.0, |most, sample| louder(most, sample.abs()))
}

/// What each of `room` samples on both sides has for part in the point so far between the two in the middle, made of `reach` of
/// them on each side.
fn point(part: f64, reach: usize, room: usize) -> Box<[f32]> {
    let tap = |sample: usize| {
        // From the point to this sample, in samples; never a whole number.
        let away = sample as f64 - (room - 1) as f64 - part;
        let window = 0.5 * (1.0 + (PI * away / reach as f64).cos());
        let is_near = away.abs() < reach as f64;
        if is_near { narrowed(window * (PI * away).sin() / (PI * away)) } else { 0.0 }
    };
    (0..2 * room).map(tap).collect()
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
    fn the_loudest_sample_is_found_wherever_it_lies() {
        for length in [0, 1, 7, 8, 9, 31] {
            assert_eq!(loudest(&vec![0.0; length]), 0.0);
            for place in 0..length {
                let mut samples = vec![0.25; length];
                samples[place] = -0.5;
                if place > 0 {
                    samples[place - 1] = f32::NAN;
                }
                assert_eq!(loudest(&samples), 0.5, "{place} of {length}");
            }
        }
    }

    #[test]
    fn no_peak_is_higher_than_the_bound() {
        for hz in [8_000, 48_000, 96_000] {
            let between = Between::new(SampleRate::new(hz).expect("in range"));
            // Signs that make the most of the middle point.
            let worst: Vec<f32> =
                between.points[between.points.len() / 2].iter().map(|tap| tap.signum()).collect();
            let mut peak = [0.0];
            between.raise(&worst, &mut peak, 0.0);
            assert!(peak[0] > 1.5 && peak[0] <= between.bound(1.0), "{peak:?}, {}", between.bound(1.0));
        }
    }
}
