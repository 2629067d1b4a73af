//! The sounds that are struck: clicks and a hand clap, made by arithmetic at any sample rate.
//!
//! Each begins on its first frame and is within 1 dB of its peak 2 ms later, so its attack is its beginning:
//! [`Struck::attack`] is 0 for all of them, and its first frame is never silent.

use std::f64::consts::TAU;

use mixer::Sample;
use timebase::{Frames, SampleRate, Seconds};

use crate::noise::Noise;

/// A struck sound.
#[derive(Clone, Debug, PartialEq)]
pub struct Struck {
    /// Its frames.
    pub sample: Sample,
    /// The frame at which it is heard to begin: what falls on the beat.
    pub attack: Frames,
    /// Its greatest amplitude in dBFS.
    pub peak_dbfs: f64,
}

/// Peak of the accented click.
const ACCENT_PEAK_DBFS: f64 = -6.0;
/// Peak of the plain click: 6 dB below the accented one (own choice).
const PLAIN_PEAK_DBFS: f64 = -12.0;
/// Peak of the clap.
const CLAP_PEAK_DBFS: f64 = -9.0;

/// The click of a felt beat: a short knock of 1000 Hz, or of 1500 Hz and 6 dB louder where it is `accented`.
///
/// Pitches between 500 and 3000 Hz cut through a room (common practice, no source); the accent is heard by
/// its pitch as well as by its level, so it survives a small loudspeaker. Peak: −12 dBFS, accented −6 dBFS.
#[must_use]
pub fn click(accented: bool, rate: SampleRate) -> Struck {
    let (pitch_hz, peak_dbfs) =
        if accented { (1_500.0, ACCENT_PEAK_DBFS) } else { (1_000.0, PLAIN_PEAK_DBFS) };
    // The octave above gives the knock its edge; 12 ms of decay make it about as loud as a count at no higher peak, and
    // keep two clicks 100 ms apart separate.
    let knock = |seconds: f64| {
        let wave = (TAU * pitch_hz * seconds).sin() + 0.4 * (2.0 * TAU * pitch_hz * seconds).sin();
        wave * (-seconds / 0.012).exp()
    };
    // The sine is begun one frame late, so that its first frame is already above nothing.
    let first = 1.0 / f64::from(rate.hz());
    finish(&sampled(0.060, rate, |seconds| knock(seconds + first)), rate, peak_dbfs)
}

/// A hand clap: the palms meet with a knock about 1.1 and 2.2 kHz, and noise of the same colour follows it and
/// comes once more, softer, as they close. Peak −9 dBFS; within 1 dB of it in the first 2 ms.
#[must_use]
pub fn clap(rate: SampleRate) -> Struck {
    let mut noise = Noise::new();
    let burst = |seconds: f64| {
        let closing = if seconds < 0.011 { 0.0 } else { 0.5 * (-(seconds - 0.011) / 0.025).exp() };
        (-seconds / 0.008).exp() + closing
    };
    // A knock of one frame is as strong as its share of a second, noise as the root of it.
    let share = f64::from(rate.hz()) / 48_000.0;
    let excitation = sampled(0.180, rate, |seconds| {
        if seconds == 0.0 { 16.0 * share } else { 4.0 * share.sqrt() * burst(seconds) * noise.next() }
    });
    let low = Resonance::new(1_100.0, 2.0, rate).ring(&excitation);
    let high = Resonance::new(2_200.0, 2.0, rate).ring(&excitation);
    let mut sum: Vec<f64> = low.iter().zip(&high).map(|(low, high)| low + 0.6 * high).collect();
    // Bent so that no later gust of the noise is louder than the knock, wherever the noise has its gusts.
    let knock =
        sum.iter().take(count(0.001, rate)).fold(f64::MIN_POSITIVE, |peak, frame| peak.max(frame.abs()));
    sum.iter_mut().for_each(|frame| *frame = (1.5 * *frame / knock).tanh());
    finish(&sum, rate, CLAP_PEAK_DBFS)
}

/// So many seconds in frames, rounded down.
fn count(seconds: f64, rate: SampleRate) -> usize {
    let frames = Frames::of(Seconds::from_secs_f64(seconds), rate).count();
    usize::try_from(frames).unwrap_or(0)
}

/// A function of time in seconds, at each frame.
pub(crate) fn sampled(seconds: f64, rate: SampleRate, mut wave: impl FnMut(f64) -> f64) -> Vec<f64> {
    let hz = f64::from(rate.hz());
    (0_u32..).map(|frame| f64::from(frame) / hz).take_while(|&time| time < seconds).map(&mut wave).collect()
}

/// Sets the peak, and lets the last 10 ms fall to nothing.
pub(crate) fn finish(frames: &[f64], rate: SampleRate, peak_dbfs: f64) -> Struck {
    let peak = frames.iter().fold(f64::MIN_POSITIVE, |peak, frame| peak.max(frame.abs()));
    let gain = 10_f64.powf(peak_dbfs / 20.0) / peak;
    let fade = 0.010 * f64::from(rate.hz());
    let to_go = (0..frames.len()).rev().map(|left| (left as f64 / fade).min(1.0));
    #[expect(
        clippy::cast_possible_truncation,
        reason = "sound is heard, and an f32 holds more of it than an ear"
    )]
    let data: Vec<f32> =
        frames.iter().zip(to_go).map(|(frame, share)| (frame * gain * share) as f32).collect();
    let sample = Sample::new(data).expect("a decaying sound is finite");
    Struck { sample, attack: Frames::ZERO, peak_dbfs }
}

/// A band-pass of one resonance (R. Bristow-Johnson's audio equaliser cookbook, constant peak gain). It rings at
/// once: its first frame is a share of the first frame of what excites it.
pub(crate) struct Resonance {
    feed: f64,
    back: [f64; 2],
}

impl Resonance {
    pub(crate) fn new(pitch_hz: f64, quality: f64, rate: SampleRate) -> Self {
        let turn = TAU * pitch_hz / f64::from(rate.hz());
        let width = turn.sin() / (2.0 * quality);
        let scale = 1.0 + width;
        Self { feed: width / scale, back: [-2.0 * turn.cos() / scale, (1.0 - width) / scale] }
    }

    pub(crate) fn ring(&self, excitation: &[f64]) -> Vec<f64> {
        let (mut before, mut out) = ([0.0; 2], [0.0; 2]);
        excitation
            .iter()
            .map(|&now| {
                let rung = self.feed * (now - before[1]) - self.back[0] * out[0] - self.back[1] * out[1];
                before = [now, before[0]];
                out = [rung, out[0]];
                rung
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sounds(rate: SampleRate) -> [(&'static str, Struck); 3] {
        [("plain click", click(false, rate)), ("accented click", click(true, rate)), ("clap", clap(rate))]
    }

    fn rates() -> impl Iterator<Item = SampleRate> {
        [8_000, 22_050, 44_100, 48_000, 96_000, 192_000]
            .into_iter()
            .map(|hz| SampleRate::new(hz).expect("in range"))
    }

    fn dbfs(amplitude: f32) -> f64 {
        20.0 * f64::from(amplitude).log10()
    }

    #[test]
    fn every_sound_begins_on_its_first_frame_and_is_there_within_two_milliseconds() {
        for rate in rates() {
            for (name, struck) in sounds(rate) {
                let data = struck.sample.data();
                let peak = struck.sample.peak();
                assert_eq!(struck.attack, Frames::ZERO);
                assert!(data[0].abs() > 0.01 * peak, "{name} at {} Hz begins with {}", rate.hz(), data[0]);
                let early =
                    data.iter().take(count(0.002, rate)).fold(0.0_f32, |early, frame| early.max(frame.abs()));
                assert!(
                    dbfs(early) > dbfs(peak) - 1.0,
                    "{name} at {} Hz reaches {early} of {peak}",
                    rate.hz()
                );
                assert!((dbfs(peak) - struck.peak_dbfs).abs() < 1e-3, "{name}: {}", dbfs(peak));
                assert!(dbfs(data[data.len() - 1].abs()) < -70.0, "{name} does not end in silence");
            }
        }
    }

    #[test]
    fn the_accent_is_six_decibels_louder_and_higher() {
        let rate = SampleRate::HZ_48000;
        let [(_, plain), (_, accented), _] = sounds(rate);
        assert!((dbfs(accented.sample.peak()) - dbfs(plain.sample.peak()) - 6.0).abs() < 1e-3);
        // Each passes through zero twice a period.
        let crossings = |struck: &Struck| {
            struck.sample.data()[..960].windows(2).filter(|pair| (pair[0] < 0.0) != (pair[1] < 0.0)).count()
        };
        assert!((39..=41).contains(&crossings(&plain)), "{}", crossings(&plain));
        assert!((59..=61).contains(&crossings(&accented)), "{}", crossings(&accented));
    }

    /// Energy at a pitch, by Goertzel's recurrence.
    fn energy(data: &[f32], pitch_hz: f64, rate: SampleRate) -> f64 {
        let turn = TAU * pitch_hz / f64::from(rate.hz());
        let (mut last, mut before) = (0.0, 0.0);
        for &value in data {
            (last, before) = (f64::from(value) + 2.0 * turn.cos() * last - before, last);
        }
        last * last + before * before - 2.0 * turn.cos() * last * before
    }

    #[test]
    fn most_of_every_sound_lies_where_it_cuts_through() {
        for (name, struck) in sounds(SampleRate::HZ_48000) {
            let at =
                |number: i32| energy(struck.sample.data(), 50.0 * f64::from(number), SampleRate::HZ_48000);
            let inside: f64 = (10..=60).map(at).sum();
            let all: f64 = (1..=400).map(at).sum();
            assert!(inside > 0.7 * all, "{name}: {:.2} of it between 500 and 3000 Hz", inside / all);
        }
    }

    #[test]
    fn the_clap_is_the_same_every_time() {
        assert_eq!(clap(SampleRate::HZ_48000), clap(SampleRate::HZ_48000));
    }
}
