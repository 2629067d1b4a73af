use std::ops::Range;

use timebase::{Frame, SampleRate, Seconds};

use crate::bands::{BRIGHT_HZ, frames, narrow, sane};
use crate::stroke::Stroke;

/// How far before and behind a step's middle its stroke may begin: the look that it fills first lies up to half a look
/// before the stroke.
const BEFORE: Seconds = Seconds::from_millis(8);
const BEHIND: Seconds = Seconds::from_millis(7);
/// What sounded before is taken from so much.
const AGO: Seconds = Seconds::from_millis(8);
/// The envelope is the mean square of so much sound.
const SMOOTH: Seconds = Seconds::from_micros(500);
/// A stroke begins where its envelope has come within this of its peak (15 dB) …
const FOOT: f32 = 0.03;
/// … and lies this far above what was before (6 dB), but no later than half-way (3 dB).
const CLEAR: f32 = 4.0;
const HALF: f32 = 0.5;
/// The peak is looked for in so much sound behind the beginning.
const PEAK: Seconds = Seconds::from_millis(10);

/// Sets strokes to the frame, each seen at a step only.
pub(crate) struct Placer<'a> {
    samples: &'a [f32],
    /// What is heard of a loudspeaker, as long as `samples`.
    leaked: Option<&'a [f32]>,
    rate: SampleRate,
    bright: HighPass,
    sound: Vec<f32>,
}

impl<'a> Placer<'a> {
    pub(crate) fn new(samples: &'a [f32], leaked: Option<&'a [f32]>, rate: SampleRate) -> Self {
        Self { samples, leaked, rate, bright: HighPass::new(BRIGHT_HZ, rate), sound: Vec::new() }
    }

    /// The stroke that was seen in the look about frame `middle`.
    pub(crate) fn stroke(&mut self, middle: usize) -> Stroke {
        let rate = self.rate;
        let reach = |length| frames(length, rate);
        let smooth = reach(SMOOTH);
        let searched = middle.saturating_sub(reach(BEFORE))..(middle + reach(BEHIND)).min(self.samples.len());
        let from = searched.start.saturating_sub(reach(AGO));
        let until = (searched.end + reach(PEAK)).min(self.samples.len());
        // A click shortly before a stroke is no beginning of it, however far it stands out of the room.
        let leaked = self.leaked.map_or(0.0, |leaked| {
            self.listen(leaked, from..until);
            envelope(&self.sound, smooth).into_iter().fold(0.0, f32::max)
        });
        self.listen(self.samples, from..until);
        let envelope = envelope(&self.sound, smooth);
        let (ago, window) = (searched.start - from, searched.end - from);
        let before = envelope[..ago].iter().sum::<f32>() / ago.max(1) as f32;
        let peak = envelope[ago..window].iter().copied().fold(0.0, f32::max);
        let foot = (FOOT * peak).max((CLEAR * before.max(leaked)).min(HALF * peak));
        let begins = ago
            + envelope[ago..window]
                .iter()
                .position(|&e| e >= foot && e > 0.0)
                .unwrap_or(middle - searched.start);
        let loud = self.sound[begins.min(self.sound.len())..].iter().take(reach(PEAK));
        let loud = loud.fold(f32::MIN_POSITIVE, |loud, sample| loud.max(sample.abs()));
        let at = i64::try_from(from + begins).unwrap_or(i64::MAX);
        Stroke { at: Frame::new(at), peak_dbfs: 20.0 * f64::from(loud).log10() }
    }

    /// Makes `sound` what is bright in these frames of `samples`. The filter begins as if the first had always been there.
    fn listen(&mut self, samples: &[f32], frames: Range<usize>) {
        self.bright.rest(samples.get(frames.start).copied().map_or(0.0, sane));
        self.sound.clear();
        let bright = &mut self.bright;
        self.sound.extend(samples[frames].iter().map(|&sample| bright.pass(sane(sample))));
    }
}

/// The mean square of the `length` samples up to each.
fn envelope(sound: &[f32], length: usize) -> Vec<f32> {
    let mut sum = 0.0_f64;
    sound
        .iter()
        .enumerate()
        .map(|(index, &sample)| {
            sum += f64::from(sample).powi(2);
            if let Some(gone) = index.checked_sub(length) {
                sum -= f64::from(sound[gone]).powi(2);
            }
            narrow(sum.max(0.0) / length as f64)
        })
        .collect()
}

/// A high-pass of second order (R. Bristow-Johnson's audio equaliser cookbook, Q of 0.7).
struct HighPass {
    feed: [f32; 3],
    back: [f32; 2],
    came: [f32; 2],
    went: [f32; 2],
}

impl HighPass {
    fn new(hz: f64, rate: SampleRate) -> Self {
        let turn = std::f64::consts::TAU * hz / f64::from(rate.hz());
        let (sine, cosine) = turn.sin_cos();
        let width = sine / (2.0 * std::f64::consts::FRAC_1_SQRT_2);
        let scale = 1.0 + width;
        let feed = (1.0 + cosine) / (2.0 * scale);
        Self {
            feed: [feed, -2.0 * feed, feed].map(narrow),
            back: [-2.0 * cosine / scale, (1.0 - width) / scale].map(narrow),
            came: [0.0; 2],
            went: [0.0; 2],
        }
    }

    /// As it stands after a long constant.
    fn rest(&mut self, constant: f32) {
        self.came = [constant; 2];
        self.went = [0.0; 2];
    }

    fn pass(&mut self, sample: f32) -> f32 {
        let out = self.feed[0] * sample + self.feed[1] * self.came[0] + self.feed[2] * self.came[1]
            - self.back[0] * self.went[0]
            - self.back[1] * self.went[1];
        self.came = [sample, self.came[0]];
        self.went = [out, self.went[0]];
        out
    }
}
