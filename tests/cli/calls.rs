//! Statuses, errors and pipes.

use std::io::Read as _;
use std::process::Stdio;

use tests::program::{call, run, run_with_input};

use crate::rhythm;

#[test]
fn a_bad_call_is_status_2_and_a_failed_job_status_1() {
    let check = |arguments: &[&str], status: i32, words: &[&str]| {
        let run = run(arguments);
        assert_eq!(run.status, Some(status), "{arguments:?}\n{}{}", run.out, run.err);
        assert_eq!(run.out, "", "{arguments:?}: what is wrong is said on standard error");
        for word in words {
            assert!(run.err.contains(word), "{arguments:?}: \"{word}\" is missing in\n{}", run.err);
        }
    };
    let first = rhythm("1-nine-doorsteps");
    check(&[], 2, &["Usage"]);
    check(&["sing", &first], 2, &["sing"]);
    check(&["count"], 2, &["FILE"]);
    check(&["count", &first, "--loud"], 2, &["--loud"]);
    check(&["count", &first, "--counting", "tango"], 2, &["tango", "takadimi", ".toml"]);
    check(&["count", &first, "--variant", "loud"], 2, &["loud", "tri-plet"]);
    check(&["count", &first, "--say", "nothing"], 2, &["nothing", "divisions"]);
    check(&["count", &first, "--counting", "no-such.toml"], 1, &["no-such.toml", "check the path"]);
    check(&["sound", &first, "--tempo", "900", "--midi", "/dev/null"], 2, &["900", "20", "300"]);
    check(&["sound", &first, "--tempo", "quick", "--midi", "/dev/null"], 2, &["quick"]);
    check(&["sound", &first, "--count-in", "99", "--midi", "/dev/null"], 2, &["99", "8"]);
    check(&["sound", &first, "--voice", "nobody", "--wav", "/dev/null"], 2, &["nobody", "female", "male"]);
    check(&["judge", &first, "demo-data/takes/good.mid", "--tolerance-ms", "much"], 2, &["much"]);
    check(&["judge", &first, "demo-data/takes/good.mid", "--tolerance-ms", "9000"], 2, &["9000", "250"]);
    check(&["count", "no-such.rhythm"], 1, &["no-such.rhythm", "check the path"]);
    check(&["count", "demo-data/takes/good.mid"], 1, &["not UTF-8", "judge"]);
    check(&["sound", &first, "--wav", "no-such-folder/a.wav"], 1, &["no-such-folder"]);
    check(&["judge", &first, "no-such.mid"], 1, &["no-such.mid"]);
    check(&["judge", &first, &first], 1, &["1-nine-doorsteps.rhythm"]);
}

#[test]
fn help_is_no_error() {
    for arguments in [&["--help"][..], &["count", "--help"], &["--version"]] {
        assert!(run(arguments).done().contains("countline"), "{arguments:?}");
    }
}

#[test]
fn a_slip_in_a_rhythm_is_pointed_at() {
    let text = "title: Slip\nmeter: 4/4\n\n| 1 2 5 4 | 1 & 2 3 (4) | 2 3 4 |\n";
    let run = run_with_input(["count", "-"], text.as_bytes());
    assert_eq!(run.status, Some(1));
    assert_eq!(run.out, "");
    // Both slips in one go: line and column, what was read, and what is allowed there.
    for word in ["4:7", "4:27", "| 1 2 5 4 |", "^", "1 to 4"] {
        assert!(run.err.contains(word), "\"{word}\" is missing in\n{}", run.err);
    }
    insta::assert_snapshot!(run.err);
}

#[test]
fn a_hint_does_not_stand_in_the_way() {
    let run = run_with_input(["count", "-"], b"| 1 (2) & 3 4 |\n");
    assert_eq!(run.status, Some(0));
    assert!(run.err.contains("hint") && run.err.contains("_2"), "{}", run.err);
    assert!(run.out.contains("(2)"), "{}", run.out);
}

/// More than a pipe holds, so that the program must notice that nobody reads on.
fn long_rhythm() -> String {
    format!("|: {} :| 50 times\n", "1 e & a 2 e & a 3 e & a 4 e & a |".repeat(20).trim_end_matches('|'))
}

#[test]
fn a_broken_pipe_is_no_error() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("long.rhythm");
    std::fs::write(&file, long_rhythm()).expect("the folder takes files");
    let file = file.to_string_lossy().into_owned();
    let whole = run(["count", &file, "--json"]).done();
    assert!(whole.len() > 1 << 20, "{} bytes would fit into a pipe", whole.len());

    let mut child = call(["count", &file, "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("countline runs");
    let mut out = child.stdout.take().expect("standard output is piped");
    out.read_exact(&mut [0]).expect("one byte comes");
    drop(out);
    let ended = child.wait_with_output().expect("countline ends");
    assert_eq!(String::from_utf8_lossy(&ended.stderr), "");
    assert!(ended.status.success(), "{:?}", ended.status);
}

#[test]
fn no_device_is_said_in_a_plain_sentence() {
    let out = run(["devices"]).done();
    assert!(out.contains("sound") && out.contains("MIDI"), "{out}");
    // What is there depends on the machine; what is not there must be said, and as a sentence.
    if !std::path::Path::new("/dev/snd/seq").exists() {
        assert!(out.contains("no MIDI system on this machine"), "{out}");
    }
    if !std::path::Path::new("/dev/snd").exists() {
        assert!(out.contains("no sound device"), "{out}");
    }
    assert!(out.contains("female") && out.contains("male"), "{out}");
}
