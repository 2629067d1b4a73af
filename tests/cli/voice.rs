//! `countline voice`: recordings imported, checked and used; and what cannot be used.

use std::fs;
use std::io::Cursor;
use std::path::Path;

use hound::{SampleFormat, WavSpec, WavWriter};
use tests::program::run;

use crate::rhythm;

/// A sung vowel of 150 Hz in a silent second, in stereo at 44.1 kHz, at this share of full scale.
fn sung(share: f64) -> Vec<u8> {
    let form =
        WavSpec { channels: 2, sample_rate: 44_100, bits_per_sample: 16, sample_format: SampleFormat::Int };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, form).expect("a form");
    for frame in 0..44_100_u16 {
        let time = f64::from(frame) / 44_100.0;
        let rise = ((time - 0.3) / 0.03).clamp(0.0, 1.0) * (1.0 - ((time - 0.5) / 0.08).clamp(0.0, 1.0));
        let vowel: f64 = (1..12_u8)
            .map(|n| (std::f64::consts::TAU * 150.0 * f64::from(n) * time).sin() / f64::from(n))
            .sum();
        #[expect(clippy::cast_possible_truncation, reason = "a sample of a test")]
        let value = (share * 0.5 * rise * vowel * 32_767.0).clamp(-32_768.0, 32_767.0) as i16;
        for _ in 0..2 {
            writer.write_sample(value).expect("in memory");
        }
    }
    writer.finalize().expect("in memory");
    bytes.into_inner()
}

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).to_string_lossy().into_owned()
}

#[test]
fn a_voice_of_ones_own_is_imported_checked_and_used() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, mine) = (path(folder.path(), "spoken"), path(folder.path(), "mine"));
    fs::create_dir(&from).expect("made");
    for (name, bytes) in [
        ("one.wav", sung(0.8)),
        ("2.wav", sung(0.2)),
        ("and.wav", sung(0.5)),
        ("three.wav", sung(5.0)),
        ("four.wav", sung(0.002)),
        ("five.wav", Vec::new()),
    ] {
        fs::write(Path::new(&from).join(name), bytes).expect("written");
    }
    let imported = run(["voice", "import", &from, "-o", &mine]);
    assert_eq!(imported.status, Some(0), "{}", imported.err);
    for says in ["one.wav: one", "2.wav: two", "-19.0 LUFS", "3 to 200, a", "wrote the voice mine"] {
        assert!(imported.out.contains(says), "no \"{says}\" in\n{}", imported.out);
    }
    for says in [
        "\"three.wav\" is refused: it is clipped",
        "\"four.wav\" is refused: it is too quiet",
        "\"five.wav\" is empty, 0 bytes",
        "3 of 6 files are in the voice: 3 refused\n",
        "refused: five.wav, four.wav, three.wav",
    ] {
        assert!(imported.err.contains(says), "no \"{says}\" in\n{}", imported.err);
    }

    let help = run(["voice", "import", "--help"]).done().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(help.contains("the call fails only where none of them can be used"), "{help}");

    let svg = path(folder.path(), "mine.svg");
    let checked = run(["voice", "check", &mine, "-o", &svg]).done();
    assert!(checked.contains("centre_ms") && checked.contains("female says them: 3 to 200"), "{checked}");
    let picture = fs::read_to_string(&svg).expect("written");
    for says in ["<svg", "The voice mine", ">one<", ">two<", ">and<", ">own<"] {
        assert!(picture.contains(says), "no {says} in the picture");
    }

    let wav = path(folder.path(), "sound.wav");
    let sound = run(["sound", &rhythm("1-nine-doorsteps"), "--voice", &mine, "--wav", &wav]);
    assert_eq!(sound.status, Some(0), "{}", sound.err);
    assert!(
        sound.err.contains("the voice mine has no recording of 3 4: the voice female says it"),
        "{}",
        sound.err
    );
    assert!(Path::new(&wav).exists());
}

#[test]
fn what_cannot_be_made_leaves_the_old_voice() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, mine) = (path(folder.path(), "spoken"), path(folder.path(), "mine"));
    let check = |args: &[&str], status: i32, says: &str| {
        let run = run(args.iter().copied());
        assert_eq!(run.status, Some(status), "{args:?}\n{}", run.err);
        assert!(run.err.contains(says), "no \"{says}\" in\n{}", run.err);
    };
    check(&["voice", "import", &from, "-o", &mine], 1, "spoken cannot be read");
    fs::create_dir(&from).expect("made");
    check(&["voice", "import", &from, "-o", &mine], 1, "holds 0 sound files");
    fs::write(Path::new(&from).join("one.wav"), sung(0.5)).expect("written");
    run(["voice", "import", &from, "-o", &mine]).done();
    check(&["voice", "import", &from, "-o", &from], 1, "holds something that is no voice");
    let before = fs::read(Path::new(&mine).join("manifest.json")).expect("written");
    fs::write(Path::new(&from).join("one.wav"), b"RIFF").expect("written");
    check(&["voice", "import", &from, "-o", &mine], 1, "none of the files can be used");
    assert_eq!(fs::read(Path::new(&mine).join("manifest.json")).expect("there still"), before);
    check(&["voice", "import", &from, "-o", "female"], 2, "cannot be the name of a voice of your own");
    check(
        &["voice", "import", &from, "-o", &mine, "--language", "tlh"],
        2,
        "en (English), es (Spanish), de (German)",
    );
    check(&["voice", "check", "nobody"], 2, "female, male");
    check(&["voice", "record", "me", "--words", " "], 2, "--words");
}

/// `--counting`: what is said is what the system says aloud, in the file's lyrics too.
#[test]
fn sound_counts_in_another_system() {
    let folder = tempfile::tempdir().expect("a folder");
    let midi = path(folder.path(), "sound.mid");
    let wav = path(folder.path(), "sound.wav");
    for system in ["takadimi", "gordon", "kodaly", "mchose-tibbs", "slow-six"] {
        let rhythm = rhythm("1-nine-doorsteps");
        let run = run(["sound", &rhythm, "--counting", system, "--midi", &midi, "--wav", &wav]);
        assert_eq!(run.status, Some(0), "{system}: {}", run.err);
        let bytes = fs::read(&midi).expect("written");
        let says = |word: &[u8]| bytes.windows(word.len() + 1).any(|at| at[1..] == *word && at[0] == 2);
        assert_eq!(says(b"ta"), matches!(system, "takadimi" | "kodaly"), "{system}");
        assert_eq!(says(b"du"), system == "gordon", "{system}");
    }
}

/// Recording or importing a word over a voice of many replaced the whole voice.
#[test]
fn what_is_imported_joins_the_voice_that_stands() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, mine) = (path(folder.path(), "spoken"), path(folder.path(), "mine"));
    let spoken = |names: &[&str]| {
        let _ = fs::remove_dir_all(&from);
        for name in names {
            let file = Path::new(&from).join(name);
            fs::create_dir_all(file.parent().expect("within")).expect("made");
            fs::write(file, sung(0.5)).expect("written");
        }
    };
    let check = |args: &[&str], status: i32, says: &[&str]| {
        let run = run(["voice", "import", &from, "-o", &mine].iter().copied().chain(args.iter().copied()));
        assert_eq!(run.status, Some(status), "{args:?}\n{}", run.err);
        let all = format!("{}{}", run.out, run.err);
        for says in says {
            assert!(all.contains(says), "no \"{says}\" in\n{all}");
        }
        all
    };
    spoken(&["one.wav", "two.wav", "three.wav"]);
    assert!(!check(&[], 0, &["wrote the voice mine"]).contains("replaced"));
    let manifest = Path::new(&mine).join("manifest.json");
    let json = |at: &Path| -> serde_json::Value {
        serde_json::from_slice(&fs::read(at).expect("there")).expect("JSON")
    };
    let mut by_ear = json(&manifest);
    for name in ["one", "two"] {
        by_ear["syllables"][name]["own"]["override_ms"] = 77.0.into();
    }
    fs::write(&manifest, by_ear.to_string()).expect("written");
    fs::write(Path::new(&mine).join("notes.txt"), "recorded in May").expect("written");

    spoken(&["two.wav", "four.wav"]);
    check(&[], 0, &["replaced 1, added 1, kept 2 recordings", "is gone with it, of two", "5 to 200"]);
    let joined = json(&manifest);
    assert_eq!(joined["syllables"]["one"], by_ear["syllables"]["one"]);
    assert!(joined["syllables"]["two"]["own"]["override_ms"].is_null());
    assert!(Path::new(&mine).join("notes.txt").exists());
    let checked = run(["voice", "check", &mine]).done();
    assert!(checked.contains("set by hand") && checked.contains("four"), "{checked}");

    // Of another language, or of nobody knows which speed, nothing is taken.
    check(&["--language", "de"], 2, &["speaks \"en\"", "--language en", "--anew"]);
    check(&["--speed", "fast"], 2, &["\"fast\" is no speed"]);
    spoken(&["slow/two.wav", "quick/two.wav"]);
    check(&["--anew"], 0, &["wrote the voice mine"]);
    assert!(!Path::new(&mine).join("notes.txt").exists());
    spoken(&["two.wav"]);
    check(&[], 2, &["the voice has the speeds slow, quick: say with --speed"]);
    check(&["--speed", "quick"], 0, &["replaced 1, added 0, kept 1 recordings"]);
    fs::write(&manifest, "{").expect("written");
    check(&["--speed", "quick"], 1, &["nothing can join it", "--anew"]);
}

/// What lies in a folder and is not taken is named; of two files that say one word the second is refused.
#[test]
fn an_import_passes_over_nothing_in_silence() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, mine) = (path(folder.path(), "spoken"), path(folder.path(), "mine"));
    for name in ["one.wav", "1.wav", "hop.wav", "readme.mp3", "..&x.wav", "more/two.wav"] {
        let file = Path::new(&from).join(name);
        fs::create_dir_all(file.parent().expect("within")).expect("made");
        fs::write(file, sung(0.5)).expect("written");
    }
    let imported = run(["voice", "import", &from, "-o", &mine]);
    assert_eq!(imported.status, Some(0), "{}", imported.err);
    for says in [
        "passed over: readme.mp3 is of a kind that is not read",
        "passed over: ..&x.wav is a hidden file",
        "passed over: more is a folder",
        "\"one.wav\" is refused: \"1.wav\" says \"one\" already",
        "2 of 6 files are in the voice: 1 refused, 3 passed over",
    ] {
        assert!(imported.err.contains(says), "no \"{says}\" in\n{}", imported.err);
    }
    assert!(imported.out.contains("hop.wav: hop") && imported.out.contains("a word of your own"));
    assert!(!imported.out.contains("one.wav: one"), "{}", imported.out);
    let error = run(["voice", "import", &from, "-o", "a*b"]).err;
    assert!(error.contains("letters, digits, hyphens, blanks, full stops and _"), "{error}");
}

/// A file that is no recording, or one of an odd kind, is refused in our own words: what it is, what is read, what to do.
#[test]
fn odd_sound_files_are_refused_in_plain_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let (from, mine) = (path(folder.path(), "spoken"), path(folder.path(), "mine"));
    fs::create_dir(&from).expect("made");
    let coded = |code: u8, bits: u8| {
        let mut bytes = sung(0.5);
        (bytes[20], bytes[34]) = (code, bits);
        bytes
    };
    let quiet = float(|value| 1e-4 * value);
    let files: [(&str, Vec<u8>, &str); 9] = [
        (
            "one.wav",
            coded(3, 64),
            "\"one.wav\" has 64-bit float samples; a WAV file may have 8 to 32-bit integer or 32-bit float samples: save it again as 16-bit PCM",
        ),
        (
            "two.wav",
            b"Dear teacher,\nthis is a letter, longer than the head of a sound file.\n".to_vec(),
            "\"two.wav\" is no WAV file, whatever its name says: it begins with \"Dear\" where \"RIFF\" is expected; export the recording as WAV (16-bit PCM) or FLAC",
        ),
        (
            "three.wav",
            b"abcd".to_vec(),
            "\"three.wav\" has 4 bytes, fewer than the head of a WAV file: record or copy it again",
        ),
        ("four.wav", b"RIFF".to_vec(), "\"four.wav\" has 4 bytes, fewer than the head of a WAV file"),
        ("five.wav", quiet, "\"five.wav\" is refused: it is too quiet: its highest peak is -8"),
        ("six.wav", coded(2, 4), "\"six.wav\" has 4-bit ADPCM samples"),
        ("seven.wav", coded(85, 16), "\"seven.wav\" has MP3 samples"),
        ("eight.wav", coded(1, 12), "\"eight.wav\" has"),
        (
            "nine.wav",
            sung(0.5)[..30].to_vec(),
            "\"nine.wav\" has 30 bytes, fewer than the head of a WAV file",
        ),
    ];
    for (name, bytes, _) in &files {
        fs::write(Path::new(&from).join(name), bytes).expect("written");
    }
    fs::write(Path::new(&from).join("ten.wav"), float(|value| 0.6 * value + 0.35)).expect("written");
    let imported = run(["voice", "import", &from, "-o", &mine]);
    for (_, _, says) in &files {
        assert!(imported.err.contains(says), "no {says} in\n{}", imported.err);
    }
    for words in ["Ill-formed", "no RIFF tag", "Failed to read", "wave format of the file"] {
        assert!(!imported.err.contains(words), "{}", imported.err);
    }
    // What lies beside the zero line is brought there.
    assert!(imported.out.contains("ten.wav: ten, "), "{}\n{}", imported.out, imported.err);
}

/// The sung vowel as 32-bit float, changed.
fn float(change: impl Fn(f32) -> f32) -> Vec<u8> {
    let form =
        WavSpec { channels: 1, sample_rate: 44_100, bits_per_sample: 32, sample_format: SampleFormat::Float };
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, form).expect("a form");
    for frame in sung(0.5)[44..].chunks_exact(4) {
        let value = f32::from(i16::from_le_bytes([frame[0], frame[1]])) / 32_768.0;
        writer.write_sample(change(value)).expect("in memory");
    }
    writer.finalize().expect("in memory");
    bytes.into_inner()
}
