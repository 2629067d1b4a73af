use timebase::{SampleRate, Seconds};

use super::*;
use crate::{Absence, Instrument, Role, SoundNote, Take};

fn at(ms: i64) -> Moment {
    Moment::ZERO + Seconds::from_millis(ms)
}

fn stroke(ms: i64) -> Stroke {
    Stroke { at: at(ms), note: 39, velocity: 100, released: None, origin: None, role: Role::Attack }
}

/// A recorder in a new folder, at 8 kHz so that seconds are short.
fn recorder(labels: &[&str]) -> (tempfile::TempDir, Recorder) {
    let rhythm = rhythm::text::read("title: Tin Roof\nmeter: 4/4\ntempo: quarter = 120\n| 1 2 & 3 (4) |");
    let rhythm = rhythm.rhythm.expect("a rhythm");
    let plan = sequencer::Plan::of(&rhythm);
    let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan);
    let rate = SampleRate::new(8_000).expect("in range");
    let mut header = Header::of(&rhythm, &sequence, SoundNote::new(rate), "2025-03-01T10:15:00Z");
    header.players = labels.iter().map(|label| PlayerNote::new(label, "pad")).collect();
    let dir = tempfile::tempdir().expect("a folder");
    let recorder = Recorder::begin(&dir.path().join("take"), header).expect("begun");
    (dir, recorder)
}

fn seconds(recorder: &mut Recorder, count: usize) {
    for _ in 0..count * 10 {
        recorder.audio(&[0.25; 800], &[-0.25; 800]).expect("written");
    }
}

/// Another pad's blow is no bouncing; neither is an attack, and neither goes into the MIDI file.
#[test]
fn cross_talk_is_told_from_bouncing() {
    let (_dir, mut recorder) = recorder(&["K07"]);
    recorder.stroke(0, stroke(2_000)).expect("kept");
    recorder.stroke(0, Stroke { role: Role::Bounce, ..stroke(2_010) }).expect("kept");
    recorder.stroke(0, Stroke { note: 45, role: Role::Crosstalk, ..stroke(2_030) }).expect("kept");
    let folder = recorder.finish(Ended::Finished, None).expect("finished");
    let journal = std::fs::read_to_string(folder.join("journal.jsonl")).expect("there");
    let marks: Vec<(bool, bool)> = journal
        .lines()
        .filter(|line| line.contains("\"record\":\"stroke\""))
        .map(|line| (line.contains("\"retrigger\":true"), line.contains("\"crosstalk\"")))
        .collect();
    assert_eq!(marks, [(false, false), (true, false), (true, true)]);
    let take = Take::open(&folder).expect("opened");
    let attacks =
        take.players()[0].strokes.iter().map(|stroke| stroke.role == Role::Attack).collect::<Vec<_>>();
    assert_eq!(attacks, [true, false, false]);
}

/// The disk fills up in the middle: the sound ends, whole up to there, and strokes go on.
#[test]
fn a_disk_with_little_room_ends_the_sound_and_not_the_strokes() {
    let (_dir, mut recorder) = recorder(&["K07"]);
    seconds(&mut recorder, 3);
    recorder.free = |_| Some(63 << 20);
    seconds(&mut recorder, 7);
    let error = recorder.audio(&[0.25; 800], &[0.25; 800]).expect_err("little room");
    assert!(matches!(error, Error::LittleSpace { free_mb: 63, .. }), "{error}");
    assert!(matches!(recorder.audio(&[0.25; 8], &[0.25; 8]), Err(Error::Ended { .. })), "told once");
    recorder.stroke(0, stroke(12_000)).expect("kept");
    let dir = recorder.finish(Ended::Finished, None).expect("finished");
    let take = Take::open(&dir).expect("a take");
    assert_eq!((take.frames(), take.players()[0].strokes.len()), (80_000, 1));
    assert!(take.sound_ended().is_some_and(|why| why.contains("63 MB")), "{:?}", take.sound_ended());
    let sound = crate::wav::read_wav(&dir.join("take.wav")).expect("sound");
    assert_eq!(sound.samples.len(), 160_000);
}

#[test]
fn a_finished_take_holds_everything() {
    let (_dir, mut recorder) = recorder(&["K07", "K11"]);
    seconds(&mut recorder, 2);
    recorder.stroke(0, stroke(2_251)).expect("kept");
    recorder.release(0, (None, 39), at(2_300)).expect("kept");
    recorder.stroke(1, Stroke { released: Some(at(2_900)), ..stroke(2_760) }).expect("kept");
    recorder.stroke(0, Stroke { role: Role::Bounce, ..stroke(2_262) }).expect("kept");
    let late = recorder.enter(PlayerNote::new("K11", "space bar")).expect("entered");
    recorder.stroke(late, stroke(2_755)).expect("kept");
    let disturbance = Disturbance { from: at(2_000), to: at(2_010), why: "dropout".to_owned() };
    recorder.disturbed(disturbance.clone()).expect("kept");
    seconds(&mut recorder, 2);
    let dir = recorder.finish(Ended::Finished, None).expect("finished");

    let take = Take::open(&dir).expect("a take");
    assert_eq!(take.header().title.as_deref(), Some("Tin Roof"));
    assert_eq!(take.header().bar_one, at(2_250), "250 ms of lead-in and a bar of count-in");
    assert_eq!(take.header().clicks.len(), 8);
    let labels: Vec<_> = take.players().iter().map(|player| player.label.as_str()).collect();
    assert_eq!(labels, ["K07", "K11", "K11 (2)"]);
    let strokes = &take.players()[0].strokes;
    assert_eq!(strokes[0], Stroke { released: Some(at(2_300)), ..stroke(2_251) });
    assert_eq!(strokes[1].role, Role::Bounce);
    assert_eq!(take.players()[1].strokes[0].released, Some(at(2_900)));
    assert_eq!(take.disturbed(), [disturbance]);
    assert_eq!((take.ended(), take.frames(), take.end()), (Some(Ended::Finished), 32_000, at(4_000)));

    let wav = crate::wav::read_wav(&take.folder().wav()).expect("a WAV file");
    assert_eq!((wav.channels, wav.length()), (2, Seconds::from_millis(4_000)));
    assert!(wav.channel(0).all(|sample| sample == 0.25) && wav.channel(1).all(|sample| sample == -0.25));

    // The MIDI file holds attacks: the pad's bouncing is left out.
    let midi = crate::midi::read_take(&fs::read(take.folder().midi()).expect("read")).expect("a take");
    assert_eq!(midi.bar_one, Some(at(2_250)));
    assert_eq!(midi.title.as_deref(), Some("Tin Roof"));
    let attacks: Vec<_> = midi.players.iter().map(|player| player.strokes.len()).collect();
    assert_eq!(attacks, [1, 1, 1]);
    assert_eq!(midi.clicks.len(), 8);
    assert!(!dir.join("take.mid.part").exists() && !dir.join("take.json.part").exists());
}

#[test]
fn a_take_without_its_journal_is_opened_from_the_midi_file() {
    let (_dir, mut recorder) = recorder(&["K07", "K11"]);
    recorder.stroke(1, stroke(2_251)).expect("kept");
    seconds(&mut recorder, 3);
    let dir = recorder.finish(Ended::Stopped, None).expect("finished");
    let before = Take::open(&dir).expect("a take");
    fs::remove_file(before.folder().journal()).expect("removed");
    let take = Take::open(&dir).expect("a take");
    let mut expected = before.header().clone();
    expected.clicks.retain(|click| click.at < at(3_000));
    assert_eq!(take.header(), &expected, "all but the clicks that never sounded");
    assert_eq!(take.players().len(), 2, "who never struck is still a player");
    assert_eq!(take.players()[1].strokes[0].at, at(2_251));
    assert_eq!((take.ended(), take.frames()), (Some(Ended::Stopped), 24_000));
}

#[test]
fn a_recorder_dropped_without_finish_leaves_a_take() {
    let (_dir, mut recorder) = recorder(&["K07"]);
    recorder.stroke(0, stroke(260)).expect("kept");
    seconds(&mut recorder, 1);
    recorder.audio(&[0.5; 400], &[0.5; 400]).expect("written");
    recorder.stroke(0, stroke(1_040)).expect("kept");
    let dir = recorder.dir().to_owned();
    assert!(matches!(Take::recover(&dir), Err(Error::InUse { .. })), "nobody recovers a running take");
    drop(recorder);
    let take = Take::open(&dir).expect("a take");
    assert_eq!((take.ended(), take.frames(), take.players()[0].strokes.len()), (None, 8_000, 2));
    let recovered = Take::recover(&dir).expect("recovered");
    assert_eq!(recovered.frames(), 8_400, "dropping writes what was buffered");
    let midi = crate::midi::read_take(&fs::read(recovered.folder().midi()).expect("read")).expect("a take");
    assert_eq!(midi.players[0].strokes.len(), 2);
    assert_eq!(Take::recover(&dir).expect("again").frames(), 8_400);
}

#[test]
fn the_midi_file_is_there_from_the_beginning_and_half_a_second_old_at_most() {
    let (_dir, mut recorder) = recorder(&["K07"]);
    let path = recorder.dir().join("take.mid");
    let strokes = || match crate::midi::read_take(&fs::read(&path).expect("read")) {
        Err(Error::NoPlayer { .. }) => 0,
        take => take.expect("a take").players[0].strokes.len(),
    };
    assert_eq!(strokes(), 0);
    // Carried on by sound.
    recorder.stroke(0, stroke(200)).expect("kept");
    recorder.stroke(0, stroke(300)).expect("kept");
    assert_eq!(strokes(), 0);
    seconds(&mut recorder, 1);
    assert_eq!(strokes(), 2);
    // And by strokes, where the sound has failed.
    recorder.stroke(0, stroke(1_300)).expect("kept");
    recorder.stroke(0, stroke(1_600)).expect("kept");
    assert_eq!(strokes(), 4);
}

/// It is written whole each time: twice a second of an hour with a section in it would be gigabytes.
#[test]
fn the_midi_file_of_a_long_take_is_written_seldom() {
    let (_dir, mut recorder) = recorder(&["K07"]);
    let path = recorder.dir().join("take.mid");
    let mut written = 0;
    let mut before = fs::read(&path).expect("read");
    for half_seconds in 1..=1_280 {
        recorder.stroke(0, stroke(half_seconds * 500)).expect("kept");
        let now = fs::read(&path).expect("read");
        written += usize::from(now != before);
        before = now;
    }
    // Each of the first 32 s twice, then for every 64th: 64 + 64 ln(640 / 32), and whole half seconds each.
    assert!((64 + 128..=64 + 192).contains(&written), "{written}");
}

#[test]
fn a_folder_with_a_take_in_it_is_refused() {
    let (_dir, recorder) = recorder(&["K07"]);
    let (dir, header) = (recorder.dir().to_owned(), recorder.header.clone());
    drop(recorder);
    let error = Recorder::begin(&dir, header).expect_err("refused").to_string();
    assert!(error.contains("already holds a take: choose another folder"), "{error}");
}

#[test]
fn what_cannot_be_in_a_take_is_refused() {
    let (_dir, mut recorder) = recorder(&["click", " ", "K07\n"]);
    let labels: Vec<_> = recorder.header.players.iter().map(|note| note.label.as_str()).collect();
    assert_eq!(labels, ["click (player)", "player 2", "K07"]);
    let check = |result: Result<(), Error>, because: &str| {
        let error = result.expect_err("refused").to_string();
        assert!(error.contains(because), "{error:?} does not contain {because:?}");
    };
    check(recorder.stroke(3, stroke(0)), "there is no player 3 in this take: it has 3");
    check(recorder.stroke(0, stroke(-1)), "length of a take in seconds");
    check(recorder.stroke(0, stroke(90_000_000)), "from 0 to 86400");
    check(recorder.audio(&[0.0], &[]), "both channels of a take are equally long");
    recorder.strokes = STROKES.most;
    check(recorder.stroke(0, stroke(0)), "500001 is not a number of strokes");
}

#[test]
fn a_folder_without_a_take_is_said_plainly() {
    let dir = tempfile::tempdir().expect("a folder");
    let error = Take::open(dir.path()).expect_err("nothing there").to_string();
    assert!(error.contains("holds no take: there is neither a journal.jsonl nor a take.json"), "{error}");
}

/// The journal fails as on a full disk: the call that meets it says so, and every later one that it has ended.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_ends_the_recording_with_a_typed_error() {
    let (_dir, mut recorder) = recorder(&["K07"]);
    recorder.stroke(0, stroke(100)).expect("kept");
    let dir = recorder.dir().to_owned();
    recorder.journal = Journal::to_a_full_disk(&dir.join("journal.jsonl"));
    assert!(matches!(recorder.stroke(0, stroke(200)), Err(Error::DiskFull { .. })));
    let error = recorder.stroke(0, stroke(300)).expect_err("ended").to_string();
    assert!(error.starts_with("the recording has ended: the disk is full"), "{error}");
    drop(recorder);
    assert_eq!(Take::open(&dir).expect("a take").players()[0].strokes.len(), 1);
}

/// What the engine learns while a take is played is known when it is opened, finished or killed.
#[test]
fn what_became_of_players_is_kept() {
    for killed in [false, true] {
        let (_folder, mut recorder) = recorder(&["K07"]);
        let dir = recorder.dir().to_owned();
        let keys = PlayerNote { instrument: Some(Instrument::Keys), ..PlayerNote::new("K11", "keys") };
        let number = recorder.enter(keys).expect("entered");
        recorder.absent(number, at(0)).expect("kept");
        recorder.back(number, at(500)).expect("kept");
        recorder.stroke(number, stroke(1_000)).expect("kept");
        recorder.stroke(number, stroke(1_040)).expect("kept");
        recorder.grace(number, at(1_000), 39).expect("kept");
        recorder.stamped(number, Seconds::from_millis(3), Some(Seconds::from_millis(5))).expect("kept");
        recorder.stamped(number, Seconds::from_millis(1), None).expect("no finer");
        recorder.absent(number, at(1_200)).expect("kept");
        // Told when it was over, while something else has begun; what lies within it is nothing new.
        recorder.unheard(number, at(700)..at(900)).expect("kept");
        recorder.unheard(number, at(1_300)..at(1_400)).expect("kept");
        recorder.heard_until(at(2_400));
        if killed {
            drop(recorder);
        } else {
            recorder.finish(Ended::Stopped, None).expect("finished");
        }
        let mut folders = vec![Take::open(&dir).expect("a take")];
        if !killed {
            // Without the journal the other files tell the same of the players.
            std::fs::remove_file(dir.join("journal.jsonl")).expect("removed");
            folders.push(Take::open(&dir).expect("a take"));
        }
        for (index, take) in folders.iter().enumerate() {
            let note = &take.header().players[1];
            assert_eq!(
                (note.instrument, note.resolution),
                (Some(Instrument::Keys), Some(Seconds::from_millis(3)))
            );
            let absences = [(0, Some(500)), (700, Some(900)), (1_200, None)]
                .map(|(from, to)| Absence { from: at(from), to: to.map(at) });
            assert_eq!(note.absent, absences);
            if index == 0 {
                let roles: Vec<_> = take.players()[1].strokes.iter().map(|stroke| stroke.role).collect();
                assert_eq!(roles, [Role::Grace, Role::Attack]);
            }
            let expected = if killed { at(1_040) } else { at(2_400) };
            assert_eq!(take.heard_until(), Some(expected));
        }
    }
}
