//! Who plays on what, and what was measured, as it is kept.

use std::path::Path;

use tests::program::{Run, call};

fn with(settings: &Path, arguments: &[&str]) -> Run {
    let output = call(arguments).env("COUNTLINE_SETTINGS", settings).output().expect("countline runs");
    Run {
        status: output.status.code(),
        out: String::from_utf8(output.stdout).expect("UTF-8"),
        err: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

#[test]
fn players_are_kept_shown_and_forgotten() {
    let folder = tempfile::tempdir().expect("a folder");
    let settings = folder.path().join("not there yet");
    assert!(with(&settings, &["players"]).done().contains("no players are kept"));
    let set = [
        "players",
        "--set",
        "K1=Module,channel=10,notes=36-40",
        "--set",
        "K3=Left",
        "--set",
        "K3=Right",
        "--set",
        "K4=Stage,keys,retrigger=10",
        "--control",
        "next=Stage,pedal=64",
    ];
    with(&settings, &set).done();
    // What leaves a player nothing is said, and kept all the same.
    let file = settings.join("other.toml");
    let file = file.to_str().expect("UTF-8");
    let run = with(&settings, &["players", "--file", file, "--set", "K1=Pad", "--control", "next=Pad"]);
    assert!(run.err.contains("everything that K1 strikes on Pad is the order \"next\""), "{}", run.err);
    let shown = with(&settings, &["players"]).done();
    let expected = "K1: Module, channel 10, notes 36-40\nK3: Left and Right\nK4: Stage; keys; retrigger 10 ms\n\
        Stage, pedal 64: next (calls the next)\n";
    assert_eq!(shown, expected);
    let moved =
        with(&settings, &["players", "--set", "K1=Module,channel=9", "--remove", "K3", "--remove", "next"])
            .done();
    assert_eq!(moved, "K4: Stage; keys; retrigger 10 ms\nK1: Module, channel 9\n");
    let file = std::fs::read_to_string(settings.join("players.toml")).expect("it is kept");
    assert!(file.starts_with('#') && file.contains("channel = 9"), "{file}");
}

#[test]
fn what_cannot_be_kept_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let check = |arguments: &[&str], status: i32, words: &[&str]| {
        let run = with(folder.path(), arguments);
        assert_eq!(run.status, Some(status), "{arguments:?}\n{}{}", run.out, run.err);
        assert!(words.iter().all(|word| run.err.contains(word)), "{arguments:?}: {}", run.err);
    };
    check(&["players", "--set", "K1=Pad", "--set", "K2=Pad"], 2, &["K1: Pad", "K2: Pad", "cross"]);
    check(&["players", "--set", "K1"], 2, &["CODE=PORT"]);
    check(&["players", "--remove", "K9"], 2, &["K9", "countline players"]);
    check(&["players", "--file", "no-such.toml"], 1, &["no-such.toml"]);
    let rhythm = crate::rhythm("1-nine-doorsteps");
    check(&["listen", &rhythm, "--player", "K1=Pad,channel=0"], 2, &["1 to 16"]);
    check(&["listen", &rhythm, "--control", "dance=Pad"], 2, &["dance", "start, stop, next and again"]);
    check(&["listen", &rhythm, "--retrigger-ms", "900"], 2, &["900", "0 to 100"]);
    check(&["listen", &rhythm, "--turns", "P1"], 2, &["PAD=CODE"]);
    // A pad that nobody has, and none that is plugged in could get.
    check(&["listen", &rhythm, "--turns", "X9=K1"], 2, &["X9", "P1, P2 and so on"]);
    let turns = ["listen", &rhythm, "--player", "K1=Pad", "--turns", "P1=K2"];
    check(&turns, 2, &["\"P1\"", "there is K1", "P2 and so on"]);
    check(&["listen", &rhythm, "--thru", "101"], 2, &["101"]);
    std::fs::write(folder.path().join("players.toml"), "[[player]]\ncode = 3\n").expect("written");
    check(&["players"], 1, &["players.toml, line 2", "mend it"]);
}

#[test]
fn what_was_measured_is_shown_and_forgotten() {
    let folder = tempfile::tempdir().expect("a folder");
    assert!(with(folder.path(), &["calibrate", "show"]).done().contains("nothing is measured"));
    let kept = "[[loopback]]\noutput = \"Card\"\nrate_hz = 48000\nblock_frames = 256\ninput = \"Mic\"\nlate_ms = 212.5\n\
        moved_ms = 0.1\n\n[[pad]]\nport = \"Pad\"\ninput = \"Mic\"\nlate_ms = 5.25\nuncertainty_ms = 0.1\n\n\
        [[loopback]]\noutput = \"Card\"\nrate_hz = 48000\nblock_frames = 64\ninput = \"Mic\"\nlate_ms = -21.33\nmoved_ms = 0.1\n";
    std::fs::write(folder.path().join("latency.toml"), kept).expect("written");
    let shown = with(folder.path(), &["calibrate", "show"]).done();
    for part in [
        "Card to Mic, 48000 Hz, 256 frames: 212.50 ms, as a wireless speaker is",
        "Pad beside Mic: 5.25 ± 0.20 ms",
        "Card to Mic, 48000 Hz, 64 frames: −21.33 ms\n",
    ] {
        assert!(shown.contains(part), "{part}:\n{shown}");
    }
    with(folder.path(), &["calibrate", "forget"]).done();
    assert!(with(folder.path(), &["calibrate", "show"]).done().contains("nothing is measured"));
    // Where there is no device, that is said and nothing is kept.
    let without = with(folder.path(), &["calibrate", "loopback"]);
    assert_eq!(without.status, Some(1), "{}", without.out);
    assert!(!without.err.contains("are played"), "nothing is played: {}", without.err);
}
