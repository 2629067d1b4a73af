//! `countline count`.

use tests::program::{run, run_with_input};
use tests::python;

use crate::{RHYTHMS, json, quarters, rhythm};

#[test]
fn every_demo_rhythm_is_counted() {
    for name in RHYTHMS {
        let run = run(["count", &rhythm(name)]);
        assert_eq!(run.err, "", "{name}");
        insta::assert_snapshot!(name, run.done());
    }
}

#[test]
fn the_json_keeps_its_schema_and_adds_up() {
    let folder = tempfile::tempdir().expect("a folder");
    for name in RHYTHMS {
        let text = run(["count", &rhythm(name), "--json"]).done();
        let file = folder.path().join(format!("{name}.json"));
        std::fs::write(&file, &text).expect("the folder takes files");
        let file = file.to_string_lossy();
        python::run("tests/readers/schema.py", ["crates/take/schema", "count", &file]);

        let counted = json(&text);
        assert_eq!(counted["version"], 1);
        let bars = counted["bars"].as_array().expect("bars");
        for bar in bars {
            let (upper, lower) =
                bar["meter"].as_str().and_then(|meter| meter.split_once('/')).expect("a meter");
            let number = |text: &str| text.parse::<f64>().expect("a number");
            let length = 4.0 * number(upper) / number(lower);
            let notes = bar["notes"].as_array().expect("notes");
            // The notes fill the bar without a gap, to its end.
            let mut reached = quarters(&notes[0]["at"]);
            assert!(bar["pickup"] == true || reached == 0.0, "{name}: {bar}");
            for note in notes {
                assert!((quarters(&note["at"]) - reached).abs() < 1e-9, "{name}: {bar}");
                reached += quarters(&note["length"]);
            }
            assert!((reached - length).abs() < 1e-9, "{name}: {bar}");
            // Whatever is struck is counted.
            let counts = bar["counts"].as_array().expect("counts");
            for note in notes.iter().filter(|note| note["do"] == "attack") {
                assert!(
                    counts.iter().any(|count| count["at"] == note["at"] && count["do"] == "attack"),
                    "{name}: {note} is not counted"
                );
            }
        }
    }
}

/// Beats are counted through holds and rests, the rest only where something begins; a pickup ends on the last
/// count (common practice, no source).
#[test]
fn what_is_said_and_done() {
    let check = |name: &str, bar: usize, expected: &str| {
        let counted = json(&run(["count", &rhythm(name), "--json"]).done());
        let counts: Vec<String> = counted["bars"][bar]["counts"]
            .as_array()
            .expect("counts")
            .iter()
            .map(|count| {
                let say = count["say"].as_str().unwrap_or("·");
                match count["do"].as_str().expect("a deed") {
                    "attack" => say.to_owned(),
                    "hold" => format!("_{say}"),
                    _ => format!("({say})"),
                }
            })
            .collect();
        assert_eq!(counts.join(" "), expected, "{name}, bar {bar}");
    };
    check("1-nine-doorsteps", 3, "1 & (2) 3 4 &");
    check("2-lamp-on-the-landing", 3, "_1 2 & 3 (4)");
    check("2-lamp-on-the-landing", 6, "(1) 2 3 & _4 &");
    check("3-over-the-stile", 0, "3 &");
    check("3-over-the-stile", 8, "1 _2 (3)");
    check("4-pebbles-downhill", 4, "1 ta li 2");
    check("5-geese-in-galoshes", 4, "1 a 2");
    check("5-geese-in-galoshes", 5, "1 & a 2 & a");
    check("5-geese-in-galoshes", 6, "(1) 2 &");
    check("6-kettle-on-the-boil", 0, "1 e & a 2 & 3 la li 4");
}

#[test]
fn repeats_are_written_out_with_their_passes() {
    let counted = json(&run(["count", &rhythm("6-kettle-on-the-boil"), "--json"]).done());
    let bars: Vec<(i64, i64)> = counted["bars"]
        .as_array()
        .expect("bars")
        .iter()
        .map(|bar| (bar["number"].as_i64().expect("a number"), bar["pass"].as_i64().expect("a pass")))
        .collect();
    let expected = [
        (1, 1),
        (2, 1),
        (1, 2),
        (2, 2),
        (1, 3),
        (2, 3),
        (3, 1),
        (4, 1),
        (3, 2),
        (4, 2),
        (5, 1),
        (6, 1),
        (7, 1),
        (8, 1),
        (9, 1),
    ];
    assert_eq!(bars, expected);
}

/// What the counting is called, and what differs from the usual counting; the words themselves are held against their sources
/// where the counting systems are.
#[test]
fn any_system_counts() {
    let check = |arguments: &[&str], expected: &[&str]| {
        let name = rhythm("6-kettle-on-the-boil");
        let run = run([&["count", &name], arguments].concat());
        assert_eq!(run.err, "", "{arguments:?}");
        let lines = run.done();
        // How far the words stand apart depends on what stands above them.
        let lines: Vec<String> =
            lines.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ")).collect();
        let out = lines.join("\n");
        for words in expected {
            assert!(out.contains(words), "{arguments:?}: \"{words}\" is missing in\n{out}");
        }
    };
    check(&["--counting", "takadimi"], &["\nTakadimi\n", "| ta ka di mi ta di ta ki da ta"]);
    check(
        &["--counting", "numbers", "--variant", "tri-plet"],
        &["\nNumbers, tri-plet\n", "| 1 e & a 2 & 3 tri plet 4"],
    );
    check(
        &["--counting", "kodaly", "--variant", "ti-ri", "--variant", "tam-ti"],
        &["duration, ti-ri, tam-ti\n", "| ti ri ti ri ti ti"],
    );
    check(&["--counting", "gordon"], &["\nGordon, beat function\n", "| du ta de ta du de du da di du"]);
    check(&["--feet"], &["| ↓ ↑ ↓ ↑ ↓ ↑ ↓ ↑", "foot down"]);
    check(&["--say", "divisions", "--rests", "silent"], &["_e _& a", "○"]);
}

#[test]
fn the_rows_stand_under_one_another() {
    let text = "meter: 6/8\n| 1 _2 li | (1) 2 la li |\n";
    let run = run_with_input(
        ["count", "-", "--counting", "takadimi", "--say", "divisions", "--feet"],
        text.as_bytes(),
    );
    assert_eq!(run.err, "");
    insta::assert_snapshot!(run.done());
}

#[test]
fn the_json_names_the_system() {
    let name = rhythm("4-pebbles-downhill");
    let counted = json(
        &run(["count", &name, "--json", "--counting", "kodaly", "--variant", "tim-ka", "--feet"]).done(),
    );
    assert_eq!(
        (&counted["system"], &counted["variants"]),
        (&"kodaly".into(), &serde_json::json!(["tim-ka"]))
    );
    assert_eq!(counted["bars"][0]["feet"][1]["foot"], "up");
    let usual = json(&run(["count", &name, "--json"]).done());
    assert_eq!(usual["system"], "numbers");
    assert!(usual.get("variants").is_none() && usual["bars"][0].get("feet").is_none());

    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("counted.json");
    for arguments in
        [&["--feet"][..], &["--counting", "takadimi", "--variant", "seven-mi"], &["--say", "attacks"]]
    {
        let text = run([&["count", &name, "--json"], arguments].concat()).done();
        std::fs::write(&file, text).expect("the folder takes files");
        python::run("tests/readers/schema.py", ["crates/take/schema", "count", &file.to_string_lossy()]);
    }
}

/// The table that `assets/counting/README.md` shows as a whole one is a whole one.
#[test]
fn a_school_brings_its_own_system() {
    let readme =
        std::fs::read_to_string(tests::root().join("assets/counting/README.md")).expect("the README");
    let table = readme.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).expect("a table");
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("our-school.toml");
    std::fs::write(&file, table).expect("the folder takes files");
    let file = file.to_string_lossy();
    let run = run_with_input(
        ["count", "-", "--counting", file.as_ref(), "--variant", "quiet"],
        b"meter: 2/4\n| 1 & (2) |\n",
    );
    assert_eq!(run.err, "");
    let out = run.done();
    assert!(out.contains("Our school, quiet") && out.contains("up"), "{out}");
}

#[test]
fn a_slip_in_a_table_is_pointed_at() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("slip.toml");
    std::fs::write(&file, "name = \"slip\"\n[say]\nsimple.4 = \"n e &\"\ncompound.3 = \"n la li\"\n")
        .expect("written");
    let run = run(["systems", &file.to_string_lossy()]);
    assert_eq!((run.status, run.out.as_str()), (Some(1), ""));
    for word in ["slip.toml:3:12", "4 parts", "3 words", "^", "write 4 words"] {
        assert!(run.err.contains(word), "\"{word}\" is missing in\n{}", run.err);
    }
}

#[test]
fn the_systems_are_listed() {
    insta::assert_snapshot!(run(["systems"]).done());
}

#[test]
fn a_word_of_a_whole_page_is_not_printed() {
    let text = format!("title: A Page\nmeter: 4/4\n\n| {} 2 3 4 |\n", "x".repeat(100_000));
    let run = run_with_input(["count", "-"], text.as_bytes());
    assert_eq!(run.status, Some(1));
    assert!(run.err.len() < 1_000, "{} bytes of error", run.err.len());
    assert!(run.err.contains("xxx…` is neither a count nor a sign"), "{}", run.err);
}
