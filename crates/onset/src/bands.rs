use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use timebase::{Frames, SampleRate, Seconds};

/// Between one look at the recording and the next.
const STEP: Seconds = Seconds::from_micros(2_500);
/// A look takes in at least so much: short enough that the rise of a stroke fills it at once, long enough to tell
/// bands of 400 Hz and more apart.
const LOOK: Seconds = Seconds::from_millis(8);
/// The lowest band begins here: below lie the room's hum, steps and the voice's lowest partials.
const LOWEST_HZ: f64 = 400.0;
/// The highest ends here, or a little below half the sample rate.
const HIGHEST_HZ: f64 = 16_000.0;
/// Bands between the two, each as much wider than the one below as its pitch is higher.
const BANDS: i32 = 18;
/// From here on a stroke has much and a vowel little.
pub(crate) const BRIGHT_HZ: f64 = 2_000.0;

/// A number from outside made one that can be reckoned with: what is none is silence, and nothing is louder than
/// 24 dB above full scale.
pub(crate) fn sane(sample: f32) -> f32 {
    if sample.is_finite() { sample.clamp(-16.0, 16.0) } else { 0.0 }
}

/// Looks through windows at a recording: how long they are, how far apart, and which bins make which band.
pub(crate) struct Lens {
    pub(crate) step: usize,
    window: Vec<f32>,
    scale: f32,
    bands: Vec<Range<usize>>,
    /// The first band from [`BRIGHT_HZ`] on.
    pub(crate) bright: usize,
    transform: Arc<dyn RealToComplex<f32>>,
}

impl Lens {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let length = frames(LOOK, rate).next_power_of_two();
        // Hann's window.
        let turn = std::f64::consts::TAU / length as f64;
        let window: Vec<f32> = (0..length).map(|i| narrow(0.5 - 0.5 * (turn * i as f64).cos())).collect();
        let power: f32 = window.iter().map(|w| w * w).sum();
        let bin_hz = f64::from(rate.hz()) / length as f64;
        let top = HIGHEST_HZ.min(0.45 * f64::from(rate.hz()));
        let edge =
            |band: i32| bin(LOWEST_HZ * (top / LOWEST_HZ).powf(f64::from(band) / f64::from(BANDS)), bin_hz);
        let bands: Vec<Range<usize>> =
            (0..BANDS).map(|band| edge(band)..edge(band + 1)).filter(|band| !band.is_empty()).collect();
        let bright = bands.iter().position(|band| band.start as f64 * bin_hz >= BRIGHT_HZ).unwrap_or(0);
        Self {
            step: frames(STEP, rate),
            // Both halves of the spectrum: the bands then add up to the mean square within the window.
            scale: 2.0 / (power * length as f32),
            window,
            bands,
            bright,
            transform: RealFftPlanner::new().plan_fft_forward(length),
        }
    }

    /// How many bands there are.
    pub(crate) fn count(&self) -> usize {
        self.bands.len()
    }

    /// So many looks the length of time takes.
    pub(crate) fn steps(&self, length: Seconds, rate: SampleRate) -> usize {
        frames(length, rate).div_ceil(self.step)
    }

    /// The energy in each band about every step: the first look is centred on the first frame. Beyond the ends the
    /// recording stands still at its last value, so that a constant is silence everywhere.
    pub(crate) fn look(&self, samples: &[f32]) -> Bands {
        let steps = samples.len().div_ceil(self.step);
        let mut energy = Vec::with_capacity(steps * self.bands.len());
        let mut input = self.transform.make_input_vec();
        let mut output = self.transform.make_output_vec();
        let mut scratch = self.transform.make_scratch_vec();
        for at in 0..steps {
            self.fill(samples, at * self.step, &mut input);
            if self.transform.process_with_scratch(&mut input, &mut output, &mut scratch).is_err() {
                // Only lengths can be wrong, and they are the transform's own: then nothing is heard.
                output.fill(Complex::default());
            }
            let band = |bins: &Range<usize>| output[bins.clone()].iter().map(Complex::norm_sqr).sum::<f32>();
            energy.extend(self.bands.iter().map(|bins| band(bins) * self.scale));
        }
        Bands { count: self.bands.len(), energy }
    }

    /// The windowed samples about frame `middle`, without their mean.
    fn fill(&self, samples: &[f32], middle: usize, input: &mut [f32]) {
        let (first, last) = (samples.first().copied(), samples.last().copied());
        let half = self.window.len() / 2;
        for (offset, place) in input.iter_mut().enumerate() {
            let sample = match (middle + offset).checked_sub(half) {
                Some(index) => samples.get(index).copied().or(last),
                None => first,
            };
            *place = sane(sample.unwrap_or(0.0));
        }
        let mean = input.iter().sum::<f32>() / input.len().max(1) as f32;
        for (place, weight) in input.iter_mut().zip(&self.window) {
            *place = (*place - mean) * weight;
        }
    }
}

/// The energy of a recording (mean square, full scale being 1) by band and step.
pub(crate) struct Bands {
    count: usize,
    energy: Vec<f32>,
}

impl Bands {
    /// How many steps there are.
    pub(crate) fn steps(&self) -> usize {
        self.energy.len() / self.count.max(1)
    }

    /// The bands at a step, the lowest first; none beyond the ends.
    pub(crate) fn at(&self, step: usize) -> &[f32] {
        self.energy.get(step * self.count..(step + 1) * self.count).unwrap_or(&[])
    }

    /// The bands at a step, to be changed.
    pub(crate) fn at_mut(&mut self, step: usize) -> &mut [f32] {
        self.energy.get_mut(step * self.count..(step + 1) * self.count).unwrap_or(&mut [])
    }
}

/// So long in frames, at least one.
pub(crate) fn frames(length: Seconds, rate: SampleRate) -> usize {
    usize::try_from(Frames::of(length, rate).count()).unwrap_or(0).max(1)
}

/// The first bin at or above a pitch.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a pitch within the spectrum")]
fn bin(hz: f64, bin_hz: f64) -> usize {
    (hz / bin_hz).ceil() as usize
}

#[expect(clippy::cast_possible_truncation, reason = "an f32 holds more of a sample than an ear")]
pub(crate) fn narrow(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bands_add_up_to_the_mean_square_at_any_rate() {
        for hz in [8_000, 22_050, 44_100, 48_000, 96_000, 192_000] {
            let rate = SampleRate::new(hz).expect("in range");
            let lens = Lens::new(rate);
            assert!(lens.count() >= 10 && lens.bright > 0, "{hz}: {} bands", lens.count());
            // A sine of 1,500 Hz at half of full scale on top of a constant: a mean square of 1/8.
            let turn = std::f64::consts::TAU * 1_500.0 / f64::from(hz);
            let sound: Vec<f32> =
                (0..hz / 2).map(|i| narrow(0.25 + 0.5 * (turn * f64::from(i)).sin())).collect();
            let bands = lens.look(&sound);
            let sum: f32 = bands.at(bands.steps() / 2).iter().sum();
            assert!((sum - 0.125).abs() < 0.006, "{hz}: {sum}");
        }
    }

    #[test]
    fn a_constant_is_silence() {
        let bands = Lens::new(SampleRate::HZ_48000).look(&[0.7; 4_800]);
        assert!((0..bands.steps()).all(|step| bands.at(step).iter().all(|&energy| energy < 1e-10)));
    }
}
