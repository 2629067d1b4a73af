use proptest::prelude::*;
use timebase::Seconds;

use super::*;
use crate::midi::write_take;

/// A file of this format, division and tracks, each track's events given without the end of track.
fn file(format: u16, division: u16, tracks: &[&[u8]]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06".to_vec();
    bytes.extend(format.to_be_bytes());
    bytes.extend(u16::try_from(tracks.len()).expect("few tracks").to_be_bytes());
    bytes.extend(division.to_be_bytes());
    for events in tracks {
        bytes.extend(chunk(b"MTrk", &[*events, b"\0\xFF\x2F\0"].concat()));
    }
    bytes
}

fn chunk(name: &[u8; 4], data: &[u8]) -> Vec<u8> {
    let length = u32::try_from(data.len()).expect("a short chunk").to_be_bytes();
    [name.as_slice(), &length, data].concat()
}

fn meta(kind: u8, text: &str) -> Vec<u8> {
    let length = u8::try_from(text.len()).expect("a short text");
    [&[0, 0xFF, kind, length], text.as_bytes()].concat()
}

/// Each player's label and attacks in ms.
fn played(bytes: &[u8]) -> Vec<(String, Vec<f64>)> {
    let take = read_take(bytes).expect("a take");
    let player = |player: Player| {
        (player.label, player.strokes.iter().map(|stroke| stroke.at.as_millis_f64()).collect())
    };
    take.players.into_iter().map(player).collect()
}

#[track_caller]
fn check(bytes: &[u8], expected: &[(&str, &[f64])]) {
    let expected: Vec<_> = expected.iter().map(|(label, ms)| ((*label).to_owned(), ms.to_vec())).collect();
    assert_eq!(played(bytes), expected);
}

#[track_caller]
fn check_refused(bytes: &[u8], because: &str) {
    let error = read_take(bytes).expect_err("refused").to_string();
    assert!(error.contains(because), "{error:?} does not contain {because:?}");
}

/// Tick 0 on, 100 off, 100 later on again: quarters of 480 ticks at 120 are 500 ms.
const TWO_STROKES: &[u8] =
    &[0x00, 0x99, 38, 100, 0x60, 0x89, 38, 0, 0x83, 0x00, 0x99, 38, 90, 0x60, 0x89, 38, 0];

#[test]
fn one_player_a_track() {
    let named = [meta(3, "K07"), TWO_STROKES.to_vec()].concat();
    let title = meta(3, "Tin Roof");
    check(
        &file(1, 480, &[&title, &named, TWO_STROKES]),
        &[("K07", &[0.0, 500.0]), ("track 3", &[0.0, 500.0])],
    );
    let take = read_take(&file(1, 480, &[&title, &named])).expect("a take");
    assert_eq!(take.title.as_deref(), Some("Tin Roof"));
    assert_eq!(take.end.as_millis_f64(), 600.0);
    let stroke = take.players[0].strokes[1];
    assert_eq!((stroke.note, stroke.velocity), (38, 90));
    assert_eq!(stroke.released.map(Moment::as_millis_f64), Some(600.0));
    // Two tracks of one name stay two players.
    let labels: Vec<_> =
        played(&file(1, 480, &[&named, &named])).into_iter().map(|(label, _)| label).collect();
    assert_eq!(labels, ["K07", "K07 (2)"]);
}

#[test]
fn one_player_a_channel_of_a_single_track() {
    let events = [0x00, 0x90, 60, 64, 0x60, 0x80, 60, 0, 0x00, 0x99, 38, 64, 0x60, 0x89, 38, 0];
    check(&file(0, 480, &[&events]), &[("channel 1", &[0.0]), ("channel 10", &[100.0])]);
    // Beside a track without notes and a click it is still the single one.
    let click = [meta(3, "click"), TWO_STROKES.to_vec()].concat();
    let title = meta(3, "Tin Roof");
    check(&file(1, 480, &[&title, &click, &events]), &[("channel 1", &[0.0]), ("channel 10", &[100.0])]);
    // With two tracks of players, a track is a player whatever its channels.
    let tracks: &[&[u8]] = &[&events, TWO_STROKES];
    check(&file(1, 480, tracks), &[("track 1", &[0.0, 100.0]), ("track 2", &[0.0, 500.0])]);
    // What is played on another channel than the percussion one is played on keys.
    let on_keys = read_take(&file(0, 480, &[&events])).expect("a take").on_keys;
    assert_eq!(on_keys.iter().collect::<Vec<_>>(), ["channel 1"]);
}

#[test]
fn the_click_is_no_player() {
    for name in ["click", "Click", " CLICK "] {
        let click =
            [meta(3, name), vec![0x00, 0x99, 76, 100, 0x60, 76, 0, 0x00, 77, 90, 0x60, 77, 0]].concat();
        let bytes = file(1, 480, &[&click, TWO_STROKES]);
        check(&bytes, &[("track 2", &[0.0, 500.0])]);
        let clicks = read_take(&bytes).expect("a take").clicks;
        let clicks: Vec<_> = clicks.iter().map(|click| (click.at.as_millis_f64(), click.accented)).collect();
        assert_eq!(clicks, [(0.0, true), (100.0, false)]);
    }
    let click = [meta(3, "click"), TWO_STROKES.to_vec()].concat();
    check_refused(&file(1, 480, &[&click]), "nobody plays in this MIDI file: of its 1 tracks");
    check_refused(&file(1, 480, &[]), "nobody plays");
    check_refused(&file(1, 480, &[TWO_STROKES; 1_001]), "1001 is not a number of players that is allowed");
}

#[test]
fn running_status_and_velocity_nothing() {
    // One status byte for all; velocity 0 ends a note (a note-on with velocity 0 is a note-off: MIDI 1.0).
    let events = [0x00, 0x99, 38, 100, 0x60, 38, 0, 0x60, 38, 80, 0x60, 38, 0];
    let take = read_take(&file(0, 480, &[&events])).expect("a take");
    let strokes = &take.players[0].strokes;
    let ms: Vec<_> =
        strokes.iter().map(|s| (s.at.as_millis_f64(), s.released.map(Moment::as_millis_f64))).collect();
    assert_eq!(ms, [(0.0, Some(100.0)), (200.0, Some(300.0))]);
    // A note never ended is a stroke all the same; an end without a beginning is nothing.
    let events = [0x00, 0x89, 40, 0, 0x60, 0x99, 38, 100];
    let take = read_take(&file(0, 480, &[&events])).expect("a take");
    assert_eq!(take.players[0].strokes.len(), 1);
    assert_eq!(take.players[0].strokes[0].released, None);
}

#[test]
fn tempo_changes_hold_wherever_they_stand() {
    // 480 ticks at 1,000,000 µs a quarter, then 250,000; one change stands in the player's own track.
    let conductor = [0x00, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40];
    let events = [&[0x83, 0x60, 0xFF, 0x51, 3, 0x03, 0xD0, 0x90][..], &[0x83, 0x60, 0x99, 38, 100]].concat();
    check(&file(1, 480, &[&conductor, &events]), &[("track 2", &[1_250.0])]);
    let zero = [0x00, 0xFF, 0x51, 3, 0, 0, 0];
    check_refused(&file(1, 480, &[&zero, TWO_STROKES]), "track 1 of this MIDI file sets a tempo of 0");
}

#[test]
fn smpte_time_is_understood() {
    // 25 frames a second of 40 ticks: a tick is a millisecond, and tempo events mean nothing.
    let conductor = [0x00, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40];
    check(&file(1, 0xE728, &[&conductor, TWO_STROKES]), &[("track 2", &[0.0, 480.0])]);
    check_refused(&file(0, 0xE700, &[TWO_STROKES]), "0xe700");
    check_refused(&file(0, 0, &[TWO_STROKES]), "1 to 32767 ticks a quarter");
}

#[test]
fn the_marker_says_where_bar_one_is() {
    let bar_one = |markers: &[&str]| {
        let mut conductor = Vec::new();
        for (index, text) in markers.iter().enumerate() {
            let mut marker = meta(6, text);
            marker[0] = u8::try_from(index).expect("few markers") * 48;
            conductor.extend(marker);
        }
        read_take(&file(1, 480, &[&conductor, TWO_STROKES]))
            .expect("a take")
            .bar_one
            .map(Moment::as_millis_f64)
    };
    assert_eq!(bar_one(&[]), None);
    assert_eq!(bar_one(&["verse", "bar 1"]), Some(50.0));
    assert_eq!(bar_one(&["verse", "Bar 1"]), Some(50.0));
    assert_eq!(bar_one(&["start"]), Some(0.0));
    assert_eq!(bar_one(&["verse", "chorus"]), None);
}

#[test]
fn files_that_are_none_are_refused_with_what_to_do() {
    check_refused(b"", "it begins with nothing (it is empty)");
    check_refused(b"RIFF\0\0\0\0", "it begins with `RIFF` where `MThd` is expected");
    check_refused(b"MThd", "cut off: the header says it holds 6 bytes, and 0 are there");
    check_refused(b"MThd\0\0\0\x06\0\x01", "cut off: the header says it holds 6 bytes, and 2 are there");
    check_refused(b"MThd\0\0\0\x02\0\x01", "the header says it holds 6 bytes, and 2 are there");
    check_refused(&file(2, 480, &[TWO_STROKES]), "format 2: its tracks are pieces of their own");
    check_refused(&file(7, 480, &[TWO_STROKES]), "format 7: there is no such format");
    let whole = file(1, 480, &[TWO_STROKES, TWO_STROKES]);
    check_refused(&whole[..whole.len() - 1], "cut off: track 2 says it holds 21 bytes, and 20 are there");
    check_refused(&whole[..14 + 8 + 21], "its header says 2 tracks, and 1 are there");
}

/// The library would stop silently at a damaged event, and the notes after it would be lost without a word.
#[test]
fn a_damaged_event_is_an_error_and_not_the_end_of_the_track() {
    // A data byte where a status byte has to be, at byte 14 + 8 of the file.
    check_refused(
        &file(0, 480, &[&[0x00, 0x40, 0x40]]),
        "track 1 of this MIDI file cannot be read from byte 22",
    );
    // A text that says it is longer than the track swallows what follows.
    let events = [&[0x00, 0xFF, 0x01, 0x7F, b'x'][..], TWO_STROKES].concat();
    check_refused(&file(0, 480, &[&events]), "byte 22");
    // A key above 127.
    check_refused(&file(0, 480, &[&[0x00, 0x99, 0x80, 0x40]]), "byte 22");
}

#[test]
fn what_is_unknown_is_passed_over() {
    let mut bytes = file(0, 480, &[TWO_STROKES]);
    // A chunk of another name, and zeros behind the end.
    let foreign = chunk(b"XFIH", b"anything");
    bytes.splice(14..14, foreign);
    bytes.extend([0; 5]);
    check(&bytes, &[("track 1", &[0.0, 500.0])]);
    // Controllers, system exclusive, key signature, an unknown meta event.
    let noise = [
        &[0x00, 0xB9, 7, 100][..],
        &[0x00, 0xF0, 3, 0x7E, 0x7F, 0xF7],
        &[0x00, 0xFF, 0x59, 2, 0, 0],
        &[0x00, 0xFF, 0x60, 1, 0],
        TWO_STROKES,
    ]
    .concat();
    check(&file(0, 480, &[&noise]), &[("track 1", &[0.0, 500.0])]);
    // A track that ends without saying so, as some programs leave it.
    let mut bytes = b"MThd\0\0\0\x06\0\0\0\x01\x01\xE0".to_vec();
    bytes.extend(chunk(b"MTrk", TWO_STROKES));
    check(&bytes, &[("track 1", &[0.0, 500.0])]);
}

#[test]
fn names_in_latin_1_are_read() {
    let events = [&[0x00, 0xFF, 0x03, 4, b'J', b'o', 0xEB, b'l'][..], TWO_STROKES].concat();
    check(&file(0, 480, &[&events]), &[("Joël", &[0.0, 500.0])]);
}

#[test]
fn a_take_of_more_than_a_day_is_refused() {
    // 0x0FFFFFFF ticks at one tick a quarter of half a second.
    let events = [0xFF, 0xFF, 0xFF, 0x7F, 0x99, 38, 100];
    check_refused(&file(0, 1, &[&events]), "length of a take in seconds");
}

proptest! {
    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = read_take(&bytes);
    }

    #[test]
    fn no_track_panics(events in prop::collection::vec(any::<u8>(), 0..400), division in any::<u16>()) {
        let _ = read_take(&file(1, division, &[&events, TWO_STROKES]));
    }

    #[test]
    fn a_damaged_take_panics_nobody(at in 0usize..200, byte in any::<u8>(), cut in 0usize..200) {
        let stroke = |n: i64| Stroke {
            at: Moment::ZERO + Seconds::from_millis(n * 250),
            note: 39,
            velocity: 100,
            released: None,
            origin: None,
            role: Role::Attack,
        };
        let player = Player { label: "K07".to_owned(), strokes: (0..20).map(stroke).collect() };
        let take = MidiTake { players: vec![player], ..MidiTake::default() };
        let mut bytes = write_take(&take).expect("within a day");
        let (at, cut) = (at % bytes.len(), cut % bytes.len());
        bytes[at] = byte;
        let _ = read_take(&bytes);
        let _ = read_take(&bytes[..cut]);
    }
}
