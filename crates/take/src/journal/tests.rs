use proptest::prelude::*;
use timebase::{SampleRate, Seconds, Span, Tempo};

use super::*;
use crate::{Click, Drilled, DrilledResponse, DrilledRound, Instrument, PlayerNote, SoundNote};

fn at(micros: i64) -> Moment {
    Moment::ZERO + timebase::Seconds::from_micros(micros)
}

fn header() -> Header {
    Header {
        title: Some("Tin \"Roof\"\n".to_owned()),
        rhythm: "meter: 4/4\n| 1 2 3 4 |\n".to_owned(),
        tempo: Tempo::new(Span::new(3, 8), timebase::Ratio::new(175, 2)).expect("a tempo"),
        count_in_bars: 2,
        recorded_at: "2025-03-01T10:15:00+01:00".to_owned(),
        bar_one: at(2_250_001),
        clicks: vec![Click { at: at(250_000), accented: true }, Click { at: at(750_001), accented: false }],
        players: vec![PlayerNote {
            label: "K07".to_owned(),
            source: "Pad 1".to_owned(),
            latency: Some(Seconds::from_micros(1_234)),
            resolution: None,
            instrument: Some(Instrument::Pads),
            absent: vec![Absence { from: at(0), to: Some(at(100)) }],
        }],
        sound: SoundNote {
            output: Some("system".to_owned()),
            output_latency: Some(Seconds::from_millis(11)),
            latency_from: Some("loopback".to_owned()),
            ..SoundNote::new(SampleRate::HZ_48000)
        },
        drill: Some(Drilled {
            rhythms: vec!["| 1 2 3 4 |\n".to_owned(), "| 1 3 |\n".to_owned()],
            players: vec!["K07".to_owned(), "K11".to_owned()],
            rounds: Vec::new(),
        }),
    }
}

/// A round whose rhythm's bar 1 would lie before the take.
fn round() -> DrilledRound {
    DrilledRound {
        number: 3,
        rhythm: 1,
        bars: (5, 6),
        tempo: Tempo::new(Span::new(3, 8), timebase::Ratio::new(185, 2)).expect("a tempo"),
        from: at(2_250_001),
        to: at(6_250_001),
        responses: vec![DrilledResponse {
            player: Some("K11".to_owned()),
            counts: 16..24,
            bar_one: at(-3_000_001),
            from: at(4_100_000),
            to: at(6_100_000),
        }],
        good: None,
    }
}

/// A journal of every kind of record, and its bytes.
fn journal(dir: &Path) -> (PathBuf, Vec<u8>) {
    let path = dir.join("journal.jsonl");
    let mut journal = Journal::create(&path).expect("created");
    let late = PlayerNote::new("K11", "space bar");
    let stroke = |micros, note| Stroke {
        at: at(micros),
        note,
        velocity: 90,
        released: None,
        origin: None,
        role: Role::Attack,
    };
    let anchor = Anchor { frame: Frame::new(48_000), host: HostTime::from_nanos(1 << 60), server: None };
    let disturbance = Disturbance { from: at(1), to: at(20), why: "dropout".to_owned() };
    for record in [
        Record::begin(&header()),
        Record::stroke(0, &stroke(500_123, 38)),
        Record::Saved { frames: 48_000 },
        Record::anchor(anchor),
        Record::Player { player: PlayerForm::of(&late) },
        Record::stroke(1, &stroke(900_000, 39)),
        Record::stroke(0, &Stroke { role: Role::Bounce, ..stroke(505_000, 38) }),
        Record::stroke(0, &stroke(400_000, 40)),
        Record::release(0, (None, 38), at(620_000)),
        Record::stroke(0, &Stroke { role: Role::Crosstalk, ..stroke(700_000, 38) }),
        Record::stroke(0, &stroke(800_000, 38)),
        Record::stroke(0, &stroke(840_000, 38)),
        Record::grace(0, at(800_000), 38),
        Record::stroke(0, &Stroke { role: Role::Chord, ..stroke(850_000, 40) }),
        Record::stroke(0, &stroke(900_000, 45)),
        Record::stroke(0, &Stroke { role: Role::Bounce, ..stroke(900_000, 45) }),
        Record::stroke(0, &Stroke { role: Role::Wild, ..stroke(930_000, 45) }),
        Record::turned_out(0, (None, 45), at(900_000), Role::Wild).expect("a record"),
        Record::turned_out(0, (None, 40), at(850_000), Role::Attack).expect("a record"),
        Record::Absent { player: 1, from_ms: 1_000.0, to_ms: None },
        Record::Absent { player: 1, from_ms: 1_100.0, to_ms: None },
        Record::Back { player: 1, at_ms: 1_200.0 },
        Record::Absent { player: 1, from_ms: 1_300.0, to_ms: None },
        Record::Stamped { player: 0, resolution_ms: 2.0, latency_ms: Some(1.234) },
        Record::Disturbed(DisturbanceForm::of(&disturbance)),
        Record::Round {
            round: Box::new(DrilledRoundForm::of(&round())),
            clicks: vec![ClickForm::of(&Click { at: at(2_250_001), accented: true })],
        },
        Record::Became { round: 3, good: true },
        Record::End { ended: Ended::Stopped, frames: 96_000, heard_ms: Some(1_950.5) },
    ] {
        journal.append(&record).expect("written");
    }
    let bytes = std::fs::read(&path).expect("read");
    (path, bytes)
}

#[test]
fn what_is_written_is_read_again() {
    let dir = tempfile::tempdir().expect("a folder");
    let (path, _) = journal(dir.path());
    let told = read(&path).expect("our own journal");
    let mut expected = header();
    expected.players[0].resolution = Some(Seconds::from_millis(2));
    let gone = [(1_000, Some(1_200)), (1_300, None)];
    let absent =
        gone.map(|(from, to)| Absence { from: at(from * 1_000), to: to.map(|to: i64| at(to * 1_000)) });
    expected.players.push(PlayerNote { absent: absent.into(), ..PlayerNote::new("K11", "space bar") });
    expected.clicks.push(Click { at: at(2_250_001), accented: true });
    let good = DrilledRound { good: Some(true), ..round() };
    expected.drill.iter_mut().for_each(|drilled| drilled.rounds.push(good.clone()));
    assert_eq!(told.header, expected);
    let strokes: Vec<_> =
        told.players[0].strokes.iter().map(|s| (s.at, s.note, s.released, s.role)).collect();
    // In order of time; the release is the last stroke's on that key.
    let expected = [
        (at(400_000), 40, None, Role::Attack),
        (at(500_123), 38, None, Role::Attack),
        (at(505_000), 38, Some(at(620_000)), Role::Bounce),
        (at(700_000), 38, None, Role::Crosstalk),
        (at(800_000), 38, None, Role::Grace),
        (at(840_000), 38, None, Role::Attack),
        (at(850_000), 40, None, Role::Attack),
        (at(900_000), 45, None, Role::Wild),
        (at(900_000), 45, None, Role::Bounce),
        (at(930_000), 45, None, Role::Wild),
    ];
    assert_eq!(strokes, expected);
    assert_eq!(told.players[1].label, "K11");
    assert_eq!(told.players[1].strokes.len(), 1);
    assert_eq!(
        told.anchors,
        [Anchor { frame: Frame::new(48_000), host: HostTime::from_nanos(1 << 60), server: None }]
    );
    assert_eq!(told.disturbed[0].why, "dropout");
    assert_eq!((told.ended, told.saved_frames), (Some(Ended::Stopped), 96_000));
    assert_eq!(told.heard, Some(at(1_950_500)));
}

/// One player on two keyboards, and on two channels of one: what is let go on one of them is still held on the others.
#[test]
fn a_key_is_let_go_where_it_was_struck() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("journal.jsonl");
    let mut journal = Journal::create(&path).expect("created");
    let [left, right, upper] =
        [(1, 0), (2, 0), (2, 1)].map(|(device, channel)| Some(Origin { device, channel }));
    let struck = |micros, origin| {
        let stroke =
            Stroke { at: at(micros), note: 60, velocity: 90, released: None, origin, role: Role::Attack };
        Record::stroke(0, &stroke)
    };
    for record in [
        Record::begin(&header()),
        struck(100_000, left),
        struck(200_000, right),
        struck(300_000, upper),
        Record::release(0, (right, 60), at(400_000)),
        Record::release(0, (left, 60), at(500_000)),
        // Of no device that struck.
        Record::release(0, (None, 60), at(600_000)),
    ] {
        journal.append(&record).expect("written");
    }
    let told = read(&path).expect("our own journal");
    let found: Vec<_> =
        told.players[0].strokes.iter().map(|stroke| (stroke.origin, stroke.released)).collect();
    assert_eq!(found, [(left, Some(at(500_000))), (right, Some(at(400_000))), (upper, None)]);
    let line = serde_json::to_string(&struck(0, upper)).expect("JSON");
    assert!(line.contains(r#""device":2,"channel":1"#), "{line}");
}

/// What versions before wrote is read as it was meant then, and a version before reads what a pad did as its bouncing.
#[test]
fn a_journal_of_before_is_read() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("journal.jsonl");
    let mut begin: serde_json::Value = serde_json::to_value(Record::begin(&header())).expect("JSON");
    let player = begin["header"]["players"][0].as_object_mut().expect("a player");
    player.remove("instrument");
    player.remove("absent");
    let lines = [
        begin.to_string(),
        r#"{"record":"stroke","player":0,"at_ms":500.0,"note":38,"velocity":90,"retrigger":false}"#
            .to_owned(),
        r#"{"record":"stroke","player":0,"at_ms":505.0,"note":38,"velocity":90,"retrigger":true}"#.to_owned(),
        r#"{"record":"release","player":0,"at_ms":520.0,"note":38}"#.to_owned(),
        r#"{"record":"end","ended":"stopped","frames":96000}"#.to_owned(),
    ];
    std::fs::write(&path, lines.join("\n") + "\n").expect("written");
    let told = read(&path).expect("an older journal");
    assert_eq!(
        told.players[0].strokes.iter().map(|s| s.role).collect::<Vec<_>>(),
        [Role::Attack, Role::Bounce]
    );
    assert_eq!(told.players[0].strokes[1].released, Some(at(520_000)));
    let note = &told.header.players[0];
    assert_eq!((note.instrument, note.absent.len(), told.heard), (None, 0, None));
    let felt = serde_json::to_string(&Record::stroke(
        0,
        &Stroke { role: Role::Crosstalk, at: at(0), note: 1, velocity: 1, released: None, origin: None },
    ));
    assert!(felt.expect("JSON").contains(r#""retrigger":true"#));
}

#[test]
fn a_journal_torn_anywhere_tells_what_was_written_before() {
    let dir = tempfile::tempdir().expect("a folder");
    let (path, bytes) = journal(dir.path());
    let first = bytes.iter().position(|&byte| byte == b'\n').expect("a line");
    for cut in 0..bytes.len() {
        std::fs::write(&path, &bytes[..cut]).expect("written");
        let lines = bytes[..cut].iter().filter(|&&byte| byte == b'\n').count();
        match read(&path) {
            Ok(told) => {
                assert!(cut >= first);
                assert_eq!(told.ended.is_some(), cut == bytes.len() - 1);
                let strokes: usize = told.players.iter().map(|player| player.strokes.len()).sum();
                let expected =
                    [2, 6, 7, 8, 10, 11, 12, 14, 15, 16, 17].iter().filter(|&&line| lines >= line).count();
                // A whole line that lacks only its line break is told too.
                assert!(strokes == expected || (strokes == expected + 1 && bytes[cut] == b'\n'), "{cut}");
            }
            Err(error) => {
                assert!(cut < first, "{cut}: {error}");
                assert!(error.to_string().contains("its beginning is missing"), "{error}");
            }
        }
    }
    // A power cut can leave zeros.
    std::fs::write(&path, [&bytes[..bytes.len() - 40], &[0; 40][..]].concat()).expect("written");
    assert_eq!(read(&path).expect("the rest").players[0].strokes.len(), 10);
}

#[track_caller]
fn check_refused(text: &str, because: &str) {
    let dir = tempfile::tempdir().expect("a folder");
    let (path, bytes) = journal(dir.path());
    let first = bytes.iter().position(|&byte| byte == b'\n').expect("a line");
    let begin = String::from_utf8(bytes[..=first].to_vec()).expect("text");
    std::fs::write(&path, text.replace("BEGIN\n", &begin)).expect("written");
    let error = read(&path).expect_err("refused").to_string();
    assert!(error.contains(because), "{error:?} does not contain {because:?}");
}

#[test]
fn damage_in_the_middle_is_an_error_with_its_line() {
    check_refused("BEGIN\n{\"record\":\"stroke\"}\n{}\n", "line 2 of ");
    check_refused("BEGIN\nBEGIN\n", "line 2 of ");
    check_refused(
        "BEGIN\n{\"record\":\"release\",\"player\":3,\"at_ms\":1,\"note\":1}\n",
        "there is no player 3",
    );
    check_refused("{\"record\":\"saved\",\"frames\":3}\n", "a journal begins with");
    check_refused(
        "{\"record\":\"begin\",\"version\":2,\"else\":true}\n",
        "is of version 2: this program reads version 1",
    );
    check_refused("", "its beginning is missing");
    check_refused("BEGIN\n\n{}\n", "line 2 of ");
}

#[test]
fn a_journal_is_never_written_over() {
    let dir = tempfile::tempdir().expect("a folder");
    let (path, bytes) = journal(dir.path());
    assert!(Journal::create(&path).is_err());
    assert_eq!(std::fs::read(&path).expect("read"), bytes);
}

#[test]
fn who_writes_a_journal_holds_it() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("journal.jsonl");
    let journal = Journal::create(&path).expect("created");
    assert!(is_being_written(&path));
    drop(journal);
    assert!(!is_being_written(&path));
}

proptest! {
    #[test]
    fn no_journal_panics(text in "\\PC{0,200}", lines in prop::collection::vec("[{}\":,a-z0-9_]{0,60}", 0..6)) {
        let dir = tempfile::tempdir().expect("a folder");
        let path = dir.path().join("journal.jsonl");
        std::fs::write(&path, format!("{text}\n{}", lines.join("\n"))).expect("written");
        let _ = read(&path);
    }
}
