use onset::{Settings, strokes, strokes_beside};

use crate::sound::Sound;

const HZ: u32 = 48_000;
/// The loudspeaker plays a click every half second, sixteen of them, and a vowel with every second one.
const BEATS: [usize; 16] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15];

fn beat(beat: usize) -> usize {
    12_000 + 24_000 * beat
}

fn played() -> Sound {
    let mut played = Sound::silence(HZ, 9.0);
    for index in BEATS {
        played.click(beat(index), if index % 4 == 0 { -6.0 } else { -12.0 });
        if index % 2 == 0 {
            played.vowel(beat(index) - 2_000, -12.0);
        }
    }
    played
}

/// What a microphone hears of the loudspeaker: later, softer, and once more from the wall.
fn recorded(played: &Sound, later: usize, gain_db: f64) -> Sound {
    let mut recorded = Sound::noise(HZ, 9.0, -65.0);
    recorded.mix(&played.samples, later, gain_db);
    recorded.mix(&played.samples, later + 700, gain_db - 8.0);
    recorded
}

fn check(recorded: &Sound, played: &Sound, expected: &[usize]) {
    let found = strokes_beside(&recorded.samples, &played.samples, recorded.rate, &Settings::default());
    let found: Vec<i64> = found.expect("short enough").iter().map(|stroke| stroke.at.index()).collect();
    let off = |(found, expected): (&i64, &usize)| found.abs_diff(i64::try_from(*expected).expect("a frame"));
    assert!(
        found.len() == expected.len() && found.iter().zip(expected).map(off).all(|off| off <= 96),
        "   found {found:?}\nexpected {expected:?}"
    );
}

#[test]
fn what_only_the_loudspeaker_played_is_no_stroke() {
    let played = played();
    for (later, gain_db) in [(0, -6.0), (480, -12.0), (5_000, -20.0), (12_000, 0.0)] {
        let recorded = recorded(&played, later, gain_db);
        let all = strokes(&recorded.samples, recorded.rate, &Settings::default()).expect("short enough");
        assert!(!all.is_empty(), "the click is a stroke where nobody knows of it");
        check(&recorded, &played, &[]);
    }
}

#[test]
fn strokes_between_clicks_and_on_them_are_found() {
    let played = played();
    for (later, gain_db) in [(480, -12.0), (3_000, -20.0)] {
        let mut recorded = recorded(&played, later, gain_db);
        // Off the beat, on the heard click to the frame, a little ahead of it and behind it.
        let struck = [
            beat(2) + 12_000,
            beat(4) + later,
            beat(6) + later - 500,
            beat(9) + later + 700,
            beat(11) + 9_000,
            beat(13) + later,
        ];
        for place in struck {
            recorded.burst(place, -6.0);
        }
        check(&recorded, &played, &struck);
    }
}

#[test]
fn a_player_exactly_on_every_click_is_no_leak() {
    let played = played();
    let mut recorded = Sound::noise(HZ, 9.0, -65.0);
    let struck = BEATS.map(beat);
    for place in struck {
        recorded.burst(place, -6.0);
    }
    check(&recorded, &played, &struck);
}

#[test]
fn a_silent_reference_changes_nothing() {
    let mut recorded = Sound::noise(HZ, 3.0, -65.0);
    recorded.burst(48_000, -6.0);
    check(&recorded, &Sound::silence(HZ, 3.0), &[48_000]);
    check(&recorded, &Sound::silence(HZ, 0.0), &[48_000]);
    check(&Sound::silence(HZ, 0.0), &recorded, &[]);
}

#[test]
fn clocks_that_drift_apart_do_no_harm() {
    // 60 millionths over half a minute: 1.8 ms, two turns of the click.
    let mut played = Sound::silence(HZ, 31.0);
    let mut recorded = Sound::noise(HZ, 31.0, -65.0);
    let beats: Vec<usize> = (0..60).map(beat).collect();
    for (index, &place) in beats.iter().enumerate() {
        played.click(place, -6.0);
        recorded.click(place + 900 + place * 60 / 1_000_000, -15.0);
        if index % 3 == 1 {
            recorded.burst(place + 1_200, -6.0);
        }
    }
    let struck: Vec<usize> = beats.iter().skip(1).step_by(3).map(|place| place + 1_200).collect();
    check(&recorded, &played, &struck);
}
