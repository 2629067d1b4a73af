//! The files of `countline sound`: their forms and marks as others read them, and what happens where they cannot be written.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::{Value, json as value};
use tests::program::{Run, call, path as program, run};
use tests::python;

use crate::{TAKEN, json, rhythm};

/// Four bars of half a second a quarter as they are played, the second and third of them one written bar.
const SHORT: &str = "meter: 2/4\ntempo: quarter = 120\n| 1 2 & |: 1 & 2 :| 1 2 |\n";

fn short(folder: &Path) -> String {
    text(&written(folder, "short.rhythm", SHORT.as_bytes()))
}

fn written(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder.join(name);
    fs::write(&path, bytes).expect("the folder takes files");
    path
}

fn text(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

fn tell(file: &str) -> Value {
    json(&python::run("tests/readers/wav_file.py", ["tell", file]))
}

/// What is left in a folder, without the rhythm.
fn left(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("it can be listed");
    let names = entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned());
    let mut names: Vec<String> = names.filter(|name| !name.ends_with(".rhythm")).collect();
    names.sort();
    names
}

/// A bar of 2/4 at 120 is a second. The count-in is one bar, and 250 ms stand before it.
#[test]
fn another_reader_finds_the_form_and_every_bar() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    let forms = [
        ("16", "PCM_16", 44_100_i64),
        ("16", "PCM_16", 48_000),
        ("24", "PCM_24", 44_100),
        ("float", "FLOAT", 48_000),
    ];
    for (bits, subtype, rate) in forms {
        let out = text(&folder.path().join("out.wav"));
        let said = run(["sound", &rhythm, "--wav", &out, "--bits", bits, "--rate", &rate.to_string()]).done();
        let bar_one = rate / 4 + rate;
        assert!(said.contains(&format!("bar 1 begins at frame {bar_one} (1.250 s)")), "{said}");
        let found = tell(&out);
        let marks = [
            (rate / 4, "count-in"),
            (bar_one, "bar 1"),
            (bar_one + rate, "bar 2"),
            (bar_one + 2 * rate, "bar 2 pass 2"),
            (bar_one + 3 * rate, "bar 3"),
        ];
        assert_eq!(found["marks"], value!(marks), "{bits} at {rate}");
        assert_eq!(found["count"], value!(5));
        assert_eq!(found["remarks"], value!([]), "{bits} at {rate}");
        assert_eq!((&found["subtype"], &found["rate"]), (&value!(subtype), &value!(rate)));
        // A second more for what rings on.
        assert_eq!(found["frames"], value!(bar_one + 5 * rate), "{bits} at {rate}");
        assert_eq!((&found["read"], &found["unsaid"]), (&found["frames"], &value!(0)));
        assert!((0.05..0.99).contains(&found["peak"].as_f64().expect("a number")), "{found}");
    }
    assert_eq!(left(folder.path()), ["out.wav"]);
}

#[test]
fn the_tracks_are_equally_long_and_add_up_to_the_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let tracks = folder.path().join("made/tracks");
    let out = text(&folder.path().join("whole.wav"));
    let call = ["sound", &rhythm(TAKEN), "--wav", &out, "--tracks", &text(&tracks), "--bits", "float"];
    let said = run(call).done();
    assert_eq!(left(&tracks), ["clap.wav", "click.wav", "count.wav"]);
    assert_eq!(said.matches("wrote ").count(), 4, "{said}");
    let parts: Vec<String> = left(&tracks).iter().map(|name| text(&tracks.join(name))).collect();
    let whole = tell(&out);
    for part in &parts {
        let found = tell(part);
        assert_eq!((&found["frames"], &found["marks"]), (&whole["frames"], &whole["marks"]));
        // The count-in and twelve bars.
        assert_eq!(found["count"], value!(13));
        assert!(found["peak"].as_f64().expect("a number") > 0.01, "{part} is silent");
    }
    let call = [&["sum".to_owned(), out], &parts[..]].concat();
    let off = json(&python::run("tests/readers/wav_file.py", call)).as_f64().expect("a number");
    assert!(off < 1e-6, "off by {off}");
    // What is muted has no file.
    let click = folder.path().join("click");
    run(["sound", &rhythm(TAKEN), "--tracks", &text(&click), "--mute", "count", "--mute", "clap"]).done();
    assert_eq!(left(&click), ["click.wav"]);
}

/// The players of a take in both kinds of file, against the take's own times as mido reads them.
#[test]
fn the_players_of_a_take_have_tracks_of_their_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let (tracks, midi) = (folder.path().join("tracks"), text(&folder.path().join("out.mid")));
    let taken = "demo-data/takes/good.mid";
    let call = [
        "sound",
        &rhythm(TAKEN),
        "--take",
        taken,
        "--midi",
        &midi,
        "--tracks",
        &text(&tracks),
        "--bits",
        "float",
    ];
    let said = run(call).done();
    let read = |file: &str| json(&python::run("tests/readers/midi.py", [file]));
    let (take, ours) = (read(taken), read(&midi));
    assert_eq!(ours["mido"]["type"], 1);
    let instrument = |file: &Value, name: &str| {
        let all = file["pretty_midi"]["instruments"].as_array().expect("a list").clone();
        all.into_iter().find(|one| one["name"] == name).unwrap_or_else(|| panic!("no {name}"))
    };
    let seconds = |instrument: &Value| -> Vec<f64> {
        let notes = instrument["notes"].as_array().expect("a list");
        let mut begins: Vec<f64> = notes.iter().map(|note| note[0].as_f64().expect("a number")).collect();
        begins.sort_by(f64::total_cmp);
        begins
    };
    // Count 1 of bar 1 in each file's own time: where the first marker of that name stands.
    let bar_one = |file: &Value| {
        let tick = file["mido"]["tracks"][0]["markers"].as_array().expect("a list").iter();
        let tick = tick.clone().find(|marker| marker[1] == "bar 1").expect("the marker")[0].as_f64();
        let micros = file["mido"]["tracks"][0]["tempi"][0][1].as_f64().expect("a tempo");
        tick.expect("a tick") * micros / 1e6 / file["mido"]["ticks_per_beat"].as_f64().expect("a number")
    };
    let names: Vec<String> = take["pretty_midi"]["instruments"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|one| one["name"].as_str().filter(|name| *name != "click").map(str::to_owned))
        .collect();
    assert!(!names.is_empty());
    let frame: f64 = said
        .split_once("bar 1 begins at frame ")
        .and_then(|(_, rest)| rest.split(' ').next())
        .and_then(|digits| digits.parse().ok())
        .expect("the frame of bar 1");
    for name in &names {
        let (played, written) = (seconds(&instrument(&take, name)), seconds(&instrument(&ours, name)));
        assert_eq!(played.len(), written.len(), "{name}");
        for (played, written) in played.iter().zip(&written) {
            let off = (written - bar_one(&ours)) - (played - bar_one(&take));
            assert!(off.abs() < 0.000_1, "{name}: {off} s");
        }
        let file = text(&tracks.join(format!("player-{name}.wav")));
        let first = python::run("tests/readers/wav_file.py", ["first", &file, "0.00001"]);
        let first: f64 = first.parse().expect("a number");
        let expected = frame + 48_000.0 * (played[0] - bar_one(&take));
        assert!((first - expected).abs() <= 1.0, "{name}: {first} {expected}");
    }
}

/// However long the piece: 2,400 quarters at a tempo that is no whole number of microseconds a quarter, which written once would be
/// 0.4 ms off at the end. Exact by hand: the count-in's four quarters, then quarter n at n · 60 / 88 s.
#[test]
fn a_long_midi_file_keeps_to_the_exact_times() {
    let folder = tempfile::tempdir().expect("a folder");
    let long = format!(
        "meter: 4/4\ntempo: quarter = 88\n|: {} :| 50 times\n",
        "1 2 3 4 | ".repeat(12).trim_end_matches(" | ")
    );
    let long = text(&written(folder.path(), "long.rhythm", long.as_bytes()));
    let out = text(&folder.path().join("out.mid"));
    run(["sound", &long, "--midi", &out]).done();
    let found = json(&python::run("tests/readers/midi.py", [&out]));
    let instruments = found["pretty_midi"]["instruments"].as_array().expect("a list");
    let click = instruments.iter().find(|one| one["name"] == "click").expect("the click");
    let mut begins: Vec<f64> = click["notes"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|note| note[0].as_f64().expect("a number"))
        .collect();
    begins.sort_by(f64::total_cmp);
    assert_eq!(begins.len(), 2_404);
    let worst =
        (0_u32..).zip(&begins).map(|(n, at)| (at - f64::from(n) * 60.0 / 88.0).abs()).fold(0.0, f64::max);
    assert!(worst < 0.000_1, "{worst} s");
    let markers = found["mido"]["tracks"][0]["markers"].as_array().expect("a list");
    assert_eq!(markers.len(), 601);
    assert_eq!(markers[600][1], "bar 12 pass 50");
}

// Where a file cannot be written, what stood there stays.

/// Under no limit; or where no file may grow beyond so many blocks of 512 bytes; or without the rights that root has over
/// the files of others.
enum Under {
    Blocks(u32),
    NoRights,
}

fn run_under(under: &Under, arguments: &[&str]) -> Run {
    let mut command = match under {
        Under::Blocks(blocks) => {
            let mut command = Command::new("sh");
            // Such a write is a signal too, which ends a program in silence unless it is taken.
            command.args(["-c", &format!("ulimit -f {blocks}; exec \"$0\" \"$@\"")]).arg(program());
            command
        }
        Under::NoRights if is_root() => {
            let mut command = Command::new("setpriv");
            let rights = "-dac_override,-dac_read_search";
            command.args(["--bounding-set", rights, "--inh-caps", rights]).arg(program());
            command
        }
        Under::NoRights => Command::new(program()),
    };
    command.args(arguments).current_dir(tests::root());
    Run::from_output(command.output().expect("it runs"))
}

fn is_root() -> bool {
    let output = Command::new("id").arg("-u").output().expect("id runs");
    String::from_utf8_lossy(&output.stdout).trim() == "0"
}

fn refused(run: &Run, words: &[&str]) {
    assert_eq!(run.status, Some(1), "{}{}", run.out, run.err);
    assert!(words.iter().all(|word| run.err.contains(word)), "{words:?} in\n{}", run.err);
    assert!(!run.out.contains("wrote"), "{}", run.out);
}

#[cfg(unix)]
#[test]
fn what_cannot_be_written_leaves_the_old_file_untouched() {
    use std::os::unix::fs::PermissionsExt;

    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    for (flag, name) in [("--wav", "old.wav"), ("--midi", "old.mid")] {
        let dir = tempfile::tempdir().expect("a folder");
        let old = text(&written(dir.path(), name, b"what stood there"));
        let untouched = || {
            assert_eq!(fs::read(&old).expect("it is there"), b"what stood there");
            assert_eq!(left(dir.path()), [name], "nothing is left beside it");
        };
        // A disk that takes half a kilobyte at most, and a long piece for the MIDI file.
        let piece = if flag == "--wav" { rhythm.clone() } else { crate::rhythm("6-kettle-on-the-boil") };
        refused(
            &run_under(&Under::Blocks(1), &["sound", &piece, flag, &old]),
            &[name, "cannot grow", "another disk"],
        );
        untouched();
        // A folder one may not write to.
        fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o500)).expect("it is ours");
        refused(
            &run_under(&Under::NoRights, &["sound", &rhythm, flag, &old]),
            &[name, "ermission denied", "you may use it"],
        );
        fs::set_permissions(dir.path(), fs::Permissions::from_mode(0o700)).expect("it is ours");
        untouched();
        // And where nothing forbids it the same call writes.
        assert_eq!(run_under(&Under::NoRights, &["sound", &rhythm, flag, &old]).status, Some(0));
        assert_ne!(fs::read(&old).expect("it is there"), b"what stood there");
        assert_eq!(left(dir.path()), [name]);
    }
}

/// The MIDI file and the first track would fit; what comes after does not. All of them stay as they were, or none is there.
#[cfg(unix)]
#[test]
fn where_one_file_of_a_call_cannot_be_written_none_is() {
    let dir = tempfile::tempdir().expect("a folder");
    let rhythm = short(dir.path());
    let old: Vec<PathBuf> =
        ["old.mid", "old.wav"].map(|name| written(dir.path(), name, b"what stood there")).to_vec();
    let [midi, wav] = [text(&old[0]), text(&old[1])];
    let tracks = dir.path().join("new/tracks");
    let calls: [&[&str]; 3] = [
        &["sound", &rhythm, "--midi", &midi, "--wav", &wav],
        &["sound", &rhythm, "--midi", &midi, "--tracks", &text(&tracks)],
        &["drill", &rhythm, "--midi", &midi, "--tracks", &text(&tracks)],
    ];
    for call in calls {
        refused(&run_under(&Under::Blocks(64), call), &["cannot grow"]);
        for old in &old {
            assert_eq!(fs::read(old).expect("it is there"), b"what stood there", "{call:?}");
        }
        assert_eq!(left(dir.path()), ["old.mid", "old.wav"], "{call:?}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    for flag in ["--wav", "--midi"] {
        refused(&run(["sound", &rhythm, flag, "/dev/full"]), &["the disk is full", "/dev/full", "make room"]);
    }
}

#[test]
fn a_folder_or_a_file_in_the_way_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    let at = text(folder.path());
    refused(&run(["sound", &rhythm, "--wav", &at]), &[&at, "cannot be written"]);
    let file = text(&written(folder.path(), "file", b"x"));
    refused(&run(["sound", &rhythm, "--tracks", &file]), &[&file]);
    assert_eq!(fs::read(&file).expect("it is there"), b"x");
}

#[test]
fn recordings_that_lie_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    let out = text(&folder.path().join("whole.wav"));
    run(["sound", &rhythm, "--wav", &out]).done();
    let whole = fs::read(&out).expect("it was written");
    let check = |bytes: &[u8], words: &[&str]| {
        let lies = text(&written(folder.path(), "lies.wav", bytes));
        refused(&run(["judge", &rhythm, &lies]), &[&[lies.as_str()], words].concat());
    };
    check(&[], &["is empty"]);
    check(&whole[..100_000], &["its header says", "has 100000 bytes"]);
    let mut claims = whole;
    claims[40..44].copy_from_slice(&0xFFFF_FF00_u32.to_le_bytes());
    check(&claims, &["its header says 4294967040 bytes of sound"]);
}

#[test]
fn calls_that_mean_nothing_are_status_2() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    let check = |arguments: &[&str], words: &[&str]| {
        let run = run([&["sound", &rhythm], arguments].concat());
        assert_eq!(run.status, Some(2), "{arguments:?}: {}", run.err);
        assert!(words.iter().all(|word| run.err.contains(word)), "{arguments:?}: {}", run.err);
    };
    let wav =
        |arguments: &[&str], words: &[&str]| check(&[&["--wav", "/dev/null"], arguments].concat(), words);
    let midi =
        |arguments: &[&str], words: &[&str]| check(&[&["--midi", "/dev/null"], arguments].concat(), words);
    wav(&["--bits", "12"], &["12", "16", "24", "float"]);
    wav(&["--rate", "4000"], &["4000", "8000", "192000"]);
    wav(&["--rate", "cd"], &["cd", "44100"]);
    check(&["--take", "demo-data/takes/good.mid"], &["--take", "--midi OUT", "--tracks DIR"]);
    check(&["--midi-out", "drum", "--wav", "/dev/null"], &["--midi-out"]);
    midi(
        &["--take", "demo-data/takes/good.mid", "--tempo", "100"],
        &["good.mid", "quarter = 100", "--tempo"],
    );
    // What would change nothing is not passed over in silence.
    wav(&["--device", "Speakers"], &["--device", "files are written"]);
    wav(&["--system", "jack"], &["--system", "files are written"]);
    midi(&["--bits", "24"], &["--bits", "--wav OUT or --tracks DIR"]);
    midi(&["--rate", "44100"], &["--rate", "--wav OUT or --tracks DIR"]);
    midi(&["--pan", "clap=20"], &["--pan", "not for MIDI"]);
    check(&["--midi-out", "drum", "--tone"], &["--tone", "--midi-out none is sent"]);
    midi(&["--voice", "male"], &["--voice", "not for MIDI"]);
    midi(&["--level", "clap=3"], &["--level", "a MIDI file has accents"]);
    check(&["--midi-out", "drum", "--level", "count=3"], &["--level count=", "none are sent"]);
    wav(&["--pan", "tone=50"], &["--pan tone=", "add --tone"]);
    wav(&["--level", "tone=6"], &["--level tone=", "add --tone"]);
    wav(&["--mute", "tone", "--tone"], &["--tone", "--mute tone"]);
    wav(&["--mute", "click", "--level", "click=6"], &["--level click=", "--mute click", "one of the two"]);
    wav(&["--mute", "clap", "--pan", "clap=6"], &["--pan clap=", "--mute clap", "one of the two"]);
    wav(&["--mute", "click", "--click", "groups"], &["--click", "--mute click"]);
    wav(&["--mute", "count", "--count", "beats"], &["--count", "--mute count"]);
    wav(&["--mute", "count", "--holds", "aloud"], &["--holds", "--mute count"]);
    wav(&["--mute", "count", "--entry", "ready-go"], &["--entry", "--mute count"]);
    wav(&["--mute", "count", "--voice", "male"], &["--voice", "--mute count"]);
    wav(&["--count", "attacks", "--holds", "aloud"], &["--holds", "--count attacks", "leave --holds out"]);
    wav(&["--count", "attacks", "--rests", "silent"], &["--rests", "--count attacks", "leave --rests out"]);
    wav(&["--entry", "ready-go", "--count-in", "0"], &["--entry", "--count-in 0"]);
    // The same goes for what is heard live.
    for (more, word) in [("--pan=tone=50", "add --tone"), ("--level=click=6", "--mute click")] {
        let run = run(["listen", &rhythm, "--no-take", "--mute", "click", more]);
        assert!(run.status == Some(2) && run.err.contains(word), "{}", run.err);
    }
}

/// What is left out of the sound is left out of the MIDI file beside it.
#[test]
fn what_is_muted_has_no_track() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    let out = text(&folder.path().join("out.mid"));
    let tracks = |muted: &[&str], more: &[&str]| -> Vec<String> {
        let muted: Vec<&str> = muted.iter().flat_map(|sound| ["--mute", *sound]).collect();
        run([&["sound", &rhythm, "--midi", &out], &muted[..], more].concat()).done();
        let found = json(&python::run("tests/readers/midi.py", [&out]));
        let tracks = found["mido"]["tracks"].as_array().expect("tracks")[1..].to_vec();
        tracks.iter().map(|track| track["name"].as_str().expect("a name").to_owned()).collect()
    };
    assert_eq!(tracks(&[], &[]), ["click", "rhythm", "counts"]);
    assert_eq!(tracks(&["click"], &[]), ["rhythm", "counts"]);
    assert_eq!(tracks(&["count"], &[]), ["click", "rhythm"]);
    assert_eq!(tracks(&["clap"], &[]), ["click", "counts"]);
    assert!(tracks(&["clap", "click", "count"], &[]).is_empty());
    let wav = text(&folder.path().join("out.wav"));
    assert_eq!(tracks(&["count", "clap"], &["--wav", &wav, "--level", "click=3"]), ["click"]);
}

/// Two channels where a place is given, be it the middle; else one. In the middle both are as the one.
#[test]
fn a_place_makes_two_channels() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = short(folder.path());
    let out = text(&folder.path().join("out.wav"));
    let channels = |more: &[&str]| {
        let said = run([&["sound", &rhythm, "--wav", &out], more].concat()).done();
        let bytes = fs::read(&out).expect("it was written");
        (u16::from_le_bytes([bytes[22], bytes[23]]), said)
    };
    let lufs = |said: &str| -> f64 {
        let (_, rest) = said.split_once("loudness ").expect("a loudness");
        rest.split(' ').next().expect("a word").parse().expect("a number")
    };
    let (one, mono) = channels(&[]);
    let (two, stereo) = channels(&["--pan", "clap=0"]);
    assert_eq!((one, two), (1, 2));
    // A file of one channel has what a meter says of it, and what two loudspeakers make of it beside.
    assert!((lufs(&stereo) - lufs(&mono) - 3.01).abs() < 0.11, "{mono}{stereo}");
    let told = format!("; from two loudspeakers {:.1} and ", lufs(&stereo));
    assert!(mono.contains(&told) && !stereo.contains("from two"), "{mono}{stereo}");
}

/// A rest of 150 bars is counted by its bars, and at 240 many of their numbers have no room.
#[test]
fn what_was_cut_short_is_told_in_rows() {
    let folder = tempfile::tempdir().expect("a folder");
    let long = "meter: 4/4\ntempo: quarter = 240\n| 1 2 3 4 | (150 bars) | 1 2 3 4 |\n";
    let long = text(&written(folder.path(), "long.rhythm", long.as_bytes()));
    let run = run(["sound", &long, "--wav", "/dev/null"]);
    let told =
        run.err.lines().find(|line| line.contains("cut short")).unwrap_or_else(|| panic!("{}", run.err));
    assert!(told.contains(" to 150") && told.len() < 300, "{told}");
}

#[test]
fn without_a_midi_system_the_click_is_not_sent_and_it_is_said() {
    let run = run(["sound", &rhythm(TAKEN), "--midi-out", "no such device"]);
    assert_eq!(run.status, Some(1), "{}", run.err);
    // What there is depends on the machine.
    if std::path::Path::new("/dev/snd/seq").exists() {
        assert!(run.err.contains("there is no MIDI port \"no such device\""), "{}", run.err);
    } else {
        assert!(run.err.contains("no MIDI system on this machine, so nothing can be sent"), "{}", run.err);
    }
}

#[test]
fn the_help_names_what_is_written() {
    let help = call(["sound", "--help"]).output().expect("countline runs");
    let help = String::from_utf8(help.stdout).expect("UTF-8");
    for word in [
        "--wav",
        "--tracks",
        "--midi ",
        "--bits",
        "--rate",
        "--take",
        "--midi-out",
        "dither",
        "8000 to 192000",
    ] {
        assert!(help.contains(word), "{word} is missing in\n{help}");
    }
}
