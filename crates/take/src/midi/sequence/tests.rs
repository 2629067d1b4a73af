use midly::{MidiMessage, Smf, TrackEventKind};
use proptest::prelude::*;
use sequencer::{Levels, Plan};
use timebase::{Seconds, Tempo};

use super::*;
use crate::midi::{CLICK_KEY, DIVISION_VELOCITY, read_take};
use crate::{Player, Role, Stroke};

fn sequence(text: &str, bpm: &str, count_in: u32) -> Sequence {
    let reading = rhythm::text::read(text);
    let rhythm = reading.rhythm.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics));
    let bpm = Tempo::parse_bpm(bpm).expect("a tempo");
    let plan = Plan::of(&rhythm).with_bpm(bpm).and_then(|plan| plan.with_count_in(count_in)).expect("a plan");
    sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan)
}

fn bytes(text: &str, bpm: &str, count_in: u32) -> Vec<u8> {
    write_sequence(&sequence(text, bpm, count_in), Some("Tin Roof"), Levels::default().muted).expect("a file")
}

/// Whether `bytes` holds `part`.
fn holds(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

#[track_caller]
fn check_holds(text: &str, bpm: &str, count_in: u32, part: &[u8]) {
    assert!(holds(&bytes(text, bpm, count_in), part), "{text} at {bpm}: no {part:02X?}");
}

/// The tempo and meter events of the SMF specification: microseconds a quarter whatever the meter, 24 clocks a quarter.
/// (120 = `FF 51 03 07 A1 20`, 4/4 = `04 02 18 08`, 6/8 = `06 03 24 08`: read or computed; the others computed from the same rule.)
#[test]
fn meta_events_are_as_the_format_has_them() {
    check_holds("meter: 4/4\n| 1 2 3 4 |", "120", 1, b"\xFF\x51\x03\x07\xA1\x20");
    check_holds("meter: 4/4\n| 1 2 3 4 |", "120", 1, b"\xFF\x58\x04\x04\x02\x18\x08");
    // A dotted quarter of 80 to the minute is a quarter of 120.
    check_holds("meter: 6/8\n| 1 2 |", "80", 1, b"\xFF\x51\x03\x07\xA1\x20");
    check_holds("meter: 6/8\n| 1 2 |", "80", 1, b"\xFF\x58\x04\x06\x03\x24\x08");
    check_holds("meter: 6/8 in 6\n| 1 2 |", "80", 1, b"\xFF\x58\x04\x06\x03\x0C\x08");
    check_holds("meter: 2/2\n| 1 2 |", "60", 1, b"\xFF\x58\x04\x02\x01\x30\x08");
    check_holds("meter: 2/2\n| 1 2 |", "60", 1, b"\xFF\x51\x03\x07\xA1\x20");
    check_holds("meter: 3/4\n| 1 2 3 |", "87.5", 1, b"\xFF\x51\x03\x0A\x76\x92");
    check_holds("meter: 4/4\n| 1 2 3 4 |", "120", 0, b"\xFF\x06\x05bar 1");
    check_holds("meter: 4/4\n| 1 2 3 4 |", "120", 0, b"\xFF\x03\x08Tin Roof");
    check_holds("meter: 4/4\n| 1 2 & 3 (4) |", "120", 0, b"\xFF\x05\x01&");
}

/// Accents and the loudness of bars are velocities: 40 log10(v/127) dB is how loud a synthesizer sounds one, so that 4 dB more
/// than 100 is 126, 6 dB less 71, and what is louder than a velocity can say the hardest there is.
#[test]
fn accents_and_loudness_are_velocities() {
    let bytes = bytes("| 1 2 3 4 | 1 2 (3 4) |\naccents: | > ^ . . | |\ndynamics: | | p |", "120", 0);
    let smf = Smf::parse(&bytes).expect("our own file");
    let struck = smf.tracks[2].iter().filter_map(|event| match event.kind {
        TrackEventKind::Midi { message: MidiMessage::NoteOn { vel, .. }, .. } if vel > 0 => {
            Some(vel.as_int())
        }
        _ => None,
    });
    assert_eq!(struck.collect::<Vec<_>>(), [126, 127, 100, 100, 71, 71]);
}

/// The beginning and end of every note of a track, in ticks, and its key.
fn notes(bytes: &[u8], track: usize) -> Vec<(u32, u32, u8)> {
    let smf = Smf::parse(bytes).expect("our own file");
    let mut tick = 0;
    let mut notes: Vec<(u32, u32, u8)> = Vec::new();
    for event in &smf.tracks[track] {
        tick += event.delta.as_int();
        match event.kind {
            TrackEventKind::Midi { channel, message: MidiMessage::NoteOn { key, .. } } => {
                assert_eq!(channel, super::super::PERCUSSION_CHANNEL);
                notes.push((tick, 0, key.as_int()));
            }
            TrackEventKind::Midi { message: MidiMessage::NoteOff { key, .. }, .. } => {
                let open = notes.iter_mut().find(|note| note.1 == 0 && note.2 == key.as_int());
                open.expect("an end has a beginning").1 = tick;
            }
            _ => {}
        }
    }
    notes
}

#[test]
fn attacks_are_held_as_long_as_they_are_written() {
    // Over the bar line and through a tie; a rest ends the note.
    let bytes =
        bytes("meter: 4/4\n| 1 2 & 3 (4) | _1 2 3 (4) |".replace("(4) | _1", "4 | _1").as_str(), "90", 0);
    let quarters: Vec<_> =
        notes(&bytes, 2).iter().map(|note| (f64::from(note.0) / 960.0, f64::from(note.1) / 960.0)).collect();
    assert_eq!(
        quarters,
        [(0.0, 1.0), (1.0, 1.5), (1.5, 2.0), (2.0, 3.0), (3.0, 5.0), (5.0, 6.0), (6.0, 7.0)]
    );
}

#[test]
fn the_file_begins_with_the_count_in() {
    let bytes = bytes("meter: 3/4\n| 1 2 3 |", "90", 2);
    let clicks = notes(&bytes, 1);
    let keys: Vec<_> = clicks.iter().map(|note| note.2).collect();
    assert_eq!(keys, [76, 77, 77, 76, 77, 77, 76, 77, 77]);
    assert_eq!(clicks[3].0, 3 * 960);
    assert_eq!(notes(&bytes, 2)[0].0, 6 * 960);
    let take = read_take(&bytes).expect("a take");
    assert_eq!(take.bar_one.map(Moment::as_millis_f64), Some(4_000.002), "666667 µs a quarter");
}

#[test]
fn a_pickup_without_a_count_in_begins_with_a_short_bar() {
    let text = "meter: 4/4\n4 & | 1 2 3 4 |";
    check_holds(text, "120", 0, b"\xFF\x58\x04\x01\x02\x18\x08");
    // The full meter follows a quarter later: 960 ticks are 87 40.
    check_holds(text, "120", 0, b"\x87\x40\xFF\x58\x04\x04\x02\x18\x08");
    let with_count_in = bytes(text, "120", 1);
    assert!(!holds(&with_count_in, b"\xFF\x58\x04\x01"), "with a count-in the bars are whole");
}

#[test]
fn a_change_of_meter_stands_where_it_begins() {
    let bytes = bytes("meter: 4/4\n| 1 2 3 4 | [6/8] 1 2 |", "90", 0);
    // 4 quarters of 960 ticks are 9E 00; the marker and the first meter stand at 0.
    assert!(holds(&bytes, b"\x9E\x00\xFF\x58\x04\x06\x03\x24\x08"));
}

/// The numerator and the power of two of every time signature, each with its tick in quarters.
fn signatures(bytes: &[u8]) -> Vec<(u32, u8, u8)> {
    let smf = Smf::parse(bytes).expect("our own file");
    let mut tick = 0;
    let mut found = Vec::new();
    for event in &smf.tracks[0] {
        tick += event.delta.as_int();
        if let TrackEventKind::Meta(MetaMessage::TimeSignature(beats, power, ..)) = event.kind {
            found.push((tick / 960, beats, power));
        }
    }
    found
}

#[test]
fn bars_that_are_cut_have_a_meter_of_their_own() {
    let cut = "meter: 4/4\n|: 1 2 3 4 | [lasts 1/2] 1 2 :| [from 1/2] 3 4 | 1 2 3 4 |";
    let found = signatures(&bytes(cut, "100", 1));
    // Counted in and bar 1 in 4/4; bar 2 is half; bar 1; both halves of bar 2; bar 3.
    assert_eq!(found, [(0, 4, 2), (8, 2, 2), (10, 4, 2), (14, 2, 2), (18, 4, 2)]);
    let pickup = "meter: 4/4\n|: 4 | 1 2 3 4 | [lasts 3/4] 1 2 3 :| 1 2 3 4 |";
    let found = signatures(&bytes(pickup, "90", 0));
    let expected = [(0, 1, 2), (1, 4, 2), (5, 3, 2), (8, 1, 2), (9, 4, 2), (13, 3, 2), (16, 4, 2)];
    assert_eq!(found, expected);
}

/// The beginning of a group sounds 4 dB softer than count 1: 40 log10(95/120) is -4.06.
#[test]
fn groups_are_accented_and_are_no_count_one() {
    let bytes = bytes("meter: 7/8 2+2+3\n| 1 2 3 4 5 6 7 |", "240", 0);
    let smf = Smf::parse(&bytes).expect("our own file");
    let struck = smf.tracks[1].iter().filter_map(|event| match event.kind {
        TrackEventKind::Midi { message: MidiMessage::NoteOn { key, vel }, .. } => {
            Some((key.as_int(), vel.as_int()))
        }
        _ => None,
    });
    let struck: Vec<_> = struck.collect();
    assert_eq!(struck, [(76, 120), (77, 90), (76, 95), (77, 90), (76, 95), (77, 90), (77, 90)]);
    let take = read_take(&bytes).expect("a take");
    let accented: Vec<bool> = take.clicks.iter().map(|click| click.accented).collect();
    assert_eq!(accented, [true, false, false, false, false, false, false]);
}

/// A flam is 40 ms before its note, a roll of one slash has eighths; a note ends where the next stroke begins.
#[test]
fn grace_strokes_and_rolls_are_written() {
    let text = "meter: 4/4\n| 1 2 3 (4) |\nstrokes: | . flam / |";
    let bytes = bytes(text, "60", 0);
    let quarters: Vec<_> =
        notes(&bytes, 2).iter().map(|note| (f64::from(note.0) / 960.0, f64::from(note.1) / 960.0)).collect();
    let graced = (1.0 - 0.04_f64) * 960.0;
    let graced = graced.round() / 960.0;
    assert_eq!(quarters, [(0.0, graced), (graced, 1.0), (1.0, 2.0), (2.0, 2.5), (2.5, 3.0)]);
}

#[test]
fn tempi_that_a_file_cannot_say_are_refused() {
    // 20 thirty-seconds a minute are 24 s a quarter; the format ends at 16.78.
    let error = write_sequence(&sequence("meter: 2/32\n| 1 2 |", "20", 0), None, Levels::default().muted)
        .expect_err("too slow")
        .to_string();
    assert!(error.contains("24000000") && error.contains("16777215"), "{error}");
}

#[test]
fn places_decide_how_fine_the_ticks_are() {
    let check = |places: &[(i64, i64)], expected| {
        assert_eq!(ticks_per_quarter(places.iter().map(|&(n, d)| Span::new(n, d))), expected, "{places:?}");
    };
    check(&[], 960);
    check(&[(1, 32), (1, 24), (1, 48), (3, 20), (1, 64)], 960);
    check(&[(1, 28)], 6_720);
    check(&[(1, 28), (1, 36)], 20_160);
    // Sevenths, ninths and elevenths together: 221,760 does not fit, and places are rounded.
    check(&[(1, 28), (1, 36), (1, 44)], 32_640);
}

#[test]
fn bars_are_marked_as_they_are_played() {
    let smf = bytes("meter: 2/4\n|: 1 2 :| 1 & 2 |", "120", 1);
    let smf = Smf::parse(&smf).expect("our own file");
    let mut tick = 0;
    let mut markers = Vec::new();
    for event in &smf.tracks[0] {
        tick += event.delta.as_int();
        if let TrackEventKind::Meta(MetaMessage::Marker(text)) = event.kind {
            markers.push((tick / 960, String::from_utf8_lossy(text).into_owned()));
        }
    }
    let expected = [(0, "count-in"), (2, "bar 1"), (4, "bar 1 pass 2"), (6, "bar 2")];
    assert_eq!(markers, expected.map(|(quarter, label)| (quarter, label.to_owned())));
}

fn player(label: &str, strokes_ms: &[f64]) -> Player {
    let stroke = |&ms: &f64| Stroke {
        at: Moment::ZERO + Seconds::from_millis_f64(ms),
        note: 38,
        velocity: 77,
        released: None,
        origin: None,
        role: Role::Attack,
    };
    Player { label: label.to_owned(), strokes: strokes_ms.iter().map(stroke).collect() }
}

/// The strokes of a take come back where they fell against bar 1, within half a tick (31 µs at 60 a minute) and what the tempo's
/// microseconds cost.
#[test]
fn players_stand_in_the_musical_time_of_the_sequence() {
    for (text, bpm) in [("meter: 4/4\n| 1 2 & 3 (4) | 1 2 3 4 |", "60"), ("meter: 6/8\n| 1 la li 2 |", "77")]
    {
        let sequence = sequence(text, bpm, 1);
        let strokes = [[3_000.0, 3_412.345, 5_000.5, 9_999.0], [2_990.0, 3_500.0, 4_000.0, 60_000.0]];
        let players = [player("K07", &strokes[0]), player("rhythm", &strokes[1]), player("click", &[])];
        let bar_one = Moment::ZERO + Seconds::from_millis(3_000);
        let bytes =
            write_sequence_played(&sequence, Some("Tin Roof"), Levels::default().muted, &players, bar_one)
                .expect("a file");
        let read = read_take(&bytes).expect("a take");
        let labels: Vec<&str> = read.players.iter().map(|player| player.label.as_str()).collect();
        assert_eq!(
            labels,
            ["rhythm", "K07", "rhythm (2)"],
            "one without strokes has a track and is no player"
        );
        let begins = read.bar_one.expect("the marker");
        for (read, written) in read.players[1..].iter().zip(strokes) {
            let found: Vec<f64> =
                read.strokes.iter().map(|stroke| (stroke.at - begins).as_millis_f64() + 3_000.0).collect();
            for (found, written) in found.iter().zip(written) {
                assert!((found - written).abs() < 0.1, "{found} {written}");
            }
            assert!(read.strokes.iter().all(|stroke| (stroke.note, stroke.velocity) == (38, 77)));
        }
    }
}

#[test]
fn a_stroke_before_the_file_begins_stands_at_its_beginning() {
    let sequence = sequence("meter: 4/4\n| 1 2 3 4 |", "60", 0);
    let bar_one = Moment::ZERO + Seconds::from_millis(500);
    let bytes = write_sequence_played(
        &sequence,
        None,
        Levels::default().muted,
        &[player("K07", &[300.0, 500.0])],
        bar_one,
    )
    .expect("a file");
    let read = read_take(&bytes).expect("a take");
    let at: Vec<f64> = read.players[1].strokes.iter().map(|stroke| stroke.at.as_millis_f64()).collect();
    assert_eq!(at, [0.0, 0.0]);
    let far = player("K07", &[90_000_000_000.0]);
    assert!(write_sequence_played(&sequence, None, Levels::default().muted, &[far], bar_one).is_err());
}

const TEXTS: [&str; 6] = [
    "meter: 4/4\n| 1 2 & 3 (4) | 1 e & a 2 _3 4 |",
    "meter: 6/8\n| 1 la li 2 _la li | (1) li 2 |",
    "meter: 4/4\n| 1 la li 2 (3) & 4 | _1 2 3 4 |",
    "meter: 2/2\n2 & | 1 & 2 | _1 2 |",
    "meter: 12/8\n| 1 2 3 li 4 | [3/4] 1 2 & 3 a |",
    "meter: 2/4\n| 1 2 | % |",
];

/// Clicks between the beats are in the file where the choice asks for them, softer, and are no beats when it is read.
#[test]
fn divisions_are_clicked_softly_and_are_no_beats() {
    let text = "meter: 6/8\n| 1 | 1 |";
    let beats = sequence(text, "60", 1);
    let rhythm = rhythm::text::read(text).rhythm.expect("a rhythm");
    let choice = sequencer::Choice { click: sequencer::ClickOn::Divisions, ..sequencer::Choice::default() };
    let plan = beats.plan().with_choice(choice);
    let divided = sequencer::sequence(&rhythm, &counting::count(&rhythm), &plan);
    let file = write_sequence(&divided, None, Levels::default().muted).expect("a file");
    let read = Smf::parse(&file).expect("a file");
    let soft = read.tracks.iter().flatten().filter(|event| match event.kind {
        TrackEventKind::Midi { message: MidiMessage::NoteOn { key, vel }, .. } => {
            (key.as_int(), vel.as_int()) == (CLICK_KEY, DIVISION_VELOCITY)
        }
        _ => false,
    });
    assert_eq!(soft.count(), 2 * 6, "two between the beats of each of six");
    let read = |sequence| {
        read_take(&write_sequence(sequence, None, Levels::default().muted).expect("a file"))
            .expect("a take")
            .clicks
    };
    assert_eq!(read(&divided), read(&beats));
}

proptest! {
    /// The written file read as a take: the player "rhythm" is where the sequence says, but for the microseconds that
    /// a tempo is rounded to (half of one a quarter) and the marker's own.
    #[test]
    fn a_written_rhythm_is_a_take_on_time(text in 0..TEXTS.len(), bpm in 20u32..=300, count_in in 0u32..3) {
        let sequence = sequence(TEXTS[text], &bpm.to_string(), count_in);
        let take = read_take(&write_sequence(&sequence, None, Levels::default().muted).expect("a file")).expect("a take");
        prop_assert_eq!(take.players.len(), 1);
        prop_assert_eq!(&take.players[0].label, RHYTHM_TRACK);
        let bar_one = take.bar_one.expect("a marker");
        let claps: Vec<_> = sequence.cues().iter().filter(|cue| matches!(cue.cued, Cued::Clap { .. })).collect();
        prop_assert_eq!(take.players[0].strokes.len(), claps.len());
        for (stroke, clap) in take.players[0].strokes.iter().zip(claps) {
            let off = (stroke.at - bar_one) - sequence.tempo().moment_at(clap.at).since_zero();
            let quarters = (clap.at - sequence.start()).in_units_of(Span::QUARTER).ceil().to_integer();
            let allowed = 500 * (quarters + 20) + 2;
            prop_assert!(off.as_nanos().abs() <= allowed, "{:?} {}", off, allowed);
        }
    }
}
