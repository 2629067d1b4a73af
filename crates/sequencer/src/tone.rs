//! The sustained tone that shows how long a note is held.

use std::f64::consts::TAU;

use mixer::Sample;
use timebase::{Frames, SampleRate, Seconds};

use crate::limits::{TONE_HZ, TONE_RISE};

/// The partials, from the first: soft and a little hollow, above the voices' pitch and below click and clap.
const PARTIALS: [f64; 6] = [1.0, 0.42, 0.3, 0.12, 0.08, 0.04];

/// How much louder a note begins than it is held, and how long that takes to fade: what makes it struck.
const STRIKE: f64 = 0.6;
const STRIKE_FADES: Seconds = Seconds::from_millis(60);

/// After so long nothing of the strike is left (12 of its times: 0.0004 dB), and the tone can go on by itself.
const STRUCK: Seconds = Seconds::from_millis(720);

/// The peak while it is held: −12 dBFS.
const HELD_PEAK: f64 = 0.251_188_6;

/// Of partials, only those this far below half the rate sound: none is folded back.
const HIGHEST: f64 = 0.45;

/// The tone as a sample that goes on by itself: it rises in [`TONE_RISE`] from its first frame on, is loudest then,
/// sinks to where it is held, and stays there for as long as its event lasts. The stretch that is repeated is a whole
/// number of its waves, so that nothing is heard of the seam.
///
/// 440 Hz: exactly so where a tenth of a second is a whole number of frames, off by less than 0.3 Hz elsewhere.
pub(crate) fn tone(rate: SampleRate) -> Sample {
    let hz = f64::from(rate.hz());
    let round = count(Seconds::from_millis(100), rate);
    let waves = (TONE_HZ * round as f64 / hz).round();
    let pitch_hz = waves * hz / round as f64;
    let struck = count(STRUCK, rate);
    let rise = TONE_RISE.as_secs_f64();

    let partials: Vec<(f64, f64)> = (1_u8..)
        .zip(PARTIALS)
        .map(|(number, size)| (pitch_hz * f64::from(number), size))
        .filter(|(pitch_hz, _)| *pitch_hz < HIGHEST * hz)
        .collect();
    let wave = |frame: usize| -> f64 {
        // The phase is taken within a round, so that the seam is a seam of equal numbers.
        let turn = TAU * (frame % round) as f64 / hz;
        partials.iter().map(|(pitch_hz, size)| size * (turn * pitch_hz).sin()).sum()
    };
    let peak = (0..round).map(|frame| wave(frame).abs()).fold(f64::MIN_POSITIVE, f64::max);
    let envelope = |frame: usize| {
        let seconds = frame as f64 / hz;
        let risen = (seconds / rise).min(1.0);
        let strike =
            if frame < struck { STRIKE * (-seconds / STRIKE_FADES.as_secs_f64()).exp() } else { 0.0 };
        risen * risen * (3.0 - 2.0 * risen) * (1.0 + strike)
    };
    #[expect(
        clippy::cast_possible_truncation,
        reason = "sound is heard, and an f32 holds more of it than an ear"
    )]
    let data: Vec<f32> =
        (0..struck + round).map(|frame| (wave(frame) * envelope(frame) * HELD_PEAK / peak) as f32).collect();
    Sample::sustained(data, struck).expect("sines are finite, and a round of them follows the strike")
}

fn count(length: Seconds, rate: SampleRate) -> usize {
    usize::try_from(Frames::of(length, rate).count()).unwrap_or(1).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rates() -> impl Iterator<Item = SampleRate> {
        [8_000, 22_050, 44_100, 48_000, 96_000, 192_000]
            .into_iter()
            .map(|hz| SampleRate::new(hz).expect("in range"))
    }

    #[test]
    fn it_goes_on_without_a_seam() {
        for rate in rates() {
            let tone = tone(rate);
            let (data, again) = (tone.data(), tone.again().expect("it goes on"));
            // The step over the seam is the one that stands at the beginning of the round.
            let over = data[again] - data[data.len() - 1];
            let within = data[again + 1] - data[again];
            assert!((over - within).abs() < 0.02, "{} Hz: {over} and {within}", rate.hz());
            let round = data.len() - again;
            assert!((data[again..].iter().sum::<f32>() / round as f32).abs() < 1e-4, "whole waves");
        }
    }

    /// Energy by Goertzel's recurrence, over the part that is repeated.
    fn energy(data: &[f32], hz: f64, rate: SampleRate) -> f64 {
        let turn = TAU * hz / f64::from(rate.hz());
        let (mut last, mut before) = (0.0, 0.0);
        for &value in data {
            (last, before) = (f64::from(value) + 2.0 * turn.cos() * last - before, last);
        }
        (last * last + before * before - 2.0 * turn.cos() * last * before) / (data.len() as f64).powi(2) * 4.0
    }

    #[test]
    fn it_is_made_of_its_partials_and_nothing_is_folded_back() {
        for rate in rates() {
            let tone = tone(rate);
            let held = &tone.data()[tone.again().expect("it goes on")..];
            let inside: f64 = (1..=6)
                .map(|number| 440.0 * f64::from(number))
                .filter(|hz| *hz < 0.45 * f64::from(rate.hz()))
                .map(|hz| energy(held, hz, rate))
                .sum();
            let all: f64 = held.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / held.len() as f64 * 2.0;
            assert!(inside > 0.995 * all, "{} Hz: {inside} of {all}", rate.hz());
        }
    }

    #[test]
    fn it_begins_smoothly_and_at_once() {
        let rate = SampleRate::HZ_48000;
        let tone = tone(rate);
        let data = tone.data();
        assert_eq!(data[0], 0.0);
        let peak = |from: usize, to: usize| data[from..to].iter().fold(0.0_f32, |peak, x| peak.max(x.abs()));
        let held = peak(tone.again().expect("it goes on"), data.len());
        assert!((20.0 * held.log10() + 12.0).abs() < 0.01, "{held}");
        assert!(peak(0, 480) > held, "it is there within 10 ms, louder than it is held");
        // No step is larger than its highest partials make anyway.
        let step = |from: usize, to: usize| {
            data[from..to].windows(2).fold(0.0_f32, |step, pair| step.max((pair[1] - pair[0]).abs()))
        };
        assert!(step(0, 960) < 1.7 * step(35_000, data.len()));
    }
}
