//! The voices that are built in: complete, level, and with their notices.

use counting::System;
use ebur128::{EbuR128, Mode};
use rhythm::limits::{BARS_OF_REST, METER_BEATS};
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
    for part in data.chunks(4 * 48) {
        meter.add_frames_f32(part).expect("mono");
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
            let soft = recording.syllable().ends_with("-weak") || recording.syllable() == "sh";
            let wanted = if soft { -24.0 } else { -19.0 };
            // Softer than wanted only where the peak allows no more.
            assert!(loudest <= wanted + 0.15, "{at}");
            assert!(loudest >= wanted - 0.15 || (peak >= -3.1 && loudest >= wanted - 1.0), "{at}");
            checked += 1;
        }
        assert!(checked >= 29, "{}: {checked}", pack.name());
    }
}

/// The English voices.
const ENGLISH: [&str; 2] = ["female", "male"];

/// Every word that a shipped counting system can say in any of its variants, and every number that can be counted: of a
/// meter's beats, and of the bars of a rest.
#[test]
fn every_word_of_every_counting_system_is_in_both_voices() {
    for name in ENGLISH {
        let pack = VoicePack::shipped(name).expect(name);
        let mut checked = 0;
        let mut check = |word: &str, system: &str| {
            assert!(pack.says(word), "{name} cannot say \"{word}\" of {system}");
            assert!(pack.fit(word, Seconds::from_millis(3_000)).expect("known").is_some(), "{name}: {word}");
            checked += 1;
        };
        for number in 1..=METER_BEATS.most.max(BARS_OF_REST.most) {
            check(&number.to_string(), "numbers");
        }
        for system in System::shipped() {
            let variants =
                system.variants().map(|variant| system.with_variant(variant.name).expect("its own"));
            for system in std::iter::once(system.clone()).chain(variants) {
                for word in system.words() {
                    check(word.as_str(), system.name());
                }
            }
        }
        for word in ["ready", "play", "go", "rest"] {
            check(word, "counting in");
        }
        assert!(checked > 300, "{checked}");
        assert!(pack.says("&") && !pack.says("and"));
    }
}

#[test]
fn the_voices_say_the_same_words() {
    let [female, male] = ENGLISH.map(|name| VoicePack::shipped(name).expect(name));
    assert!(female.words().eq(male.words()));
}

/// What a number above those recorded sounds like: its parts, one after another, the first of them on the beat.
#[test]
fn long_numbers_are_joined() {
    for pack in packs() {
        let check = |word: &str, parts: &[&str]| {
            let of = |word: &str| {
                let fitted = pack.fit(word, Seconds::from_millis(4_000)).expect("a word").expect("it fits");
                pack.recording(fitted.recording)
            };
            let whole = of(word);
            assert_eq!((whole.syllable(), whole.centre()), (word, of(parts[0]).centre()));
            let sum: Frames = parts.iter().map(|part| of(part).length()).fold(Frames::ZERO, |a, b| a + b);
            let joints = Frames::new(288 * (i64::try_from(parts.len()).expect("few") - 1));
            assert_eq!(whole.length(), sum - joints, "{}: {word}", pack.name());
            assert!(whole.sample().peak() < 0.75, "{}: {word}", pack.name());
        };
        if ENGLISH.contains(&pack.name()) {
            check("21", &["20", "1"]);
            check("32", &["30", "2"]);
            check("99", &["90", "9"]);
        }
    }
}

#[test]
fn each_speed_is_quicker_than_the_one_before() {
    for pack in ENGLISH.map(|name| VoicePack::shipped(name).expect(name)) {
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
    for pack in ENGLISH.map(|name| VoicePack::shipped(name).expect(name)) {
        for (_, recording) in pack.recordings() {
            let most_ms = match recording.speed() {
                "quick" => 85,
                "normal" => 130,
                _ => 170,
            };
            assert!(recording.centre_seconds() < Seconds::from_millis(most_ms), "{recording:?}");
        }
    }
    // What every round of a drill leaves free for the next one's first word: "dieciséis" is none of these.
    for pack in packs() {
        let lead = pack.longest_lead();
        assert!(lead > Frames::new(48 * 100) && lead < Frames::new(48 * 190), "{}: {lead:?}", pack.name());
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
    assert_eq!(error, "there is no voice \"robot\": choose female or male or spanish");
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
            // Of a hiss nothing is left by that.
            if a.syllable() == "sh" {
                continue;
            }
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
