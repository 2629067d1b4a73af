use std::fs;
use std::io::Cursor;
use std::path::Path;

use hound::{SampleFormat, WavSpec, WavWriter};

use super::{add, manifest, open, open_alone, place_of, sound_files, standing, write};
use crate::Error;

const MANIFEST: &str = r#"{"version": 1, "name": "mine", "description": "", "sample_rate_hz": 48000,
    "speeds": [{"name": "own"}], "words": {"1": "one"},
    "syllables": {"one": {"own": {"file": "own/one.wav", "centre_ms": 40}}}}"#;

fn wav() -> Vec<u8> {
    let form =
        WavSpec { channels: 1, sample_rate: 48_000, bits_per_sample: 16, sample_format: SampleFormat::Int };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, form).expect("a form");
    (0..9_600).for_each(|n| writer.write_sample((n % 50) * 100).expect("in memory"));
    writer.finalize().expect("in memory");
    bytes.into_inner()
}

fn files(manifest: &str) -> Vec<(String, Vec<u8>)> {
    vec![("own/one.wav".to_owned(), wav()), (MANIFEST_NAME.to_owned(), manifest.as_bytes().to_vec())]
}

const MANIFEST_NAME: &str = "manifest.json";

fn given(dir: &Path) -> String {
    format!("{}/", dir.display())
}

fn entries(dir: &Path) -> Vec<String> {
    let entries = fs::read_dir(dir).expect("a folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn a_voice_is_written_whole_and_read_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let dir = folder.path().join("mine");
    for text in [MANIFEST.to_owned(), MANIFEST.replace("\"\"", "\"Another.\"")] {
        write(&dir, &files(&text)).expect("written");
        assert_eq!(entries(folder.path()), ["mine"], "nothing is left beside it");
        let alone = open_alone(&given(&dir)).expect("readable");
        assert_eq!(alone.words().collect::<Vec<_>>(), ["1"]);
        let whole = open(&given(&dir)).expect("readable");
        assert!(whole.says("12") && whole.borrows("12") == Some("female") && whole.borrows("1").is_none());
    }
    assert_eq!(open_alone(&given(&dir)).expect("readable").description(), "Another.");
}

#[test]
fn what_stood_there_stands_there_still_when_the_new_one_cannot_be_written() {
    let folder = tempfile::tempdir().expect("a folder");
    let dir = folder.path().join("mine");
    write(&dir, &files(MANIFEST)).expect("written");
    // A file stands where a folder is needed.
    let mut wrong = files(MANIFEST);
    wrong.insert(0, ("own".to_owned(), Vec::new()));
    let error = write(&dir, &wrong).expect_err("no folder below a file").to_string();
    assert!(error.contains("own") && error.contains("cannot be written"), "{error}");
    assert_eq!(entries(folder.path()), ["mine"]);
    assert!(open_alone(&given(&dir)).is_ok());

    // Stopped between its two renames: what stood there is put back before anything else.
    fs::rename(&dir, folder.path().join(".mine.old")).expect("renamed");
    write(&dir, &wrong).expect_err("as before");
    assert_eq!(entries(folder.path()), ["mine"]);
    assert!(open_alone(&given(&dir)).is_ok());
}

#[test]
fn what_is_no_voice_is_not_written_over() {
    let folder = tempfile::tempdir().expect("a folder");
    let dir = folder.path().join("letters");
    fs::create_dir(&dir).expect("made");
    fs::write(dir.join("letter.txt"), "dear").expect("written");
    let error = write(&dir, &files(MANIFEST)).expect_err("something else").to_string();
    assert!(error.contains("no voice") && error.contains("letters"), "{error}");
    assert_eq!(entries(&dir), ["letter.txt"]);
    assert!(write(&dir.join("letter.txt"), &files(MANIFEST)).is_err(), "a file");
}

#[test]
fn what_cannot_be_opened_is_told_with_its_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let dir = folder.path().join("mine");
    write(&dir, &files(MANIFEST)).expect("written");
    let check = |change: &dyn Fn(), says: &str| {
        change();
        let error = open(&given(&dir)).expect_err(says).to_string();
        assert!(error.contains(says) && error.contains("mine"), "{error}");
    };
    let sound = dir.join("own/one.wav");
    check(&|| fs::write(&sound, b"").expect("written"), "is empty, 0 bytes");
    check(&|| fs::write(&sound, &wav()[..400]).expect("written"), "the whole file has 400");
    check(&|| fs::remove_file(&sound).expect("removed"), "own/one.wav");
    // A folder cannot be read as a file, whoever the user is.
    check(&|| fs::create_dir(&sound).expect("made"), "cannot be read");
    check(&|| fs::write(dir.join(MANIFEST_NAME), b"{").expect("written"), "the manifest cannot be read");
    check(&|| fs::remove_file(dir.join(MANIFEST_NAME)).expect("removed"), "manifest.json cannot be read");
    assert!(matches!(open("nobody-has-this-voice"), Err(Error::NoVoice { known, .. }) if known.len() >= 2));
}

#[test]
fn names_and_places() {
    let check = |given: &str, good: bool| assert_eq!(place_of(given).is_ok(), good, "{given}");
    check("mrs-k", true);
    check("Ms K", true);
    check("./here", true);
    check("female", false);
    check("", false);
    check(".hidden", false);
    check("a*b", false);
    check("-a", false);
    check("a ", false);
    check("a.", false);
    let error = place_of("a*b").expect_err("a star").to_string();
    assert!(error.contains("letters, digits, hyphens, blanks, full stops and _"), "{error}");
    assert_eq!(place_of("./here").expect("a path"), Path::new("./here"));
}

#[test]
fn recordings_are_found_by_speed_and_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let empty = sound_files(folder.path()).expect_err("empty").to_string();
    assert!(empty.contains("holds 0 sound files"), "{empty}");
    for name in [
        "two.WAV",
        "one.flac",
        "notes.txt",
        "readme.mp3",
        "..&x.wav",
        "._one.wav",
        "quick/one.wav",
        "quick/more/one.wav",
        "slow/one.wav",
        "other/one.wav",
    ] {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().expect("within")).expect("made");
        fs::write(path, b"").expect("written");
    }
    let found = sound_files(folder.path()).expect("four");
    let names: Vec<(Option<&str>, &str)> =
        found.files.iter().map(|f| (f.speed.as_deref(), f.name.as_str())).collect();
    assert_eq!(names, [(None, "one"), (None, "two"), (Some("slow"), "one"), (Some("quick"), "one")]);
    // Nothing is passed over in silence.
    let passed: Vec<&str> = found.passed_over.iter().filter_map(|why| why.split(" is ").next()).collect();
    assert_eq!(passed, ["..&x.wav", "._one.wav", "notes.txt", "other", "quick/more", "readme.mp3"]);
    assert!(found.passed_over[5].contains("save it as .wav or .flac"), "{}", found.passed_over[5]);
    for name in ["one.flac", "two.WAV", "slow/one.wav", "quick/one.wav"] {
        fs::remove_file(folder.path().join(name)).expect("removed");
    }
    let none = sound_files(folder.path()).expect_err("none that can be used").to_string();
    assert!(none.contains("readme.mp3 is of a kind that is not read"), "{none}");
    assert!(sound_files(&folder.path().join("nowhere")).is_err());
}

/// What joins a voice takes the place of what it replaces; everything else of its folder stays, or all of it.
#[test]
fn files_are_added_to_a_voice_whole_or_not_at_all() {
    let folder = tempfile::tempdir().expect("a folder");
    let dir = folder.path().join("mine");
    assert!(standing(&dir).expect("none yet").is_none());
    write(&dir, &files(MANIFEST)).expect("written");
    fs::write(dir.join("COPYRIGHT-me"), "mine").expect("written");
    let two = MANIFEST.replace("\"1\": \"one\"", "\"2\": \"two\"").replace("one", "two");
    let new = vec![("own/two.wav".to_owned(), wav()), (MANIFEST_NAME.to_owned(), two.into_bytes())];
    add(&dir, &new, &["own/one.wav".to_owned()]).expect("added");
    assert_eq!(entries(folder.path()), ["mine"]);
    assert_eq!(entries(&dir), ["COPYRIGHT-me", MANIFEST_NAME, "own"]);
    assert_eq!(entries(&dir.join("own")), ["two.wav"]);
    assert_eq!(manifest(&dir).expect("there"), new[1].1);
    assert!(standing(&dir).expect("readable").expect("a voice").says("2"));

    // A manifest that names what is not there is never put in the place of what can be opened.
    let lacking = MANIFEST.replace("own/one.wav", "own/nowhere.wav").into_bytes();
    for gone in [&[][..], &["own/two.wav".to_owned()]] {
        let error =
            add(&dir, &[(MANIFEST_NAME.to_owned(), lacking.clone())], gone).expect_err("it lacks a file");
        assert!(error.to_string().contains("nowhere") && !error.to_string().contains(".part"), "{error}");
        assert_eq!(entries(folder.path()), ["mine"]);
        assert!(open_alone(&given(&dir)).expect("as before").says("2"));
    }
    assert!(write(&dir, &[(MANIFEST_NAME.to_owned(), lacking)]).is_err());
    assert!(open_alone(&given(&dir)).expect("as before").says("2"));

    // Stopped between its two renames: what stood there is joined, not passed over.
    fs::rename(&dir, folder.path().join(".mine.old")).expect("renamed");
    assert!(standing(&dir).expect("put back").expect("a voice").says("2"));

    // Begun anew, nothing of the old one is left.
    write(&dir, &files(MANIFEST)).expect("written");
    assert_eq!(entries(&dir), [MANIFEST_NAME, "own"]);
}
