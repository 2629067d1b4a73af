//! `countline judge` on the demo's takes: what was planted is found, and nothing else.
//!
//! What is planted stands in `demo-data/README.md`, and how it is made in `demo-data/make-takes.py`.

use std::collections::BTreeMap;

use serde_json::Value;
use tests::program::run;
use tests::python;

use crate::{TAKEN, json, quarters, rhythm};

const BEAT_MS: f64 = 60_000.0 / 92.0;

/// The take's players by name.
fn judged(take: &str, more: &[&str]) -> BTreeMap<String, Value> {
    let text = run([&["judge", &rhythm(TAKEN), take, "--json"], more].concat()).done();
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("judged.json");
    std::fs::write(&file, &text).expect("the folder takes files");
    python::run("tests/readers/schema.py", ["crates/take/schema", "judge", &file.to_string_lossy()]);
    let judged = json(&text);
    assert_eq!(judged["version"], 1);
    let players = judged["players"].as_array().expect("players");
    players.iter().map(|p| (p["player"].as_str().expect("a name").to_owned(), p.clone())).collect()
}

/// Every finding that is a mistake, as `kind bar at`.
fn mistakes(player: &Value) -> Vec<String> {
    player["findings"]
        .as_array()
        .expect("findings")
        .iter()
        .filter(|f| {
            !["good-take", "steady-lead", "steady-lag"].contains(&f["kind"].as_str().expect("a kind"))
        })
        .map(|f| match f["bar"].as_i64() {
            Some(bar) => format!(
                "{} {bar} {}",
                f["kind"].as_str().expect("a kind"),
                f["at"].as_str().expect("a place")
            ),
            None => f["kind"].as_str().expect("a kind").to_owned(),
        })
        .collect()
}

fn number(player: &Value, key: &str) -> f64 {
    player[key].as_f64().unwrap_or_else(|| panic!("{key} of {player}"))
}

fn verdicts<'a>(player: &'a Value, verdict: &str) -> Vec<&'a Value> {
    player["attacks"].as_array().expect("attacks").iter().filter(|a| a["verdict"] == verdict).collect()
}

#[test]
fn the_good_take_is_good() {
    let players = judged("demo-data/takes/good.mid", &[]);
    assert_eq!(players.keys().collect::<Vec<_>>(), ["K1", "K2", "K3", "K4"]);
    for (name, player) in &players {
        assert_eq!(mistakes(player), [""; 0], "{name}");
        assert_eq!(verdicts(player, "on-time").len(), 42, "{name}");
        assert_eq!(player["attacks"].as_array().map(Vec::len), Some(42), "{name}");
        assert_eq!(player["missed"], serde_json::json!([]), "{name}");
        assert!(number(player, "spread_ms") < 15.0, "{name}: {}", player["spread_ms"]);
        assert!(number(player, "drift_percent").abs() < 0.2, "{name}: {}", player["drift_percent"]);
    }
}

#[test]
fn the_planted_mistakes_are_found_and_nothing_else() {
    let players = judged("demo-data/takes/mistakes.mid", &[]);
    let check = |name: &str, expected: &[&str], attacks: usize, extra: usize, missed: usize| {
        let player = &players[name];
        assert_eq!(mistakes(player), expected, "{name}");
        assert_eq!(player["attacks"].as_array().map(Vec::len), Some(attacks), "{name}");
        assert_eq!(verdicts(player, "extra").len(), extra, "{name}");
        assert_eq!(player["missed"].as_array().map(Vec::len), Some(missed), "{name}");
    };
    check("K1", &[], 42, 0, 0);
    check("K2", &["rest-struck 4 3/4"], 43, 1, 0);
    check("K3", &["hold-struck 4 0"], 43, 1, 0);
    check("K4", &["attack-missed 6 1/4"], 41, 0, 1);
    check("K5", &["rushing"], 42, 0, 0);
    check("K6", &[], 42, 0, 0);
    assert_eq!(players.len(), 6);
    assert_eq!(players["K4"]["missed"], serde_json::json!([{ "bar": 6, "pass": 1, "at": "1/4" }]));

    // K5 plays 1.5 % faster, K6 38 ms ahead; the wander of the model is some ms.
    let drift = number(&players["K5"], "drift_percent");
    assert!((drift - 1.5).abs() < 0.2, "K5 drifts by {drift} %");
    let bias = number(&players["K6"], "bias_ms");
    assert!((bias + 38.0).abs() < 8.0, "K6 is at {bias} ms");
    assert!(players["K6"]["findings"].to_string().contains("steady-lead"), "{}", players["K6"]["findings"]);
    // Everybody keeps within 50 ms of their own bias, but K5, who leaves it ever further behind.
    for (name, player) in &players {
        let (early, late) = (verdicts(player, "early").len(), verdicts(player, "late").len());
        assert_eq!(early + late > 0, name == "K5", "{name}: {early} early, {late} late");
    }
}

/// The sum that a teacher would do with a stopwatch: played minus written.
#[test]
fn offsets_are_played_minus_written() {
    for take in ["demo-data/takes/good.mid", "demo-data/takes/mistakes.mid"] {
        let read = json(&python::run("tests/readers/midi.py", [take]));
        let per_ms = read["mido"]["ticks_per_beat"].as_f64().expect("ticks") / BEAT_MS;
        let mut start_ms = None;
        let mut struck: BTreeMap<String, Vec<f64>> = BTreeMap::new();
        for track in read["mido"]["tracks"].as_array().expect("tracks") {
            for marker in track["markers"].as_array().expect("markers") {
                start_ms = marker[0].as_f64().map(|tick| tick / per_ms);
            }
            let notes = track["notes"].as_array().expect("notes").iter();
            let times = notes.map(|note| note[0].as_f64().expect("a tick") / per_ms).collect();
            struck.insert(track["name"].as_str().expect("a name").to_owned(), times);
        }
        let start_ms = start_ms.expect("a marker");
        for (name, player) in judged(take, &[]) {
            let attacks = player["attacks"].as_array().expect("attacks");
            assert_eq!(attacks.len(), struck[&name].len());
            for (attack, struck) in attacks.iter().zip(&struck[&name]) {
                let time = number(attack, "time_ms");
                assert!((time - struck).abs() < 0.1, "{name}: {attack}, struck at {struck}");
                if attack["verdict"] == "extra" {
                    assert!(attack.get("offset_ms").is_none() && attack.get("bar").is_none(), "{attack}");
                    continue;
                }
                let bar = attack["bar"].as_f64().expect("a bar");
                let written = start_ms + ((bar - 1.0) * 4.0 + quarters(&attack["at"])) * BEAT_MS;
                let offset = number(attack, "offset_ms");
                assert!((offset - (time - written)).abs() < 0.1, "{name}: {attack}, written at {written}");
            }
        }
    }
}

#[test]
fn another_beginning_moves_every_offset() {
    let by_itself = judged("demo-data/takes/good.mid", &[]);
    let marker_ms = 4.0 * BEAT_MS;
    let earlier = format!("{:.6}", marker_ms - 20.0);
    let moved = judged("demo-data/takes/good.mid", &["--start-ms", &earlier]);
    for (name, player) in &by_itself {
        let (before, after) = (number(player, "bias_ms"), number(&moved[name], "bias_ms"));
        assert!((after - before - 20.0).abs() < 0.01, "{name}: {before} and {after}");
    }
}

#[test]
fn the_report_names_the_deed_and_the_place() {
    let out = run(["judge", &rhythm(TAKEN), "demo-data/takes/mistakes.mid"]).done();
    insta::assert_snapshot!("mistakes", out);
    for words in ["Bar 4: the rest on 4", "Bar 4:", "Bar 6:"] {
        assert!(out.contains(words), "\"{words}\" is missing in\n{out}");
    }
}

/// Five mistakes in four bars, in eighths, on a pad (notes of 75 ms): where they lie together none is sure. All are told to who asks for all.
#[test]
fn what_is_in_doubt_is_told_last_and_on_request() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let (written, take) = (path("five.rhythm"), path("five.mid"));
    std::fs::write(&written, "tempo: quarter = 100\n| 1 2 & (3) 4 | _1 2 3 4 | 1 2 3 & 4 | 1 2 3 _4 |\n")
        .expect("the folder takes files");
    let eighths = [0, 2, 3, 4, 5, 6, 8, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30];
    let notes: Vec<[String; 2]> =
        eighths.iter().map(|eighth| [format!("{eighth}/2"), format!("{}/8", 4 * eighth + 1)]).collect();
    let given = serde_json::json!({ "tempo": 100, "meters": [["0", 4, 4]], "notes": notes });
    crate::write::midi("mido", take.as_ref(), &given);

    let told = |most: &str| run(["judge", &written, &take, "--start-ms", "0", "--findings", most]).done();
    let (three, all) = (told("3"), told("all"));
    assert!(three.contains("(3 more: judge --findings all)") && !three.contains("Perhaps"), "{three}");
    assert_eq!(all.matches("  Perhaps: bar ").count(), 3, "{all}");
    let place = |words: &str| all.find(words).unwrap_or_else(|| panic!("{words}: {all}"));
    assert!(place("too much for it to be clear") < place("Perhaps: bar 1: the rest on 3 was struck."));
    let judged = json(&run(["judge", &written, &take, "--start-ms", "0", "--json"]).done());
    let doubtful = judged["players"][0]["doubtful"].as_array().expect("some are in doubt");
    assert_eq!(doubtful.len(), 3);
    assert!(doubtful.iter().all(|finding| finding["confidence"].as_f64().expect("a number") < 0.65));
}

#[test]
fn the_picture_shows_every_player() {
    let folder = tempfile::tempdir().expect("a folder");
    let svg = folder.path().join("mistakes.svg").to_string_lossy().into_owned();
    let call = ["judge", &rhythm(TAKEN), "demo-data/takes/mistakes.mid", "--svg", &svg];
    run(call).done();
    let drawn = std::fs::read_to_string(&svg).expect("an SVG file");
    assert!(drawn.starts_with("<svg") && drawn.trim_end().ends_with("</svg>"));
    for player in ["K1", "K2", "K3", "K4", "K5", "K6"] {
        assert!(drawn.contains(player), "{player} is not in the picture");
    }
    // A viewer that shares no code with the drawing finds more than paper on it.
    let png = folder.path().join("mistakes.png");
    let mut viewer = std::process::Command::new("rsvg-convert");
    let drawn = viewer.args([&svg, "-o", &png.to_string_lossy()]).output().expect("rsvg-convert runs");
    assert!(drawn.status.success(), "{}", String::from_utf8_lossy(&drawn.stderr));
    let mut counter = std::process::Command::new("identify");
    let colours = counter.args(["-format", "%k", &png.to_string_lossy()]).output().expect("identify runs");
    assert!(colours.status.success(), "{}", String::from_utf8_lossy(&colours.stderr));
    let colours: u32 = String::from_utf8_lossy(&colours.stdout).trim().parse().expect("a number of colours");
    assert!(colours > 16, "{colours} colours");
}
