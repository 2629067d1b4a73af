use timebase::SampleRate;

use super::*;
use crate::{Recorder, SoundNote};

fn finished() -> (tempfile::TempDir, Folder) {
    let rhythm = rhythm::text::read("meter: 4/4\n| 1 2 3 4 |").rhythm.expect("a rhythm");
    let plan = sequencer::Plan::of(&rhythm);
    let sequence = sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan);
    let header = Header::of(&rhythm, &sequence, SoundNote::new(SampleRate::HZ_48000), "2025-03-01T10:15:00Z");
    let dir = tempfile::tempdir().expect("a folder");
    let recorder = Recorder::begin(&dir.path().join("take"), header).expect("begun");
    let folder = Folder::new(&recorder.finish(Ended::Finished, None).expect("finished"));
    (dir, folder)
}

#[track_caller]
fn check_description_refused(change: impl Fn(&str) -> String, because: &str) {
    let (_dir, folder) = finished();
    let text = fs::read_to_string(folder.description()).expect("read");
    fs::write(folder.description(), change(&text)).expect("written");
    let error = Take::open(folder.dir()).expect_err("refused").to_string();
    assert!(error.contains(because), "{error:?} does not contain {because:?}");
}

#[test]
fn a_damaged_description_is_told_with_what_to_do() {
    check_description_refused(|_| "nonsense".to_owned(), "is no description of a take");
    check_description_refused(
        |text| text[..text.len() / 2].to_owned(),
        "restore it from a copy, or remove it",
    );
    check_description_refused(|text| text.replacen("\"version\": 1", "\"version\": 9", 1), "is of version 9");
    // Without the description the journal tells all but the judgement.
    let (_dir, folder) = finished();
    let before = Take::open(folder.dir()).expect("a take");
    fs::remove_file(folder.description()).expect("removed");
    let after = Take::open(folder.dir()).expect("a take");
    assert_eq!(
        (after.header(), after.players(), after.frames()),
        (before.header(), before.players(), before.frames())
    );
}

/// Killed while it was being finished: the journal tells of the end, the description not yet.
#[test]
fn a_take_killed_at_its_very_end_is_completed() {
    let (_dir, folder) = finished();
    let text = fs::read_to_string(folder.description()).expect("read");
    let begun = text.replacen("\"ended\": \"finished\"", "\"ended\": null", 1);
    assert_ne!(begun, text);
    fs::write(folder.description(), begun).expect("written");
    fs::remove_file(folder.midi()).expect("removed");
    let take = Take::recover(folder.dir()).expect("recovered");
    assert_eq!(take.ended(), Some(Ended::Finished));
    assert_eq!(fs::read_to_string(folder.description()).expect("read"), text);
    assert!(folder.midi().exists());
}

#[test]
fn the_description_is_readable_and_complete() {
    let (_dir, folder) = finished();
    let text = fs::read_to_string(folder.description()).expect("read");
    let value: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let keys: Vec<_> = value.as_object().expect("an object").keys().map(String::as_str).collect();
    let mut expected = [
        "version",
        "title",
        "rhythm",
        "tempo",
        "count_in_bars",
        "recorded_at",
        "bar_one_ms",
        "players",
        "sound",
        "ended",
        "frames",
        "sound_ended",
        "disturbed",
        "judgement",
    ];
    expected.sort_unstable();
    let mut sorted = keys;
    sorted.sort_unstable();
    assert_eq!(sorted, expected);
    assert!(
        text.starts_with("{\n  \"version\": 1,\n  \"title\": null,\n  \"rhythm\": \"meter: 4/4"),
        "{text}"
    );
    assert_eq!(value["ended"], "finished");
}
