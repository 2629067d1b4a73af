//! The voices that are built in: complete, level, and with their notices.

use ebur128::{EbuR128, Mode};
use timebase::{Frames, SampleRate, Seconds};
use voice::{Fit, Recording, VoicePack, shipped_names};

fn packs() -> impl Iterator<Item = VoicePack> {
    shipped_names().map(|name| VoicePack::shipped(name).expect(name))
}

/// LUFS of the loudest 100 ms and true peak in dBFS, by a library that had no part in setting them
/// (ITU-R BS.1770, EBU R 128).
fn measured(recording: &Recording) -> (f64, f64) {
    let mut meter = EbuR128::new(1, 48_000, Mode::M | Mode::TRUE_PEAK).expect("a meter");
    let mut data = recording.sample().data().to_vec();
    data.resize(data.len() + 4_800, 0.0);
    let mut loudest = f64::NEG_INFINITY;
    for millisecond in data.chunks(48) {
        meter.add_frames_f32(millisecond).expect("mono");
        loudest = loudest.max(meter.loudness_window(100).expect("shorter than the meter's window"));
    }
    (loudest, 20.0 * meter.true_peak(0).expect("one channel").log10())
}

#[test]
fn every_recording_is_level_and_none_too_loud() {
    for pack in packs() {
        let mut checked = 0;
        for (_, recording) in pack.recordings() {
            let (loudest, peak) = measured(recording);
            let at = format!(
                "{}, {}, {}: {loudest:.2} LUFS, {peak:.2} dBFS",
                pack.name(),
                recording.syllable(),
                recording.speed()
            );
            assert!(peak <= -2.95, "{at}");
            let wanted = if recording.syllable().ends_with("-weak") { -24.0 } else { -19.0 };
            // Softer than wanted only where the peak allows no more.
            assert!(loudest <= wanted + 0.1, "{at}");
            assert!(loudest >= wanted - 0.1 || (peak >= -3.1 && loudest >= wanted - 1.0), "{at}");
            checked += 1;
        }
        assert_eq!(checked, 3 * 38);
    }
}

/// The words of the counting systems in use: numbers, beat-function syllables and takadimi (Hoffman, Pelto &
/// White 1996) among them.
#[test]
fn the_voices_say_the_same_words() {
    let expected = "& 1 10 11 12 2 3 4 5 6 7 8 9 a ba be bi da de di du e go ka ki la let li ma mi plet ready rest ta te ti tri va";
    for pack in packs() {
        let words: Vec<&str> = pack.words().collect();
        let expected: Vec<&str> = expected.split(' ').filter(|&word| word != "let").collect();
        assert_eq!(words, expected, "{}", pack.name());
        assert!(pack.says("&") && !pack.says("and"));
    }
}

#[test]
fn each_speed_is_quicker_than_the_one_before() {
    for pack in packs() {
        let lengths = |speed: &str| {
            let mut lengths: Vec<i64> = pack
                .recordings()
                .filter(|(_, r)| r.speed() == speed)
                .map(|(_, r)| r.length().count())
                .collect();
            lengths.sort_unstable();
            lengths
        };
        let [slow, normal, quick] = ["slow", "normal", "quick"].map(lengths);
        for (longer, shorter) in slow.iter().zip(&normal).chain(normal.iter().zip(&quick)) {
            assert!(longer > shorter, "{}", pack.name());
        }
    }
}

#[test]
fn long_consonants_do_not_sound_long_before_the_beat() {
    for pack in packs() {
        for (_, recording) in pack.recordings() {
            let most_ms = match recording.speed() {
                "quick" => 85,
                "normal" => 130,
                _ => 170,
            };
            assert!(recording.centre_seconds() < Seconds::from_millis(most_ms), "{recording:?}");
        }
        assert!(pack.longest_lead() > Frames::new(48 * 100) && pack.longest_lead() < Frames::new(48 * 170));
    }
}

#[test]
fn notices_are_shipped_with_the_voices() {
    let check = |voice: &str, names: &[&str], says: &str| {
        let notices = VoicePack::notices(voice).expect(voice);
        assert_eq!(notices.iter().map(|(name, _)| *name).collect::<Vec<_>>(), names);
        assert!(notices.iter().all(|(_, text)| text.contains(says)), "{voice}");
    };
    check("female", &["COPYRIGHT-festival", "COPYRIGHT-festvox-us-slt-hts"], "THIS SOFTWARE");
    check("male", &["COPYRIGHT-flite"], "CARNEGIE MELLON UNIVERSITY");
}

#[test]
fn a_voice_that_does_not_exist_is_refused_with_those_that_do() {
    let error = VoicePack::shipped("robot").expect_err("none").to_string();
    assert_eq!(error, "there is no voice \"robot\": choose female or male");
    assert!(VoicePack::notices("robot").is_err());
}

/// At another rate every sound lies at the same times: its centre, its end, and its every wave.
#[test]
fn a_voice_at_another_rate_is_the_same_in_time() {
    let original = VoicePack::shipped("female").expect("shipped");
    for hz in [44_100, 96_000] {
        let rate = SampleRate::new(hz).expect("in range");
        let other = original.clone().at_rate(rate).expect("a usual rate");
        assert_eq!(other.rate(), rate);
        for ((_, a), (_, b)) in original.recordings().zip(other.recordings()) {
            let frame = Frames::new(1).seconds(rate);
            assert_eq!(a.centre_seconds(), b.centre_seconds());
            assert!((b.centre().seconds(rate) - a.centre_seconds()).abs() <= frame);
            let lengths = [a.length().seconds(SampleRate::HZ_48000), b.length().seconds(rate)];
            assert!((lengths[0] - lengths[1]).abs() <= frame + frame, "{hz}: {lengths:?}");
            // At the same times, by the straight line between neighbours, both are the same wave: their
            // difference is small beside it where it is slow enough for straight lines, which summing over a
            // millisecond makes it.
            let at = |r: &Recording, hz: u32, step: u32| -> f64 {
                let place = |ms: u32| usize::try_from(u64::from(ms) * u64::from(hz) / 1_000).expect("small");
                let data = r.sample().data().get(place(step)..place(step + 1)).unwrap_or_default();
                1_000.0 * data.iter().map(|&value| f64::from(value)).sum::<f64>() / f64::from(hz)
            };
            let (mut difference, mut power) = (0.0, 0.0);
            for step in 0..400 {
                let (a, b) = (at(a, 48_000, step), at(b, hz, step));
                difference += (a - b).powi(2);
                power += a * a;
            }
            assert!(difference < 0.01 * power, "{hz}, {}: {difference} of {power}", a.syllable());
        }
        let two = other.fit("2", Seconds::from_millis(500)).expect("a word").expect("it fits");
        assert_eq!(two.fit, Fit::Whole);
    }
}
