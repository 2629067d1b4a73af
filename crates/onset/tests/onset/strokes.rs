use onset::{Error, Settings, strokes};
use timebase::Seconds;

use crate::sound::Sound;

/// Where strokes are found, in frames.
fn found(sound: &Sound) -> Vec<i64> {
    let strokes = strokes(&sound.samples, sound.rate, &Settings::default()).expect("short enough");
    strokes.iter().map(|stroke| stroke.at.index()).collect()
}

/// Every expected stroke within a millisecond, and no other.
fn check(sound: &Sound, expected: &[usize]) {
    let found = found(sound);
    let off = |(found, expected): (&i64, &usize)| found.abs_diff(i64::try_from(*expected).expect("a frame"));
    let most = u64::from(sound.rate.hz()) / 1_000;
    assert!(
        found.len() == expected.len() && found.iter().zip(expected).map(off).all(|off| off <= most),
        "at {} Hz\n   found {found:?}\nexpected {expected:?}",
        sound.rate.hz()
    );
}

const RATES: [u32; 6] = [8_000, 22_050, 44_100, 48_000, 96_000, 192_000];

#[test]
fn bursts_are_found_within_a_millisecond_at_any_rate() {
    for hz in RATES {
        for floor in [None, Some(-60.0)] {
            let mut sound = floor.map_or_else(|| Sound::silence(hz, 4.0), |dbfs| Sound::noise(hz, 4.0, dbfs));
            let unit = usize::try_from(hz).expect("small") / 1_000;
            let places = [300, 707, 1_411, 1_633, 2_999, 3_600].map(|ms| ms * unit + 13);
            for (place, peak) in places.iter().zip([-6.0, -12.0, -3.0, -15.0, -6.0, -9.0]) {
                sound.burst(*place, peak);
            }
            check(&sound, &places);
        }
    }
}

#[test]
fn a_stroke_on_the_first_frame_is_one() {
    let mut sound = Sound::noise(48_000, 1.0, -70.0);
    sound.burst(0, -6.0);
    sound.burst(24_000, -6.0);
    check(&sound, &[0, 24_000]);
}

#[test]
fn nothing_is_found_where_nothing_is_struck() {
    check(&Sound::silence(48_000, 0.0), &[]);
    check(&Sound::silence(48_000, 2.0), &[]);
    for seed in 0..20 {
        for dbfs in [-80.0, -50.0, -20.0] {
            check(&Sound::noise_of(seed, 48_000, 10.0, dbfs), &[]);
        }
    }
    check(&Sound::of(vec![0.4; 48_000]), &[]);
    check(&Sound::of(vec![0.4]), &[]);
    check(&Sound::of(vec![f32::NAN; 48_000]), &[]);
}

#[test]
fn a_flam_is_two_strokes_and_a_bounce_is_one() {
    for (apart_ms, two) in [(50, true), (45, true), (40, true), (20, false), (12, false)] {
        for grace in [-18.0, -12.0, -6.0] {
            let mut sound = Sound::noise(48_000, 2.0, -60.0);
            let (first, second) = (48_000, 48_000 + 48 * apart_ms);
            sound.burst(first, grace);
            sound.burst(second, -6.0);
            if two {
                check(&sound, &[first, second]);
            } else if grace > -18.0 {
                check(&sound, &[first]);
            }
        }
    }
}

#[test]
fn vowels_are_no_strokes_and_do_not_hide_any() {
    let mut sound = Sound::noise(48_000, 6.0, -60.0);
    let beats: Vec<usize> = (1..10).map(|beat| beat * 26_000).collect();
    for (index, &beat) in beats.iter().enumerate() {
        sound.vowel(beat - 1_500, -12.0);
        if index % 2 == 0 {
            sound.burst(beat, -6.0);
        }
    }
    let struck: Vec<usize> = beats.iter().step_by(2).copied().collect();
    check(&sound, &struck);
}

#[test]
fn a_clipped_recording_still_has_its_strokes() {
    let mut sound = Sound::noise(48_000, 3.0, -50.0);
    let places = [30_000, 60_000, 100_000];
    for place in places {
        sound.burst(place, 12.0);
    }
    for sample in &mut sound.samples {
        *sample = sample.clamp(-1.0, 1.0);
    }
    check(&sound, &places);
}

#[test]
fn the_louder_stroke_has_the_higher_peak() {
    let mut sound = Sound::noise(48_000, 2.0, -70.0);
    sound.burst(24_000, -6.0);
    sound.burst(60_000, -16.0);
    let found = strokes(&sound.samples, sound.rate, &Settings::default()).expect("short enough");
    let [loud, soft] = found[..] else { panic!("{found:?}") };
    assert!((loud.peak_dbfs - soft.peak_dbfs - 10.0).abs() < 3.0, "{loud:?} {soft:?}");
}

#[test]
fn a_recording_of_more_than_an_hour_is_refused() {
    let sound = Sound::silence(8_000, 3_600.5);
    let error = strokes(&sound.samples, sound.rate, &Settings::default()).expect_err("too long");
    assert!(matches!(error, Error::TooLong { given: 3_601, .. }));
    assert!(error.to_string().contains("from 0 to 3600"), "{error}");
}

#[test]
fn a_wider_retrigger_takes_the_second_of_a_flam_for_a_bounce() {
    let mut sound = Sound::noise(48_000, 2.0, -60.0);
    sound.burst(48_000, -9.0);
    sound.burst(50_160, -6.0);
    let settings = Settings::default().with_retrigger(Seconds::from_millis(60)).expect("allowed");
    let found = strokes(&sound.samples, sound.rate, &settings).expect("short enough");
    assert_eq!(found.len(), 1, "{found:?}");
}
