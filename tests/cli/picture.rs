//! A rhythm engraved, without a take.

use tests::program::run;

use crate::{RHYTHMS, rhythm};

const SECTION: &str =
    "title: Coal Shed\npart: snare\n| 1 & 2 3 4 | (4 bars) |\npart: bass drum\n| 1 (2) 3 (4) | (4 bars) |\n";

/// The picture that these arguments give of a file.
fn picture(file: &str, arguments: &[&str]) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("picture.svg").to_string_lossy().into_owned();
    let call = [&["picture", file, "--out", &out], arguments].concat();
    run(call).done();
    std::fs::read_to_string(&out).expect("a picture")
}

#[track_caller]
fn holds(svg: &str, expected: &[&str]) {
    for expected in expected {
        assert!(svg.contains(expected), "{expected} is not in the picture");
    }
}

#[test]
fn a_rhythm_is_engraved_with_its_counting() {
    let file = rhythm(RHYTHMS[3]);
    let svg = picture(&file, &[]);
    let words = [
        "<title>Pebbles Downhill</title>",
        "<desc>6/8. Bar 1: 1, la, li, 2. Bar 2: 1, li, 2, li.",
        ">la</text>",
        r#"id="timeSig6""#,
    ];
    holds(&svg, &words);
    assert!(!svg.contains(">ki</text>") && !svg.contains(">struck</text>"));
    let compared = picture(
        &file,
        &[
            "--counting",
            "numbers",
            "--counting",
            "takadimi",
            "--hands",
            "--legend",
            "--large",
            "--width",
            "60",
        ],
    );
    holds(&compared, &[">la</text>", ">ki</text>", ">struck</text>", ">hold</text>", r#"font-size="2.8""#]);
    let ruled = picture(&file, &["--ruled", "--no-head", "--no-numbers"]);
    assert!(!ruled.contains("<text"), "nothing is written on a sheet to write on");
}

#[test]
fn parts_are_joined_or_chosen() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("coal-shed.rhythm").to_string_lossy().into_owned();
    std::fs::write(&file, SECTION).expect("written");
    let all = picture(&file, &["--no-counts"]);
    holds(&all, &["#bracketTop", ">snare</text>", ">bass drum</text>", "<desc>snare. 4/4. Bar 1: "]);
    assert_eq!(all.matches("#restWhole").count(), 0, "four bars of rest are one");
    let one = picture(&file, &["--part", "snare"]);
    assert!(!one.contains("bracketTop") && !one.contains(">snare</text>"));
    assert_eq!(one.matches("#restWhole").count(), 4, "each of them is counted");
    // The lower of two voices on a line, by itself.
    let kit = "meter: 4/4\npart: hands\n| 1 2 3 4 |\n\npart: feet\nline: hands\n| 1 3 |\n";
    std::fs::write(&file, kit).expect("written");
    let feet = picture(&file, &["--part", "feet", "--no-counts"]);
    assert_eq!(feet.matches("#noteheadHalf").count(), 2, "{feet}");
}

#[test]
fn a_wrong_call_says_what_is_right() {
    let file = rhythm(RHYTHMS[0]);
    let check = |arguments: &[&str], expected: &str| {
        let run = run([&["picture", file.as_str()], arguments].concat());
        assert_eq!(run.status, Some(2), "{arguments:?}");
        assert!(run.err.contains(expected), "{arguments:?}: {}", run.err);
    };
    check(&["--out", "picture.png"], "does not end in .svg");
    check(&["--out", "x.svg", "--width", "10"], "give it 24 to 100000");
    check(&["--out", "x.svg", "--variant", "nope"], "no variant \"nope\"");
    check(&["--out", "x.svg", "--part", "cymbals"], "no part \"cymbals\"");
    check(&["--out", "x.svg", "--no-counts", "--hands"], "cannot be used with");
}
