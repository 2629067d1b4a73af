//! `countline check-counts` and `countline write --from-counting`.
//!
//! What is planted in the answers is common practice, no source.

use tests::program::{run, run_with_input};
use tests::python;

use crate::json;

const RHYTHM: &str = "title: Three bars\nmeter: 4/4\n| 1 2 & 3 (4) | 1 _2 3 e & 4 | 1 2 3 4 |\n";

const CLASS: &str = "# one lesson\n\
    K01: 1 2 + 3 (4) | 1 _2 3 e + 4 | 1 2 3 4\n\
    K02: 1 2 and 3 (4) | 5 _6 7 e and 8 | 9 10 11 12\n\
    K03: 1 2 3 4 (5) | 1 2 3 4 5 | 1 2 3 4\n\
    K04: 1 2 & 3 4 | 1 2 3 & a 4 | 1 2 3 4\n\
    K05: ta ta di ta (ta) | ta _ta ta ka di ta\n  ta ta ta ta\n\
    K06:\n";

struct Files {
    folder: tempfile::TempDir,
}

impl Files {
    fn new() -> Self {
        let files = Self { folder: tempfile::tempdir().expect("a folder") };
        files.write("three.rhythm", RHYTHM);
        files.write("class.txt", CLASS);
        files
    }

    fn path(&self, name: &str) -> String {
        self.folder.path().join(name).to_string_lossy().into_owned()
    }

    fn write(&self, name: &str, text: &str) -> String {
        std::fs::write(self.folder.path().join(name), text).expect("the folder takes files");
        self.path(name)
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).expect("it was written")
    }
}

#[test]
fn a_class_is_checked() {
    let files = Files::new();
    let (rhythm, class, table) =
        (files.path("three.rhythm"), files.path("class.txt"), files.path("table.csv"));
    let run = run(["check-counts", &rhythm, &class, "--table", &table]);
    assert_eq!(run.err, "");
    let out = run.done();
    for line in [
        "K01: 15 of 15 right",
        "K02: 7 of 15 right",
        "  Bar 2 goes on from the bar before, `5 _6 7 e & 8`; in the key every bar begins again, `1 _2 3 e & 4`; so \
         also in bar 3.",
        "  The notes of bar 1 are numbered, `1 2 3 4 (5)`; the key counts the beats, `1 2 & 3 (4)`; so also in bar 2.",
        "  Beat 3 of bar 2 is written `3 & a`, an eighth and two sixteenths; the key has two sixteenths and \
         an eighth, `3 e &`.",
        "K06: 0 of 15 right",
        "1 of 6 went on counting in a new bar (K02)",
        "1 of 6 counted in another system (K05)",
    ] {
        assert!(out.contains(line), "\"{line}\" is missing in\n{out}");
    }
    let csv = files.read("table.csv");
    let lines: Vec<&str> = csv.split("\r\n").collect();
    assert_eq!(
        lines[0],
        "code,bar_1_percent,bar_2_percent,bar_3_percent,right,of,extra,right_percent,misunderstandings"
    );
    assert_eq!(lines[1], "K01,100,100,100,15,15,0,100,");
    assert_eq!(lines[2], "K02,100,33,0,7,15,0,46,went-on");
    assert_eq!(lines[6], "K06,0,0,0,0,15,0,0,");
    assert_eq!(lines.len(), 8);
}

#[test]
fn the_json_keeps_its_schema() {
    let files = Files::new();
    let (rhythm, class) = (files.path("three.rhythm"), files.path("class.txt"));
    let text = run(["check-counts", &rhythm, &class, "--json"]).done();
    let file = files.write("answers.json", &text);
    python::run("tests/readers/schema.py", ["crates/take/schema", "answers", &file]);
    let checked = json(&text);
    let pupils = checked["pupils"].as_array().expect("pupils");
    assert_eq!(pupils.len(), 6);
    for pupil in pupils {
        let text: Vec<char> = pupil["text"].as_str().expect("a text").chars().collect();
        for count in pupil["counts"].as_array().expect("counts") {
            let Some(span) = count["written"]["span"].as_array() else { continue };
            let at = |index: usize| usize::try_from(span[index].as_u64().expect("a number")).expect("small");
            assert!(at(0) < at(1) && at(1) <= text.len(), "{count}");
        }
    }
    assert_eq!(pupils[1]["misunderstandings"][0]["kind"], "went-on");
    assert_eq!(pupils[1]["misunderstandings"][0]["bars"], serde_json::json!([2, 3]));
}

#[test]
fn answers_come_one_by_one_and_in_any_system() {
    let files = Files::new();
    let rhythm = files.path("three.rhythm");
    let one = files.write("K07.txt", "1 2 & 3 (4) | 1 _2 3 e & 4 | 1 2 3 4");
    let out = run(["check-counts", &rhythm, &one]).done();
    assert!(out.contains("K07: 15 of 15 right") && !out.contains("share"), "{out}");
    let answer = b"ta ta-di ta (ta) | ta _ta taka-di ta | ta ta ta ta";
    let out = run_with_input(["check-counts", &rhythm, "-", "--counting", "takadimi"], answer).done();
    assert!(out.contains("answer: 15 of 15 right"), "{out}");
    let out =
        run_with_input(["check-counts", &rhythm, "-", "--words-only"], b"1 2&3 4 1 2 3e&4 1 2 3 4").done();
    assert!(out.contains("answer: 15 of 15 right"), "{out}");
}

#[test]
fn what_cannot_be_checked_is_said() {
    let files = Files::new();
    let (rhythm, class) = (files.path("three.rhythm"), files.path("class.txt"));
    let twice = files.write("again.txt", "K02: 1 2 3 4");
    let check = |arguments: &[&str], status: i32, words: &[&str]| {
        let run = run(arguments);
        assert_eq!((run.status, run.out.as_str()), (Some(status), ""), "{arguments:?}\n{}", run.err);
        for word in words {
            assert!(run.err.contains(word), "{arguments:?}: \"{word}\" is missing in\n{}", run.err);
        }
    };
    check(&["check-counts", &rhythm], 2, &["ANSWERS"]);
    check(&["check-counts", "-", "-"], 2, &["only once"]);
    check(&["check-counts", &rhythm, "no-such.txt"], 1, &["no-such.txt", "check the path"]);
    check(&["check-counts", &rhythm, &class, &twice], 1, &["K02", "again.txt", "class.txt"]);
    check(&["check-counts", &rhythm, &class, "--counting", "solfa"], 2, &["solfa", "takadimi"]);
    check(&["check-counts", &rhythm, &class, "--variant", "loud"], 2, &["loud", "tri-plet"]);
    check(&["check-counts", &rhythm, "demo-data/takes/good.mid"], 1, &["UTF-8"]);
}

#[test]
fn counting_is_written_as_a_rhythm() {
    let out = run_with_input(
        ["write", "--from-counting", "-", "--counting", "takadimi", "--title", "Tap"],
        b"ta di | ta ta-di ta (ta) | _ta",
    );
    assert_eq!(out.status, Some(1), "{}", out.out);
    assert!(out.err.contains("this bar has 1 beat, ") || out.err.contains("nothing sounds"), "{}", out.err);
    let out = run_with_input(
        ["write", "--from-counting", "-", "--counting", "takadimi", "--title", "Tap"],
        b"ta di | ta ta-di ta (ta)",
    )
    .done();
    assert!(out.starts_with("title: Tap\nmeter: 4/4\n"), "{out}");
    assert!(out.contains("4 & | 1 2 & 3 (4) |"), "{out}");
    let out = run_with_input(
        ["write", "--from-counting", "-", "--meter", "3/4", "--counting", "kodaly"],
        b"| ta ti ti ta |",
    );
    assert!(out.done().contains("1/4 1/8 1/8 1/4"));
    let out = run_with_input(["write", "--from-counting", "-", "--meter", "3-4"], b"1 2 3");
    assert_eq!(out.status, Some(2));
    assert!(out.err.contains("3-4"), "{}", out.err);
}

/// A line whose code lacks its colon would be taken for more of the answer before it, and nobody would know.
#[test]
fn a_class_with_a_code_that_is_none_is_refused() {
    let files = Files::new();
    let class = files.write("slip.txt", "K1: 1 2 & 3 (4) |\nK2 1 2 & 3 (4) |\n");
    let refused = run(["check-counts", &files.path("three.rhythm"), &class]);
    assert_eq!((refused.status, refused.out.as_str()), (Some(1), ""));
    for says in ["line 2 of", "`K2 1 2 & 3 (4) |`", "`K07: 1 2 & 3`"] {
        assert!(refused.err.contains(says), "no {says} in {}", refused.err);
    }
}
