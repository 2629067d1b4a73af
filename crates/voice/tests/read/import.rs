//! Recordings from outside made syllables of a pack: the same whatever the form of the file, or refused with a reason.

use std::borrow::Cow;
use std::f64::consts::TAU;
use std::io::Cursor;

use hound::{SampleFormat, WavSpec, WavWriter};
use timebase::Seconds;
use voice::{
    Error, LOUDNESS_LUFS, Language, Making, PEAK_DBFS, Prepared, Recorded, Refusal, SOFT_LOUDNESS_LUFS,
    Stress, VoicePack, Wanted,
};

/// A spoken "ta", made of tones, so that it is the same at every rate: a burst and breath of many tones between 2 and 8
/// kHz, then a vowel of harmonics of 140 Hz that rises over 30 ms, in a room with a little noise. Seconds from the
/// beginning of the file to full scale.
fn ta(time: f64) -> f64 {
    let spoken = time - 0.4;
    let tones = |from_hz: f64, count: u32| -> f64 {
        (0..count)
            .map(|n| {
                let hz = from_hz + 141.7 * f64::from(n);
                (TAU * hz * time + 2.1 * f64::from(n * n)).sin()
            })
            .sum::<f64>()
            / f64::from(count).sqrt()
    };
    let rise = |from: f64, over: f64| ((spoken - from) / over).clamp(0.0, 1.0);
    let burst = 0.12 * rise(0.0, 0.002) * (1.0 - rise(0.015, 0.010));
    let breath = 0.03 * rise(0.015, 0.010) * (1.0 - rise(0.070, 0.020));
    let voiced = 0.5 * rise(0.070, 0.030) * (1.0 - rise(0.250, 0.080));
    let vowel: f64 = (1..=25_u32)
        .map(|n| {
            let hz = 140.0 * f64::from(n);
            // Formants near 700 and 1200 Hz.
            let near = |formant: f64| 1.0 / (1.0 + ((hz - formant) / 120.0).powi(2));
            (near(700.0) + 0.7 * near(1_200.0) + 0.05) * (TAU * hz * time).sin()
        })
        .sum();
    let room = 0.0004 * tones(300.0, 20);
    (burst + breath) * tones(2_000.0, 40) + 0.4 * voiced * vowel + room
}

/// A WAV file of `sound`, full scale ±1, in this form, a second long.
fn wav(form: WavSpec, seconds: f64, sound: impl Fn(u16, f64) -> f64) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut writer = WavWriter::new(&mut bytes, form).expect("a form of WAV");
    let mut frame = 0.0;
    while frame < seconds * f64::from(form.sample_rate) {
        for channel in 0..form.channels {
            let value = sound(channel, frame / f64::from(form.sample_rate)).clamp(-1.0, 1.0);
            let full = 2.0_f64.powi(i32::from(form.bits_per_sample) - 1);
            let written = match form.sample_format {
                #[expect(clippy::cast_possible_truncation, reason = "a sample of a test")]
                SampleFormat::Float => writer.write_sample(value as f32),
                #[expect(clippy::cast_possible_truncation, reason = "a sample of a test")]
                SampleFormat::Int => {
                    writer.write_sample((value * full).round().clamp(-full, full - 1.0) as i32)
                }
            };
            written.expect("in memory");
        }
        frame += 1.0;
    }
    writer.finalize().expect("in memory");
    bytes.into_inner()
}

const fn form(sample_rate: u32, channels: u16, bits_per_sample: u16) -> WavSpec {
    let sample_format = if bits_per_sample == 32 { SampleFormat::Float } else { SampleFormat::Int };
    WavSpec { channels, sample_rate, bits_per_sample, sample_format }
}

const USUAL: WavSpec = form(48_000, 1, 16);

fn wanted(syllable: &str, soft: bool) -> Wanted {
    Wanted { syllable: syllable.to_owned(), soft, stress: Stress::ONLY }
}

fn prepare(bytes: &[u8]) -> Result<Prepared, Refusal> {
    Prepared::of_file("ta.wav", bytes, &wanted("ta", false))
}

/// The one recording of a pack made of these.
fn centre(prepared: Prepared) -> Seconds {
    let pack = pack(&[("own", vec![prepared])], "en");
    pack.recordings().map(|(_, recording)| recording.centre_seconds()).next().expect("one recording")
}

fn pack(speeds: &[(&str, Vec<Prepared>)], language: &str) -> VoicePack {
    let language = Language::of(language).expect("built in");
    let speeds = speeds.iter().map(|(speed, list)| ((*speed).to_owned(), list.clone())).collect();
    let recorded = Recorded { name: "mine", description: "A test's.", language: &language, speeds };
    let making = Making::of(&recorded).expect("a pack");
    let file = |name: &str| {
        let found = making.files.iter().find(|(file, _)| file == name);
        found.map(|(_, bytes)| Cow::Borrowed(bytes.as_slice()))
    };
    let manifest = file("manifest.json").expect("there is one");
    VoicePack::read(&manifest, file).expect("what is written can be read")
}

/// Any rate, one channel or two, any width: the centre within a millisecond, the length within three, the level as it
/// has to be. The vowel begins 70 ms after the burst and rises over 30: its centre lies in there.
#[test]
fn the_form_of_the_file_makes_no_difference() {
    let reference = centre(prepare(&wav(USUAL, 1.0, |_, time| ta(time))).expect("usable"));
    let expected = Seconds::from_millis(70)..Seconds::from_millis(105);
    assert!(expected.contains(&reference), "{reference}");
    let plain: fn(u16, f64) -> f64 = |_, time| ta(time);
    let right_softer: fn(u16, f64) -> f64 = |channel, time| ta(time) / f64::from(1 + channel);
    let left_only: fn(u16, f64) -> f64 = |channel, time| if channel == 0 { ta(time) } else { 0.0 };
    let reversed: fn(u16, f64) -> f64 = |channel, time| if channel == 0 { ta(time) } else { -0.9 * ta(time) };
    let soft: fn(u16, f64) -> f64 = |_, time| 0.1 * ta(time);
    let offset: fn(u16, f64) -> f64 = |_, time| ta(time) + 0.02;
    for (form, sound, what) in [
        (form(22_050, 2, 16), plain, "22.05 kHz"),
        (form(44_100, 2, 16), right_softer, "44.1 kHz, the right channel softer"),
        (form(96_000, 2, 24), plain, "96 kHz, 24 bits"),
        (form(96_000, 2, 32), left_only, "96 kHz, float, the left channel only"),
        (form(44_100, 2, 16), reversed, "a reversed channel"),
        (form(32_000, 1, 16), soft, "20 dB softer"),
        (form(48_000, 1, 24), offset, "beside the zero line"),
    ] {
        let prepared = prepare(&wav(form, 1.0, sound)).unwrap_or_else(|why| panic!("{what}: {why}"));
        let loudness = prepared.loudness();
        assert!(
            (loudness.lufs - LOUDNESS_LUFS).abs() < 0.1 || loudness.peak_dbfs > PEAK_DBFS - 0.1,
            "{what}: {loudness:?}"
        );
        assert!(loudness.peak_dbfs < PEAK_DBFS + 0.05, "{what}: {loudness:?}");
        let length = prepared.length();
        assert!((length - Seconds::from_millis(340)).abs() < Seconds::from_millis(25), "{what}: {length}");
        let off = (centre(prepared) - reference).abs();
        println!("{what}: centre {:.2} ms off", off.as_millis_f64());
        assert!(off < Seconds::from_millis(1), "{what}: {off}");
    }
}

#[test]
fn a_soft_syllable_is_five_decibels_softer() {
    let bytes = wav(USUAL, 1.0, |_, time| ta(time));
    let soft = Prepared::of_file("un.wav", &bytes, &wanted("un", true)).expect("usable");
    assert!((soft.loudness().lufs - SOFT_LOUDNESS_LUFS).abs() < 0.1, "{:?}", soft.loudness());
}

#[test]
fn what_cannot_be_used_is_refused_with_the_reason() {
    let check = |what: &str, bytes: &[u8], fits: fn(&Refusal) -> bool, says: &str| match prepare(bytes) {
        Ok(prepared) => panic!("{what} was taken: {prepared:?}"),
        Err(why) => assert!(fits(&why) && why.to_string().contains(says), "{what}: {why}"),
    };
    let of = |sound: fn(f64) -> f64| wav(USUAL, 1.0, move |_, time| sound(time));
    check("clipped", &of(|t| 6.0 * ta(t)), |w| matches!(w, Refusal::Clipped { .. }), "turn the input down");
    let clipped_8_bit = wav(form(44_100, 1, 8), 1.0, |_, time| 6.0 * ta(time));
    check("clipped in 8 bits", &clipped_8_bit, |w| matches!(w, Refusal::Clipped { .. }), "clipped");
    check("too quiet", &of(|t| 0.003 * ta(t)), |w| matches!(w, Refusal::TooQuiet { .. }), "too quiet");
    check("silent", &of(|_| 0.0), |w| *w == Refusal::Silent, "no sound");
    let noisy: fn(f64) -> f64 = |t| ta(t) + 0.2 * (TAU * 900.0 * t).sin() * (TAU * 37.0 * t).cos();
    check("noisy", &of(noisy), |w| matches!(w, Refusal::Noisy { .. }), "where it is quiet");
    let twice = wav(USUAL, 2.0, |_, time| ta(time) + ta(time - 0.9));
    check("two syllables", &twice, |w| matches!(w, Refusal::Several { .. }), "another sound");
    let held =
        wav(USUAL, 4.0, |_, t| if (0.5..3.0).contains(&t) { 0.3 * (TAU * 440.0 * t).sin() } else { 0.0 });
    check("a held note", &held, |w| matches!(w, Refusal::TooLong { .. }), "at most 1.500 s");
    let long = wav(form(8_000, 1, 8), 31.0, |_, time| ta(time));
    for wrong in [f32::NAN, f32::INFINITY] {
        let mut bytes = wav(form(48_000, 1, 32), 1.0, |_, time| ta(time));
        bytes.truncate(bytes.len() - 4);
        bytes.extend(wrong.to_le_bytes());
        check("no number", &bytes, |w| matches!(w, Refusal::NoNumbers { .. }), "samples that are no numbers");
    }
    check("a lesson", &long, |w| matches!(w, Refusal::File(Error::Length { .. })), "31.000 s");
    check("an empty file", b"", |w| matches!(w, Refusal::File(Error::EmptyFile { .. })), "0 bytes");
    check("a text", b"hello", |w| matches!(w, Refusal::File(Error::ShortFile { .. })), "WAV");
    check("half a FLAC file", b"fLaC", |w| matches!(w, Refusal::File(Error::Flac { .. })), "FLAC");
}

/// The length of a WAV file's sound stands at byte 40 of its usual header.
#[test]
fn a_file_that_lies_about_its_length_is_refused() {
    let honest = wav(USUAL, 1.0, |_, time| ta(time));
    for (says, expected) in [
        (u32::MAX - 1, "it says it has 4294967294 bytes of sound, and the whole file has 96044"),
        (1_000_000, "it says it has 1000000 bytes of sound"),
        (0, "lasts 0.000 s"),
    ] {
        let mut lying = honest.clone();
        lying[40..44].copy_from_slice(&says.to_le_bytes());
        let why = prepare(&lying).expect_err("a lie").to_string();
        assert!(why.contains("ta.wav") && why.contains(expected), "{says}: {why}");
    }
    assert!(prepare(&honest[..honest.len() - 1_000]).is_err(), "cut off");
}

/// A word of two syllables is centred on the one that is stressed.
#[test]
fn the_stressed_vowel_is_the_one_on_the_beat() {
    let bytes = wav(USUAL, 1.4, |_, time| 0.8 * ta(time) + ta(time - 0.35));
    let of = |number| {
        let wanted = Wanted { stress: Stress { number, of: Some(2) }, ..wanted("catorce", false) };
        centre(Prepared::of_file("catorce.wav", &bytes, &wanted).expect("usable"))
    };
    let apart = of(1) - of(0);
    assert!((apart - Seconds::from_millis(350)).abs() < Seconds::from_millis(20), "{apart}");
}

#[test]
fn a_language_says_its_numbers_with_its_own_syllables() {
    let bytes = wav(USUAL, 1.0, |_, time| ta(time));
    let german = Language::of("de").expect("built in");
    let prepared = |name: &str| {
        let syllable = german.syllable(name);
        let wanted = Wanted { soft: german.is_soft(name), stress: german.stress(&syllable), syllable };
        Prepared::of_file(name, &bytes, &wanted).expect("usable")
    };
    // By the syllable, another spelling, the word, in capitals, and a word of one's own.
    let list = ["eins", "zwei", "fünf", "6", "UND", "un", "Zwanzig", "hopp"].map(prepared);
    let pack = pack(&[("own", list.to_vec())], "de");
    assert_eq!(pack.language(), "de");
    let words: Vec<&str> = pack.words().collect();
    assert_eq!(words, ["&", "1", "2", "20", "22", "25", "26", "5", "6", "hopp"]);
    let slot = Seconds::from_millis(3_000);
    let length = |word: &str| {
        let fitted = pack.fit(word, slot).expect("a word").expect("it fits");
        pack.recording(fitted.recording).length().seconds(pack.rate())
    };
    // Zwei, und and zwanzig one after another, each joint 6 ms.
    let whole = length("2") + length("&") + length("20") - Seconds::from_millis(12);
    assert!((length("22") - whole).abs() < Seconds::from_millis(1), "{} {whole}", length("22"));
    let tight = pack.fit("&", Seconds::from_millis(500)).expect("a word").expect("it fits");
    assert_eq!(pack.recording(tight.recording).syllable(), "und");
    assert!(Language::of("xx").expect_err("none").to_string().contains("de (German)"));
}

#[test]
fn a_pack_without_a_word_borrows_it() {
    let bytes = wav(USUAL, 1.0, |_, time| ta(time));
    let one = Prepared::of_file("one.wav", &bytes, &wanted("one", false)).expect("usable");
    let mine = pack(&[("own", vec![one])], "en");
    assert!(mine.says("1") && !mine.says("2") && !mine.says("21"));
    let whole = mine.completed_by(VoicePack::shipped("female").expect("shipped")).expect("one rate");
    assert_eq!(
        (whole.borrows("1"), whole.borrows("2"), whole.borrows("21")),
        (None, Some("female"), Some("female"))
    );
    let female = VoicePack::shipped("female").expect("shipped");
    for word in female.words() {
        let slot = Seconds::from_millis(130);
        let (here, there) = (whole.fit(word, slot).expect("a word"), female.fit(word, slot).expect("a word"));
        if whole.borrows(word).is_some() {
            let lengths = |fitted: Option<voice::Fitted>| fitted.map(|f| (f.length, f.centre, f.fit));
            assert_eq!(lengths(here), lengths(there), "{word}");
        }
    }
}

#[test]
fn nothing_makes_no_pack() {
    let language = Language::of("en").expect("built in");
    let recorded = Recorded { name: "none", description: "", language: &language, speeds: Vec::new() };
    assert!(matches!(Making::of(&recorded), Err(Error::NothingRecorded)));
}

/// The manifest of a making, as JSON.
fn manifest(making: &Making) -> serde_json::Value {
    let (name, bytes) = making.files.last().expect("a manifest");
    assert_eq!(name, "manifest.json");
    serde_json::from_slice(bytes).expect("JSON")
}

/// New recordings join a voice: what it has of other words stays, with what was set by ear.
#[test]
fn recordings_join_a_voice_that_stands() {
    let bytes = wav(USUAL, 1.0, |_, time| ta(time));
    let english = Language::of("en").expect("built in");
    let prepared = |name: &str| Prepared::of_file(name, &bytes, &wanted(name, false)).expect("usable");
    let recorded = |speed: &str, names: &[&str]| {
        let prepared = names.iter().map(|name| prepared(name)).collect();
        Recorded {
            name: "mine",
            description: "",
            language: &english,
            speeds: vec![(speed.to_owned(), prepared)],
        }
    };
    let first = Making::of(&recorded("own", &["one", "two", "twenty"])).expect("a voice");
    assert_eq!((first.replaced, first.added, first.kept), (0, 3, 0));
    let mut standing = manifest(&first);
    // Two centres set by ear; a word and a file of the teacher's own naming.
    standing["syllables"]["one"]["own"]["override_ms"] = 61.0.into();
    standing["syllables"]["two"]["own"]["override_ms"] = 62.0.into();
    standing["syllables"]["twenty"]["own"]["file"] = "own/Three.wav".into();
    standing["description"] = "Mine.".into();
    standing["words"]["zwo"] = "two".into();
    let text = standing.to_string();

    let joined = Making::joined_to(text.as_bytes(), &recorded("own", &["two", "three"])).expect("joined");
    assert_eq!((joined.replaced, joined.added, joined.kept), (1, 1, 2));
    assert_eq!(joined.by_ear_before, ["two"]);
    assert!(joined.gone.is_empty(), "the new one has the old one's name: {:?}", joined.gone);
    let names: Vec<&str> = joined.files.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["own/three-2.wav", "own/two.wav", "manifest.json"], "no name is taken twice");
    let now = manifest(&joined);
    assert_eq!(now["syllables"]["one"], standing["syllables"]["one"], "as it was, by ear");
    assert_eq!(now["syllables"]["twenty"], standing["syllables"]["twenty"]);
    assert!(now["syllables"]["two"]["own"]["override_ms"].is_null());
    assert_eq!((&now["description"], &now["words"]["zwo"]), (&"Mine.".into(), &"two".into()));
    assert_eq!(
        (&now["words"]["3"], &now["joined"]["23"]),
        (&"three".into(), &vec!["twenty", "three"].into())
    );

    // At another speed nothing is replaced; the speeds stand in their order.
    let quick = Making::joined_to(text.as_bytes(), &recorded("quick", &["one"])).expect("joined");
    assert_eq!((quick.replaced, quick.added, quick.kept), (0, 1, 3));
    let text = manifest(&quick).to_string();
    let slow = Making::joined_to(text.as_bytes(), &recorded("slow", &["one"])).expect("joined");
    let speeds = manifest(&slow)["speeds"].as_array().expect("a list").clone();
    let speeds: Vec<&str> = speeds.iter().filter_map(|speed| speed["name"].as_str()).collect();
    assert_eq!(speeds, ["own", "slow", "quick"]);

    // A file of another kind makes room.
    let flac = text.replace("own/two.wav", "own/two.flac");
    let joined = Making::joined_to(flac.as_bytes(), &recorded("own", &["two"])).expect("joined");
    assert_eq!(joined.gone, ["own/two.flac"]);

    let german = Language::of("de").expect("built in");
    let other = Recorded { language: &german, ..recorded("own", &["one"]) };
    let why = Making::joined_to(text.as_bytes(), &other).expect_err("another language").to_string();
    assert!(
        why.contains("speaks \"en\"") && why.contains("--language en") && why.contains("--anew"),
        "{why}"
    );
    let rate = text.replace("48000", "44100");
    let why = Making::joined_to(rate.as_bytes(), &recorded("own", &["one"])).expect_err("a rate").to_string();
    assert!(why.contains("44100 Hz") && why.contains("48000"), "{why}");
    assert!(Making::joined_to(b"{", &recorded("own", &["one"])).is_err());
}

/// A loud hiss before a soft vowel: one way of looking takes it for the vowel, the other does not, and that is told.
#[test]
fn a_centre_on_which_two_estimates_disagree_is_told() {
    let hiss = |time: f64| -> f64 {
        let level = ((time - 0.40) / 0.02).clamp(0.0, 1.0) * ((0.60 - time) / 0.02).clamp(0.0, 1.0);
        let tones = (0..60_u32).map(|n| (TAU * (3_000.0 + 71.0 * f64::from(n)) * time).sin());
        level * tones.sum::<f64>() * 0.035
    };
    let vowel = |time: f64| -> f64 {
        let level = ((time - 0.60) / 0.02).clamp(0.0, 1.0) * ((0.80 - time) / 0.03).clamp(0.0, 1.0);
        let tones = (1..24_u32).map(|n| (TAU * 140.0 * f64::from(n) * time).sin() / f64::from(n));
        level * tones.sum::<f64>() * 0.03
    };
    let said = wav(USUAL, 1.2, |_, time| hiss(time) + vowel(time));
    let six = Prepared::of_file("six.wav", &said, &wanted("six", false)).expect("usable");
    let usual = wav(USUAL, 1.0, |_, time| ta(time));
    let others =
        ["ta", "la", "one"].map(|n| Prepared::of_file(n, &usual, &wanted(n, false)).expect("usable"));
    let english = Language::of("en").expect("built in");
    let prepared = others.into_iter().chain([six]).collect();
    let speeds = vec![("own".to_owned(), prepared)];
    let recorded = Recorded { name: "mine", description: "", language: &english, speeds };
    let making = Making::of(&recorded).expect("a voice");
    let doubted: Vec<&str> = making.doubts.iter().map(|doubt| doubt.syllable.as_str()).collect();
    assert_eq!(doubted, ["six"]);
    assert!(making.doubts[0].apart > Seconds::from_millis(25));
    let centre = manifest(&making)["syllables"]["six"]["own"]["centre_ms"].as_f64().expect("a number");
    assert!((170.0..240.0).contains(&centre), "the vowel begins at 200 ms: {centre}");
}

/// Every shipped syllable is clean; cut off at a share of its peak and turned down afterwards it is refused, for its tops
/// stay flat. A share of them escapes: those that are so loud for one period alone, and an s, whose waves are too short.
#[test]
fn what_was_cut_off_and_turned_down_afterwards_is_refused() {
    for (share, least) in [(0.7, 0.9), (0.4, 0.97)] {
        let (mut refused, mut all) = (0.0, 0.0);
        for name in voice::shipped_names() {
            let pack = VoicePack::shipped(name).expect(name);
            for (_, recording) in pack.recordings() {
                let clean = recording.sample().data();
                let is_clipped = |frames: &[f32]| {
                    let prepared = Prepared::of_recording(frames, pack.rate(), &wanted("ta", false));
                    matches!(prepared, Err(Refusal::FlatTops { .. } | Refusal::Clipped { .. }))
                };
                assert!(share < 0.5 || !is_clipped(clean), "{name}, {} is clean", recording.syllable());
                let most = share * clean.iter().fold(0.0_f32, |peak, frame| peak.max(frame.abs()));
                let sixteen_bits = |frame: f32| (frame * 32_768.0).round() / 32_768.0;
                let cut: Vec<f32> =
                    clean.iter().map(|frame| sixteen_bits(frame.clamp(-most, most) * 0.8)).collect();
                refused += if is_clipped(&cut) { 1.0 } else { 0.0 };
                all += 1.0;
            }
        }
        println!("cut off at {share}: {refused} of {all} refused");
        assert!(refused >= least * all, "cut off at {share}: {refused} of {all} refused");
    }
}

/// What was cut off 6 dB below its peak is refused where its tops are flat no more: after a filter that takes out what is below
/// 40 Hz, and after it was brought from 44.1 to 48 kHz. What went through the same without being cut off is clean.
#[test]
fn what_was_cut_off_and_filtered_afterwards_is_refused() {
    let filtered: fn(&[f32]) -> Vec<f32> = without_rumble;
    let ways = [("filtered", filtered), ("resampled", resampled)];
    for (way, through) in ways {
        let (mut refused, mut all) = (0.0, 0.0);
        for name in voice::shipped_names() {
            let pack = VoicePack::shipped(name).expect(name);
            for (_, recording) in pack.recordings() {
                let clean = recording.sample().data();
                let is_clipped = |frames: &[f32]| {
                    let frames: Vec<f32> = through(frames)
                        .iter()
                        .map(|frame| (frame * 0.7 * 32_768.0).round() / 32_768.0)
                        .collect();
                    let prepared = Prepared::of_recording(&frames, pack.rate(), &wanted("ta", false));
                    matches!(prepared, Err(Refusal::BentTops { .. } | Refusal::FlatTops { .. }))
                };
                assert!(!is_clipped(clean), "{name}, {} is clean, {way}", recording.syllable());
                let most = 0.5 * clean.iter().fold(0.0_f32, |peak, frame| peak.max(frame.abs()));
                let cut: Vec<f32> = clean.iter().map(|frame| frame.clamp(-most, most)).collect();
                refused += if is_clipped(&cut) { 1.0 } else { 0.0 };
                all += 1.0;
            }
        }
        println!("cut off and {way}: {refused} of {all} refused");
        assert!(refused >= 0.93 * all, "cut off and {way}: {refused} of {all} refused");
    }
}

/// Without what lies below 40 Hz, at 48,000 frames a second: a filter of the first order.
fn without_rumble(frames: &[f32]) -> Vec<f32> {
    let keeps = 1.0 / (1.0 + std::f32::consts::TAU * 40.0 / 48_000.0);
    let (mut before, mut out) = (0.0, 0.0);
    let filter = |frame: &f32| {
        out = keeps * (out + frame - before);
        before = *frame;
        out
    };
    frames.iter().map(filter).collect()
}

/// These frames, taken to be 44,100 a second, at 48,000: a windowed sinc of 48 frames.
fn resampled(frames: &[f32]) -> Vec<f32> {
    let weight = |phase: u32, tap: u32| {
        let x = std::f64::consts::PI * (f64::from(tap) - 23.0 - f64::from(phase) / 160.0);
        let sinc = if x.abs() < 1e-9 { 1.0 } else { x.sin() / x };
        sinc * (x / 48.0).cos().powi(2)
    };
    let weights: Vec<Vec<f64>> =
        (0..160).map(|phase| (0..48).map(|tap| weight(phase, tap)).collect()).collect();
    let frame_at = |place: usize| {
        let (begin, phase) = (place * 147 / 160, place * 147 % 160);
        let heard = |(tap, weight): (usize, &f64)| {
            Some(f64::from(*frames.get((begin + tap).checked_sub(23)?)?) * weight)
        };
        weights[phase].iter().enumerate().filter_map(heard).sum::<f64>()
    };
    #[expect(clippy::cast_possible_truncation, reason = "a sample of a test")]
    (0..frames.len() * 160 / 147).map(|place| frame_at(place) as f32).collect()
}

#[test]
fn flat_tops_below_full_scale_are_told_from_clean_ones() {
    let tone = |hz: f64, level: f64| move |t: f64| level * (TAU * hz * t).sin();
    let spoken = |t: f64| if (0.3..0.6).contains(&t) { 1.0 } else { 0.0 };
    let clipped = |bytes: &[u8]| match prepare(bytes) {
        Err(Refusal::FlatTops { peak_dbfs, more, .. }) => Some((peak_dbfs, more)),
        Err(Refusal::BentTops { more, .. }) => Some((f64::NAN, more)),
        _ => None,
    };
    for form in [form(8_000, 1, 8), form(48_000, 1, 16), form(96_000, 1, 24), form(192_000, 1, 32)] {
        for (hz, level) in [(50.0, 0.7), (100.0, 0.7), (150.0, 0.05), (400.0, 0.3)] {
            let clean = wav(form, 1.0, |_, t| spoken(t) * tone(hz, level)(t));
            assert_eq!(clipped(&clean), None, "a sine of {hz} Hz at {level}, {form:?}");
            // An odd harmonic makes its tops as flat as a smooth curve has them.
            let square = |t: f64| spoken(t) * (tone(hz, level)(t) + tone(3.0 * hz, level / 9.0)(t));
            assert_eq!(clipped(&wav(form, 1.0, |_, t| square(t))), None, "{hz} Hz at {level}, {form:?}");
        }
    }
    // One period of a square, in silence.
    let once = |t: f64| {
        if (0.3..0.305).contains(&t) { 0.5 } else { -0.5 * f64::from(u8::from((0.305..0.31).contains(&t))) }
    };
    assert_eq!(clipped(&wav(USUAL, 1.0, |_, t| once(t))), None, "one period");
    let quiet = |t: f64| (8.0 * spoken(t) * (TAU * 140.0 * t).sin()).round() / 32_768.0;
    assert_eq!(clipped(&wav(USUAL, 1.0, |_, t| quiet(t))), None, "eight steps of 16 bits");
    // Cut off above alone, cut off on both sides, and beside the zero line.
    for offset in [0.0, 0.02] {
        for least in [-1.0, -0.3] {
            let cut = |t: f64| ta(t).clamp(least, 0.3) * 0.708 + offset;
            let bytes = wav(USUAL, 1.0, |_, t| cut(t));
            let (peak_dbfs, more) = clipped(&bytes).expect("cut off at 0.3");
            assert!((peak_dbfs - 20.0 * (0.3 * 0.708 + offset).log10()).abs() < 0.1, "{peak_dbfs}");
            assert!(more > 10, "{more}");
        }
    }
    let why = prepare(&wav(USUAL, 1.0, |_, t| ta(t).clamp(-0.3, 0.3))).expect_err("cut off").to_string();
    assert!(
        why.contains("it is clipped") && why.contains("-10.5 dBFS") && why.contains("turn the input down"),
        "{why}"
    );
}
