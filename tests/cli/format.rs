//! Formatting, and pieces of several parts.

use tests::program::{run, run_with_input};

use crate::json;

const UNTIDY: &str =
    "title: Wet Slates\nmeter: 3/4   # a waltz\n|1 2and 3|%|  # clap first\n| 1(2)3 |\nsticking: RL\n";
const TIDY: &str = "# a waltz\ntitle: Wet Slates\nmeter: 3/4\n\n| 1 2 & 3 | 1 2 & 3 |  # clap first\n          | 1 (2) 3 |\nsticking: | R     L\n";
const SECTION: &str = "title: Coal Shed\npart: snare\n| 1 & 2 3 4 |\npart: bass drum\n| 1 (2) 3 (4) |\n";

#[test]
fn a_text_is_rewritten_in_place_and_checked() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("wet-slates.rhythm").to_string_lossy().into_owned();
    std::fs::write(&file, UNTIDY).expect("written");
    let checked = run(["format", "--check", &file]);
    assert_eq!(checked.status, Some(1));
    assert!(
        checked.err.contains("wet-slates.rhythm") && checked.err.contains("countline format"),
        "{}",
        checked.err
    );
    run(["format", &file]).done();
    assert_eq!(std::fs::read_to_string(&file).expect("read"), TIDY);
    run(["format", "--check", &file]).done();
    assert_eq!(run_with_input(["format", "-"], UNTIDY.as_bytes()).done(), TIDY);
}

#[test]
fn a_text_with_a_mistake_is_left_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("slip.rhythm").to_string_lossy().into_owned();
    std::fs::write(&file, "| 1 5 |").expect("written");
    let run = run(["format", &file]);
    assert_eq!(run.status, Some(1));
    assert!(run.err.contains("no count 5"), "{}", run.err);
    assert_eq!(std::fs::read_to_string(&file).expect("read"), "| 1 5 |");
}

#[test]
fn a_part_is_chosen_by_name_or_number() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("coal-shed.rhythm").to_string_lossy().into_owned();
    std::fs::write(&file, SECTION).expect("written");
    let attacks = |part: &str| -> usize {
        let counted = json(&run(["count", &file, "--part", part, "--json"]).done());
        let counts = counted["bars"][0]["counts"].as_array().expect("counts").clone();
        counts.iter().filter(|count| count["do"] == "attack").count()
    };
    assert_eq!((attacks("snare"), attacks("2"), attacks("Bass Drum")), (5, 2, 2));
    for arguments in [&["sound", &file, "--midi", "/dev/null"][..], &["count", &file, "--part", "cymbals"]] {
        let run = run(arguments);
        assert_eq!(run.status, Some(2), "{arguments:?}");
        assert!(run.err.contains("snare") && run.err.contains("bass drum"), "{}", run.err);
    }
}
