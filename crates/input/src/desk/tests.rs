use super::*;
use crate::{Controls, Entry, Place, Roster, Touch};

fn settings(retrigger: Seconds) -> InputSettings {
    InputSettings { retrigger, ..InputSettings::default() }
}

fn at(ms: i64) -> HostTime {
    HostTime::from_nanos(ms * 1_000_000)
}

#[test]
fn a_full_queue_loses_strokes_and_counts_them() {
    let (desk, fetched) = Desk::new(&settings(Seconds::ZERO));
    let source = desk.enter(SourceKind::Replay, "take");
    let mut tap = Tap::new(Arc::clone(&desk), source);
    for at in 0..5_000 {
        tap.feed(&[0x90, 38, 100], HostTime::from_nanos(at), Seconds::ZERO, None);
    }
    assert_eq!(desk.lost(), 5_000 - 4_096);
    assert_eq!(fetched.strokes.try_iter().count(), 4_096);
}

#[test]
fn several_messages_in_one_portion_share_its_stamp() {
    let (desk, fetched) = Desk::new(&settings(RetriggerMask::USUAL));
    let source = desk.enter(SourceKind::Port, "Pad");
    let mut tap = Tap::new(desk, source);
    let stamp = HostTime::from_nanos(5);
    let driver = Some(DriverStamp::from_micros(7));
    tap.feed(&[0x99, 38, 100, 40, 90, 38, 0], stamp, Seconds::from_millis(1), driver);
    let found: Vec<_> = fetched.strokes.try_iter().collect();
    let kinds: Vec<_> = found.iter().map(|stroke| (stroke.note, stroke.kind)).collect();
    assert_eq!(kinds, [(38, StrokeKind::On), (40, StrokeKind::On), (38, StrokeKind::Off)]);
    assert!(found.iter().all(|stroke| stroke.stamp == stamp && stroke.driver == driver));
    assert!(found.iter().all(|stroke| stroke.resolution == Seconds::from_millis(1)));
}

/// Ten thousand messages a second from one pad for ten seconds, while another is played.
#[test]
fn a_device_gone_wild_is_held_and_told_of_and_the_others_play() {
    let (desk, fetched) = Desk::new(&settings(RetriggerMask::USUAL));
    let [wild, tame] = ["Wild", "Tame"].map(|name| desk.enter(SourceKind::Port, name));
    let mut wild = Tap::new(Arc::clone(&desk), wild);
    let mut tame = Tap::new(Arc::clone(&desk), tame);
    let mut strokes = Vec::new();
    for number in 0..100_000i64 {
        let stamp = HostTime::from_nanos(number * 100_000);
        wild.feed(&[0x90, 38, 100], stamp, Seconds::ZERO, None);
        if number % 1_000 == 0 {
            tame.feed(&[0x90, 38, 100], stamp, Seconds::ZERO, None);
        }
        // Whoever plays the drill fetches every few milliseconds.
        if number % 50 == 0 {
            strokes.extend(fetched.strokes.try_iter());
        }
    }
    strokes.extend(fetched.strokes.try_iter());
    assert_eq!(desk.lost(), 0);
    assert_eq!(strokes.iter().filter(|stroke| stroke.source == 1 && stroke.is_attack()).count(), 100);
    let through = strokes.iter().filter(|stroke| stroke.source == 0).count();
    assert_eq!(through as u64 + desk.held(), 100_000);
    assert!(through < 18_000, "{through}");
    // And of those the pad's own mask leaves forty a second.
    let counted = strokes.iter().filter(|stroke| stroke.source == 0 && stroke.is_attack()).count();
    assert!(counted <= 410, "{counted}");
    let notices: Vec<_> = fetched.notices.try_iter().collect();
    assert_eq!(notices, [Notice::Flood { name: "Wild".to_owned() }]);
}

#[test]
fn each_player_has_a_mask_and_cross_talk_is_marked() {
    let place = |note| {
        let notes = crate::NoteRange::new(note, note).expect("a note");
        Place::port("Module").expect("a name").with_touch(Touch::Notes(notes)).expect("a touch")
    };
    let slow = Entry { retrigger: Some(Seconds::from_millis(60)), ..Entry::new("K1", vec![place(38)]) };
    let keys = Entry { instrument: Instrument::Keys, ..Entry::new("K3", vec![place(60)]) };
    let roster = Roster::new(vec![slow, Entry::new("K2", vec![place(40)]), keys]).expect("apart");
    let (desk, fetched) = Desk::new(&InputSettings { roster, ..InputSettings::default() });
    let source = desk.enter(SourceKind::Port, "Module");
    let mut tap = Tap::new(Arc::clone(&desk), source);
    let strokes = [(0, 38, 100), (3, 40, 20), (5, 60, 20), (50, 38, 100), (60, 40, 90), (90, 40, 90)];
    for (ms, note, velocity) in strokes {
        tap.feed(&[0x99, note, velocity], at(ms), Seconds::ZERO, None);
    }
    let marks: Vec<_> = fetched
        .strokes
        .try_iter()
        .map(|stroke| (stroke.player.to_string(), stroke.retrigger, stroke.crosstalk))
        .collect();
    let expected = [
        ("P1", false, false),
        ("P2", false, true),
        // Keys do not shake one another.
        ("P3", false, false),
        ("P1", true, false),
        ("P2", false, false),
        ("P2", false, false),
    ];
    assert_eq!(
        marks,
        expected.map(|(player, retrigger, crosstalk)| (player.to_owned(), retrigger, crosstalk))
    );
}

#[test]
fn a_pad_and_a_pedal_ask_for_orders_and_strike_nothing() {
    let pad = Place::port("Pad").expect("a name");
    let bell = crate::NoteRange::new(51, 51).expect("a note");
    let controls = Controls::new(vec![
        (Order::Start, pad.clone().with_touch(Touch::Notes(bell)).expect("a touch")),
        (Order::Next, pad.with_touch(Touch::Pedal(64)).expect("a touch")),
    ]);
    let beat = Place::port("Pad").expect("a name").with_touch(Touch::Pedal(4)).expect("a touch");
    let roster = Roster::new(vec![Entry::new("beat", vec![beat])]).expect("a list");
    let (desk, fetched) = Desk::new(&InputSettings { controls, roster, ..InputSettings::default() });
    let source = desk.enter(SourceKind::Port, "Pad");
    let mut tap = Tap::new(desk, source);
    // The bell with its release, the sustain pedal down, further down and up, the foot controller down and up, a stroke.
    for bytes in [
        [0x99, 51, 90],
        [0x99, 51, 0],
        [0xB9, 64, 100],
        [0xB9, 64, 127],
        [0xB9, 64, 0],
        [0xB9, 4, 20],
        [0xB9, 4, 90],
        [0xB9, 4, 10],
        [0x99, 38, 90],
    ] {
        tap.feed(&bytes, at(0), Seconds::ZERO, None);
    }
    assert_eq!(fetched.orders.try_iter().collect::<Vec<_>>(), [Order::Start, Order::Next]);
    let strokes: Vec<_> = fetched
        .strokes
        .try_iter()
        .map(|stroke| (stroke.player.to_string(), stroke.kind, stroke.note, stroke.velocity))
        .collect();
    let of = |player: &str, kind, note, velocity| (player.to_owned(), kind, note, velocity);
    let (on, off) = (StrokeKind::On, StrokeKind::Off);
    assert_eq!(strokes, [of("P1", on, 44, 90), of("P1", off, 44, 10), of("P2", on, 38, 90)]);
}

#[test]
fn what_is_touched_is_told_instead_of_played_while_somebody_asks() {
    let place = Place::port("Pad").expect("a name");
    let controls = Controls::new(vec![(Order::Stop, place)]);
    let (desk, fetched) = Desk::new(&InputSettings { controls, ..settings(RetriggerMask::USUAL) });
    let source = desk.enter(SourceKind::Port, "Pad");
    let mut tap = Tap::new(Arc::clone(&desk), source);
    let mut send = |ms, bytes: &[u8]| tap.feed(bytes, at(ms), Seconds::ZERO, None);
    desk.ask_touches(true);
    // Struck, bounced, let go; a blow felt by another pad; a pedal down and up.
    send(0, &[0x99, 38, 120]);
    send(10, &[0x99, 38, 50]);
    send(30, &[0x99, 38, 0]);
    send(503, &[0x99, 40, 120]);
    send(505, &[0x99, 41, 10]);
    send(600, &[0xb0, 64, 90]);
    send(610, &[0xb0, 64, 100]);
    send(700, &[0xb0, 64, 0]);
    let told: Vec<_> = fetched.touches.try_iter().map(|touch| touch.to_string()).collect();
    assert_eq!(told, ["Pad, channel 10, note 38", "Pad, channel 10, note 40", "Pad, channel 1, pedal 64"]);
    assert_eq!((fetched.strokes.len(), fetched.orders.len()), (0, 0));
    desk.ask_touches(false);
    send(900, &[0x99, 38, 100]);
    assert_eq!((fetched.touches.len(), fetched.orders.len()), (0, 1));
}
