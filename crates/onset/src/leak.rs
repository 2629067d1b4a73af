//! What a loudspeaker left in a recording, where it is known what it played.
//!
//! The way from the loudspeaker's input to the microphone is taken for a linear filter. It is found by the method of
//! cross-spectra (the cross-spectrum of both, added up over some seconds, divided by the power of the one that is
//! known; Bendat & Piersol, *Random Data*). The player's strokes are not
//! coherent with what was played, however well they keep time with it, and average out. The filter gives what was
//! heard of the loudspeaker. Only its energy is used, and it is raised to the energy that is there: clocks that drift
//! apart smear the filter and make it too weak.

use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use timebase::{SampleRate, Seconds};

use crate::bands::{Bands, Lens, frames, narrow, sane};

/// The loudspeaker may be heard so much before it played, where latencies were taken out too well …
const EARLY: Seconds = Seconds::from_millis(50);
/// … and so much behind.
const LATE: Seconds = Seconds::from_millis(300);
/// The direct sound and the first reflections; what comes later only fades.
const RESPONSE: Seconds = Seconds::from_millis(60);
/// The direct sound begins so much before its greatest moment.
const FOOT: Seconds = Seconds::from_millis(2);
/// The response is looked at in moments of this length.
const MOMENT: Seconds = Seconds::from_millis(1);
/// A pitch at which so little was played (30 dB below the most) says nothing.
const LEAST_PLAYED: f32 = 1e-3;
/// A filter is found for each so much of what was played: two clocks that are 50 millionths apart drift by 0.4 ms.
const PIECE: Seconds = Seconds::from_millis(8_000);
/// The loudspeaker is strong where it has this share of the most it has (10 dB below).
const STRONG: f32 = 0.1;
/// Drift makes a filter weaker by no more than this (9 dB).
const MOST_WEAKNESS: f32 = 8.0;
/// The loudspeaker is heard where the response has a moment this many times as strong as half of all others are …
const STANDS_OUT: f32 = 16.0;
/// … and what is weaker than so many times that is chance.
const ABOVE_CHANCE: f32 = 4.0;
/// What was heard may be this much more than was reckoned (6 dB) …
const MARGIN: f32 = 4.0;
/// … this much earlier or later …
const SPREAD: Seconds = Seconds::from_millis(5);
/// … and it fades in a room: by 60 dB in so long (a furnished classroom has half a second).
const FADES: Seconds = Seconds::from_millis(500);

/// What is heard of a loudspeaker, reckoned in two ways.
pub(crate) struct Heard {
    /// What was played, after the filter.
    filtered: Vec<f32>,
    /// What was played, as late and as loud as it is heard on the whole: for pitches at which too little was played
    /// to find a filter.
    pub(crate) plain: Vec<f32>,
}

/// What is heard of `reference` in `samples`; `None` where nothing is.
pub(crate) fn heard(samples: &[f32], reference: &[f32], rate: SampleRate) -> Option<Heard> {
    let way = Way::new(rate);
    let piece = frames(PIECE, rate).div_ceil(way.block) * way.block;
    let starts = || (0..reference.len()).step_by(piece);
    let mut responses: Vec<Option<Response>> =
        starts().map(|start| way.response(samples, reference, start..start + piece)).collect();
    // Where too little was played the filter of the piece before holds, and of the first that has one before that.
    let mut known = responses.iter().flatten().next()?.clone();
    for response in &mut responses {
        match response {
            Some(response) => known = response.clone(),
            None => *response = Some(known.clone()),
        }
    }
    let mut heard = Heard { filtered: vec![0.0; samples.len()], plain: vec![0.0; samples.len()] };
    for (start, response) in starts().zip(responses.iter().flatten()) {
        let played = &reference[start..(start + piece).min(reference.len())];
        way.send(played, start, response, &mut heard);
    }
    Some(heard)
}

/// Takes the energy of what was `heard` out of `bands`, with what may be wrong about it, and makes what is plainly heard
/// as loud as it is there.
pub(crate) fn take_out(bands: &mut Bands, heard: &mut Heard, lens: &Lens, rate: SampleRate) {
    let (filtered, plain) = (lens.look(&heard.filtered), lens.look(&heard.plain));
    let spread = lens.steps(SPREAD, rate);
    let weakness = weakness(bands, &plain);
    let margin = MARGIN * weakness;
    heard.plain.iter_mut().for_each(|sample| *sample *= weakness.sqrt());
    let fade = 10_f64.powf(-6.0 / f64::from(u32::try_from(lens.steps(FADES, rate)).unwrap_or(u32::MAX)));
    let fade = narrow(fade);
    let mut fading = vec![0.0_f32; lens.count()];
    for step in 0..bands.steps() {
        for fading in &mut fading {
            *fading *= fade;
        }
        for near in step.saturating_sub(spread)..=step + spread {
            for (fading, (&one, &other)) in
                fading.iter_mut().zip(filtered.at(near).iter().zip(plain.at(near)))
            {
                *fading = fading.max(one).max(other);
            }
        }
        for (energy, fading) in bands.at_mut(step).iter_mut().zip(&fading) {
            *energy = (*energy - margin * fading).max(0.0);
        }
    }
}

/// How many times as strong as reckoned the loudspeaker is where it is strong: what a quarter of those steps stay
/// below, for on many of them the player strikes as well.
fn weakness(bands: &Bands, plain: &Bands) -> f32 {
    let sum = |bands: &Bands, step| bands.at(step).iter().sum::<f32>();
    let most = (0..plain.steps()).map(|step| sum(plain, step)).fold(0.0, f32::max);
    let strong = (0..bands.steps()).filter(|&step| sum(plain, step) > STRONG * most);
    let mut ratios: Vec<f32> = strong.map(|step| sum(bands, step) / sum(plain, step)).collect();
    ratios.sort_by(f32::total_cmp);
    ratios.get(ratios.len() / 4).map_or(1.0, |ratio| ratio.clamp(1.0, MOST_WEAKNESS))
}

/// A filter that the loudspeaker and the room are.
#[derive(Clone)]
struct Response {
    /// Frames to its greatest moment, counted from [`EARLY`] before what was played.
    late: usize,
    /// How much weaker what was played is behind it, as an amplitude.
    gain: f32,
    /// Its spectrum, its first tap [`EARLY`] before what was played.
    spectrum: Vec<Complex<f32>>,
}

/// The way from what was played to what was recorded, in blocks.
struct Way {
    forward: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
    /// Frames of a block of what was played: half a transform, so that nothing wraps around.
    block: usize,
    early: usize,
    late: usize,
    response: usize,
    foot: usize,
    moment: usize,
}

impl Way {
    fn new(rate: SampleRate) -> Self {
        let reach = |length| frames(length, rate);
        let (early, late, response) = (reach(EARLY), reach(LATE), reach(RESPONSE));
        let block = (early + late + response).next_power_of_two();
        let mut planner = RealFftPlanner::new();
        Self {
            forward: planner.plan_fft_forward(2 * block),
            back: planner.plan_fft_inverse(2 * block),
            block,
            early,
            late,
            response,
            foot: reach(FOOT),
            moment: reach(MOMENT),
        }
    }

    /// The filter from what was `played` in these frames to what was recorded; `None` where nothing of it stands out.
    fn response(&self, samples: &[f32], reference: &[f32], played: Range<usize>) -> Option<Response> {
        let bins = self.block + 1;
        let (mut cross, mut power) = (vec![Complex::<f32>::default(); bins], vec![0.0_f32; bins]);
        let until = played.end.min(reference.len());
        for start in (played.start..until).step_by(self.block) {
            let played = &reference[start..(start + self.block).min(until)];
            if played.iter().all(|&sample| sane(sample) == 0.0) {
                continue;
            }
            let played = self.spectrum(played.iter().copied(), 0);
            let (first, lead) = (start.saturating_sub(self.early), self.early.saturating_sub(start));
            let recorded = samples.get(first..).unwrap_or(&[]);
            let recorded = self.spectrum(recorded.iter().copied().take(2 * self.block - lead), lead);
            for (bin, (played, recorded)) in played.iter().zip(&recorded).enumerate() {
                cross[bin] += played.conj() * recorded;
                power[bin] += played.norm_sqr();
            }
        }
        let most = power.iter().copied().fold(0.0, f32::max);
        if most <= 0.0 || !most.is_finite() {
            return None;
        }
        for (cross, power) in cross.iter_mut().zip(&power) {
            *cross /= power + LEAST_PLAYED * most;
        }
        let (late, taps) = self.standing_out(&self.sound(cross))?;
        let spectrum = self.spectrum(taps.into_iter(), 0);
        let through: f32 = spectrum.iter().zip(&power).map(|(bin, power)| bin.norm_sqr() * power).sum();
        let gain = (through / power.iter().sum::<f32>()).sqrt();
        Some(Response { late, gain, spectrum })
    }

    /// Where a response has its greatest moment, and what is about it, chance taken off.
    fn standing_out(&self, response: &[f32]) -> Option<(usize, Vec<f32>)> {
        let searched = &response[..self.early + self.late + self.response];
        let moments: Vec<f32> =
            searched.chunks(self.moment).map(|moment| moment.iter().map(|tap| tap * tap).sum()).collect();
        let mut sorted = moments.clone();
        sorted.sort_by(f32::total_cmp);
        let chance = sorted[sorted.len() / 2];
        let last = (self.early + self.late) / self.moment;
        let (greatest, &energy) =
            moments[..last].iter().enumerate().max_by(|(_, one), (_, other)| one.total_cmp(other))?;
        if energy <= STANDS_OUT * chance {
            return None;
        }
        let from = (greatest * self.moment).saturating_sub(self.foot);
        let until = (greatest * self.moment + self.response).min(searched.len());
        let taps = searched.iter().enumerate().map(|(index, &tap)| {
            let sure = moments[index / self.moment] > ABOVE_CHANCE * chance;
            if sure && (from..until).contains(&index) { tap } else { 0.0 }
        });
        Some((greatest * self.moment, taps.collect()))
    }

    /// Adds what was `played` from frame `start` on, after the filter: block by block, their tails added up.
    fn send(&self, played: &[f32], start: usize, response: &Response, heard: &mut Heard) {
        let add = |sound: &mut [f32], at: usize, sample: f32| {
            if let Some(place) = at.checked_sub(self.early).and_then(|at| sound.get_mut(at)) {
                *place += sample;
            }
        };
        for (index, block) in played.chunks(self.block).enumerate() {
            let mut spectrum = self.spectrum(block.iter().copied(), 0);
            for (bin, filter) in spectrum.iter_mut().zip(&response.spectrum) {
                *bin *= filter;
            }
            for (offset, sample) in self.sound(spectrum).into_iter().enumerate() {
                add(&mut heard.filtered, start + index * self.block + offset, sample);
            }
        }
        for (offset, &sample) in played.iter().enumerate() {
            add(&mut heard.plain, start + offset + response.late, response.gain * sane(sample));
        }
    }

    /// The spectrum of up to two blocks of samples behind so many frames of silence.
    fn spectrum(&self, samples: impl Iterator<Item = f32>, lead: usize) -> Vec<Complex<f32>> {
        let (mut input, mut output) = (self.forward.make_input_vec(), self.forward.make_output_vec());
        for (place, sample) in input.iter_mut().skip(lead).zip(samples) {
            *place = sane(sample);
        }
        if self.forward.process(&mut input, &mut output).is_err() {
            // Only lengths can be wrong, and they are the transform's own: then nothing is heard.
            output.fill(Complex::default());
        }
        output
    }

    /// The sound of a spectrum.
    fn sound(&self, mut spectrum: Vec<Complex<f32>>) -> Vec<f32> {
        let mut output = self.back.make_output_vec();
        // These two bins of a real sound are real.
        if let Some(first) = spectrum.first_mut() {
            first.im = 0.0;
        }
        if let Some(last) = spectrum.last_mut() {
            last.im = 0.0;
        }
        if self.back.process(&mut spectrum, &mut output).is_err() {
            output.fill(0.0);
        }
        let scale = 1.0 / (2 * self.block) as f32;
        output.iter_mut().for_each(|sample| *sample *= scale);
        output
    }
}
