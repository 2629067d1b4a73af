//! `countline judge` on sound: the program's own claps, recorded in several ways, are found and judged.

use std::path::{Path, PathBuf};

use hound::{SampleFormat, WavSpec, WavWriter};
use serde_json::Value;
use tests::onset::Sound;
use tests::program::run;
use tests::python;

use crate::{TAKEN, json, rhythm};

/// Attacks of the rhythm.
const ATTACKS: usize = 42;
const HZ: u32 = 48_000;

/// What the program sounds of the rhythm, but for what is muted; and where bar 1 begins in it, in ms.
fn sounded(folder: &Path, mute: &[&str]) -> (Vec<f32>, f64) {
    let wav = folder.join("sounded.wav");
    let muted: Vec<&str> = mute.iter().flat_map(|sound| ["--mute", *sound]).collect();
    let (file, out) = (rhythm(TAKEN), wav.to_string_lossy());
    let call = [&["sound", &file, "--wav", &out], &muted[..]].concat();
    let out = run(call).done();
    let (_, frame) = out.split_once("bar 1 begins at frame ").expect("it says where bar 1 begins");
    let digits: String = frame.chars().take_while(char::is_ascii_digit).collect();
    let frame: f64 = digits.parse().expect("a frame");
    #[expect(clippy::cast_possible_truncation, reason = "a sample of 16 bits")]
    let samples = Sound::read(&wav).frames.iter().map(|&sample| sample as f32).collect();
    (samples, 1_000.0 * frame / f64::from(HZ))
}

/// Sample by sample, one channel after another.
fn write(path: &Path, channels: &[&[f32]], bits_per_sample: u16, sample_format: SampleFormat) {
    let channel_count = u16::try_from(channels.len()).expect("few");
    let spec = WavSpec { channels: channel_count, sample_rate: HZ, bits_per_sample, sample_format };
    let mut writer = WavWriter::create(path, spec).expect("the folder takes files");
    let longest = channels.iter().map(|channel| channel.len()).max().unwrap_or(0);
    for at in 0..longest {
        for channel in channels {
            let sample = channel.get(at).copied().unwrap_or(0.0);
            #[expect(clippy::cast_possible_truncation, reason = "scaled to so many bits")]
            match sample_format {
                SampleFormat::Float => writer.write_sample(sample),
                SampleFormat::Int => {
                    let scale = f64::from(2_u32.pow(u32::from(bits_per_sample) - 1) - 1);
                    writer.write_sample((f64::from(sample) * scale).round() as i32)
                }
            }
            .expect("the disk has room");
        }
    }
    writer.finalize().expect("the disk has room");
}

/// The sound later and softer.
fn heard(sound: &[f32], later_ms: usize, gain: f32) -> Vec<f32> {
    let silence = std::iter::repeat_n(0.0, later_ms * 48);
    silence.chain(sound.iter().map(|sample| gain * sample)).collect()
}

fn add(one: &mut [f32], other: &[f32]) {
    for (one, other) in one.iter_mut().zip(other) {
        *one += other;
    }
}

/// The one player of a recording, and what was said of it.
fn judged(take: &Path, more: &[&str]) -> (Value, String) {
    let take = take.to_string_lossy();
    let done = run([&["judge", &rhythm(TAKEN), &take, "--json"], more].concat());
    let said = done.err.clone();
    let text = done.done();
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("judged.json");
    std::fs::write(&file, &text).expect("the folder takes files");
    python::run("tests/readers/schema.py", ["crates/take/schema", "judge", &file.to_string_lossy()]);
    let judged = json(&text);
    let [player] = &judged["players"].as_array().expect("players")[..] else { panic!("{judged}") };
    (player.clone(), said)
}

/// Every attack was found on time and nothing else, so many ms behind the written place and 2 ms at most from there.
fn check(player: &Value, behind_ms: f64) {
    assert_eq!(player["missed"], serde_json::json!([]));
    let attacks = player["attacks"].as_array().expect("attacks");
    assert_eq!(attacks.len(), ATTACKS, "{attacks:?}");
    for attack in attacks {
        assert_eq!(attack["verdict"], "on-time", "{attack}");
        let offset = attack["offset_ms"].as_f64().expect("an offset");
        assert!((offset - behind_ms).abs() < 2.0, "{attack}");
    }
}

#[test]
fn claps_in_one_channel_are_judged_whatever_form_the_samples_have() {
    let folder = tempfile::tempdir().expect("a folder");
    let (claps, bar_one_ms) = sounded(folder.path(), &["click", "count"]);
    let start = format!("{bar_one_ms:.6}");
    for (bits, format) in
        [(16, SampleFormat::Int), (24, SampleFormat::Int), (32, SampleFormat::Int), (32, SampleFormat::Float)]
    {
        let wav = folder.path().join("K07.wav");
        write(&wav, &[&claps], bits, format);
        let (player, said) = judged(&wav, &["--start-ms", &start]);
        assert_eq!(player["player"], "K07");
        check(&player, 0.0);
        assert!(said.contains("42 strokes were found in the one channel"), "{said}");
        assert!(!said.contains("count 1"), "the call said where it is: {said}");
    }
}

#[test]
fn the_player_to_the_right_is_told_from_the_click_and_the_count_that_leak_in() {
    let folder = tempfile::tempdir().expect("a folder");
    let (model, bar_one_ms) = sounded(folder.path(), &["clap"]);
    let (claps, _) = sounded(folder.path(), &["click", "count"]);
    let mut recorded = heard(&claps, 20, 1.0);
    add(&mut recorded, &heard(&model, 12, 0.25));
    let wav = folder.path().join("K11.wav");
    write(&wav, &[&model, &recorded], 16, SampleFormat::Int);
    let (player, said) = judged(&wav, &[]);
    check(&player, 20.0);
    assert!(said.contains("42 strokes were found in the right channel"), "{said}");
    assert!(said.contains("second accented click"), "{said}");
    assert!(said.contains(&format!("{:.3} s", bar_one_ms / 1_000.0)), "{said}");
    // The report says the same.
    let report = run(["judge", &rhythm(TAKEN), &wav.to_string_lossy()]).done();
    assert!(report.contains("second accented click") && report.contains("right channel"), "{report}");
    // Without the model the clicks are strokes.
    let (player, _) = judged(&wav, &["--channel", "right"]);
    assert!(player["attacks"].as_array().expect("attacks").len() > ATTACKS);
}

/// A take's folder, as the program leaves it.
fn kept(folder: &Path, model: &[f32], player: &[f32]) -> PathBuf {
    let text = std::fs::read_to_string(tests::root().join(rhythm(TAKEN))).expect("the demo's rhythm");
    let rhythm = ::rhythm::text::read(&text).rhythm.expect("no slips");
    let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &sequencer::Plan::of(&rhythm));
    let sound = take::SoundNote::new(timebase::SampleRate::HZ_48000);
    let header = take::Header::of(&rhythm, &sequence, sound, "2025-03-01T10:15:00+01:00");
    let mut recorder = take::Recorder::begin(&folder.join("take-1"), header).expect("a new folder");
    let both = model.len().min(player.len());
    recorder.audio(&model[..both], &player[..both]).expect("the disk has room");
    recorder.finish(take::Ended::Finished, None).expect("the disk has room")
}

#[test]
fn the_sound_of_a_take_knows_where_its_bar_one_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let (model, _) = sounded(folder.path(), &["clap"]);
    let (claps, _) = sounded(folder.path(), &["click", "count"]);
    let wav = kept(folder.path(), &model, &heard(&claps, 0, 0.5)).join("take.wav");
    let (player, said) = judged(&wav, &[]);
    check(&player, 0.0);
    assert!(said.contains("as the take's folder says"), "{said}");
}

#[test]
fn what_cannot_be_judged_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let wav = folder.path().join("take.wav").to_string_lossy().into_owned();
    let first = rhythm(TAKEN);
    let check = |arguments: &[&str], status: i32, words: &[&str]| {
        let run = run(arguments);
        assert_eq!(run.status, Some(status), "{arguments:?}\n{}{}", run.out, run.err);
        for word in words {
            assert!(run.err.contains(word), "{arguments:?}: \"{word}\" is missing in\n{}", run.err);
        }
    };
    let silence = [0.0; 4_800];
    write(Path::new(&wav), &[&silence], 16, SampleFormat::Int);
    check(&["judge", &first, &wav], 1, &["no stroke", "take.wav"]);
    check(&["judge", &first, &wav, "--channel", "left"], 1, &["one channel"]);
    check(&["judge", &first, &wav, "--channel", "middle"], 2, &["left", "right", "mix"]);
    check(&["judge", &first, "demo-data/takes/good.mid", "--channel", "left"], 2, &["no WAV file"]);
    write(Path::new(&wav), &[&silence, &silence, &silence], 16, SampleFormat::Int);
    check(&["judge", &first, &wav], 1, &["3 channels", "--channel mix"]);
    std::fs::write(&wav, b"RIFF\x24\0\0\0WAVEfmt ").expect("the folder takes files");
    check(&["judge", &first, &wav], 1, &["take.wav"]);
    std::fs::write(&wav, "bar 1: 1 2 3 4, and so on for as long as a head may be")
        .expect("the folder takes files");
    check(&["judge", &first, &wav], 1, &["take.wav", "no WAV file", "Export the recording as WAV"]);
    std::fs::write(&wav, b"RIFF").expect("the folder takes files");
    check(&["judge", &first, &wav], 1, &["take.wav"]);
    std::fs::write(&wav, float_64(&[0.0; 480])).expect("the folder takes files");
    check(&["judge", &first, &wav], 1, &["take.wav", "64-bit float", "export it"]);
    // Strokes 80 dB below full scale.
    let quiet: Vec<f32> = (0..48_000_u32).map(|n| if n % 24_000 < 200 { 1e-4 } else { 0.0 }).collect();
    write(Path::new(&wav), &[&quiet], 32, SampleFormat::Float);
    check(&["judge", &first, &wav], 1, &["take.wav", "quiet"]);
}

#[test]
fn samples_that_are_no_numbers_are_told_and_cost_no_stroke_beside_them() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut claps, bar_one_ms) = sounded(folder.path(), &["click", "count"]);
    // In the middle of the count-in, where nothing is clapped.
    let from = (bar_one_ms * 24.0).round();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a sample in the file")]
    claps[from as usize..][..500].fill(f32::NAN);
    let wav = folder.path().join("K07.wav");
    write(&wav, &[&claps], 32, SampleFormat::Float);
    let (player, said) = judged(&wav, &["--start-ms", &format!("{bar_one_ms:.6}")]);
    check(&player, 0.0);
    assert!(said.contains("500 samples are no numbers (NaN or infinite)"), "{said}");
}

/// A WAV file of one channel of 64-bit float at 48 kHz.
fn float_64(samples: &[f64]) -> Vec<u8> {
    let bytes = u32::try_from(8 * samples.len()).expect("short");
    let mut file = Vec::new();
    file.extend(b"RIFF");
    file.extend((36 + bytes).to_le_bytes());
    file.extend(b"WAVEfmt ");
    for (value, long) in [(16_u32, 4), (3, 2), (1, 2), (48_000, 4), (384_000, 4), (8, 2), (64, 2)] {
        file.extend(&value.to_le_bytes()[..long]);
    }
    file.extend(b"data");
    file.extend(bytes.to_le_bytes());
    samples.iter().for_each(|sample| file.extend(sample.to_le_bytes()));
    file
}
