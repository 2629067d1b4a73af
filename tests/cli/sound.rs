//! `countline sound`: where things sound in the files it writes.

use std::path::Path;

use serde_json::Value;
use tests::onset::{Sound, onset_near};
use tests::program::run;
use tests::python;

use crate::{RHYTHMS, json, rhythm};

/// Writes both files, and gives the frame where bar 1 begins, as the program prints it.
fn write(rhythm: &str, folder: &Path, more: &[&str]) -> (Sound, Value, u32) {
    let wav = folder.join("sound.wav").to_string_lossy().into_owned();
    let midi = folder.join("sound.mid").to_string_lossy().into_owned();
    let out = run([&["sound", rhythm, "--wav", &wav, "--midi", &midi], more].concat()).done();
    let frame = out
        .split_once("bar 1 begins at frame ")
        .and_then(|(_, rest)| rest.split(|c: char| !c.is_ascii_digit()).next())
        .and_then(|digits| digits.parse().ok())
        .unwrap_or_else(|| panic!("no frame of bar 1 in\n{out}"));
    (Sound::read(Path::new(&wav)), json(&python::run("tests/readers/midi.py", [&midi])), frame)
}

fn track<'a>(midi: &'a Value, name: &str) -> &'a Value {
    let tracks = midi["mido"]["tracks"].as_array().expect("tracks");
    tracks.iter().find(|track| track["name"] == name).unwrap_or_else(|| panic!("no track {name}"))
}

fn length(list: &Value) -> usize {
    list.as_array().expect("a list").len()
}

/// Milliseconds a beat are 60,000 through the tempo (common practice, no source). The clicks must be heard to
/// begin at exactly the frame nearest to that, counted from the frame of bar 1.
///
/// Voice and click sound together, so a click's edge stands clear of the voice at some beats only; those must be
/// exact, and they must be many.
#[test]
fn clicks_begin_on_their_frame() {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, bpm, beats) in [
        ("1-nine-doorsteps", 84.0, 32_u32),
        ("2-lamp-on-the-landing", 92.0, 48),
        ("5-geese-in-galoshes", 58.0, 16),
    ] {
        let (sound, _, bar_one) = write(&rhythm(name), folder.path(), &[]);
        assert_eq!(sound.rate, 48_000);
        let count_in = if name == "5-geese-in-galoshes" { 2_i32 } else { 4 };
        let mut heard = 0;
        for beat in -count_in..beats.cast_signed() {
            let expected = f64::from(bar_one) + f64::from(beat) * 48_000.0 * 60.0 / bpm;
            if let Some(onset) = onset_near(&sound, expected, 96) {
                assert!(
                    (onset as f64 - expected).abs() <= 0.5,
                    "{name}, beat {beat}: {onset}, written {expected}"
                );
                heard += 1;
            }
        }
        assert!(heard * 2 > beats, "{name}: only {heard} of {beats} clicks stand clear of the voice");
    }
}

#[test]
fn the_detector_hears_a_click_that_is_a_frame_late() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut sound, _, bar_one) = write(&rhythm("1-nine-doorsteps"), folder.path(), &[]);
    sound.frames.insert(0, 0.0);
    let onset = onset_near(&sound, f64::from(bar_one), 96).expect("the click of bar 1");
    assert_eq!(onset, u64::from(bar_one) + 1);
}

#[test]
fn the_same_call_writes_the_same_bytes() {
    let folders = [(); 2].map(|()| tempfile::tempdir().expect("a folder"));
    for folder in &folders {
        let _ = write(&rhythm("6-kettle-on-the-boil"), folder.path(), &["--voice", "male"]);
    }
    for name in ["sound.wav", "sound.mid"] {
        let [first, second] =
            folders.each_ref().map(|folder| std::fs::read(folder.path().join(name)).expect("a file"));
        assert!(first == second, "{name} differs");
    }
}

#[test]
fn the_midi_file_holds_click_attacks_and_counts() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in RHYTHMS {
        let (_, midi, _) = write(&rhythm(name), folder.path(), &["--count-in", "0"]);
        let counted = json(&run(["count", &rhythm(name), "--json"]).done());
        let bars = counted["bars"].as_array().expect("bars");
        let counts = || bars.iter().flat_map(|bar| bar["counts"].as_array().expect("counts"));
        let attacks = counts().filter(|count| count["do"] == "attack").count();
        let said = counts().filter(|count| !count["say"].is_null()).count();
        assert_eq!(length(&track(&midi, "rhythm")["notes"]), attacks, "{name}");
        assert_eq!(length(&track(&midi, "counts")["lyrics"]), said, "{name}");
        let numbers =
            counts().filter(|count| count["say"].as_str().is_some_and(|say| say.parse::<u32>().is_ok()));
        assert_eq!(length(&track(&midi, "click")["notes"]), numbers.count(), "{name}: a click a beat");
    }
}

#[test]
fn a_louder_place_is_never_full_scale() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in RHYTHMS {
        let (sound, _, _) = write(&rhythm(name), folder.path(), &[]);
        let peak = sound.frames.iter().fold(0.0_f64, |peak, frame| peak.max(frame.abs()));
        assert!((0.05..0.99).contains(&peak), "{name} peaks at {peak}");
    }
}

/// Only the clicks, set as `more` says: the first channel, and what is said of how loud the file is.
fn clicks(folder: &Path, more: &[&str]) -> (Vec<f64>, String) {
    let wav = folder.join("clicks.wav").to_string_lossy().into_owned();
    let file = rhythm("1-nine-doorsteps");
    let call = ["sound", &file, "--wav", &wav, "--mute", "count", "--mute", "clap", "--count-in", "0"];
    let out = run([&call, more].concat()).done();
    (Sound::read(Path::new(&wav)).frames, out.lines().nth(1).unwrap_or_default().trim().to_owned())
}

fn peak(frames: &[f64]) -> f64 {
    frames.iter().fold(0.0, |peak, frame| peak.max(frame.abs()))
}

/// No dither of 16 bits goes further: a step, and half of one for the rounding.
const DITHER: f64 = 1.51 / 32_768.0;

#[test]
fn a_sound_is_as_loud_and_where_it_is_set() {
    let folder = tempfile::tempdir().expect("a folder");
    let (middle, told) = clicks(folder.path(), &[]);
    let usual = peak(&middle);
    // The peak is told as it stands in the file, to a tenth of a decibel.
    let dbfs = 20.0 * usual.log10();
    let told_dbfs: f64 = told
        .strip_prefix("peak ")
        .and_then(|rest| rest.split_once(" dBFS, true peak "))
        .and_then(|(number, _)| number.parse().ok())
        .unwrap_or_else(|| panic!("{told}"));
    assert!((told_dbfs - dbfs).abs() < 0.06, "{told}: {dbfs}");
    assert!(
        told.contains(" LUFS, ") && told.contains(" at its loudest (0.4 s); from two loudspeakers "),
        "{told}"
    );

    let near = |found: f64, factor: f64| (found / usual / factor - 1.0).abs() < 0.001;
    let (softer, _) = clicks(folder.path(), &["--level", "click=-6"]);
    assert!(near(peak(&softer), 10_f64.powf(-0.3)), "6 dB softer");
    let (left, _) = clicks(folder.path(), &["--pan", "click=-100"]);
    assert!(
        near(peak(&left), std::f64::consts::SQRT_2) && left.len() == middle.len(),
        "all of it on the left"
    );
    let (right, _) = clicks(folder.path(), &["--pan", "click=100"]);
    assert!(peak(&right) < DITHER, "nothing of it on the left: {}", peak(&right));
    let (loud, told) = clicks(folder.path(), &["--level", "click=12", "--click", "divisions"]);
    assert!((0.8..0.892).contains(&peak(&loud)), "limited: {told}");
    let (silent, told) = clicks(folder.path(), &["--mute", "click"]);
    assert!(peak(&silent) < DITHER && told == "silence", "{told}: {}", peak(&silent));
}

#[test]
fn what_is_said_and_how_is_chosen() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = rhythm("1-nine-doorsteps");
    let lyrics = |more: &[&str]| -> Vec<String> {
        let (_, midi, _) = write(&file, folder.path(), more);
        let lyrics = track(&midi, "counts")["lyrics"].as_array().expect("a list").clone();
        lyrics.iter().map(|lyric| lyric[1].as_str().expect("a word").to_owned()).collect()
    };
    let ready = lyrics(&["--entry", "ready-go", "--count", "beats", "--rests", "whispered", "--tone"]);
    assert_eq!(ready[..4], ["1", "2", "ready", "go"]);
    assert!(ready[4..].iter().all(|word| word.parse::<u32>().is_ok()), "{ready:?}");
    let attacks = lyrics(&["--count", "attacks", "--count-in", "0"]);
    assert!(!attacks.is_empty() && attacks.len() < lyrics(&["--count-in", "0"]).len());
}

#[test]
fn a_sound_that_does_not_exist_is_refused() {
    let file = rhythm("1-nine-doorsteps");
    for (flag, value, says) in [
        ("--level", "drum=3", "write one of click, count, clap, tone, = and a number from -60 to 12"),
        ("--pan", "clap=left", "a number from -100 to 100, such as clap=-60"),
        ("--click", "offbeats", "possible values: beats, divisions, downbeats, groups"),
        ("--entry", "bonjour", "possible values: numbers, ready-play, ready-go"),
    ] {
        let refused = run(["sound", &file, flag, value]);
        assert_eq!(refused.status, Some(2), "{flag} {value}");
        assert!(refused.err.contains(says), "{flag} {value}: {}", refused.err);
    }
}

/// What a voice has no room for is told with the bar and the tempo there, not that of the beginning.
#[test]
fn a_bar_that_is_too_fast_for_the_voice_is_named() {
    let dir = tempfile::tempdir().expect("a folder");
    let file = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    let (rhythm, wav) = (file("fast.rhythm"), file("fast.wav"));
    let text = "meter: 4/4\ntempo: quarter = 60\n| 1 2 3 4 | [quarter = 240] 1 e & a 2 e & a 3 e & a 4 |\n";
    std::fs::write(&rhythm, text).expect("written");
    let call = tests::program::run(["sound", &rhythm, "--wav", &wav]);
    assert!(call.err.contains("too slow for some counts in bar 2 at quarter = 240"), "{}", call.err);

    // Bars that come again are named once.
    let text =
        "meter: 4/4\ntempo: quarter = 240\n|: 1 e & a 2 e & a 3 e & a 4 | 1 e & a 2 e & a 3 e & a 4 :|\n";
    std::fs::write(&rhythm, text).expect("written");
    let call = tests::program::run(["sound", &rhythm, "--wav", &wav]);
    let says = "in bar 1 at quarter = 240, bar 2 at quarter = 240: ";
    assert!(call.err.contains(says), "{}", call.err);
}

#[test]
fn words_for_the_entry_are_of_the_voices_own_language() {
    let dir = tempfile::tempdir().expect("a folder");
    let wav = dir.path().join("out.wav").to_string_lossy().into_owned();
    let rhythm = crate::rhythm("1-nine-doorsteps");
    let spanish = ["--voice", "spanish", "--wav", &wav];
    let call = tests::program::run([&["sound", &rhythm, "--entry", "ready-play"], &spanish[..]].concat());
    assert_eq!(call.status, Some(1), "{}", call.out);
    assert!(call.err.contains("has no recording of \"ready\", \"play\" for the count-in"), "{}", call.err);
    let call = tests::program::run(["sound", &rhythm, "--mute", "tone", "--wav", &wav]);
    assert_eq!(call.status, Some(2), "{}", call.out);
}
