//! `countline count`.

use tests::program::run;
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
