//! `countline sheet`, `chart` and `pack`: files, names, and what is refused.

use std::collections::BTreeSet;
use std::path::Path;

use tests::program::run;

use crate::rhythm;

fn files(folder: &Path) -> BTreeSet<String> {
    let entries = std::fs::read_dir(folder).expect("the folder can be read");
    entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect()
}

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).to_string_lossy().into_owned()
}

#[test]
fn pages_are_written_where_the_call_says() {
    let first = rhythm("1-nine-doorsteps");
    let check = |call: &[&str], out: &str, expected: &[&str]| {
        let folder = tempfile::tempdir().expect("a folder");
        let printed = run([call, &["-o", &path(folder.path(), out)]].concat()).done();
        assert_eq!(files(folder.path()), expected.iter().map(|&name| name.to_owned()).collect());
        for name in expected {
            assert!(printed.contains(name), "{name} is not told in\n{printed}");
        }
    };
    check(&["sheet", &first], "a.pdf", &["a.pdf", "a-key.pdf"]);
    check(&["sheet", &first, "--answers", "blank"], "a.pdf", &["a.pdf"]);
    check(&["sheet", &first, "--answers", "key", "--svg"], "a.out", &["a.out"]);
    check(&["sheet", &first, "--answers", "key", "--pdf"], "a", &["a"]);
    let second = rhythm("4-pebbles-downhill");
    check(
        &["sheet", &first, &second, "--versions", "2", "--answers", "blank"],
        "a.pdf",
        &["a-A.pdf", "a-B.pdf"],
    );
    let many = ["2-lamp-on-the-landing", "3-over-the-stile"].map(rhythm);
    let pool =
        [&["sheet", &first, &second, &many[0], &many[1]][..], &["--versions", "2", "--each", "2"]].concat();
    check(&[&pool[..], &["--answers", "key"]].concat(), "a.pdf", &["a-A.pdf", "a-B.pdf"]);
    check(&["chart", "values"], "values.svg", &["values.svg"]);
}

#[test]
fn what_cannot_be_printed_is_refused_with_a_way_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let first = rhythm("1-nine-doorsteps");
    let out = path(folder.path(), "a.pdf");
    let check = |arguments: &[&str], status: i32, words: &[&str]| {
        let run = run(arguments);
        assert_eq!(run.status, Some(status), "{arguments:?}\n{}{}", run.out, run.err);
        for word in words {
            assert!(run.err.contains(word), "{arguments:?}: \"{word}\" is missing in\n{}", run.err);
        }
    };
    check(&["sheet", "-o", &out], 2, &["FILE"]);
    check(&["sheet", &first], 2, &["--out"]);
    check(&["sheet", &first, "-o", "a.docx"], 2, &["a.docx", ".pdf", ".svg"]);
    check(&["sheet", &first, "-o", &out, "--pdf", "--svg"], 2, &["--pdf", "--svg"]);
    let other = path(folder.path(), "a.svg");
    check(&["sheet", &first, "-o", &other, "--pdf"], 2, &["a.svg", "--pdf"]);
    check(&["chart", "values", "-o", &out, "--svg"], 2, &["a.pdf", "--svg"]);
    check(&["sheet", &first, "-o", &out, "--versions", "2"], 2, &["2 versions", "1 at most"]);
    check(&["sheet", &first, "-o", &out, "--versions", "0"], 2, &["0 versions", "1 at most"]);
    check(&["sheet", &first, "-o", &out, "--versions", "2", "--each", "1"], 2, &["1 rhythms", "at least 2"]);
    check(&["sheet", &first, "-o", &out, "--date", "2026-02-30"], 2, &["2026-02-30", "2026-09-14"]);
    check(&["sheet", &first, "-o", &out, "--title", "\u{4e2d}"], 1, &["\u{4e2d}", "other letters"]);
    check(&["sheet", "no-such.rhythm", "-o", &out], 1, &["no-such.rhythm"]);
    check(&["sheet", &first, "-o", "/no-such-folder/a.pdf"], 1, &["no-such-folder"]);
    check(&["chart", "colours", "-o", &out], 2, &["colours", "values", "counting"]);
    check(&["pack", &first, "-o", &path(folder.path(), "p"), "--tempos", "0"], 2, &["0", "10"]);
    check(&["pack", &first, "-o", &path(folder.path(), "p"), "--voice", "nobody"], 2, &["nobody"]);
    assert_eq!(files(folder.path()), BTreeSet::new(), "nothing was begun");
}

/// Every value of an attribute in a page.
fn values<'a>(html: &'a str, attribute: &str) -> Vec<&'a str> {
    let opening = format!(" {attribute}=\"");
    html.split(&opening).skip(1).map(|rest| rest.split('"').next().expect("a quoted value")).collect()
}

#[test]
fn a_pack_holds_all_that_its_page_shows() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("home");
    let place = out.to_string_lossy().into_owned();
    let call = ["pack", &rhythm("4-pebbles-downhill"), "-o", &place, "--tempos", "80,100,100"];
    run(call).done();
    assert_eq!(files(folder.path()), BTreeSet::from(["home".to_owned()]), "nothing lies beside it");
    let html = std::fs::read_to_string(out.join("index.html")).expect("the page");
    for wanted in
        ["<!DOCTYPE html>", "<html lang=\"en\">", "<title>Pebbles Downhill</title>", "<h1>", "<h2>", "<h3 "]
    {
        assert!(html.contains(wanted), "{wanted} is missing in\n{html}");
    }
    // Nothing runs, and nothing is fetched from elsewhere.
    for never in ["<script", "http:", "https:", "//", "javascript", "@import", "url("] {
        assert!(!html.contains(never), "{never} stands in\n{html}");
    }
    let links: BTreeSet<String> =
        values(&html, "src").into_iter().chain(values(&html, "href")).map(str::to_owned).collect();
    let mut held = files(&out);
    assert!(held.remove("index.html"));
    assert_eq!(links, held, "what it links to is there, and what is there is linked to");
    // Dotted quarter = 66: 80 % is 53.
    assert!(
        held.contains("01-pebbles-downhill-53.wav") && held.contains("01-pebbles-downhill-66.wav"),
        "{held:?}"
    );
    let players = html.matches("<audio ").count();
    assert_eq!(players, 2, "the same tempo once");
    assert_eq!(
        html.matches("<audio controls preload=\"metadata\" aria-label=\"Pebbles Downhill").count(),
        players
    );
    assert!(
        values(&html, "alt").iter().all(|alt| alt.starts_with("6/8. Bar 1: ")),
        "pictures have their words"
    );
    for wav in held.iter().filter(|name| name.ends_with(".wav")) {
        let reader = hound::WavReader::open(out.join(wav)).unwrap_or_else(|error| panic!("{wav}: {error}"));
        let seconds = f64::from(reader.duration()) / f64::from(reader.spec().sample_rate);
        // Eight bars of two beats and one counted in, at 53 or 66 beats a minute.
        let beats = 18.0 * 60.0 / if wav.contains("-53") { 53.0 } else { 66.0 };
        assert!(seconds > beats && seconds < beats + 3.0, "{wav} lasts {seconds:.1} s");
    }

    // What is there is never written into.
    let again = run(call);
    assert_eq!(again.status, Some(2));
    assert!(again.err.contains("not empty"), "{}", again.err);
    assert_eq!(files(folder.path()).len(), 1);
    std::fs::create_dir(folder.path().join("empty")).expect("a folder");
    let empty = path(folder.path(), "empty");
    run(["pack", &rhythm("4-pebbles-downhill"), "-o", &empty, "--tempos", "100", "--no-key"]).done();
    assert!(!files(&folder.path().join("empty")).iter().any(|name| name.contains("key")));
}

#[test]
fn a_pack_that_fails_leaves_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = path(folder.path(), "home");
    let run = run(["pack", &rhythm("1-nine-doorsteps"), "-o", &out, "--title", "\u{4e2d}"]);
    assert_eq!(run.status, Some(1));
    assert_eq!(files(folder.path()), BTreeSet::new());
}

const TRIO: &str = "title: Low Tide\ntempo: quarter = 100\npart: snare drum\n| 1 & 2 (3) 4 |\npart: hands\n| 1 2 3 & 4 |\n\
    part: feet\nline: hands\n| 1 (2) 3 e (4) |\n";

/// The parts of a piece stand joined, each with its counts or with one line for all.
#[test]
fn the_parts_of_a_piece_stand_on_one_sheet() {
    let folder = tempfile::tempdir().expect("a folder");
    let text = path(folder.path(), "trio.rhythm");
    std::fs::write(&text, TRIO).expect("a rhythm text");
    let key = |more: &[&str]| {
        let out = path(folder.path(), "key.svg");
        run([&["sheet", &text, "--answers", "key", "-o", &out], more].concat()).done();
        std::fs::read_to_string(&out).expect("a page")
    };
    let each = key(&[]);
    for name in ["snare drum", "hands", "feet"] {
        assert!(each.contains(&format!(">{name}<")), "{name} stands before its line");
        let meter = if name == "snare drum" { "4/4. " } else { "" };
        assert!(each.contains(&format!("{name}. {meter}Bar 1:")), "and in the words for who does not see it");
    }
    let counted = |page: &str, word: &str| page.matches(&format!(">{word}<")).count();
    // The first system has its bar number too.
    assert_eq!((counted(&each, "1"), counted(&each, "&amp;"), counted(&each, "e")), (4, 2, 1));
    let together = key(&["--count-parts", "together"]);
    // All that is struck: 1 & 2, 3 e &, 4.
    assert_eq!((counted(&together, "1"), counted(&together, "&amp;"), counted(&together, "e")), (2, 2, 1));
    let picture = path(folder.path(), "picture.svg");
    run(["picture", &text, "-o", &picture, "--count-parts", "together", "--no-numbers"]).done();
    let picture = std::fs::read_to_string(&picture).expect("a picture");
    assert_eq!((counted(&picture, "1"), counted(&picture, "4")), (1, 1));
    let pack = path(folder.path(), "home");
    run(["pack", &text, "-o", &pack, "--tempos", "100"]).done();
    let held = files(Path::new(&pack));
    for part in 1..=3 {
        assert!(held.contains(&format!("01-low-tide-part-{part}-100.wav")), "{held:?}");
    }
    let page = std::fs::read_to_string(Path::new(&pack).join("index.html")).expect("the page");
    assert!(page.contains("Feet, quarter = 100, counted"), "{page}");
    assert_eq!(page.matches("<section").count(), 1, "one exercise");
}
