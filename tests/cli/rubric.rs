//! `countline judge` with a rubric, with findings overruled and with hands: what the teacher says of a take.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use take::midi::{MidiTake, write_take};
use take::{Ended, Header, Player, PlayerNote, Recorder, Role, SoundNote, Stroke};
use tests::program::run;
use tests::python;
use timebase::{Moment, SampleRate, Seconds};

use crate::{TAKEN, rhythm};

/// Eight bars of which the third count is a rest, at 120: 24 attacks.
const RESTS: &str = "meter: 4/4\ntempo: quarter = 120\n\
    | 1 2 (3) 4 | 1 2 (3) 4 | 1 2 (3) 4 | 1 2 (3) 4 | 1 2 (3) 4 | 1 2 (3) 4 | 1 2 (3) 4 | 1 2 (3) 4 |\n";

/// A bar with an accent on 1, right and left by turns.
const STICKING: &str = "| 1 2 3 4 |\nsticking: | R L R L |\naccents: | > . . . |\n";

fn at(ms: i64) -> Moment {
    Moment::ZERO + Seconds::from_millis(ms)
}

fn stroke(ms: i64, note: u8, velocity: u8) -> Stroke {
    Stroke { at: at(ms), note, velocity, released: Some(at(ms + 40)), origin: None, role: Role::Attack }
}

/// The attacks of [`RESTS`] so late, one of them left out, and the rest of bar 5 struck.
fn with_mistakes(late_ms: i64) -> Vec<Stroke> {
    let places = (0..8).flat_map(|bar| [0, 500, 1500].map(|place| bar * 2_000 + place));
    let uneven = [3, -4, 6, -2, 0, 5, -6];
    let struck = places.zip(0..).filter(|(_, n)| *n != 7);
    let mut strokes: Vec<Stroke> =
        struck.map(|(place, n)| stroke(2_000 + place + late_ms + uneven[n % 7], 38, 80)).collect();
    strokes.push(stroke(2_000 + 9_000 + late_ms, 38, 80));
    strokes.sort_by_key(|stroke| stroke.at);
    strokes
}

/// A rhythm text and a finished take folder of it, played by `K2` with so much latency known.
fn take_folder(dir: &Path, strokes: &[Stroke], latency: Option<Seconds>) -> (String, String) {
    let text = dir.join("rests.rhythm");
    fs::write(&text, RESTS).expect("written");
    let rhythm = rhythm::text::read(RESTS).rhythm.expect("a rhythm");
    let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &sequencer::Plan::of(&rhythm));
    let sound = SoundNote::new(SampleRate::HZ_48000);
    let mut header = Header::of(&rhythm, &sequence, sound, "2026-01-02T10:15:00+01:00");
    header.bar_one = at(2_000);
    header.players.push(PlayerNote { latency, ..PlayerNote::new("K2", "a pad") });
    let mut recorder = Recorder::begin(&dir.join("take"), header).expect("begun");
    for &stroke in strokes {
        recorder.stroke(0, stroke).expect("kept");
    }
    let take = recorder.finish(Ended::Finished, None).expect("finished");
    (text.to_string_lossy().into_owned(), take.to_string_lossy().into_owned())
}

fn written(dir: &Path, name: &str, text: &str) -> String {
    let path = dir.join(name);
    fs::write(&path, text).expect("written");
    path.to_string_lossy().into_owned()
}

fn holds(schema: &str, file: &Path) {
    python::run("tests/readers/schema.py", ["crates/take/schema", schema, &file.to_string_lossy()]);
}

/// What `--json` prints, as its schema has it.
fn judged(dir: &Path, call: &[&str]) -> Value {
    let text = run([&["judge", "--json"], call].concat()).done();
    let file = PathBuf::from(written(dir, "judged.json", &text));
    holds("judge", &file);
    crate::json(&text)
}

fn kinds(judged: &Value) -> Vec<&str> {
    let findings = judged["players"][0]["findings"].as_array().expect("findings");
    findings.iter().map(|finding| finding["kind"].as_str().expect("a kind")).collect()
}

/// A journal whose lines were exchanged, or whose clock was set back, is judged in order of time, and it is said.
#[test]
fn a_take_whose_times_run_backwards_is_told() {
    let dir = tempfile::tempdir().expect("a folder");
    let (rhythm, take) = take_folder(dir.path(), &with_mistakes(0), None);
    let told = run(["judge", &rhythm, &take]);
    assert!(!told.err.contains("backwards"), "{}", told.err);
    let as_it_came = told.done();
    let journal = Path::new(&take).join("journal.jsonl");
    let text = fs::read_to_string(&journal).expect("a journal");
    let (strokes, others): (Vec<&str>, Vec<&str>) =
        text.lines().partition(|line| line.contains("\"record\":\"stroke\""));
    assert!(strokes.len() > 20, "{text}");
    let (last, first) = others.split_last().expect("an end");
    let lines: Vec<&str> = [first, &strokes[10..], &strokes[..10], &[last]].concat();
    fs::write(&journal, lines.join("\n") + "\n").expect("it is written");
    let told = run(["judge", &rhythm, &take]);
    assert!(told.err.contains("the times of the take run backwards: 10 strokes"), "{}", told.err);
    assert_eq!(told.done(), as_it_came);
}

#[test]
fn the_same_take_by_another_rubric() {
    let dir = tempfile::tempdir().expect("a folder");
    let (rhythm, take) = take_folder(dir.path(), &with_mistakes(0), None);
    let kept = fs::read(Path::new(&take).join("journal.jsonl")).expect("a journal");
    let usual = written(dir.path(), "usual.toml", &run(["rubric"]).done());
    let out = run(["judge", &rhythm, &take, "--rubric", &usual]).done();
    for line in [
        "  the right rhythm: secure; 1 of 24 attacks missed, a rest struck once\n",
        "  a steady pulse: secure; 23 of 23 attacks on time (±50 ms), spread 4 ms, no drift\n",
    ] {
        assert!(out.contains(line), "{line}{out}");
    }

    // Ten points, a missed attack and a struck rest three times as dear: 24 − 6 of 24.
    let strict =
        "result = \"points\"\n[rhythm]\nmissed = 3\nrest-struck = 3\n[players.K2]\ntolerance-ms = 80\n";
    let strict = written(dir.path(), "strict.toml", strict);
    let out = run(["judge", &rhythm, &take, "--rubric", &strict]).done();
    assert!(out.contains("the right rhythm: 7.5 of 10; 1 of 24 attacks missed"), "{out}");
    assert!(out.contains("a steady pulse: 10 of 10; 23 of 23 attacks on time (±80 ms)"), "{out}");
    let result = &judged(dir.path(), &[&rhythm, &take, "--rubric", &strict])["rubric"][0];
    assert_eq!(result["player"], "K2");
    assert_eq!(
        (&result["tolerance_ms"], &result["right_rhythm"]["hundredths"]),
        (&json!(80.0), &json!(75.0))
    );
    assert_eq!(result["right_rhythm"]["result"], "7.5 of 10");
    assert_eq!(fs::read(Path::new(&take).join("journal.jsonl")).expect("a journal"), kept);
    // Without a rubric there is none.
    let plain = judged(dir.path(), &[&rhythm, &take]);
    assert!(plain.get("rubric").is_none() && plain.get("notes").is_none(), "{plain}");
}

/// A tolerance of a player's own changes what is on time, for this player alone.
#[test]
fn a_tolerance_of_a_players_own() {
    let dir = tempfile::tempdir().expect("a folder");
    let rubric = written(dir.path(), "r.toml", "tolerance-ms = 5\n[players.K3]\ntolerance-ms = 80\n");
    let judged = judged(dir.path(), &[&rhythm(TAKEN), "demo-data/takes/good.mid", "--rubric", &rubric]);
    for player in judged["players"].as_array().expect("players") {
        let attacks = player["attacks"].as_array().expect("attacks");
        let on_time = attacks.iter().filter(|attack| attack["verdict"] == "on-time").count();
        assert_eq!(on_time == 42, player["player"] == "K3", "{}: {on_time}", player["player"]);
    }
}

#[test]
fn nothing_is_said_of_the_click_until_the_latency_is_known() {
    let dir = tempfile::tempdir().expect("a folder");
    let rubric = written(dir.path(), "r.toml", "[pulse]\nclick = 1\n");
    let (rhythm, take) = take_folder(dir.path(), &with_mistakes(70), None);
    let unknown = judged(dir.path(), &[&rhythm, &take, "--rubric", &rubric]);
    let result = &unknown["rubric"][0];
    assert_eq!(result["click_ms"], Value::Null);
    let says = result["click_says"].as_str().expect("words");
    assert!(says.contains("the latency of pad and speaker is not known"), "{says}");
    assert!(!kinds(&unknown).contains(&"steady-lag"), "{unknown}");
    // The same take without a rubric tells of it, so that its absence above means something.
    assert!(kinds(&judged(dir.path(), &[&rhythm, &take])).contains(&"steady-lag"));

    let known = judged(dir.path(), &[&rhythm, &take, "--rubric", &rubric, "--latency-ms", "30"]);
    let click = known["rubric"][0]["click_ms"].as_f64().expect("a number");
    assert!((click - 40.0).abs() < 2.0, "{click}");
    assert_eq!(known["rubric"][0]["click_says"], "40 ms behind the click");

    // Known from the take, and then not to be taken off twice.
    let folder = dir.path().join("measured");
    fs::create_dir(&folder).expect("made");
    let (rhythm, take) = take_folder(&folder, &with_mistakes(70), Some(Seconds::from_millis(20)));
    let known = judged(dir.path(), &[&rhythm, &take, "--rubric", &rubric]);
    assert_eq!(known["rubric"][0]["click_says"], "70 ms behind the click");
    let twice = run(["judge", &rhythm, &take, "--latency-ms", "20"]);
    assert_eq!(twice.status, Some(2));
    assert!(twice.err.contains("leave out --latency-ms"), "{}", twice.err);
}

#[test]
fn a_bad_rubric_is_pointed_at() {
    let dir = tempfile::tempdir().expect("a folder");
    let bad = written(dir.path(), "bad.toml", "tolerance-ms = 50\n[rhythm]\nmissed = 200\n");
    for call in
        [&["rubric", &bad][..], &["judge", &rhythm(TAKEN), "demo-data/takes/good.mid", "--rubric", &bad]]
    {
        let run = run(call);
        assert_eq!((run.status, run.out.as_str()), (Some(1), ""));
        for part in ["bad.toml:3:10", "200 is not a weight", "from 0 to 100", "missed = 200"] {
            assert!(run.err.contains(part), "{part}: {}", run.err);
        }
    }
    let good = written(dir.path(), "good.toml", &run(["rubric"]).done());
    assert!(run(["rubric", &good]).done().contains("is a rubric"));
    let both =
        run(["judge", &rhythm(TAKEN), "demo-data/takes/good.mid", "--rubric", &good, "--tolerance-ms", "40"]);
    assert_eq!(both.status, Some(2), "{}", both.err);
}

#[test]
fn what_is_overruled_stays_with_the_take() {
    const REST: &str = "K2:rest-struck:5:1/2";
    let dir = tempfile::tempdir().expect("a folder");
    let (rhythm, take) = take_folder(dir.path(), &with_mistakes(0), None);
    let rubric = written(dir.path(), "r.toml", "");
    let words = "the neighbour's stick";
    run(["judge", &rhythm, &take, "--overrule", REST, "--note", words]).done();
    run(["judge", &rhythm, &take, "--note", "a new pad"]).done();
    holds("teacher", &Path::new(&take).join("notes.json"));

    let out = run(["judge", &rhythm, &take, "--rubric", &rubric]).done();
    for part in [
        "Bar 5: the rest on 3 was struck (overruled by the teacher).",
        "1 of 24 attacks missed, no rest struck (1 finding overruled)",
        "K2:rest-struck:5:1/2 overruled: the neighbour's stick",
        "  a new pad",
    ] {
        assert!(out.contains(part), "{part}\n{out}");
    }
    let kept = judged(dir.path(), &[&rhythm, &take]);
    let finding = json!({ "player": "K2", "kind": "rest-struck", "bar": 5, "pass": 1, "at": "1/2" });
    assert_eq!(kept["overruled"], json!([finding]));
    let notes = kept["notes"].as_array().expect("notes");
    assert_eq!((&notes[0]["note"], &notes[1]["note"], notes.len()), (&json!(words), &json!("a new pad"), 2));

    // A finding that is not there is refused with those that are, and nothing is written.
    let before = fs::read(Path::new(&take).join("notes.json")).expect("there");
    let wrong = run(["judge", &rhythm, &take, "--overrule", "K2:rest-struck:6:1/2"]);
    assert_eq!(wrong.status, Some(2));
    assert!(wrong.err.contains(REST) && wrong.err.contains("K2:attack-missed:3:1/4"), "{}", wrong.err);
    assert_eq!(fs::read(Path::new(&take).join("notes.json")).expect("there"), before);

    run(["judge", &rhythm, &take, "--uphold", REST]).done();
    let out = run(["judge", &rhythm, &take, "--rubric", &rubric]).done();
    assert!(out.contains("a rest struck once\n") && !out.contains("(overruled by the teacher)"), "{out}");
    assert!(out.contains("overruled: the neighbour's stick"), "what was said stays: {out}");

    // Damaged notes are told, and left as they are.
    let path = Path::new(&take).join("notes.json");
    let half = &fs::read(&path).expect("there")[..100];
    fs::write(&path, half).expect("written");
    for call in [&["judge", &rhythm, &take][..], &["judge", &rhythm, &take, "--note", "more"]] {
        let run = run(call);
        assert_eq!(run.status, Some(1));
        assert!(run.err.contains("notes.json holds no notes that can be read"), "{}", run.err);
    }
    assert_eq!(fs::read(&path).expect("there"), half);
}

#[test]
fn a_midi_file_keeps_no_notes() {
    let run = run(["judge", &rhythm(TAKEN), "demo-data/takes/good.mid", "--note", "good"]);
    assert_eq!(run.status, Some(2));
    assert!(run.err.contains("are kept with take folders only"), "{}", run.err);
}

/// Left and right are told by the notes of the pads, accents by the player's own velocities.
#[test]
fn the_wrong_hand_and_a_missed_accent() {
    const LEFT: u8 = 38;
    const RIGHT: u8 = 40;
    let dir = tempfile::tempdir().expect("a folder");
    let text = format!("meter: 4/4\ntempo: quarter = 120\n{}", STICKING.repeat(4));
    let rhythm = written(dir.path(), "sticking.rhythm", &text);
    // Right and left by turns with an accent on 1; in bar 2 count 3 with the left, in bar 3 no accent.
    let strokes = (0..16).map(|n: usize| {
        let right = n.is_multiple_of(2) && n != 6;
        let velocity = if n.is_multiple_of(4) && n != 8 { 115 } else { 64 };
        let uneven = [3, -4, 6, -2, 0, 5, -6][n % 7];
        stroke(
            2_000 + 500 * i64::try_from(n).expect("small") + uneven,
            if right { RIGHT } else { LEFT },
            velocity,
        )
    });
    let take = MidiTake {
        bar_one: Some(at(2_000)),
        players: vec![Player { label: "K2".to_owned(), strokes: strokes.collect() }],
        end: at(12_000),
        ..MidiTake::default()
    };
    let midi = dir.path().join("take.mid");
    fs::write(&midi, write_take(&take).expect("MIDI")).expect("written");
    let midi = midi.to_string_lossy().into_owned();
    let told = |more: &[&str]| {
        let judged = judged(dir.path(), &[&[rhythm.as_str(), midi.as_str()], more].concat());
        let findings = judged["players"][0]["findings"].as_array().expect("findings").clone();
        let told = |finding: &Value| {
            (finding["kind"] == "wrong-hand" || finding["kind"] == "accent-missed")
                .then(|| format!("{} {} {}", finding["kind"], finding["bar"], finding["at"]).replace('"', ""))
        };
        let mut told: Vec<String> = findings.iter().filter_map(told).collect();
        told.sort();
        (told, judged["rubric"][0]["right_rhythm"]["why"].clone())
    };
    assert_eq!(told(&[]).0, ["accent-missed 3 0"]);
    let both = ["accent-missed 3 0", "wrong-hand 2 1/2"];
    assert_eq!(told(&["--left", "38", "--right", "40"]).0, both);
    let rubric = "[rhythm]\nwrong-hand = 0.5\naccent = 0.5\n[players.K2]\nleft = [38]\nright = [40, 41]\n";
    let (findings, why) = told(&["--rubric", &written(dir.path(), "r.toml", rubric)]);
    assert_eq!(findings, both);
    let expected =
        "none of 16 attacks missed, no rest struck, 1 attack with the other hand, 1 accent missed or added";
    assert_eq!(why, expected);
    let same = run(["judge", &rhythm, &midi, "--left", "38", "--right", "38"]);
    assert_eq!(same.status, Some(2));
    assert!(same.err.contains("give each note to one hand"), "{}", same.err);
}

/// A MIDI file says nothing of what belongs together: both hands at once and a flam are one attack each.
#[test]
fn what_is_struck_together_in_a_file_is_one_attack() {
    let dir = tempfile::tempdir().expect("a folder");
    let rhythm =
        written(dir.path(), "quarters.rhythm", "meter: 4/4\ntempo: quarter = 120\n| 1 2 3 4 | 1 2 3 4 |\n");
    let strokes = (0..8).flat_map(|beat: i64| {
        let at = 2_000 + 500 * beat + [4, -3, 6, -5][usize::try_from(beat % 4).expect("small")];
        match beat {
            2 => vec![stroke(at, 38, 80), stroke(at + 7, 40, 78)],
            5 => vec![stroke(at - 45, 38, 40), stroke(at, 38, 90)],
            _ => vec![stroke(at, 38, 80)],
        }
    });
    let take = MidiTake {
        bar_one: Some(at(2_000)),
        players: vec![Player { label: "K2".to_owned(), strokes: strokes.collect() }],
        end: at(8_000),
        ..MidiTake::default()
    };
    let midi = dir.path().join("take.mid");
    fs::write(&midi, write_take(&take).expect("MIDI")).expect("written");
    let judged = judged(dir.path(), &[rhythm.as_str(), &midi.to_string_lossy()]);
    assert_eq!(judged["players"][0]["attacks"].as_array().expect("attacks").len(), 8);
    assert!(!kinds(&judged).contains(&"extra-attack"), "{:?}", kinds(&judged));
}
