//! The meter as it is used here, against the published test signals of loudness meters, made here: EBU Tech 3341
//! (table 1, tests 1 to 5, ±0.1 LU; 16 to 18, true peaks +0.2/−0.4 dB) and ITU-R BS.1770 (a sine of 997 Hz at 0 dBFS
//! in one of left and right is −3.01 LKFS). Signals and figures from memory.

use std::f64::consts::TAU;

use super::*;

const RATE: SampleRate = SampleRate::HZ_48000;

/// A sine of these dBFS in both channels for so many seconds.
fn sine(hz: f64, dbfs: f64, seconds: f64) -> Vec<f32> {
    let size = 10_f64.powf(dbfs / 20.0);
    #[expect(clippy::cast_possible_truncation, reason = "a sample is one of single precision")]
    let frame = |n: u32| (size * (TAU * hz * f64::from(n) / 48_000.0).sin()) as f32;
    (0_u32..).take_while(|n| f64::from(*n) < seconds * 48_000.0).flat_map(|n| [frame(n); 2]).collect()
}

fn measured(channels: u32, parts: &[Vec<f32>]) -> Loudness {
    let mut loudness = Loudness::new(RATE, channels).expect("a meter");
    // In blocks of no round number.
    parts.concat().chunks(14_002).for_each(|block| loudness.hear(block).expect("whole frames"));
    loudness
}

#[track_caller]
fn check(parts: &[Vec<f32>], lufs: f64) {
    let found = measured(2, parts).meter.loudness_global().expect("it measures");
    assert!((found - lufs).abs() <= 0.1, "{found} instead of {lufs}");
}

#[test]
fn a_steady_sine_has_its_level() {
    check(&[sine(1_000.0, -23.0, 20.0)], -23.0);
    check(&[sine(1_000.0, -33.0, 20.0)], -33.0);
    check(&[sine(997.0, -23.0, 20.0)], -23.0);
}

#[test]
fn what_is_soft_is_gated_out() {
    let soft = sine(1_000.0, -36.0, 10.0);
    check(&[soft.clone(), sine(1_000.0, -23.0, 60.0), soft], -23.0);
    let [softest, soft] = [-72.0, -36.0].map(|dbfs| sine(1_000.0, dbfs, 10.0));
    check(&[softest.clone(), soft.clone(), sine(1_000.0, -23.0, 60.0), soft, softest], -23.0);
    let [outer, middle] = [(-26.0, 20.0), (-20.0, 20.1)].map(|(dbfs, long)| sine(1_000.0, dbfs, long));
    check(&[outer.clone(), middle, outer], -23.0);
}

#[test]
fn one_channel_is_measured_as_one_and_told_as_two_speakers_play_it() {
    let both = sine(1_000.0, -23.0, 10.0);
    let one: Vec<f32> = both.iter().copied().step_by(2).collect();
    let one = measured(1, &[one]);
    let found = one.meter.loudness_global().expect("it measures");
    assert!((found + 26.01).abs() <= 0.1, "{found}");
    let line = one.to_string();
    assert!(line.contains("loudness -26.0 LUFS, -26.0 at its loudest (0.4 s)"), "{line}");
    assert!(line.ends_with("; from two loudspeakers -23.0 and -23.0"), "{line}");
    // In one of two channels: 997 Hz at full scale is −3.01 LKFS.
    let left: Vec<f32> =
        sine(997.0, 0.0, 10.0).iter().enumerate().map(|(n, x)| if n % 2 == 0 { *x } else { 0.0 }).collect();
    let found = measured(2, &[left]).meter.loudness_global().expect("it measures");
    assert!((found + 3.01).abs() <= 0.05, "{found}");
}

/// Two bursts 0.39 s apart at the edges: only a window that begins with the first has both whole, whatever blocks the sound comes in.
#[test]
fn the_loudest_window_is_found_between_blocks() {
    let burst = sine(1_000.0, -20.0, 0.05);
    let silence = |seconds| sine(1_000.0, -300.0, seconds);
    let parts = [silence(1.02), burst.clone(), silence(0.3), burst, silence(2.0)].concat();
    let told = |block: usize| {
        let mut loudness = Loudness::new(RATE, 2).expect("a meter");
        parts.chunks(block).for_each(|block| loudness.hear(block).expect("whole frames"));
        loudness.loudest
    };
    // A quarter of the window at -20 dBFS in both channels.
    assert!((told(2 * 4_096) + 26.0).abs() < 0.1, "{}", told(2 * 4_096));
    assert!((told(14_002) - told(2 * 48_000)).abs() < 1e-9, "the size of blocks does not matter");
}

/// Tests 16 to 18: sines of a quarter, a sixth and an eighth of the rate, with phases of 45°, 60° and 67.5°: their true
/// peaks are at −6 dBFS, their samples' lower.
#[test]
fn true_peaks_lie_between_the_samples() {
    for (part, phase) in [(4.0, 45.0), (6.0, 60.0), (8.0, 67.5)] {
        #[expect(clippy::cast_possible_truncation, reason = "a sample is one of single precision")]
        let frame = |n: u32| {
            // Begun and ended gently, for a sudden end has a peak of its own.
            let edge = (f64::from(n.min(48_000 - n)) / 4_800.0).min(1.0);
            (0.5 * edge * (TAU * (f64::from(n) / part + phase / 360.0)).sin()) as f32
        };
        let loudness = measured(2, &[(0..48_000).flat_map(|n| [frame(n); 2]).collect()]);
        let true_peak = loudness.greatest(|channel| loudness.meter.true_peak(channel));
        assert!((-6.4..=-5.8).contains(&true_peak), "1/{part}: {true_peak}");
    }
}

#[test]
fn it_is_told_in_one_line() {
    let line = measured(2, &[sine(1_000.0, -20.0, 5.0)]).to_string();
    assert_eq!(
        line,
        "peak -20.0 dBFS, true peak -20.0 dBFS, loudness -20.0 LUFS, -20.0 at its loudest (0.4 s)"
    );
    let short = measured(2, &[sine(1_000.0, -20.0, 0.3)]).to_string();
    assert!(
        short.ends_with("too short or too soft for a loudness in LUFS, which needs 0.4 s above -70"),
        "{short}"
    );
    assert_eq!(measured(1, &[vec![0.0; 48_000]]).to_string(), "silence");
}
