//! The MIDI files and the pages we write, read by others: mido, pretty_midi and a synthesizer; the pages in `files/paper.rs`.

#[path = "files/paper.rs"]
mod paper;

use std::path::{Path, PathBuf};
use std::process::Command;

use sequencer::{Cued, Levels, Plan, Sequence};
use serde_json::Value;
use take::midi::{read_take, write_sequence};
use tests::python;
use timebase::{Moment, Ratio, Seconds, Span, Tempo};

fn sequence(text: &str, bpm: &str, count_in: u32) -> Sequence {
    let rhythm = rhythm(text);
    let bpm = Tempo::parse_bpm(bpm).expect("a tempo");
    let plan = Plan::of(&rhythm).with_bpm(bpm).and_then(|plan| plan.with_count_in(count_in)).expect("a plan");
    sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan)
}

fn rhythm(text: &str) -> rhythm::Rhythm {
    let reading = rhythm::text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics))
}

fn write(dir: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = dir.join(name);
    std::fs::write(&path, bytes).expect("the folder takes files");
    path
}

fn array(value: &Value) -> &[Value] {
    value.as_array().unwrap_or_else(|| panic!("no list: {value}"))
}

fn whole(value: &Value) -> i64 {
    value.as_i64().unwrap_or_else(|| panic!("no whole number: {value}"))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("no number: {value}"))
}

/// What mido and pretty_midi find in the MIDI file of a sequence.
fn found_in(sequence: &Sequence) -> Value {
    let dir = tempfile::tempdir().expect("a folder");
    let bytes = write_sequence(sequence, Some("Tin Roof"), Levels::default().muted).expect("a file");
    let path = write(dir.path(), "out.mid", &bytes);
    serde_json::from_str(&python::run("tests/readers/midi.py", [path])).expect("the reader prints JSON")
}

/// One track as mido finds it.
fn track<'a>(found: &'a Value, name: &str) -> &'a Value {
    let tracks = array(&found["mido"]["tracks"]);
    tracks.iter().find(|track| track["name"] == name).unwrap_or_else(|| panic!("no track {name}"))
}

/// The quarters from the file's beginning at which the track's notes begin and end, from mido's ticks.
fn quarters(found: &Value, name: &str) -> Vec<(f64, f64)> {
    let ticks = number(&found["mido"]["ticks_per_beat"]);
    let notes = array(&track(found, name)["notes"]);
    notes.iter().map(|note| (number(&note[0]) / ticks, number(&note[1]) / ticks)).collect()
}

/// Worked out by hand from the written rhythm, in quarters from the beginning of the file.
#[test]
fn notes_stand_where_they_are_written() {
    let check = |text: &str, count_in, clicks: &[f64], notes: &[(f64, f64)]| {
        let found = found_in(&sequence(text, "88", count_in));
        let begins: Vec<_> = quarters(&found, "click").iter().map(|(begin, _)| *begin).collect();
        assert_eq!(begins, clicks, "the click of {text}");
        let rhythm = quarters(&found, "rhythm");
        assert_eq!(rhythm.len(), notes.len(), "{text}: {rhythm:?}");
        for (found, written) in rhythm.iter().zip(notes) {
            let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
            assert!(near(found.0, written.0) && near(found.1, written.1), "{text}: {found:?} {written:?}");
        }
    };
    check(
        "meter: 4/4\n| 1 2 & 3 (4) |",
        1,
        &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
        &[(4.0, 5.0), (5.0, 5.5), (5.5, 6.0), (6.0, 7.0)],
    );
    // A note held over the bar line is one note.
    check(
        "meter: 3/4\n| 1 2 3 | _1 (2) 3 |",
        0,
        &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0],
        &[(0.0, 1.0), (1.0, 2.0), (2.0, 4.0), (5.0, 6.0)],
    );
    // In 6/8 the click stands on dotted quarters.
    check(
        "meter: 6/8\n| 1 la li 2 |",
        1,
        &[0.0, 1.5, 3.0, 4.5],
        &[(3.0, 3.5), (3.5, 4.0), (4.0, 4.5), (4.5, 6.0)],
    );
    // A pickup of two eighths: the count-in is a full bar and three counts more.
    check(
        "meter: 4/4\n4 & | 1 (2 3 4) |",
        1,
        &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0],
        &[(7.0, 7.5), (7.5, 8.0), (8.0, 9.0)],
    );
    // Without a count-in the file begins with the pickup.
    check(
        "meter: 4/4\n4 & | 1 (2 3 4) |",
        0,
        &[0.0, 1.0, 2.0, 3.0, 4.0],
        &[(0.0, 0.5), (0.5, 1.0), (1.0, 2.0)],
    );
    // A triplet in a simple beat: thirds of a quarter.
    check(
        "meter: 2/4\n| 1 la li 2 |",
        0,
        &[0.0, 1.0],
        &[(0.0, 1.0 / 3.0), (1.0 / 3.0, 2.0 / 3.0), (2.0 / 3.0, 1.0), (1.0, 2.0)],
    );
}

const TEXTS: [&str; 6] = [
    "meter: 4/4\n| 1 2 & 3 (4) | 1 e & a 2 _3 4 |",
    "meter: 6/8\n| 1 la li 2 _la li | (1) li 2 |",
    "meter: 4/4\n| 1 la li 2 (3) & 4 | _1 2 3 4 |",
    "meter: 2/2\n2 & | 1 & 2 | _1 2 |",
    "meter: 12/8\n| 1 2 3 li 4 | [3/4] 1 2 & 3 a |",
    "meter: 2/4\n| 1 2 | % | (1) & 2 |",
];

/// Both readers' note times against the exact times, within one tick: mido's ticks are exact musical places, and the
/// seconds that each makes of them are the sequence's, but for the tempo's half microsecond a quarter.
#[test]
fn two_readers_find_the_exact_times_within_one_tick() {
    for text in TEXTS {
        for (bpm, count_in) in [("88", 1), ("60", 0), ("131.5", 2), ("300", 1)] {
            let sequence = sequence(text, bpm, count_in);
            let found = found_in(&sequence);
            let ticks = whole(&found["mido"]["ticks_per_beat"]);
            let micros = whole(&track(&found, "Tin Roof")["tempi"][0][1]);
            let tick = micros as f64 / 1e6 / ticks as f64;
            let exact = |at| sequence.tempo().moment_at(at) - sequence.tempo().moment_at(sequence.start());
            let cues = |wanted: fn(&Cued) -> bool| {
                sequence
                    .cues()
                    .iter()
                    .filter(move |cue| wanted(&cue.cued))
                    .map(|cue| cue.at)
                    .collect::<Vec<_>>()
            };
            let claps = cues(|cued| matches!(cued, Cued::Clap { .. }));
            let clicks = cues(|cued| matches!(cued, Cued::Click { .. }));
            for (name, places) in [("rhythm", &claps), ("click", &clicks)] {
                let by_mido = array(&track(&found, name)["notes"]);
                let instruments = array(&found["pretty_midi"]["instruments"]);
                let instrument = instruments.iter().find(|one| one["name"] == name).expect("an instrument");
                assert_eq!(instrument["drum"], true);
                let mut by_pretty_midi: Vec<_> =
                    array(&instrument["notes"]).iter().map(|note| number(&note[0])).collect();
                by_pretty_midi.sort_by(f64::total_cmp);
                assert_eq!((by_mido.len(), by_pretty_midi.len()), (places.len(), places.len()), "{text}");
                for ((place, mido), pretty) in places.iter().zip(by_mido).zip(by_pretty_midi) {
                    let musical = (*place - sequence.start()).in_units_of(Span::QUARTER);
                    assert_eq!(musical, Ratio::new(whole(&mido[0]), ticks), "{text} at {place}");
                    let seconds = exact(*place).as_secs_f64();
                    let of_ticks = number(&mido[0]) * tick;
                    assert!((of_ticks - seconds).abs() < tick, "{text} at {bpm}: {of_ticks} {seconds}");
                    assert!((pretty - seconds).abs() < tick, "{text} at {bpm}: {pretty} {seconds}");
                }
            }
            let lyrics: Vec<(i64, String)> = array(&track(&found, "counts")["lyrics"])
                .iter()
                .map(|lyric| (whole(&lyric[0]), lyric[1].as_str().expect("a word").to_owned()))
                .collect();
            let said: Vec<(i64, String)> = sequence
                .cues()
                .iter()
                .filter_map(|cue| match &cue.cued {
                    Cued::Count { say, .. } => {
                        let musical = (cue.at - sequence.start()).in_units_of(Span::QUARTER);
                        Some(((musical * ticks).to_integer(), say.as_str().to_owned()))
                    }
                    Cued::Click { .. } | Cued::Division | Cued::Clap { .. } | Cued::Tone { .. } => None,
                })
                .collect();
            assert_eq!(lyrics, said, "{text}");
        }
    }
}

/// Keys of General MIDI level 1 percussion: 39 hand clap, 76 and 77 high and low wood block; channel 10, here 9 (computed from
/// its list). Tempo and meter as the Standard MIDI File format has them: microseconds a quarter whatever the meter, 24 clocks a
/// quarter (read and computed).
#[test]
fn others_read_our_tempo_meter_marker_and_keys() {
    let found = found_in(&sequence("meter: 6/8\n| 1 la li 2 | [4/4] 1 2 3 4 |", "80", 1));
    let conductor = track(&found, "Tin Roof");
    assert_eq!(found["mido"]["type"], 1);
    assert_eq!(
        conductor["tempi"],
        serde_json::json!([[0, 500_000]]),
        "a dotted quarter of 80 is a quarter of 120"
    );
    let ticks = whole(&found["mido"]["ticks_per_beat"]);
    let meters = serde_json::json!([[0, 6, 8, 36, 8], [6 * ticks, 4, 4, 24, 8]]);
    assert_eq!(conductor["meters"], meters);
    let markers = serde_json::json!([[0, "count-in"], [3 * ticks, "bar 1"], [6 * ticks, "bar 2"]]);
    assert_eq!(conductor["markers"], markers);
    let keys = |name: &str| {
        let notes = array(&track(&found, name)["notes"]);
        notes.iter().map(|note| (whole(&note[2]), whole(&note[3]))).collect::<Vec<_>>()
    };
    assert_eq!(keys("click"), [76, 77, 76, 77, 76, 77, 77, 77].map(|key| (9, key)));
    assert_eq!(keys("rhythm"), [(9, 39); 8]);
    assert_eq!(track(&found, "counts")["end"], 10 * ticks, "each track ends with the last bar");
}

/// The specification's table of variable-length quantities (from memory), met as the wait before a marker: the file's bytes
/// hold them, and mido reads the ticks they stand for.
#[test]
fn waits_are_written_as_variable_length_quantities() {
    // At 960 ticks a quarter, 8192 ticks are 8 8/15 quarters: a pickup of that length does not exist, so the table is met in a
    // take, where a tick is 20 µs.
    let check = |ticks: i64, bytes: &[u8]| {
        let bar_one = Moment::ZERO + Seconds::from_micros(20 * ticks);
        let take = take::midi::MidiTake { bar_one: Some(bar_one), end: bar_one, ..Default::default() };
        let file = take::midi::write_take(&take).expect("within a day");
        let marker = [bytes, b"\xFF\x06\x05bar 1"].concat();
        assert!(file.windows(marker.len()).any(|window| window == marker), "{ticks}: {file:02X?}");
        let dir = tempfile::tempdir().expect("a folder");
        let path = write(dir.path(), "take.mid", &file);
        let found: Value = serde_json::from_str(&python::run("tests/readers/midi.py", [path]))
            .expect("the reader prints JSON");
        assert_eq!(found["mido"]["tracks"][0]["markers"], serde_json::json!([[ticks, "bar 1"]]));
    };
    check(127, &[0x7F]);
    check(128, &[0x81, 0x00]);
    check(8_192, &[0xC0, 0x00]);
    check(16_383, &[0xFF, 0x7F]);
    check(16_384, &[0x81, 0x80, 0x00]);
    check(2_097_152, &[0x81, 0x80, 0x80, 0x00]);
}

/// The largest quantity, 0x0FFFFFFF as FF FF FF 7F (the specification's table, from memory), is refused one tick later.
#[test]
fn the_longest_wait_is_written_and_a_longer_one_bridged() {
    let file = |ticks: i64| {
        let end = Moment::ZERO + Seconds::from_micros(20 * ticks);
        take::midi::write_take(&take::midi::MidiTake { end, ..Default::default() })
    };
    let longest = file(0x0FFF_FFFF).expect("it fits");
    assert!(longest.windows(6).any(|window| window == b"\xFF\xFF\xFF\x7F\xFF\x2F"));
    let longer = file(0x1000_0000).expect("it is bridged with an empty text");
    assert!(longer.windows(8).any(|window| window == b"\xFF\xFF\xFF\x7F\xFF\x01\x00\x01"));
}

/// Our own file is a take of a player without a fault: nothing missed, nothing extra, each offset under 20 µs (the tempo is rounded
/// to whole microseconds a quarter).
#[test]
fn a_written_rhythm_is_read_as_a_take_on_time() {
    for text in TEXTS {
        let sequence = sequence(text, "88", 1);
        let take = read_take(&write_sequence(&sequence, None, Levels::default().muted).expect("a file"))
            .expect("a take");
        let bar_one = take.bar_one.expect("the marker");
        let played: Vec<judge::Played> = take.players[0]
            .strokes
            .iter()
            .map(|stroke| judge::Played::new(Moment::ZERO + (stroke.at - bar_one)))
            .collect();
        let judgement = judge::judge(sequence.counts(), &played, &judge::Settings::default());
        assert_eq!(take.players[0].label, "rhythm");
        assert_eq!(judgement.missed().count(), 0, "{text}");
        for attack in judgement.attacks() {
            let answer = attack.answer.expect("no extra");
            assert!(answer.offset.abs() < Seconds::from_micros(20), "{text}: {answer:?}");
        }
    }
}

/// The sound that Debian's fluidsynth makes of a sequence's MIDI file, at 48 kHz, in `dir`.
fn rendered(sequence: &Sequence, dir: &Path) -> PathBuf {
    let midi =
        write(dir, "out.mid", &write_sequence(sequence, None, Levels::default().muted).expect("a file"));
    let wav = dir.join("out.wav");
    let font = "/usr/share/sounds/sf2/TimGM6mb.sf2";
    // Reverb and chorus off, full gain: the keys' own samples.
    let output = Command::new("fluidsynth")
        .args(["-ni", "-q", "-r", "48000", "-R", "0", "-C", "0", "-g", "1", "-F"])
        .args([wav.as_path(), Path::new(font), midi.as_path()])
        .output()
        .expect("fluidsynth is installed: tests/run does it");
    assert!(output.status.success() && wav.exists(), "{}", String::from_utf8_lossy(&output.stderr));
    wav
}

/// Where the notes of a rendering begin, less where they are written, in frames at 48 kHz.
fn rendered_late_by(text: &str, bpm: &str) -> Vec<(i64, i64)> {
    let dir = tempfile::tempdir().expect("a folder");
    let sequence = sequence(text, bpm, 1);
    let wav = rendered(&sequence, dir.path());
    let onsets = python::run("tests/readers/wav.py", ["onsets".as_ref(), wav.as_os_str()]);
    let onsets: Vec<i64> = serde_json::from_str(&onsets).expect("the reader prints JSON");
    let mut keys: Vec<(i64, i64)> = sequence
        .cues()
        .iter()
        .filter_map(|cue| {
            let key = match cue.cued {
                Cued::Click { accented: true, .. } => 76,
                Cued::Click { accented: false, .. } => 77,
                Cued::Clap { .. } => 39,
                Cued::Division | Cued::Count { .. } | Cued::Tone { .. } => return None,
            };
            let at = sequence.tempo().moment_at(cue.at) - sequence.tempo().moment_at(sequence.start());
            Some((key, timebase::Frames::of(at, timebase::SampleRate::HZ_48000).count()))
        })
        .collect();
    keys.sort_by_key(|(_, frame)| *frame);
    assert_eq!(onsets.len(), keys.len(), "{text} at {bpm}: {onsets:?}");
    keys.iter().zip(onsets).map(|(&(key, frame), onset)| (key, onset - frame)).collect()
}

/// Debian's fluidsynth with the sound font TimGM6mb. It begins notes on blocks of 64 frames. At 60 the eighths fall on blocks, so what
/// is left is the attack of the key's own sample, about two milliseconds and the same at each note (measured: 88 to 97 frames).
#[test]
fn a_synthesizer_sounds_each_key_where_it_is_written() {
    let text = "meter: 4/4\n| (1) & (2) & (3) & (4) & | (1) & (2) & (3) & (4) & |";
    let late = rendered_late_by(text, "60");
    for key in [76, 77, 39] {
        let of_key: Vec<i64> = late.iter().filter(|(k, _)| *k == key).map(|(_, late)| *late).collect();
        assert!(of_key.len() >= 2, "{late:?}");
        assert!(of_key.iter().all(|&late| (late - of_key[0]).abs() < 9), "key {key}: {of_key:?}");
        assert!((0..240).contains(&of_key[0]), "key {key} sounds {} frames late", of_key[0]);
    }
}

/// At other tempi a note begins up to a block of 64 frames (1.3 ms) beside its place, and no error adds up over the piece.
#[test]
fn a_synthesizer_keeps_our_tempo_to_the_end() {
    let bar = "| (1) & (2) & (3) & (4) & ";
    let late = rendered_late_by(&format!("meter: 4/4\n{}|", bar.repeat(16)), "87.5");
    for key in [77, 39] {
        let of_key: Vec<i64> = late.iter().filter(|(k, _)| *k == key).map(|(_, late)| *late).collect();
        let (least, most) = (of_key.iter().min().expect("some"), of_key.iter().max().expect("some"));
        assert!(most - least <= 64 + 8, "key {key}: {of_key:?}");
        assert!(*least > 0 && *most < 240, "key {key}: {of_key:?}");
    }
}

/// The synthesizer sounds what is written softer, or with an accent, by so many decibels less or more as we sound it ourselves
/// (6 for `p`, two steps below `mf`; 3 for `mp`), but for the rounding of a velocity to a whole number: 0.12 dB at 50.
#[test]
fn a_synthesizer_sounds_loudness_as_we_do() {
    let text = "meter: 4/4\n| (1) & (2 3 4) | (1) & (2 3 4) | (1) & (2 3 4) | (1) & (2 3 4) |\n\
                accents: | | > | | |\ndynamics: | mf | mp | p | pp |";
    let dir = tempfile::tempdir().expect("a folder");
    let sequence = sequence(text, "60", 1);
    let mut wav = hound::WavReader::open(rendered(&sequence, dir.path())).expect("a sound");
    assert_eq!((wav.spec().channels, wav.spec().sample_rate), (2, 48_000));
    let left: Vec<f64> =
        wav.samples::<i16>().step_by(2).map(|sample| sample.expect("whole").into()).collect();
    // The & of 1 in each bar of four seconds, a bar of count-in before; no click is near.
    let power = |bar: usize| {
        let from = 48_000 * 4 * (1 + bar) + 24_000;
        left[from..from + 9_600].iter().map(|sample| sample * sample).sum::<f64>()
    };
    let db = |bar: usize| 10.0 * (power(bar) / power(0)).log10();
    for (bar, expected) in [(1, -3.0 + 4.0), (2, -6.0), (3, -9.0)] {
        assert!((db(bar) - expected).abs() < 0.25, "bar {}: {} dB, {expected} written", bar + 1, db(bar));
    }
}
