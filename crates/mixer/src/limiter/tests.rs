use ebur128::{EbuR128, Mode};
use proptest::prelude::*;

use super::*;

/// What comes out of `limiter` for `left` and `right` given in blocks of these sizes, over and over; the frames that it
/// holds at first are left out, and as much silence goes in at the end.
fn limited(limiter: &mut Limiter, left: &[f32], right: &[f32], sizes: &[usize]) -> [Vec<f32>; 2] {
    let silence = vec![0.0; limiter.delay()];
    let mut sound = [left, right].map(|channel| [channel, &silence].concat());
    let [left, right] = &mut sound;
    let (mut left_rest, mut right_rest) = (&mut left[..], &mut right[..]);
    for size in sizes.iter().cycle() {
        if left_rest.is_empty() {
            break;
        }
        let size = (*size).min(left_rest.len());
        let (left, later_left) = left_rest.split_at_mut(size);
        let (right, later_right) = right_rest.split_at_mut(size);
        limiter.pass(&mut [left, right]);
        (left_rest, right_rest) = (later_left, later_right);
    }
    sound.map(|channel| channel[silence.len()..].to_vec())
}

/// True peaks by a library that had no part in limiting them (ITU-R BS.1770).
fn true_peaks(rate: SampleRate, sound: &[Vec<f32>; 2]) -> [f64; 2] {
    let mut meter = EbuR128::new(2, rate.hz(), Mode::TRUE_PEAK).expect("a meter");
    let [left, right] = sound;
    // Silence behind, so that the meter's own filter hears the end.
    let ring = vec![0.0; 64];
    meter.add_frames_planar_f32(&[left, right]).expect("two channels");
    meter.add_frames_planar_f32(&[&ring, &ring]).expect("two channels");
    [0, 1].map(|channel| meter.true_peak(channel).expect("a channel"))
}

/// The greatest amplitude between the samples at sixteen times the rate, by a sinc of twenty samples under a Kaiser window with
/// β = 5: what resampling libraries use (from memory), and no part of what limits.
fn peak_at_sixteen_times(sound: &[f32]) -> f64 {
    const REACH: i32 = 10;
    let bessel = |x: f64| {
        let terms = (1..30_i32).scan(1.0, |term, k| {
            *term *= (x / 2.0 / f64::from(k)).powi(2);
            Some(*term)
        });
        1.0 + terms.sum::<f64>()
    };
    let tap = |away: f64| {
        let x = std::f64::consts::PI * away;
        let window = bessel(5.0 * (1.0 - (away / f64::from(REACH)).powi(2)).max(0.0).sqrt()) / bessel(5.0);
        if away == 0.0 { 1.0 } else { window * x.sin() / x }
    };
    let points = (0..16_i32)
        .map(|part| (1 - REACH..=REACH).map(move |tap_at| tap(f64::from(part) / 16.0 - f64::from(tap_at))));
    let points: Vec<Vec<f64>> = points.map(Iterator::collect).collect();
    let near = sound.windows(20).flat_map(|near| {
        let sum = move |point: &Vec<f64>| {
            point.iter().zip(near).map(|(tap, sample)| tap * f64::from(*sample)).sum::<f64>()
        };
        points.iter().map(sum)
    });
    near.fold(0.0, |most, value| most.max(value.abs()))
}

/// Sounds of every kind that can make a peak: tones near half the rate whose samples hide it, noise, lone samples,
/// steps, bursts out of silence.
fn loud(kind: u8, frames: u16, height: f32, pitch: f32) -> Vec<f32> {
    let mut noise = 0x2545_F491_4F6C_DD1D_u64;
    let mut random = || {
        noise ^= noise << 13;
        noise ^= noise >> 7;
        noise ^= noise << 17;
        f32::from(u16::try_from(noise >> 48).expect("sixteen bits")) / 32_768.0 - 1.0
    };
    let mut frame = |n: u16| match kind {
        0 => (f32::from(n) * pitch).sin(),
        1 => random(),
        2 => f32::from(u8::from(n.is_multiple_of(97))),
        3 => {
            if (n / 37).is_multiple_of(2) {
                1.0
            } else {
                -1.0
            }
        }
        4 => (f32::from(n) * pitch).sin() * f32::from(u8::from((n / 300).is_multiple_of(2))),
        _ => random() * (f32::from(n) * 0.001).sin(),
    };
    (0..frames).map(|n| height * frame(n)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 160, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_true_peak_passes_the_ceiling(
        kinds in (0u8..6, 0u8..6),
        height in 0.05f32..16.0,
        pitch in 0.01f32..3.1,
        hz in prop::sample::select(vec![8_000u32, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000]),
        sizes in prop::collection::vec(1usize..=CHUNK, 1..5),
    ) {
        let rate = SampleRate::new(hz).expect("in range");
        let (left, right) = (loud(kinds.0, 6_000, height, pitch), loud(kinds.1, 6_000, height * 0.7, pitch * 0.9));
        let sound = limited(&mut Limiter::new(rate), &left, &right, &sizes);
        for peak in true_peaks(rate, &sound) {
            prop_assert!(peak <= f64::from(CEILING), "{} dBFS", 20.0 * peak.log10());
        }
    }

    /// At low rates sound goes up to half the rate, where four points a sample are too few.
    #[test]
    fn no_peak_passes_the_ceiling_at_low_rates(
        kind in 0u8..6,
        height in 0.05f32..16.0,
        pitch in 0.01f32..2.6,
        hz in prop::sample::select(vec![8_000u32, 11_025, 16_000, 22_050, 32_000]),
    ) {
        let sound = loud(kind, 2_000, height, pitch);
        let rate = SampleRate::new(hz).expect("in range");
        let [sound, _] = limited(&mut Limiter::new(rate), &sound, &sound, &[CHUNK]);
        let peak = 20.0 * peak_at_sixteen_times(&sound).log10();
        prop_assert!(peak <= -1.0 + 0.02, "{peak} dBFS");
    }

    #[test]
    fn limited_sound_does_not_depend_on_the_blocks(
        kinds in (0u8..6, 0u8..6),
        height in 0.2f32..4.0,
        sizes in prop::collection::vec(1usize..=CHUNK, 1..9),
    ) {
        let (left, right) = (loud(kinds.0, 3_000, height, 0.3), loud(kinds.1, 3_000, height, 2.0));
        let limit = |sizes: &[usize]| {
            let sound = limited(&mut Limiter::new(SampleRate::HZ_48000), &left, &right, sizes);
            sound.map(|channel| channel.iter().map(|frame| frame.to_bits()).collect::<Vec<_>>())
        };
        prop_assert_eq!(limit(&sizes), limit(&[CHUNK]));
    }

    #[test]
    fn what_stays_below_is_left_to_the_bit(height in 0.0f32..0.88, pitch in 0.01f32..0.3) {
        // A slow sine that comes and goes: its true peak is its height.
        let mut sine = loud(0, 4_000, height, pitch);
        for (n, frame) in (0_u16..).zip(&mut sine) {
            *frame *= (f32::from(n) * std::f32::consts::PI / 4_000.0).sin();
        }
        let [left, right] = limited(&mut Limiter::new(SampleRate::HZ_48000), &sine, &sine, &[100]);
        prop_assert!(left == sine && right == sine);
    }
}

/// The right channel is steady and shows the gain that a lone peak in the left one asks for.
#[test]
fn the_gain_glides_down_before_a_peak_and_comes_back_slowly() {
    let rate = SampleRate::HZ_48000;
    let mut peak = vec![0.0; 96_000];
    peak[1_000] = 3.0;
    let steady = vec![0.1; 96_000];
    let [left, gains] = limited(&mut Limiter::new(rate), &peak, &steady, &[256]);
    let gains: Vec<f32> = gains.iter().map(|frame| frame * 10.0).collect();
    let glide = usize::try_from(Frames::of(LIMITER_GLIDE, rate).count()).expect("positive");
    assert!((left[1_000] - CEILING * MARGIN).abs() < 1e-3, "{}", left[1_000]);
    assert!(gains[..1_000 - glide - 7].iter().all(|gain| (gain - 1.0).abs() < 1e-6));
    assert!(gains.windows(2).all(|pair| (pair[1] - pair[0]).abs() < 0.72 / glide as f32), "no step");
    // Back by 63 % after the release and what the window holds; all the way in a second.
    let lowest = 1.0 - gains[1_000];
    let released = 1_000 + 3_840 + 2 * glide;
    assert!(((1.0 - gains[released]) / lowest - 0.37).abs() < 0.03, "{}", gains[released]);
    assert!((gains[60_000] - 1.0).abs() < 1e-4 && gains[95_999] == gains[0], "{}", gains[95_999]);
}

#[test]
fn one_channel_is_limited_alike() {
    let left = loud(4, 3_000, 2.0, 0.2);
    let rate = SampleRate::HZ_48000;
    let [both, _] = limited(&mut Limiter::new(rate), &left, &left, &[200]);
    let mut limiter = Limiter::new(rate);
    let mut alone = [&left[..], &vec![0.0; limiter.delay()]].concat();
    alone.chunks_mut(200).for_each(|block| limiter.pass(&mut [block]));
    assert_eq!(alone[limiter.delay()..], both);
    assert_eq!(limiter.delay(), 71, "1.48 ms at 48 kHz");
}

#[test]
fn the_least_of_a_window_is_found() {
    let values = [9, 4, 7, 7, 3, 8, 8, 8, 8, 2, 5, 6, 9, 9, 9, 9];
    let mut least = Least::new(4);
    for (number, &value) in values.iter().enumerate() {
        let window = &values[number.saturating_sub(3)..=number];
        assert_eq!(least.after(value), *window.iter().min().expect("not empty"), "at {number}");
    }
    assert!(least.is(9));
}
