//! What a long take of many strokes needs of memory while it is opened and finished. A process of its own, since the most that one ever
//! held is asked for.

#![cfg(target_os = "linux")]

use std::fs;
use std::io::{BufWriter, Write};
use std::path::Path;

use take::{Ended, Header, PlayerNote, Recorder, Role, SoundNote, Stroke, Take};
use timebase::{Moment, Ratio, SampleRate, Seconds, Span, Tempo};

const ATTACKS: u64 = 200_000;

/// What is judged of an attack is some 100 bytes of memory and 60 of text. Read as a tree of values it took 1,100 bytes an attack.
#[test]
fn a_judgement_is_read_and_written_as_it_streams() {
    let folder = tempfile::tempdir().expect("a folder");
    let [first, second] = ["first", "second"].map(|name| folder.path().join(name));
    Recorder::begin(&first, header()).expect("a take");
    judged(&first.join("take.json"));
    let before = most_bytes();
    let opened = Take::open(&first).expect("opened");
    let an_attack = (most_bytes() - before) / ATTACKS;
    assert!(an_attack < 300, "opened: {an_attack} bytes an attack");

    let judgement = opened.judgement().expect("judged").clone();
    let recorder = Recorder::begin(&second, header()).expect("a take");
    let before = most_bytes();
    recorder.finish(Ended::Finished, Some(&judgement)).expect("finished");
    let an_attack = (most_bytes() - before) / ATTACKS;
    assert!(an_attack < 50, "finished: {an_attack} bytes an attack");
    assert!(Take::open(&second).expect("opened").judgement() == opened.judgement());

    assert_eq!(Take::header_of(&second).expect("there").players, header().players);

    midi(&folder.path().join("third"));
}

/// A MIDI file of the take is made twice a second while it is played.
fn midi(dir: &Path) {
    let players = (0..32).map(|number| PlayerNote::new(&format!("K{number}"), "Pad")).collect();
    let mut recorder = Recorder::begin(dir, Header { players, ..header() }).expect("a take");
    let stroke = |micros| Stroke {
        at: Moment::ZERO + Seconds::from_micros(micros),
        note: 38,
        velocity: 100,
        released: None,
        origin: None,
        role: Role::Attack,
    };
    let strokes = 400_000;
    for number in 0..strokes {
        recorder.stroke(usize::try_from(number % 32).expect("few"), stroke(number)).expect("written");
    }
    let before = most_bytes();
    recorder.stroke(0, stroke(1_000_000)).expect("written");
    let a_stroke = (most_bytes() - before) / strokes.unsigned_abs();
    assert!(a_stroke < 40, "MIDI: {a_stroke} bytes a stroke");
}

fn header() -> Header {
    Header {
        title: None,
        rhythm: "| 1 2 3 4 |".to_owned(),
        tempo: Tempo::new(Span::QUARTER, Ratio::from_integer(120)).expect("a tempo"),
        count_in_bars: 1,
        recorded_at: "2026-09-01T10:00:00Z".to_owned(),
        bar_one: Moment::ZERO,
        clicks: Vec::new(),
        players: vec![PlayerNote::new("K1", "Pad")],
        sound: SoundNote::new(SampleRate::HZ_48000),
        drill: None,
    }
}

/// Puts a judgement of many attacks in the place of none.
fn judged(path: &Path) {
    let text = fs::read_to_string(path).expect("UTF-8");
    let (before, after) = text.split_once("\"judgement\": null").expect("nobody judged it");
    let mut out = BufWriter::new(fs::File::create(path).expect("a file"));
    let begin = r#""judgement": {"version": 1, "players": [{"player": "K1", "attacks": ["#;
    write!(out, "{before}{begin}").expect("written");
    for number in 0..ATTACKS {
        let comma = if number == 0 { "" } else { "," };
        let attack = r#""bar": 1, "pass": 1, "at": "3/16", "offset_ms": 0.5, "verdict": "on-time""#;
        write!(out, "{comma}{{\"time_ms\": {number}, {attack}}}").expect("written");
    }
    let end = r#"], "missed": [], "bias_ms": 0, "spread_ms": 0, "drift_percent": 0, "findings": []}]}"#;
    write!(out, "{end}{after}").expect("written");
}

/// The most that the process has held in memory.
fn most_bytes() -> u64 {
    let status = fs::read_to_string("/proc/self/status").expect("Linux tells");
    let line = status.lines().find(|line| line.starts_with("VmHWM")).expect("the most");
    1_024 * line.split_whitespace().nth(1).and_then(|kb| kb.parse::<u64>().ok()).expect("a number")
}
