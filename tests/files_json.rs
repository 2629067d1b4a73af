//! The JSON that other programs build on: as it is written down, and as its schemas have it.
//!
//! The schemas are applied by the PyPI library jsonschema.

use std::path::{Path, PathBuf};

use judge::{Judgement, Played, Settings, judge};
use rhythm::Rhythm;
use sequencer::Plan;
use serde_json::{Value, json};
use take::json::{CountFile, JudgeFile, text};
use take::{Ended, Header, PlayerNote, Recorder, SoundNote};
use tests::{python, root};
use timebase::{Moment, SampleRate, Seconds};

fn rhythm(text: &str) -> Rhythm {
    let reading = rhythm::text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics))
}

fn count(text: &str) -> String {
    let rhythm = rhythm(text);
    take::json::text(&CountFile::of(&rhythm, &counting::count(&rhythm)))
}

fn at(ms: f64) -> Moment {
    Moment::ZERO + Seconds::from_millis_f64(ms)
}

fn judged(text: &str, played_ms: &[f64]) -> Judgement {
    let rhythm = rhythm(text);
    let plan = Plan::of(&rhythm);
    let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan);
    let played: Vec<_> = played_ms.iter().map(|&ms| Played::new(at(ms))).collect();
    judge(sequence.counts(), &played, &Settings::default())
}

/// The text without blanks and line breaks outside words, so that the order of keys is compared and the layout is not.
fn compact(text: &str) -> String {
    let mut in_word = false;
    text.chars()
        .filter(|c| {
            in_word ^= *c == '"';
            in_word || !c.is_whitespace()
        })
        .collect()
}

#[track_caller]
fn check_count(rhythm: &str, bars: &str) {
    let text = count(rhythm);
    let expected = format!("{{\"version\":1,\"title\":null,\"system\":\"numbers\",\"bars\":[{bars}]}}");
    assert_eq!(compact(&text), compact(&expected), "{rhythm}");
}

/// Worked out by hand. Common practice, no source: every beat is counted, also through rests and held notes; a tied note is no
/// beginning; a pickup ends on the last count.
#[test]
fn counts_are_printed_as_they_are_documented() {
    // Two notes for `1 3`, three for `1 _2 3`.
    check_count(
        "meter: 4/4\n| 1 3 |",
        r#"{"number": 1, "pass": 1, "meter": "4/4", "pickup": false,
            "counts": [{"at": "0", "say": "1", "do": "attack"}, {"at": "1/4", "say": "2", "do": "hold"},
                       {"at": "1/2", "say": "3", "do": "attack"}, {"at": "3/4", "say": "4", "do": "hold"}],
            "notes": [{"at": "0", "length": "1/2", "do": "attack"}, {"at": "1/2", "length": "1/2", "do": "attack"}]}"#,
    );
    check_count(
        "meter: 4/4\n| 1 _2 3 |",
        r#"{"number": 1, "pass": 1, "meter": "4/4", "pickup": false,
            "counts": [{"at": "0", "say": "1", "do": "attack"}, {"at": "1/4", "say": "2", "do": "hold"},
                       {"at": "1/2", "say": "3", "do": "attack"}, {"at": "3/4", "say": "4", "do": "hold"}],
            "notes": [{"at": "0", "length": "1/4", "do": "attack"}, {"at": "1/4", "length": "1/4", "do": "hold"},
                      {"at": "1/2", "length": "1/2", "do": "attack"}]}"#,
    );
    // A pickup on 4, and a repeat written out: the written bar's number, and which time through.
    check_count(
        "meter: 4/4\n4 |: 1 (2 3) 4 :|",
        r#"{"number": 0, "pass": 1, "meter": "4/4", "pickup": true,
            "counts": [{"at": "3/4", "say": "4", "do": "attack"}],
            "notes": [{"at": "3/4", "length": "1/4", "do": "attack"}]},
           {"number": 1, "pass": 1, "meter": "4/4", "pickup": false,
            "counts": [{"at": "0", "say": "1", "do": "attack"}, {"at": "1/4", "say": "2", "voicing": "softer", "do": "rest"},
                       {"at": "1/2", "say": "3", "voicing": "softer", "do": "rest"}, {"at": "3/4", "say": "4", "do": "attack"}],
            "notes": [{"at": "0", "length": "1/4", "do": "attack"}, {"at": "1/4", "length": "1/4", "do": "rest"},
                      {"at": "1/2", "length": "1/4", "do": "rest"}, {"at": "3/4", "length": "1/4", "do": "attack"}]},
           {"number": 1, "pass": 2, "meter": "4/4", "pickup": false,
            "counts": [{"at": "0", "say": "1", "do": "attack"}, {"at": "1/4", "say": "2", "voicing": "softer", "do": "rest"},
                       {"at": "1/2", "say": "3", "voicing": "softer", "do": "rest"}, {"at": "3/4", "say": "4", "do": "attack"}],
            "notes": [{"at": "0", "length": "1/4", "do": "attack"}, {"at": "1/4", "length": "1/4", "do": "rest"},
                      {"at": "1/2", "length": "1/4", "do": "rest"}, {"at": "3/4", "length": "1/4", "do": "attack"}]}"#,
    );
    // The felt beat is named where it is not the usual one.
    let in_six = count("meter: 6/8 in 6\n| 1 (4) |");
    assert!(in_six.contains("\"meter\": \"6/8 in 6\""), "{in_six}");
    // A thirty-second has no word.
    let fine: Value = serde_json::from_str(&count("meter: 2/4\n| 1/8. 1/32 1/32 1/4 |")).expect("JSON");
    assert_eq!(fine["bars"][0]["counts"][2], json!({"at": "7/32", "say": null, "do": "attack"}));
}

#[test]
fn a_title_stands_in_the_file() {
    let file: Value = serde_json::from_str(&count("title: Tin \"Roof\"\nmeter: 2/4\n| 1 2 |")).expect("JSON");
    assert_eq!(file["title"], "Tin \"Roof\"");
}

/// Two bars of 4/4 at 120: in the first the rest on 3 is struck and 4 far too late, in the second 3 is missed.
#[test]
fn judgements_are_printed_as_they_are_documented() {
    let judgement = judged(
        "meter: 4/4\ntempo: quarter = 120\n| 1 2 (3) 4 | 1 2 3 _4 |",
        &[12.3456, 504.0, 1_004.0, 1_580.0, 2_012.0, 2_512.0],
    );
    let text = text(&JudgeFile::of([("K07", &judgement)], at(2_250.0)));
    let attacks = r#"{"version": 1, "players": [{"player": "K07", "attacks": [
        {"time_ms": 2262.346, "bar": 1, "pass": 1, "at": "0", "offset_ms": 12.346, "verdict": "on-time"},
        {"time_ms": 2754.0, "bar": 1, "pass": 1, "at": "1/4", "offset_ms": 4.0, "verdict": "on-time"},
        {"time_ms": 3254.0, "verdict": "extra"},
        {"time_ms": 3830.0, "bar": 1, "pass": 1, "at": "3/4", "offset_ms": 80.0, "verdict": "late"},
        {"time_ms": 4262.0, "bar": 2, "pass": 1, "at": "0", "offset_ms": 12.0, "verdict": "on-time"},
        {"time_ms": 4762.0, "bar": 2, "pass": 1, "at": "1/4", "offset_ms": 12.0, "verdict": "on-time"}],
        "missed": [{"bar": 2, "pass": 1, "at": "1/2"}],
        "bias_ms": 12.0, "spread_ms": "#;
    assert!(compact(&text).starts_with(&compact(attacks)), "{text}");
    let file: Value = serde_json::from_str(&text).expect("JSON");
    let findings = file["players"][0]["findings"].as_array().expect("a list");
    let struck =
        findings.iter().find(|finding| finding["kind"] == "rest-struck").expect("the rest was struck");
    assert_eq!((&struck["bar"], &struck["pass"], &struck["at"]), (&json!(1), &json!(1), &json!("1/2")));
    let keys: Vec<_> = struck.as_object().expect("an object").keys().collect();
    assert_eq!(keys, ["at", "bar", "confidence", "kind", "pass", "says", "strokes_ms"]);
}

/// Of three strokes nothing can be summed: that is null, and not 0.
#[test]
fn what_cannot_be_known_is_null() {
    let judgement = judged("meter: 4/4\ntempo: quarter = 120\n| 1 2 (3) 4 |", &[12.3456, 1_004.0, 1_580.0]);
    let text = compact(&text(&JudgeFile::of([("K07", &judgement)], at(2_250.0))));
    assert!(text.contains(r#""bias_ms":null,"spread_ms":null,"drift_percent":null,"#), "{text}");
    let file: Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!(file["players"][0]["findings"][0]["says"], "bar 1: 2 was not struck, and the rest on 3 was");
}

/// Eight attacks and more have sums.
#[test]
fn sums_are_numbers_where_they_can_be_known() {
    let text = "meter: 4/4\ntempo: quarter = 120\n| 1 2 3 4 | 1 2 3 4 | 1 2 3 4 |";
    let played: Vec<f64> = (0..12).map(|n| f64::from(n) * 500.0 - 20.0 + f64::from(n % 3)).collect();
    let judgement = judged(text, &played);
    let file = take::json::text(&JudgeFile::of([("K07", &judgement)], at(0.0)));
    let file: Value = serde_json::from_str(&file).expect("JSON");
    let player = &file["players"][0];
    assert_eq!(player["bias_ms"], -19.0);
    assert!(player["spread_ms"].as_f64().expect("a number") < 2.0);
    assert!(player["drift_percent"].as_f64().expect("a number").abs() < 0.1);
    assert_eq!(player["missed"], json!([]));
}

/// Two players of 64 eighths: the ands of the first are late, and after a long interval of the second mostly comes a short one.
fn swung_section() -> [(&'static str, Judgement); 2] {
    let text = format!("meter: 4/4\ntempo: quarter = 90\n{}|", "| 1 & 2 & 3 & 4 & ".repeat(8));
    let play = |offset: fn(i32) -> f64| {
        let strokes: Vec<f64> = (0..64).map(|n| f64::from(n) * 1_000.0 / 3.0 + offset(n)).collect();
        judged(&text, &strokes)
    };
    [
        ("K01", play(|n| f64::from(40 * (n % 2) + 5 * (n % 3)))),
        ("K02", play(|n| [0.0, 6.0, 10.0, 3.0, 12.0, 8.0, 2.0][usize::try_from(n % 7).expect("small")])),
    ]
}

fn by_label<'a>((label, judgement): &'a (&'static str, Judgement)) -> (&'a str, &'a Judgement) {
    (*label, judgement)
}

/// The ands 40 ms late are told as such, no finer than the stamps; a section has its own member.
#[test]
fn the_split_and_the_section_are_printed() {
    let section = swung_section();
    let file =
        text(&JudgeFile::at_resolution(section.iter().map(by_label), at(0.0), Seconds::from_millis(5)));
    let file: Value = serde_json::from_str(&file).expect("JSON");
    let split = &file["players"][0]["split"];
    assert_eq!(split["resolution_ms"], 5.0);
    let ands = split["places"].as_array().expect("places").iter().find(|place| place["place"] == "half");
    let ands = ands.expect("32 of them");
    assert_eq!((&ands["attacks"], &ands["offset"]["ms"]), (&json!(32), &json!(40.0)), "{split}");
    assert!(file["players"][1]["split"]["clock_motor"]["intervals"] == 63, "{file}");
    assert_eq!(file["section"]["members"][1]["player"], "K02");
    assert_eq!(file["section"]["pulse"].as_array().map(Vec::len), Some(64));
    let one = text(&JudgeFile::of(section[..1].iter().map(by_label), at(0.0)));
    assert!(serde_json::from_str::<Value>(&one).expect("JSON").get("section").is_none());
}

fn check_schema(name: &str, files: &[PathBuf]) {
    let mut arguments = vec![root().join("crates/take/schema"), PathBuf::from(name)];
    arguments.extend_from_slice(files);
    assert_eq!(python::run("tests/readers/schema.py", arguments), "");
}

fn write(dir: &Path, name: &str, text: &str) -> PathBuf {
    let path = dir.join(name);
    std::fs::write(&path, text).expect("the folder takes files");
    path
}

#[test]
fn every_file_is_as_its_schema_has_it() {
    let dir = tempfile::tempdir().expect("a folder");
    let texts = [
        "title: Tin Roof\nmeter: 4/4\n4 & |: 1 2 & 3 4 | _1 e & a 2 la li 3 :| 3 times",
        "meter: 6/8 in 6\n| 1 (4) | [2/2] 1 & 2 |",
        "meter: 2/4\n| 1/8. 1/32 1/32 1/4 | % |",
        "meter: 12/8\n| 1 ta la ta li ta 2 3 4 |",
    ];
    let counts =
        texts.iter().zip(0..).map(|(text, n)| write(dir.path(), &format!("count-{n}.json"), &count(text)));
    check_schema("count", &counts.collect::<Vec<_>>());

    let bar = "meter: 4/4\ntempo: quarter = 120\n| 1 2 (3) 4 |";
    let nobody = judged(bar, &[]);
    let wild = judged(bar, &[-40.0, 200.0, 480.0, 1_000.0, 1_040.0, 1_700.0, 9_000.0]);
    let even = judged(
        "meter: 4/4\n| 1 2 3 4 | 1 2 3 4 | 1 2 3 4 |",
        &(0..12).map(|n| f64::from(n) * 700.0).collect::<Vec<_>>(),
    );
    let file = JudgeFile::of([("K07", &nobody), ("K11", &wild), ("K12", &even)], at(2_250.0));
    check_schema(
        "judge",
        &[
            write(dir.path(), "judge.json", &text(&file)),
            write(dir.path(), "nobody.json", &text(&JudgeFile::of([], at(0.0)))),
            write(
                dir.path(),
                "section.json",
                &text(&JudgeFile::of(swung_section().iter().map(by_label), at(0.0))),
            ),
        ],
    );

    let key = rhythm("title: Key\nmeter: 4/4\n4 & | 1 2 & 3 (4) | 1 _2 3 e & 4 |");
    let line = counting::count(&key);
    let answers: Vec<(&str, &str, counting::answers::Answer)> =
        [("K07", "4 + | 1 2 + 3 (4) | 1 _2 3 e + 4"), ("K11", "1 & | 1 2 3 4 ♪ | 5 6 - ta ti"), ("K12", "")]
            .map(|(code, text)| (code, text, counting::answers::check(&line, &key, text)))
            .into();
    let answers = answers.iter().map(|(code, text, answer)| (*code, *text, answer));
    let answers = take::json::AnswersFile::of(&key, "numbers", answers);
    check_schema("answers", &[write(dir.path(), "answers.json", &text(&answers))]);

    let rhythm = rhythm(bar);
    let plan = Plan::of(&rhythm);
    let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan);
    let sound = SoundNote {
        output: Some("speakers".to_owned()),
        output_latency: Some(Seconds::from_millis(11)),
        latency_from: Some("loopback".to_owned()),
        ..SoundNote::new(SampleRate::HZ_48000)
    };
    let mut header = Header::of(&rhythm, &sequence, sound, "2025-03-01T10:15:00+01:00");
    let instrument = Some(take::Instrument::Keys);
    header.players.push(PlayerNote { instrument, ..PlayerNote::new("K07", "space bar") });
    let mut recorder = Recorder::begin(&dir.path().join("take"), header).expect("begun");
    let begun =
        std::fs::read_to_string(recorder.dir().join("take.json")).expect("it is there from the beginning");
    let begun = write(dir.path(), "begun.json", &begun);
    let disturbance = take::Disturbance { from: at(1.0), to: at(2.5), why: "dropout".to_owned() };
    recorder.disturbed(disturbance).expect("kept");
    recorder.absent(0, at(0.5)).expect("kept");
    recorder.back(0, at(0.75)).expect("kept");
    recorder.absent(0, at(1.25)).expect("kept");
    recorder.heard_until(at(2.0));
    let finished = recorder.finish(Ended::Stopped, Some(&file)).expect("finished").join("take.json");
    check_schema("take", &[begun, finished]);
}

/// A schema that lets everything pass would pass the check above.
/// The schema takes this file, and refuses it with each of these places changed.
fn refuses(schema: &str, whole: &Value, changes: &[(&str, Value)]) {
    let dir = tempfile::tempdir().expect("a folder");
    let changed = changes.iter().map(|(place, wrong)| {
        let mut value = whole.clone();
        *value.pointer_mut(place).expect("it is there") = wrong.clone();
        value
    });
    let files = std::iter::once(whole.clone())
        .chain(changed)
        .enumerate()
        .map(|(index, value)| write(dir.path(), &format!("{index}.json"), &value.to_string()));
    let call = ["--each".into(), root().join("crates/take/schema"), schema.into()].into_iter().chain(files);
    let said = python::run("tests/readers/schema.py", call);
    let said: Vec<&str> = said.lines().collect();
    assert_eq!((said.len(), said[0]), (1 + changes.len(), "right"), "{schema}");
    for ((place, wrong), said) in changes.iter().zip(&said[1..]) {
        assert_eq!(*said, "wrong", "{schema}: {place} {wrong}");
    }
}

#[test]
fn the_schemas_refuse_what_is_wrong() {
    let whole: Value = serde_json::from_str(&count("meter: 2/4\n| 1 2 |")).expect("JSON");
    refuses(
        "count",
        &whole,
        &[
            ("/version", json!(2)),
            ("/title", json!(0)),
            ("/bars/0/counts/0/at", json!(0.25)),
            ("/bars/0/counts/0/at", json!("2/0")),
            ("/bars/0/counts/0/do", json!("clap")),
            ("/bars/0/pass", json!(0)),
            ("/bars/0/meter", json!("2-4")),
            ("/bars/0/notes", json!([])),
        ],
    );
    let key = rhythm("meter: 2/4\n| 1 2 | 1 2 |");
    let answer = counting::answers::check(&counting::count(&key), &key, "1 | 3 4 &");
    let file = take::json::AnswersFile::of(&key, "numbers", [("K07", "1 | 3 4 &", &answer)]);
    let whole: Value = serde_json::from_str(&text(&file)).expect("JSON");
    refuses(
        "answers",
        &whole,
        &[
            ("/system", json!("")),
            ("/pupils/0/right", json!(-1)),
            ("/pupils/0/counts/0/verdict", json!("good")),
            ("/pupils/0/counts/0/key", Value::Null),
            ("/pupils/0/counts/0/written/span", json!([0])),
            ("/pupils/0/counts/1/written", json!({"span": [0, 1], "say": "1", "do": "attack"})),
        ],
    );
    let judgement = judged("meter: 4/4\n| 1 2 (3) 4 |", &[0.0]);
    let whole: Value =
        serde_json::from_str(&text(&JudgeFile::of([("K07", &judgement)], at(0.0)))).expect("JSON");
    refuses(
        "judge",
        &whole,
        &[
            ("/players/0/attacks/0", json!({"time_ms": 1, "verdict": "on-time"})),
            ("/players/0/attacks/0", json!({"time_ms": 1, "verdict": "extra", "bar": null})),
            ("/players/0/attacks/0/verdict", json!("good")),
            ("/players/0/spread_ms", json!(-1)),
            ("/players/0/missed/0", json!({"bar": 1, "at": "0"})),
            ("/players/0/split/spread", json!({"ms": 3.0})),
            ("/players/0/split/places", json!([{"place": "somewhere", "attacks": 9}])),
            ("/players/0/split/clock_motor", json!({"not_applicable": "dull"})),
            ("/players/0/split/clock_motor/not_applicable", Value::Null),
        ],
    );
    let whole: Value =
        serde_json::from_str(&text(&JudgeFile::of(swung_section().iter().map(by_label), at(0.0))))
            .expect("JSON");
    refuses(
        "judge",
        &whole,
        &[
            ("/section/members/0/player", json!("")),
            ("/section/members/0/steadiness/ms", json!(-1)),
            ("/section/with_click/bias", Value::Null),
            ("/section/with_each_other/low_ms", json!(-2)),
            ("/section/pulse/0/players", json!(1)),
            ("/players/1/split/places/0/attacks", json!(3)),
            ("/players/1/split/clock_motor/motor_ms", json!(-4)),
        ],
    );
}
