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
