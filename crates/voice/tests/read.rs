//! Packs from outside: what is wrong with one is said, and nothing makes the reader panic.

#[path = "read/import.rs"]
mod import;

use std::borrow::Cow;
use std::io::Cursor;

use hound::{SampleFormat, WavSpec, WavWriter};
use proptest::prelude::*;
use timebase::{Frames, Seconds};
use voice::{Error, VoicePack};

const SPEC: WavSpec =
    WavSpec { channels: 1, sample_rate: 48_000, bits_per_sample: 16, sample_format: SampleFormat::Int };

/// A WAV file of so many frames of a quarter of full scale.
fn wav(spec: WavSpec, frames: u32) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, spec).expect("a form hound knows");
    for _ in 0..frames * u32::from(spec.channels) {
        match spec.sample_format {
            SampleFormat::Float => writer.write_sample(0.25_f32).expect("in memory"),
            SampleFormat::Int => writer.write_sample(1_i32 << (spec.bits_per_sample - 3)).expect("in memory"),
        }
    }
    writer.finalize().expect("in memory");
    bytes.into_inner()
}

const MANIFEST: &str = r#"{"version": 1, "name": "mine", "description": "My own.", "sample_rate_hz": 48000,
    "speeds": [{"name": "slow"}, {"name": "quick"}], "words": {"1": "one"}, "weak_forms": {"one": "won"},
    "syllables": {"one": {"quick": {"file": "one.wav", "centre_ms": 40}},
                  "won": {"slow": {"file": "one.wav", "centre_ms": 40, "override_ms": 55.5}}}}"#;

fn read(manifest: &str, file: &[u8]) -> Result<VoicePack, Error> {
    VoicePack::read(manifest.as_bytes(), |name| (name == "one.wav").then_some(Cow::Borrowed(file)))
}

#[test]
fn a_pack_of_ones_own_is_read() {
    let pack = read(MANIFEST, &wav(SPEC, 9_600)).expect("a pack");
    assert_eq!((pack.name(), pack.description(), pack.says("1")), ("mine", "My own.", true));
    let fitted = pack.fit("1", Seconds::from_millis(300)).expect("a word").expect("it fits");
    let one = pack.recording(fitted.recording);
    assert_eq!(
        (one.syllable(), one.speed(), one.centre(), one.length()),
        ("one", "quick", Frames::new(1_920), Frames::new(9_600))
    );
    assert!(one.vowel().is_none() && one.sample().data().iter().all(|&frame| frame == 0.25));
    // A centre set by ear goes before the estimated one.
    let (_, won) = pack.recordings().find(|(_, r)| r.syllable() == "won").expect("in the manifest");
    assert_eq!(won.centre_seconds(), Seconds::from_millis_f64(55.5));
}

#[test]
fn other_sample_formats_are_read_at_the_same_level() {
    for (bits_per_sample, sample_format) in
        [(8, SampleFormat::Int), (24, SampleFormat::Int), (32, SampleFormat::Int), (32, SampleFormat::Float)]
    {
        let pack = read(MANIFEST, &wav(WavSpec { bits_per_sample, sample_format, ..SPEC }, 4_800))
            .expect("readable");
        let (_, recording) = pack.recordings().next().expect("two");
        assert!(recording.sample().data().iter().all(|&frame| frame == 0.25), "{bits_per_sample} bits");
    }
}

#[test]
fn what_is_wrong_is_said_with_a_way_out() {
    let good = &wav(SPEC, 9_600);
    let check = |change: (&str, &str), file: &[u8], says: &str| {
        assert!(change.0.is_empty() || MANIFEST.contains(change.0), "{}", change.0);
        let error = read(&MANIFEST.replace(change.0, change.1), file).expect_err(says).to_string();
        assert!(error.contains(says), "{error}\ninstead of {says}");
    };
    let same = ("1, \"name\"", "1, \"name\"");
    check(("\"version\": 1", "\"version\": 2"), good, "version 2; this program reads version 1");
    check(("\"name\": \"mine\",", ""), good, "missing field `name`");
    check(("\"centre_ms\": 40}", "\"center_ms\": 40}"), good, "unknown field `center_ms`");
    check(("\"1\": \"one\"", "\"1\": \"eins\""), good, "the word \"1\" names the syllable \"eins\"");
    check(
        ("\"one\": \"won\"", "\"one\": \"wun\""),
        good,
        "the weak form of \"one\" names the syllable \"wun\"",
    );
    check(("\"one\": \"won\"", "\"two\": \"won\""), good, "a weak form names the syllable \"two\"");
    check(
        ("{\"quick\": ", "{\"fast\": "),
        good,
        "names the speed \"fast\", which the manifest does not have: it has slow, quick",
    );
    check(
        ("\"centre_ms\": 40}", "\"centre_ms\": 400}"),
        good,
        "perceptual centre at 400 ms but lasts only 0.200 s",
    );
    check(("\"centre_ms\": 40}", "\"centre_ms\": -1}"), good, "perceptual centre at -1 ms");
    check(("48000", "4000"), good, "4000 is not a sample rate");
    check(("48000", "44100"), good, "has 48000 Hz; the pack needs 44100 Hz");
    for name in ["../one.wav", "/one.wav", "a/../../one.wav", "C:one.wav", "a\\\\one.wav", "", "./one.wav"] {
        check(
            ("\"one.wav\", \"centre_ms\": 40}", &format!("\"{name}\", \"centre_ms\": 40}}")),
            good,
            "not the name of a file within the pack",
        );
    }
    check(
        ("\"one.wav\", \"centre_ms\": 40}", "\"two.wav\", \"centre_ms\": 40}"),
        good,
        "\"two.wav\", which the manifest names, is not in the pack",
    );
    check(
        ("{\"quick\": {\"file\": \"one.wav\", \"centre_ms\": 40}}", "{}"),
        good,
        "\"one\" has no recording",
    );
    check(same, &wav(WavSpec { channels: 2, ..SPEC }, 480), "has 2 channels; the pack needs 1");
    check(
        same,
        &wav(WavSpec { sample_rate: 4_000, ..SPEC }, 480),
        "has a rate of 4000 Hz; the pack needs 8000 to 192000 Hz: convert it",
    );
    check(same, &wav(SPEC, 0), "lasts 0.000 s");
    check(
        same,
        &wav(SPEC, 48_000 * 6),
        "lasts 6.000 s; a syllable lasts more than nothing and at most 5.000 s",
    );
    check(same, &good[..good.len() / 2], "cannot be read as a WAV file");
    check(same, b"MP3?", "\"one.wav\" has 4 bytes, fewer than the head of a WAV file");
    check(same, &[b'M'; 60], "\"one.wav\" is no WAV file, whatever its name says: it begins with \"MMMM\"");
    let too_large = " ".repeat(5 << 20);
    check(("{\"version\"", &(too_large + "{\"version\"")), good, "at most 4194304 are read");
}

#[test]
fn a_pack_that_would_fill_memory_is_refused() {
    let long = wav(SPEC, 48_000 * 5);
    let syllables: Vec<String> = (0..130)
        .map(|n| format!("\"s{n}\": {{\"slow\": {{\"file\": \"one.wav\", \"centre_ms\": 1}}}}"))
        .collect();
    let manifest = format!(
        r#"{{"version": 1, "name": "long", "description": "", "sample_rate_hz": 48000, "speeds": [{{"name": "slow"}}],
        "words": {{}}, "syllables": {{{}}}}}"#,
        syllables.join(",")
    );
    let error = read(&manifest, &long).expect_err("eleven minutes").to_string();
    assert!(error.contains("last longer than 600.000 s together"), "{error}");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_manifest_panics(text in ".{0,200}", cut in 0..MANIFEST.len()) {
        let file = wav(SPEC, 4_800);
        let _ = read(&text, &file);
        let _ = read(&MANIFEST[..cut], &file);
        let _ = read(&MANIFEST.replace("40", &text), &file);
    }

    #[test]
    fn no_sound_file_panics(place in 0usize..60, byte: u8, cut in 0usize..400) {
        let mut file = wav(SPEC, 200);
        file[place % 44] = byte;
        let _ = read(MANIFEST, &file);
        file.truncate(cut);
        let _ = read(MANIFEST, &file);
    }
}
