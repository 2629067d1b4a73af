//! `countline write`: MIDI files that other libraries wrote, and the demo's takes, made rhythms again.

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::json;
use tests::program::run;
use tests::{python, root};

use crate::{TAKEN, rhythm};

/// Writes a MIDI file with `library` of these notes, in quarters from the beginning.
pub(crate) fn midi(library: &str, out: &Path, given: &serde_json::Value) {
    let mut child = Command::new(python::path())
        .args(["tests/readers/midi_out.py", library])
        .arg(out)
        .current_dir(root())
        .stdin(Stdio::piped())
        .spawn()
        .expect("python runs");
    let mut input = child.stdin.take().expect("it reads");
    input.write_all(given.to_string().as_bytes()).expect("it reads all");
    drop(input);
    assert!(child.wait().expect("it ends").success(), "{given}");
}

/// The bars of a rhythm text, on one line.
fn body(text: &str) -> String {
    let body: Vec<&str> = text.lines().skip_while(|line| !line.is_empty()).collect();
    body.join(" ").trim().replace("| |", "|")
}

fn head(text: &str) -> Vec<&str> {
    text.lines().take_while(|line| !line.is_empty()).collect()
}

/// Worked out by hand from the notes, in quarters. Files that stand on a grid come back as they are written.
#[test]
fn files_of_other_libraries_are_written_exactly() {
    let folder = tempfile::tempdir().expect("a folder");
    let check = |name: &str, given: serde_json::Value, expected_head: &[&str], expected: &str| {
        let libraries: &[&str] =
            if given.get("tempi").is_some() { &["mido"] } else { &["mido", "pretty_midi"] };
        for library in libraries {
            let out = folder.path().join(format!("{name}-{library}.mid"));
            midi(library, &out, &given);
            let text = run(["write", "--from-take", &out.to_string_lossy()]).done();
            assert_eq!(body(&text), expected, "{name} by {library}");
            assert_eq!(head(&text), expected_head, "{name} by {library}");
        }
    };
    check(
        "dotted-and-triplets",
        json!({ "tempo": 92, "meters": [["0", 4, 4]], "notes": [
            ["0", "1"], ["1", "3/2"], ["3/2", "2"], ["2", "7/2"], ["7/2", "4"],
            ["4", "13/3"], ["13/3", "14/3"], ["14/3", "5"], ["5", "6"], ["6", "27/4"], ["27/4", "7"], ["7", "8"],
        ] }),
        &["meter: 4/4", "tempo: quarter = 92"],
        "| 1 2 & 3 _4 & | 1 la li 2 3 a 4 |",
    );
    check(
        "syncopation-and-sixteenths",
        json!({ "tempo": 76, "meters": [["0", 2, 4]], "notes": [
            ["0", "1/2"], ["1/2", "3/2"], ["3/2", "2"],
            ["2", "9/4"], ["9/4", "5/2"], ["5/2", "11/4"], ["11/4", "3"], ["3", "7/2"],
        ] }),
        &["meter: 2/4", "tempo: quarter = 76"],
        "| 1 & _2 & | 1 e & a 2 (&) |",
    );
    check(
        "six-eight",
        json!({ "tempo": 120, "meters": [["0", 6, 8]], "notes": [
            ["0", "1/2"], ["1/2", "1"], ["1", "3/2"], ["3/2", "5/2"], ["5/2", "3"],
            ["3", "15/4"], ["15/4", "4"], ["4", "9/2"], ["9/2", "6"],
        ] }),
        &["meter: 6/8", "tempo: dotted quarter = 80"],
        "| 1 la li 2 li | 1 _la ta li 2 |",
    );
    check(
        "meters-change",
        json!({ "tempo": 100, "tempi": [["7", 60]], "meters": [["0", 4, 4], ["4", 3, 4], ["7", 6, 8]], "notes": [
            ["0", "1"], ["1", "2"], ["2", "4"], ["4", "5"], ["5", "11/2"], ["11/2", "6"], ["6", "7"],
            ["7", "8"], ["8", "17/2"], ["17/2", "10"],
        ] }),
        &["meter: 4/4", "tempo: quarter = 100"],
        "| 1 2 3 | [3/4] 1 2 & 3 | [6/8] [quarter = 60] 1 li 2 |",
    );
}

/// The take of the demo, played by hand as it were, is the demo's rhythm: same attacks in every bar.
#[test]
fn the_demo_is_written_down_from_its_take() {
    let written = std::fs::read_to_string(root().join(rhythm(TAKEN))).expect("the demo");
    let attacks = |text: &str| {
        let rhythm = rhythm::text::read(text).rhythm.unwrap_or_else(|| panic!("{text}"));
        let performance = rhythm.performance();
        let mut places = Vec::new();
        for performed in performance.bars() {
            for event in rhythm.bars()[performed.index].events() {
                if event.deed == rhythm::Deed::Attack {
                    places.push(performed.position(event.at));
                }
            }
        }
        places
    };
    for player in ["K1", "K2", "K3", "K4"] {
        let text = run(["write", "--from-take", "demo-data/takes/good.mid", "--player", player]).done();
        assert_eq!(attacks(&text), attacks(&written), "{player}: {text}");
        let text =
            run(["write", "--from-take", "demo-data/takes/good.mid", "--player", player, "--free"]).done();
        assert_eq!(attacks(&text).len(), attacks(&written).len(), "{player}, without the click: {text}");
    }
}

#[test]
fn certainty_and_alternatives_are_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("unclear.mid");
    // The third stroke lies half-way between the half of the beat and two thirds of it.
    let given = json!({ "tempo": 120, "meters": [["0", 4, 4]], "notes": [
        ["0", "1"], ["1", "19/12"], ["19/12", "2"], ["2", "3"], ["3", "4"],
    ] });
    midi("mido", &file, &given);
    let file = file.to_string_lossy();
    let call = ["write", "--from-take", &file, "--taught", "eighths,triplets"];
    let said = run(call);
    assert!(said.err.contains("bar 1: "), "{}", said.err);
    let text = run([&call[..], &["--alternatives"]].concat()).done();
    assert!(text.contains("# bar 1, "), "{text}");
    assert!(rhythm::text::read(&text).rhythm.is_some(), "{text}");
    let printed = run([&call[..], &["--json"]].concat()).done();
    let form = folder.path().join("write.json");
    std::fs::write(&form, &printed).expect("the folder takes files");
    python::run("tests/readers/schema.py", ["crates/take/schema", "write", &form.to_string_lossy()]);
    let out = folder.path().join("out.rhythm");
    let said = run([&call[..], &["-o", &out.to_string_lossy(), "--title", "Tin Roof"]].concat()).done();
    assert_eq!(said, "");
    let text = std::fs::read_to_string(&out).expect("it was written");
    assert!(text.starts_with("title: Tin Roof\n"), "{text}");
}

#[test]
fn wrong_calls_are_answered() {
    let check = |more: &[&str], status, said: &[&str]| {
        let run = run([&["write", "--from-take"][..], more].concat());
        assert_eq!(run.status, Some(status), "{more:?}: {}", run.err);
        for part in said {
            assert!(run.err.contains(part), "{more:?}: {}", run.err);
        }
    };
    let take = "demo-data/takes/good.mid";
    check(&[take], 2, &["several play", "--player", "\"K1\""]);
    check(&[take, "--player", "K9"], 2, &["K9", "\"K4\""]);
    check(&[take, "--player", "K1", "--taught", "eights"], 2, &["\"eights\"", "eighths, sixteenths"]);
    check(&[take, "--player", "K1", "--meter", "4/5"], 2, &["\"4/5\" is not a meter"]);
    check(&["nothing.mid"], 1, &["nothing.mid"]);
    check(&["README.md"], 1, &["MThd"]);
}

/// What the program writes as a MIDI file comes back with its meters and tempo, though the file has a click: 6/8, and a bar of 2/4
/// among those of 4/4.
#[test]
fn a_file_of_ones_own_keeps_its_meters() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("own.mid").to_string_lossy().into_owned();
    let check = |name: &str, expected_head: &[&str], has: &str| {
        run(["sound", &rhythm(name), "--midi", &out]).done();
        let written = run(["write", "--from-take", &out]).done();
        assert_eq!(head(&written), expected_head, "{name}");
        assert!(body(&written).contains(has), "{name}: {written}");
    };
    check("4-pebbles-downhill", &["meter: 6/8", "tempo: dotted quarter = 66"], "| 1 la li 2 | 1 li 2 li |");
    check(
        "6-kettle-on-the-boil",
        &["meter: 4/4", "tempo: quarter = 69"],
        "| [2/4] 1 e & a 2 & | [4/4] 1 a 2",
    );
}

/// Counts come back from MusicXML as counts, bar by bar, where they give the same notes.
#[test]
fn imported_bars_are_counted_where_they_can_be() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let body_again = |text: &str| {
        let (given, score) = (path("a.rhythm"), path("a.musicxml"));
        std::fs::write(&given, format!("meter: 4/4\n\n{text}\n")).expect("the folder takes files");
        run(["export", &given, "-o", &score]).done();
        body(&run(["import", &score]).done())
    };
    for same in [
        "| 1 2 3 4 | 1 & _2 & _3 & 4 & | 1 2 & 3 (4) |",
        "4 | 1 la li 2 3 4 | 1 _2 3 4 | 1 2 e _3 e 4 | (2 bars) | 1 _2 3 |",
    ] {
        assert_eq!(body_again(same), same);
    }
    // Its usual spelling is another: the author's stays.
    let odd = "| 1 2 3 4 | 1/4 1/2. | 1 2 & 3 (4) |";
    assert_eq!(body_again(odd), odd);
}
