//! A take that is killed while it is recorded: all but the last second is there and opens.
//!
//! A child process records, says on its standard output what it has handed over, and is killed with SIGKILL. What the
//! child said last before it died is what has to be found. The WAV file is opened by hound and by Python's own `wave`.

#![cfg(unix)]

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use take::midi::read_take;
use take::{Error, Folder, Take};
use tests::{python, root};
use timebase::{Moment, Seconds};

const SECOND: u64 = 48_000;
const RECORDER: &str = env!("CARGO_BIN_EXE_record_until_killed");

/// What the child said last.
#[derive(Debug, Default)]
struct Said {
    frames: u64,
    strokes: [usize; 2],
    sound_failed: Option<String>,
}

impl Said {
    fn hear(&mut self, line: &str) {
        if let Some(why) = line.strip_prefix("sound failed: ") {
            self.sound_failed = Some(why.to_owned());
            return;
        }
        let numbers: Vec<u64> = line.split(' ').map(|number| number.parse().expect("a number")).collect();
        let [frames, first, second] = numbers[..] else { panic!("three numbers: {line}") };
        let count = |n| usize::try_from(n).expect("few strokes");
        self.frames = frames;
        self.strokes = [count(first), count(second)];
    }
}

/// Lets the child record until it has said `lines` lines, kills it `later`, and gives what it said last.
fn kill_after(mut child: Child, lines: usize, later: Duration) -> Said {
    let mut said = Said::default();
    let mut reader = BufReader::new(child.stdout.take().expect("standard output is piped"));
    let mut line = String::new();
    let (mut heard, mut killed) = (0, false);
    loop {
        if heard >= lines && !killed {
            std::thread::sleep(later);
            child.kill().expect("the child still runs");
            killed = true;
        }
        line.clear();
        // What lay in the pipe when it died is heard too.
        if reader.read_line(&mut line).expect("the pipe can be read") == 0 || !line.ends_with('\n') {
            break;
        }
        said.hear(line.trim_end());
        heard += 1;
    }
    let status = child.wait().expect("the child has ended");
    assert!(killed, "the child ended by itself: {status}");
    assert_eq!(
        std::os::unix::process::ExitStatusExt::signal(&status),
        Some(9),
        "it was killed, and did not end"
    );
    said
}

fn record(folder: &Path, pace: &str) -> Child {
    Command::new(RECORDER).arg(folder).arg(pace).stdout(Stdio::piped()).spawn().expect("the child starts")
}

fn frames_by_hound(folder: &Folder) -> u64 {
    let mut reader = hound::WavReader::open(folder.wav()).expect("hound opens it");
    let frames = u64::from(reader.duration());
    assert_eq!(u64::try_from(reader.samples::<i16>().map_while(Result::ok).count()), Ok(2 * frames));
    frames
}

fn frames_by_python(folder: &Folder) -> u64 {
    let path = folder.wav();
    let found = python::run("tests/readers/wav.py", ["pattern".as_ref(), path.as_os_str()]);
    let found: serde_json::Value = serde_json::from_str(&found).expect("the reader prints JSON");
    assert_eq!(found["wrong"], 0, "every sample is the one that was written");
    found["frames"].as_u64().expect("a number of frames")
}

/// The strokes are those that the child plays, at least as many as it said.
fn check_strokes(players: &[take::Player], said: &Said) {
    for ((player, every), handed_over) in players.iter().zip([125, 250]).zip(said.strokes) {
        let found = player.strokes.len();
        // The child may have died between writing a stroke and saying so.
        assert!(found == handed_over || found == handed_over + 1, "{found} of {handed_over}: {said:?}");
        for (stroke, number) in player.strokes.iter().zip(0..) {
            assert_eq!(stroke.at, Moment::ZERO + Seconds::from_millis(number * every));
        }
    }
}

fn check(dir: &Path, said: &Said) {
    let folder = Folder::new(dir);
    let frames = frames_by_hound(&folder);
    assert_eq!(frames_by_python(&folder), frames);
    // The recorder keeps all but a quarter of a second of what it is handed; live, sound is handed over 0.3 s after it is heard.
    assert!(frames + SECOND / 4 > said.frames, "{frames} frames open of {said:?}");

    let take = Take::open(dir).expect("the folder opens");
    assert_eq!(take.ended(), None);
    assert!(take.frames() <= frames, "the journal promises no more than is there");
    check_strokes(take.players(), said);

    // Without the journal, for other programs: the MIDI file is half a second old, or what a quarter of sound lasts longer.
    match read_take(&std::fs::read(folder.midi()).expect("the MIDI file is there")) {
        Ok(midi) => {
            assert_eq!(midi.bar_one, Some(Moment::ZERO + Seconds::from_millis(2_250)));
            assert!(midi.players[0].strokes.len() + 6 >= said.strokes[0], "{said:?}");
        }
        Err(Error::NoPlayer { .. }) => assert!(said.frames < SECOND * 3 / 4, "{said:?}"),
        Err(error) => panic!("{error}"),
    }
    python::run(
        "tests/readers/schema.py",
        [root().join("crates/take/schema").as_os_str(), "take".as_ref(), folder.description().as_os_str()],
    );

    let recovered = Take::recover(dir).expect("the take is recovered");
    assert!(recovered.frames() >= frames);
    assert_eq!(frames_by_hound(&folder), recovered.frames());
    assert_eq!(frames_by_python(&folder), recovered.frames());
    let midi = read_take(&std::fs::read(folder.midi()).expect("the MIDI file is there"));
    check_strokes(&midi.expect("a take").players, said);
}

#[test]
fn a_take_killed_at_the_speed_of_sound_lacks_a_second_at_most() {
    let dir = tempfile::tempdir().expect("a folder");
    // Just after the beginning; shortly before and after a second is made valid; in between.
    let kills = [2, 40, 99, 101, 150, 203, 277, 341];
    let folders: Vec<_> = kills.iter().map(|lines| dir.path().join(format!("after-{lines}"))).collect();
    let said: Vec<Said> = std::thread::scope(|scope| {
        let running: Vec<_> = kills
            .iter()
            .zip(&folders)
            .map(|(&lines, folder)| {
                scope.spawn(move || kill_after(record(folder, "real"), lines, Duration::ZERO))
            })
            .collect();
        running.into_iter().map(|thread| thread.join().expect("killed as planned")).collect()
    });
    for (folder, said) in folders.iter().zip(&said) {
        check(folder, said);
    }
}

/// As fast as the machine writes, a kill falls into every part of the work: headers, renames, lines of the journal.
#[test]
fn a_take_killed_in_the_middle_of_writing_lacks_a_second_at_most() {
    let dir = tempfile::tempdir().expect("a folder");
    let round = |round: usize| {
        let folder = dir.path().join(format!("round-{round}"));
        let later = Duration::from_micros(137 * u64::try_from(round).expect("a small number"));
        let said = kill_after(record(&folder, "full"), 97 + 29 * round, later);
        check(&folder, &said);
    };
    std::thread::scope(|scope| {
        scope.spawn(|| (0..24).step_by(2).for_each(round));
        (1..24).step_by(2).for_each(round);
    });
}

/// The file may not grow beyond 300 KB, as where room runs out: the sound ends with an error that says what is kept, and the
/// strokes go on.
#[test]
fn sound_that_finds_no_room_ends_alone() {
    let dir = tempfile::tempdir().expect("a folder");
    let folder = dir.path().join("take");
    // POSIX counts the limit in units of 512 bytes; the signal that would end the program is turned off.
    let limited = "trap '' XFSZ; ulimit -f 600; exec \"$0\" \"$1\" real";
    let child = Command::new("sh")
        .args(["-c", limited, RECORDER])
        .arg(&folder)
        .stdout(Stdio::piped())
        .spawn()
        .expect("the child starts");
    let said = kill_after(child, 250, Duration::ZERO);
    let why = said.sound_failed.clone().expect("the sound fails after a second and a half");
    assert!(why.contains("take.wav cannot grow"), "{why}");
    let take = Take::open(&folder).expect("the folder opens");
    assert_eq!(take.sound_ended(), Some(why.as_str()));
    check_strokes(take.players(), &said);
    assert!(said.strokes[0] >= 19, "strokes go on after the sound has failed: {said:?}");
    let files = Folder::new(&folder);
    let frames = frames_by_hound(&files);
    assert_eq!(frames, take.frames());
    assert_eq!(frames_by_python(&files), frames);
    assert_eq!(frames, (600 * 512 - 44) / 4, "all that found room is kept");
}
