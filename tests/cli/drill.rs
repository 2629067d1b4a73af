//! `countline drill`: plans printed, as JSON, as sound, and what is wrong with them.

use std::fs;
use std::path::Path;

use serde_json::Value;
use tests::onset::{Sound, onset_near};
use tests::program::run;
use tests::python;

use crate::{json, rhythm};

const PLAN: &str = "demo-data/drills/first-lesson.drill";

fn written(dir: &Path, name: &str, text: &str) -> String {
    let path = dir.join(name);
    fs::write(&path, text).expect("written");
    path.to_string_lossy().into_owned()
}

/// What `--json` prints, as its schema has it.
fn planned(call: &[&str]) -> Value {
    let dir = tempfile::tempdir().expect("a folder");
    let text = run([&["drill", "--json"], call].concat()).done();
    let file = written(dir.path(), "drill.json", &text);
    python::run("tests/readers/schema.py", ["crates/take/schema", "drill", &file]);
    json(&text)
}

fn rounds(plan: &Value) -> &Vec<Value> {
    plan["rounds"].as_array().expect("rounds")
}

fn tempos(plan: &Value) -> Vec<&str> {
    rounds(plan).iter().map(|round| round["tempo"].as_str().expect("a tempo")).collect()
}

#[test]
fn a_plan_is_printed_round_by_round() {
    insta::assert_snapshot!(run(["drill", PLAN, "--rounds", "good,good,bad,good"]).done());
}

/// At 60 a beat is a second: a bar counted in, two bars called, two answered.
#[test]
fn attacks_are_asked_for_at_their_times() {
    let plan = planned(&[&rhythm("1-nine-doorsteps"), "--bars", "2", "--tempo", "60"]);
    assert_eq!(rounds(&plan).len(), 4);
    let sections = rounds(&plan)[0]["sections"].as_array().expect("sections");
    let kinds: Vec<&str> = sections.iter().map(|section| section["kind"].as_str().expect("a kind")).collect();
    assert_eq!(kinds, ["count-in", "call", "response"]);
    let attacks = sections[2]["attacks"].as_array().expect("attacks").iter();
    let times: Vec<f64> = attacks.map(|attack| attack["ms"].as_f64().expect("a time")).collect();
    let beats = [0.0, 1.0, 3.0, 4.0, 5.0, 5.5, 7.0];
    assert_eq!(times, beats.map(|beat| 12_000.0 + 1_000.0 * beat));
    for pair in rounds(&plan).windows(2) {
        assert_eq!(pair[0]["ends_ms"], pair[1]["starts_ms"]);
    }
    // 4 + 4 · 16 beats; nothing depends on what the rounds become.
    for key in ["shortest_ms", "longest_ms", "length_ms"] {
        assert_eq!(plan[key], 68_000.0, "{key}");
    }
}

#[test]
fn the_tempo_steps_as_it_is_told() {
    let call =
        [&rhythm("1-nine-doorsteps"), "--bars", "2", "--tempo", "60", "--step", "6", "--fastest", "70"];
    let call = [&call[..], &["--slowest", "56", "--up-after", "1"]].concat();
    let plan = |rounds: &str| planned(&[&call[..], &["--rounds", rounds]].concat());
    let good = plan("good");
    assert_eq!(tempos(&good), ["quarter = 60", "quarter = 66", "quarter = 70", "quarter = 70"]);
    assert_eq!(good["length_ms"], good["shortest_ms"]);
    let mixed = plan("good,bad,bad");
    assert_eq!(tempos(&mixed), ["quarter = 60", "quarter = 66", "quarter = 60", "quarter = 56"]);
    let length = |plan: &Value, key: &str| plan[key].as_f64().expect("a length");
    assert!(length(&mixed, "length_ms") > length(&mixed, "shortest_ms"));
    assert!(length(&mixed, "length_ms") <= length(&mixed, "longest_ms"));
    let players = planned(&[&rhythm("1-nine-doorsteps"), "--bars", "4", "--players", "K1,K2"]);
    let who = |round: usize| rounds(&players)[round]["sections"].as_array().and_then(|s| s.last().cloned());
    assert_eq!(
        (who(0).expect("one")["player"].clone(), who(1).expect("one")["player"].clone()),
        ("K1".into(), "K2".into())
    );
}

/// Milliseconds a beat are 60,000 through the tempo (common practice, no source). In a response the click is alone, so every
/// one of its edges can be heard, and must stand on the nearest frame.
#[test]
fn clicks_of_every_response_stand_on_their_frame() {
    let dir = tempfile::tempdir().expect("a folder");
    let wav = dir.path().join("lesson.wav").to_string_lossy().into_owned();
    let call = [&rhythm("2-lamp-on-the-landing"), "--bars", "1", "--tempo", "137", "-o", &wav];
    assert!(run([&["drill"], &call[..]].concat()).done().contains("wrote"));
    let sound = Sound::read(Path::new(&wav));
    let beats = 60.0 * 48_000.0 / 137.0;
    // A quarter of a second, then four beats to count 1 of the first round, from which everything is reckoned.
    let zero = 12_000.0 + (4.0_f64 * beats).round();
    let mut heard = 0;
    // A bar counted in; then bars called and answered by turns, twelve of each.
    for beat in (4..100).filter(|beat| (beat - 4) / 4 % 2 == 1) {
        let expected = zero + f64::from(beat - 4) * beats;
        // The last word of the call may still be heard at the first click.
        let onset = onset_near(&sound, expected, 96);
        if let Some(onset) = onset {
            assert!((onset as f64 - expected).abs() <= 0.5, "beat {beat}: {onset}, written {expected}");
            heard += 1;
        }
    }
    assert!(heard >= 36, "{heard} of 48 stand clear");
}

/// At 60 a beat is a second. Read by another reader: every part and every bar of it marked, at its frame, and the length to the
/// frame.
#[test]
fn the_sound_of_a_plan_is_marked_and_its_loudness_told() {
    let dir = tempfile::tempdir().expect("a folder");
    let wav = dir.path().join("lesson.wav").to_string_lossy().into_owned();
    let call =
        [&rhythm("1-nine-doorsteps"), "--bars", "2", "--tempo", "60", "--players", "K1,K2", "-o", &wav];
    let said = run([&["drill"], &call[..]].concat()).done();
    assert!(said.contains("bar 1 of round 1 begins at frame 204000 (4.250 s)"), "{said}");
    assert!(said.contains("LUFS") && said.contains("dBFS"), "{said}");
    let found = json(&python::run("tests/readers/wav_file.py", ["tell", &wav]));
    let second = |seconds: i64| 12_000 + 48_000 * seconds;
    let marks = serde_json::json!([
        [second(0), "round 1 count-in"],
        [second(4), "round 1 call bar 1"],
        [second(8), "round 1 call bar 2"],
        [second(12), "round 1 response K1 bar 1"],
        [second(16), "round 1 response K1 bar 2"],
        [second(20), "round 2 call bar 3"],
        [second(24), "round 2 call bar 4"],
        [second(28), "round 2 response K2 bar 3"],
        [second(32), "round 2 response K2 bar 4"],
    ]);
    assert_eq!(found["marks"], marks);
    // A bar counted in, four rounds of four bars, and what the last sound rings on.
    assert_eq!(found["count"], 1 + 4 * 4);
    let frames = found["frames"].as_i64().expect("a length");
    assert!((second(68)..second(69)).contains(&frames), "{frames}");
    assert_eq!((&found["subtype"], found["remarks"].as_array().map(Vec::len)), (&"PCM_16".into(), Some(0)));
}

#[test]
fn what_is_wrong_with_a_plan_is_pointed_at() {
    let dir = tempfile::tempdir().expect("a folder");
    let near = fs::canonicalize(tests::root().join("demo-data/rhythms/1-nine-doorsteps.rhythm"))
        .expect("it is there");
    let head = format!("rhythms = ['{}']\n", near.display());
    let check = |text: &str, parts: &[&str]| {
        let plan = written(dir.path(), "plan.drill", &format!("{head}{text}"));
        let run = run(["drill", &plan]);
        assert_eq!((run.status, run.out.as_str()), (Some(1), ""), "{}", run.err);
        for part in parts {
            assert!(run.err.contains(part), "{part}: {}", run.err);
        }
    };
    check("bars = 0\n", &["plan.drill:2:8", "0 is not a number of bars called at once", "from 1 to 64"]);
    check(
        "[response]\nsounds = [\"click\", \"hum\"]\n",
        &["plan.drill:3:20", "\"hum\" is not a sound", "\"clap\""],
    );
    check(
        "[[hard]]\nbar = 12\n",
        &["plan.drill:2:1", "rhythm 1 of the drill has no bar 12", "written number"],
    );
    check("brass = 2\n", &["unknown field `brass`", "countline drill --template"]);

    let missing = written(dir.path(), "missing.drill", "rhythms = [\"no-such.rhythm\"]\n");
    let lost = run(["drill", &missing]);
    assert_eq!(lost.status, Some(1));
    assert!(lost.err.contains("no-such.rhythm") && lost.err.contains("check the path"), "{}", lost.err);

    let call = |arguments: &[&str], words: &[&str]| {
        let run = run([&["drill"], arguments].concat());
        assert_eq!(run.status, Some(2), "{arguments:?}: {}", run.err);
        for word in words {
            assert!(run.err.contains(word), "{arguments:?}: {word} is missing in {}", run.err);
        }
    };
    let first = rhythm("1-nine-doorsteps");
    call(&[], &["FILES"]);
    call(&[PLAN, &first], &["one .drill, or rhythm texts"]);
    call(&[&first, "--bars", "65"], &["65 is not a number of bars called at once", "64"]);
    call(&[&first, "--fastest", "90"], &["give the size of a step too"]);
    call(&[&first, "--response", "hum"], &["\"hum\" is no sound"]);
    call(&[&first, "--silent", "2"], &["2+2"]);
    call(&[&first, "--step", "0"], &["no step"]);
    call(&[&first, "--voice", "nobody"], &["nobody", "female", "male"]);
}

/// A plan says itself what is heard: flags of one rhythm's sound are refused, and not passed over.
#[test]
fn what_a_plan_says_itself_is_no_flag() {
    for command in ["listen", "practice"] {
        for (flags, named) in [(["--click", "divisions"], "--click,"), (["--count-in", "2"], "--count-in is")]
        {
            let wrong = run([&[command, PLAN], &flags[..]].concat());
            assert_eq!(wrong.status, Some(2), "{}", wrong.err);
            assert!(wrong.err.contains(named) && wrong.err.contains("drill --template"), "{}", wrong.err);
        }
    }
}

#[test]
fn the_template_can_be_used_as_it_is_printed() {
    let dir = tempfile::tempdir().expect("a folder");
    let text = run(["drill", "--template"]).done();
    written(dir.path(), "my-rhythm.rhythm", "| 1 2 3 4 |\n");
    let plan = written(dir.path(), "mine.drill", &text);
    let out = run(["drill", &plan]).done();
    assert!(out.contains("1 round, 0:09.0") && out.contains("count-in, call, response"), "{out}");
}

/// What is heard is chosen in the plan as for one rhythm, in a counting system of the class's own; flags go before it.
#[test]
fn a_plan_has_its_own_counting_parts_and_sounds() {
    let dir = tempfile::tempdir().expect("a folder");
    written(dir.path(), "two.rhythm", "part: Hands\n| 1 2 3 4 |\n\npart: Feet\n| 1 _2 3 _4 |\n");
    let head = "rhythms = [\"two.rhythm\"]\n";
    let plan = written(dir.path(), "bare.drill", head);
    let none = run(["drill", &plan]);
    assert!(
        none.err.contains("2 parts") && none.err.contains("`part = \"NAME\"` in the plan"),
        "{}",
        none.err
    );
    run(["drill", &plan, "--part", "Feet"]).done();
    let lone = run(["drill", &rhythm("1-nine-doorsteps"), "--part", "Feet"]);
    assert_eq!(lone.status, Some(2), "{}", lone.err);
    assert!(lone.err.contains("has no part \"Feet\""), "{}", lone.err);

    let text = format!(
        "{head}part = \"Hands\"\ncounting = \"takadimi\"\n[count-in]\nentry = \"ready-go\"\n[sound]\ntone = true\n\
         holds = \"whispered\"\nlevel = {{ click = -6 }}\npan = {{ clap = -60 }}\n"
    );
    let plan = written(dir.path(), "whole.drill", &text);
    let wav = dir.path().join("whole.wav").to_string_lossy().into_owned();
    run(["drill", &plan, "-o", &wav, "--bits", "24", "--rate", "44100"]).done();
    let found = json(&python::run("tests/readers/wav_file.py", ["tell", &wav]));
    assert_eq!(
        (&found["subtype"], &found["channels"], &found["rate"]),
        (&"PCM_24".into(), &2.into(), &44_100.into())
    );
    let plain = dir.path().join("plain.wav").to_string_lossy().into_owned();
    let bare = dir.path().join("bare.drill").to_string_lossy().into_owned();
    run(["drill", &bare, "--part", "1", "-o", &plain, "--counting", "takadimi"]).done();
    let found = json(&python::run("tests/readers/wav_file.py", ["tell", &plain]));
    assert_eq!(found["channels"], 1);

    let refused = |text: &str, words: &str| {
        let plan = written(dir.path(), "wrong.drill", &format!("{head}part = \"1\"\n{text}"));
        let run = run(["drill", &plan]);
        assert!(run.status != Some(0) && run.err.contains(words), "{text}: {}", run.err);
    };
    refused("counting = \"none-such\"\n", "there is no counting system \"none-such\"");
    refused("[sound]\nlevel = { click = 40 }\n", "it goes from -60 to 12");
    refused("[sound]\nlevel = { tone = 3 }\n", "write `tone = true` too");
    refused("[click]\nsilent-bars = [99]\n", "has a bar 99");
    refused("[tempo]\nstep = 4\n", "nowhere to step");
    refused("[tempo]\nstep = \"4\"\n", "expected a number");
}

#[test]
fn a_calls_pickup_is_marked_whoever_is_asked_for_it() {
    let dir = tempfile::tempdir().expect("a folder");
    let text = written(dir.path(), "pickup.rhythm", "tempo: quarter = 60\n4 | 1 2 3 4 | 1 2 3 |\n");
    let wav = dir.path().join("pickup.wav").to_string_lossy().into_owned();
    for who in ["call", "players", "both"] {
        run(["drill", &text, "--bars", "1", "--pickup", who, "-o", &wav]).done();
        let found = json(&python::run("tests/readers/wav_file.py", ["tell", &wav]));
        let labels: Vec<&str> =
            found["marks"].as_array().into_iter().flatten().filter_map(|mark| mark[1].as_str()).collect();
        assert_eq!(labels[1..3], ["round 1 call pickup", "round 1 call bar 1"], "{who}: {labels:?}");
    }
}

/// What is asked for and clapped in three rounds at three tempos, read from the MIDI file by another reader: at the
/// plan's own moments, however the rounds' tempos change. What is muted in the plan has no track and no file.
#[test]
fn the_midi_file_and_the_tracks_of_a_plan_agree_with_it() {
    let dir = tempfile::tempdir().expect("a folder");
    let near = fs::canonicalize(tests::root().join("demo-data/rhythms/4-pebbles-downhill.rhythm"));
    let near = near.expect("it is there");
    let text = format!(
        "rhythms = ['{}']\nbars = 2\n[response]\nsounds = [\"click\", \"clap\"]\n[sound]\nmute = [\"count\"]\n\
         [tempo]\nat = 67\nstep = 7\nfastest = 97\nup-after = 1\n",
        near.display()
    );
    let plan = written(dir.path(), "steps.drill", &text);
    let named = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    let (midi, tracks) = (named("steps.mid"), named("tracks"));
    let said = run(["drill", &plan, "--midi", &midi, "--tracks", &tracks]).done();
    let mut files: Vec<String> = fs::read_dir(&tracks)
        .expect("a folder")
        .map(|file| file.expect("a file").file_name().to_string_lossy().into_owned())
        .collect();
    files.sort();
    assert_eq!(files, ["clap.wav", "click.wav"]);

    let planned = planned(&[&plan]);
    assert!(
        tempos(&planned).len() > 2 && tempos(&planned)[0] != tempos(&planned)[1],
        "{:?}",
        tempos(&planned)
    );
    // Each attack is clapped twice: when it is called and when it is answered.
    let responses = rounds(&planned).iter().flat_map(|round| {
        let sections = round["sections"].as_array().expect("sections");
        sections.iter().filter(|section| section["kind"] == "response").cloned().collect::<Vec<_>>()
    });
    let asked: Vec<f64> = responses
        .flat_map(|section| section["attacks"].as_array().expect("attacks").clone())
        .map(|attack| {
            attack["ms"].as_f64().expect("a time")
                - rounds(&planned)[0]["starts_ms"].as_f64().expect("a time")
        })
        .collect();
    let found = json(&python::run("tests/readers/midi.py", [&midi]));
    let instruments = found["pretty_midi"]["instruments"].as_array().expect("a list");
    let names: Vec<&str> = instruments.iter().map(|one| one["name"].as_str().expect("a name")).collect();
    assert_eq!(names, ["click", "rhythm"]);
    let notes = instruments[1]["notes"].as_array().expect("notes");
    let clapped: Vec<f64> = notes.iter().map(|note| 1_000.0 * note[0].as_f64().expect("a time")).collect();
    assert_eq!(clapped.len(), 2 * asked.len());
    let nearest = |at: f64| clapped.iter().map(|clap| (clap - at).abs()).fold(f64::INFINITY, f64::min);
    let worst = asked.iter().map(|&at| nearest(at)).fold(0.0, f64::max);
    assert!(worst < 0.11, "{worst} ms");
    let markers = found["mido"]["tracks"][0]["markers"].as_array().expect("markers");
    for label in ["bar 1", "round 1 count-in", "round 2 call bar 3", "round 3 response bar 5"] {
        assert!(markers.iter().any(|marker| marker[1] == label), "{label}: {markers:?}");
    }

    let frame: f64 = said
        .split_once("bar 1 of round 1 begins at frame ")
        .and_then(|(_, rest)| rest.split(' ').next())
        .and_then(|digits| digits.parse().ok())
        .expect("the frame of bar 1");
    // The rhythm begins with an attack, so the first clap stands there.
    let file = dir.path().join("tracks/clap.wav").to_string_lossy().into_owned();
    let heard: f64 =
        python::run("tests/readers/wav_file.py", ["first", &file, "0.001"]).parse().expect("a frame");
    assert!((heard - frame).abs() <= 5.0, "{heard}, written {frame}");
}

/// A pickup sounds in the room that the last bar of the round before has left, twice as fast as that: bar 1 of round 1 begins at
/// 1 s, its call and its answer take 8 s each at quarter = 60, and the pickup is half a second before the end (computed).
#[test]
fn a_pickup_stands_in_the_midi_file_when_it_sounds() {
    let dir = tempfile::tempdir().expect("a folder");
    let slow = written(dir.path(), "slow.rhythm", "tempo: quarter = 60\n4 | 1 2 3 4 | 1 2 3 |\n");
    let fast = written(dir.path(), "fast.rhythm", "tempo: quarter = 120\n4 & | 1 2 3 4 | 1 2 3 |\n");
    let midi = dir.path().join("two.mid").to_string_lossy().into_owned();
    run(["drill", &slow, &fast, "--count-in", "0", "--midi", &midi]).done();
    let found = json(&python::run("tests/readers/midi.py", [&midi]));
    let instruments = found["pretty_midi"]["instruments"].as_array().expect("a list");
    let rhythm = instruments.iter().find(|one| one["name"] == "rhythm").expect("what is clapped");
    let clapped: Vec<f64> =
        rhythm["notes"].as_array().expect("notes").iter().filter_map(|note| note[0].as_f64()).collect();
    let in_pickup: Vec<f64> = clapped.iter().copied().filter(|at| (15.5..16.99).contains(at)).collect();
    assert_eq!(in_pickup, [16.5, 16.75], "{clapped:?}");
    let conductor = &found["mido"]["tracks"][0];
    let tick_of = |label: &str| {
        let markers = conductor["markers"].as_array().expect("markers");
        markers.iter().find(|marker| marker[1] == label).and_then(|marker| marker[0].as_f64()).expect("there")
    };
    // Up to bar 1 of round 2 a second is a quarter.
    let quarter = found["mido"]["ticks_per_beat"].as_f64().expect("a number");
    assert_eq!(tick_of("round 2 call pickup") / quarter, 16.5);
    assert_eq!(tick_of("round 2 call bar 1") / quarter, 17.0);
}

/// Bars that come again are told as they are played, each round with the tempo that it begins at, in words and for other programs.
#[test]
fn repeats_and_tempi_are_told_as_they_are_played() {
    let dir = tempfile::tempdir().expect("a folder");
    let repeated = written(
        dir.path(),
        "repeated.rhythm",
        "meter: 4/4\ntempo: quarter = 60\n|: 1 2 3 4 | 1 2 3 4 :| [quarter = 120] 1 2 3 4 | 1 2 3 4 |\n",
    );
    let said = run(["drill", &repeated, "--bars", "3"]).done();
    let rows: Vec<Vec<&str>> = said.lines().map(|line| line.split("  ").map(str::trim).collect()).collect();
    let row = |bars: &str, tempo: &str| {
        rows.iter().any(|row| row.contains(&bars) && row.contains(&tempo)).then_some(()).expect(&said);
    };
    row("1-2, 1 again", "quarter = 60");
    row("2 again, 3-4", "quarter = 60");
    let said = run(["drill", &repeated, "--bars", "2"]).done();
    assert!(said.contains("quarter = 120  1       3-4        count-in, call, response"), "{said}");
    let plan = planned(&[&repeated, "--bars", "3"]);
    let played = serde_json::json!([
        { "bar": 1, "pass": 1 }, { "bar": 2, "pass": 1 }, { "bar": 1, "pass": 2 }
    ]);
    assert_eq!(rounds(&plan)[0]["played"], played);
}

/// What reads the plan from standard output finds nothing else there.
#[test]
fn a_plan_as_json_stands_alone_where_files_are_written_too() {
    let dir = tempfile::tempdir().expect("a folder");
    let file = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    let [wav, midi] = ["lesson.wav", "lesson.mid"].map(file);
    let call = run(["drill", &rhythm("1-nine-doorsteps"), "--json", "-o", &wav, "--midi", &midi]);
    assert_eq!(call.status, Some(0), "{}", call.err);
    assert_eq!(json(&call.out)["version"], 1);
    assert!(call.err.contains("wrote") && call.err.contains("lesson.mid"), "{}", call.err);
}

#[test]
fn marks_are_true_and_come_once() {
    let dir = tempfile::tempdir().expect("a folder");
    let text = "meter: 3/4\n3 & | 1 2 3 | 1 2 |\n";
    let pickup = written(dir.path(), "pickup.rhythm", text);
    let file = |name: &str| dir.path().join(name).to_string_lossy().into_owned();
    let [wav, midi] = ["lesson.wav", "lesson.mid"].map(file);
    run(["drill", &pickup, "--breath", "1", "--pickup", "players", "-o", &wav]).done();
    let bytes = fs::read(&wav).expect("it is there");
    let marked = |bytes: &[u8], label: &[u8]| bytes.windows(label.len()).filter(|at| at == &label).count();
    assert_eq!(marked(&bytes, b"round 1 call pickup"), 1);
    // A hard bar comes first: nothing calls it bar 1.
    let plan = written(dir.path(), "hard.drill", "rhythms = [\"pickup.rhythm\"]\n[[hard]]\nbar = 2\n");
    let said = run(["drill", &plan, "-o", &wav, "--midi", &midi]).done();
    assert!(said.contains("bar 2 of round 1 begins at frame "), "{said}");
    let bytes = fs::read(&midi).expect("it is there");
    assert_eq!(marked(&bytes, b"\xFF\x06\x05bar 1"), 0);
    assert_eq!(marked(&bytes, b"round 1 call bar 2"), 1);
}

#[test]
fn wrong_numbers_are_told_with_what_is_right() {
    let rhythm = rhythm("1-nine-doorsteps");
    let refused = |flags: &[&str], words: &str| {
        let call = run([&["drill", &rhythm], flags].concat());
        assert_eq!(call.status, Some(2), "{flags:?}: {}", call.out);
        assert!(call.err.contains(words), "{flags:?}: {}", call.err);
    };
    refused(
        &["--bars", "abc"],
        "abc is not a number of bars called at once: write a whole number from 1 to 64",
    );
    refused(&["--count-in", "1.5"], "write a whole number from 0 to 8");
    refused(&["--count-in", "-1"], "-1 is not a number of bars counted in");
    refused(&["--tempo", "60,5"], "Write a point where it has a comma");
    refused(&["--tempo", "60.1234"], "Three decimals");
    refused(&["--slowest", "50"], "a slowest tempo is given, and the tempo does not step");
    refused(&["--count-in", "0", "--entry", "ready-go"], "--entry");
    let mute = ["--mute", "click", "--mute", "count", "--mute", "clap", "--tracks", "never"];
    refused(&mute, "every sound is muted");
}

/// At 60 a beat is a second: a bar counted in, then bars called and answered by turns.
#[test]
fn a_tone_is_heard_in_the_sections_that_name_it() {
    let dir = tempfile::tempdir().expect("a folder");
    written(dir.path(), "long.rhythm", "tempo: quarter = 60\n| 1 _2 _3 _4 | 1 _2 _3 _4 |\n");
    let wav = dir.path().join("lesson.wav").to_string_lossy().into_owned();
    // The power of the second half of a bar's fourth beat, in dB of full scale: what else sounds has died away by then.
    let bars = |text: &str, flags: &[&str]| -> Vec<f64> {
        let plan =
            written(dir.path(), "tone.drill", &format!("rhythms = [\"long.rhythm\"]\nbars = 1\n{text}"));
        run([&["drill", &plan, "-o", &wav], flags].concat()).done();
        let sound = Sound::read(Path::new(&wav));
        let power = |bar: usize| {
            let from = 12_000 + 48_000 * (4 * bar + 3) + 30_000;
            let frames = &sound.frames[from..from + 12_000];
            10.0 * (frames.iter().map(|frame| frame * frame).sum::<f64>() / 12_000.0 + 1e-12).log10()
        };
        (0..5).map(power).collect()
    };
    let check = |text: &str, flags: &[&str], heard: [bool; 5]| {
        let powers = bars(text, flags);
        let is_as_heard = |(power, heard): (&f64, bool)| if heard { *power > -50.0 } else { *power < -80.0 };
        assert!(powers.iter().zip(heard).all(is_as_heard), "{text} {flags:?}: {powers:?}");
    };
    let call = [false, true, false, true, false];
    let none = [false; 5];
    check("", &[], none);
    check("[call]\nsounds = [\"tone\"]\n", &[], call);
    check("[call]\nsounds = [\"tone\", \"clap\"]\n[response]\nsounds = [\"clap\"]\n", &[], call);
    check("[response]\nsounds = [\"tone\"]\n", &[], [false, false, true, false, true]);
    check("", &["--call", "click,tone", "--response", "clap"], call);
    check("[response]\nsounds = [\"clap\"]\n[sound]\ntone = true\n", &[], [false, true, true, true, true]);
    check("[response]\nsounds = [\"clap\"]\n", &["--tone"], [false, true, true, true, true]);
    check("[call]\nsounds = [\"tone\"]\n[sound]\nlevel = { tone = 6 }\n", &[], call);

    // Without a plan too, the flags that name a tone are enough to set its level.
    let long = dir.path().join("long.rhythm").to_string_lossy().into_owned();
    for more in [&["--call", "tone", "--level", "tone=3"][..], &["--response", "tone", "--pan", "tone=-50"]] {
        run([&["drill", &long, "-o", &wav], more].concat()).done();
    }
    let refused = |more: &[&str], says: &str| {
        let run = run([&["drill", &long, "-o", &wav], more].concat());
        assert!(run.status == Some(2) && run.err.contains(says), "{more:?}: {}", run.err);
    };
    refused(&["--call", "click", "--level", "tone=3"], "add --tone");
    refused(&["--call", "tone", "--level", "tone=3", "--mute", "tone"], "give one of the two");
}

/// A tone is a track of its own in MIDI files: each note held from its attack to its end, on a channel that is not that of
/// percussion. A bar of 4/4 is 3840 ticks: one counted in, then bars called and answered by turns.
#[test]
fn a_tone_is_a_track_of_its_own_in_midi_files() {
    let dir = tempfile::tempdir().expect("a folder");
    written(
        dir.path(),
        "long.rhythm",
        "tempo: quarter = 60\n| 1 _2 3 (4) | 1 _2 _3 _4 |\naccents: | > . | |\n",
    );
    let midi = dir.path().join("lesson.mid").to_string_lossy().into_owned();
    let tracks = |call: &[&str]| {
        run([call, &["--midi", &midi]].concat()).done();
        let found = json(&python::run("tests/readers/midi.py", [&midi]));
        let drums = found["pretty_midi"]["instruments"].as_array().expect("a list").clone();
        let tone = drums.iter().find(|instrument| instrument["name"] == "tone");
        assert!(tone.is_none_or(|tone| tone["drum"] == false), "{tone:?}");
        let tracks = found["mido"]["tracks"].as_array().expect("tracks").iter();
        tracks
            .map(|track| (track["name"].as_str().unwrap_or_default().to_owned(), track["notes"].clone()))
            .collect::<Vec<_>>()
    };
    let of = |tracks: &[(String, Value)], name: &str| {
        tracks.iter().find(|(called, _)| called == name).map(|(_, notes)| notes.clone())
    };
    let plan = |text: &str| {
        written(dir.path(), "tone.drill", &format!("rhythms = [\"long.rhythm\"]\nbars = 1\n{text}"))
    };
    let note = |bar: u32, at: u32, length: u32, velocity: u32| {
        let on = 3_840 * bar + at;
        serde_json::json!([on, on + length, 0, 69, velocity])
    };
    let called =
        serde_json::json!([note(1, 0, 1_920, 126), note(1, 1_920, 960, 100), note(3, 0, 3_840, 100)]);
    let found = tracks(&["drill", &plan("[call]\nsounds = [\"tone\"]\n")]);
    assert_eq!(of(&found, "tone"), Some(called.clone()));
    assert_eq!(of(&found, "rhythm"), Some(serde_json::json!([])), "nobody claps");
    let long = dir.path().join("long.rhythm").to_string_lossy().into_owned();
    let found = tracks(&["drill", &long, "--bars", "1", "--call", "tone,clap"]);
    assert_eq!(of(&found, "tone"), Some(called));
    assert_eq!(of(&found, "rhythm").and_then(|notes| Some(notes.as_array()?.len())), Some(3));
    // Where no tone sounds there is no such track, nor where it is left out.
    assert_eq!(of(&tracks(&["drill", &plan("")]), "tone"), None);
    let found = tracks(&["drill", &plan("[call]\nsounds = [\"tone\"]\n"), "--mute", "tone"]);
    assert_eq!(of(&found, "tone"), None);
    // A rhythm by itself, and one whose tones are of a plan as a whole.
    let whole = serde_json::json!([note(1, 0, 1_920, 126), note(1, 1_920, 960, 100), note(2, 0, 3_840, 100)]);
    assert_eq!(of(&tracks(&["sound", &long, "--tone"]), "tone"), Some(whole));
    assert_eq!(of(&tracks(&["sound", &long]), "tone"), None);
    let found = tracks(&["drill", &plan("[sound]\ntone = true\n")]);
    assert_eq!(of(&found, "tone").and_then(|notes| Some(notes.as_array()?.len())), Some(3));
}

/// A rhythm's own changes of tempo keep their proportion, and none may come outside 20 to 300.
#[test]
fn a_tempo_that_would_take_a_change_out_of_the_limits_is_refused() {
    let dir = tempfile::tempdir().expect("a folder");
    let file = written(
        dir.path(),
        "faster.rhythm",
        "tempo: quarter = 80\n| 1 2 3 4 | [quarter = 120] 1 2 3 4 | [quarter = 40] 1 2 3 4 |\n",
    );
    let wav = dir.path().join("out.wav").to_string_lossy().into_owned();
    let check = |call: &[&str], says: &[&str]| {
        let run = run(call.iter().copied());
        let is_right =
            if says.is_empty() { run.status == Some(0) } else { matches!(run.status, Some(1 | 2)) };
        assert!(is_right && says.iter().all(|says| run.err.contains(says)), "{call:?}: {}", run.err);
    };
    let fast = ["bar 2", "375", "from 20 to 300", "40 to 200"];
    let slow = ["bar 3", "15", "from 20 to 300", "40 to 200"];
    check(&["sound", &file, "--tempo", "250", "--wav", &wav], &fast);
    check(&["sound", &file, "--tempo", "30", "--wav", &wav], &slow);
    check(&["sound", &file, "--tempo", "200", "--wav", &wav], &[]);
    check(&["sound", &file, "--tempo", "40", "--wav", &wav], &[]);
    check(&["drill", &file, "--tempo", "250"], &fast);
    check(&["drill", &file, "--tempo", "60", "--step", "10", "--fastest", "250"], &fast);
    check(&["drill", &file, "--tempo", "60", "--step", "10", "--slowest", "30"], &slow);
    check(&["drill", &file, "--tempo", "60", "--step", "10", "--fastest", "200", "--slowest", "40"], &[]);
    let plan = written(dir.path(), "p.drill", "rhythms = [\"faster.rhythm\"]\n[tempo]\nat = 250\n");
    check(&["drill", &plan], &["p.drill", "rhythm 1", "bar 2", "40 to 200"]);
}

#[test]
fn a_bar_that_is_not_there_is_refused_with_those_that_are() {
    let dir = tempfile::tempdir().expect("a folder");
    written(dir.path(), "three.rhythm", "4 | 1 2 3 4 | 1 2 3 4 | 1 2 3 |\n");
    written(dir.path(), "two.rhythm", "| 1 2 3 4 | 1 2 3 4 |\n");
    let check = |text: &str, says: &str| {
        let head = "rhythms = [\"three.rhythm\", \"two.rhythm\"]\n";
        let plan = written(dir.path(), "wrong.drill", &format!("{head}{text}"));
        let run = run(["drill", &plan]);
        assert!(run.status == Some(1) && run.err.contains(says), "{text}: {}", run.err);
    };
    check("[[hard]]\nbar = 9\n", "rhythm 1 of the drill has no bar 9: it has the pickup (0) and bars 1 to 3");
    check("[[hard]]\nrhythm = 2\nbar = 3\n", "rhythm 2 of the drill has no bar 3: it has bars 1 to 2");
    check(
        "[click]\nsilent-bars = [4]\n",
        "no rhythm of the drill has a bar 4, in which the click is to fall silent: the longest has the pickup (0) and bars 1 to 3",
    );
}
