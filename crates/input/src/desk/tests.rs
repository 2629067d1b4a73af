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
        tap.feed(&[0x90, 38, 100], HostTime::from_nanos(at), Seconds::ZERO);
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
    tap.feed(&[0x99, 38, 100, 40, 90, 38, 0], stamp, Seconds::from_millis(1));
    let found: Vec<_> = fetched.strokes.try_iter().collect();
    let kinds: Vec<_> = found.iter().map(|stroke| (stroke.note, stroke.kind)).collect();
    assert_eq!(kinds, [(38, StrokeKind::On), (40, StrokeKind::On), (38, StrokeKind::Off)]);
    assert!(found.iter().all(|stroke| stroke.stamp == stamp));
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
        wild.feed(&[0x90, 38, 100], stamp, Seconds::ZERO);
        if number % 1_000 == 0 {
            tame.feed(&[0x90, 38, 100], stamp, Seconds::ZERO);
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
    // What a pad may send at once, and of that the pad's own mask leaves one.
    assert!(through < 40, "{through}");
    let counted = strokes.iter().filter(|stroke| stroke.source == 0 && stroke.is_attack()).count();
    assert_eq!(counted, 1);
    let notices: Vec<_> = fetched.notices.try_iter().collect();
    assert_eq!(notices, [Notice::Flood { name: "Wild, channel 1, note 38".to_owned() }]);
}

/// Eleven pads of a module flood, ten thousand messages a second in all, and the twelfth is played: every stroke of it is heard, and
/// what was held back is told with its beginning, its end and its number.
#[test]
fn pads_gone_wild_do_not_silence_the_others_of_their_module() {
    let (desk, fetched) = Desk::new(&settings(RetriggerMask::USUAL));
    let source = desk.enter(SourceKind::Port, "Module");
    let mut tap = Tap::new(Arc::clone(&desk), source);
    let mut strokes = Vec::new();
    for number in 0..40_000i64 {
        let stamp = HostTime::from_nanos(number * 100_000);
        let note = 60 + u8::try_from(number % 11).expect("a note");
        tap.feed(&[0x99, note, 20 + u8::try_from(number % 100).expect("a velocity")], stamp, Seconds::ZERO);
        if number % 5_000 == 2_500 {
            tap.feed(&[0x99, 38, 100], stamp, Seconds::ZERO);
            tap.feed(&[0x99, 38, 0], stamp + Seconds::from_millis(20), Seconds::ZERO);
        }
        if number % 50 == 0 {
            strokes.extend(fetched.strokes.try_iter());
        }
    }
    strokes.extend(fetched.strokes.try_iter());
    let of = |kind| strokes.iter().filter(|stroke| stroke.note == 38 && stroke.kind == kind).count();
    assert_eq!((of(StrokeKind::On), of(StrokeKind::Off)), (8, 8));
    assert!(strokes.iter().all(|stroke| stroke.note != 38 || !stroke.is_marked()));
    // What the eleven may send at once lasts for some thirty milliseconds.
    let wild = strokes.iter().filter(|stroke| stroke.note != 38 && stroke.is_attack()).count();
    assert!(wild <= 22, "{wild}");
    let told = desk.held_back(at(5_000), false);
    let [flood] = &told[..] else { panic!("{told:?}") };
    assert_eq!((flood.name.as_str(), flood.source, flood.messages), ("Module", 0, desk.held()));
    assert!(flood.from < at(60) && flood.to > at(3_990) && flood.length() > Seconds::from_millis(3_900));
    assert!(desk.held_back(at(9_000), true).is_empty());
    assert_eq!(fetched.notices.len(), 1);
}

/// A double trigger 6 ms after, a bounce of the foot, a neighbour's blow: one order each, or none.
#[test]
fn one_blow_asks_once() {
    let pad = |note| {
        let notes = crate::NoteRange::new(note, note).expect("a note");
        Place::port("Pad").expect("a name").with_touch(Touch::Notes(notes)).expect("a touch")
    };
    let pedal = Place::port("Pad").expect("a name").with_touch(Touch::Pedal(64)).expect("a touch");
    let controls = Controls::new(vec![(Order::Next, pad(51)), (Order::Again, pedal)]);
    // Not even where nothing else is masked.
    let (desk, fetched) = Desk::new(&InputSettings { controls, ..settings(Seconds::ZERO) });
    let source = desk.enter(SourceKind::Port, "Pad");
    let mut tap = Tap::new(Arc::clone(&desk), source);
    let mut asked = |events: &[(i64, [u8; 3])]| {
        events.iter().for_each(|(ms, bytes)| tap.feed(bytes, at(*ms), Seconds::ZERO));
        desk.settle_orders(events.last().map_or(at(0), |(ms, _)| at(*ms + 30)));
        fetched.orders.try_iter().collect::<Vec<_>>()
    };
    assert_eq!(asked(&[(0, [0x99, 51, 100]), (6, [0x99, 51, 60]), (150, [0x99, 51, 60])]), [Order::Next]);
    assert_eq!(asked(&[(400, [0x99, 51, 100])]), [Order::Next]);
    let (down, up) = ([0xB9, 64, 127], [0xB9, 64, 0]);
    assert_eq!(asked(&[(1_000, down), (1_003, up), (1_006, down)]), [Order::Again]);
    assert_eq!(asked(&[(2_000, up), (2_004, down), (2_007, up)]), [], "it bounces when it comes up, too");
    assert_eq!(asked(&[(2_500, down)]), [Order::Again]);
    assert_eq!(
        asked(&[(5_000, [0x99, 38, 120]), (5_003, [0x99, 51, 20])]),
        [],
        "shaken by the pad beside it"
    );
    // And what is asked for hard strikes nothing on the pad beside it.
    assert_eq!(asked(&[(6_000, [0x99, 51, 120]), (6_003, [0x99, 38, 20])]), [Order::Next]);
    let strokes: Vec<_> = fetched.strokes.try_iter().map(|stroke| stroke.crosstalk).collect();
    assert_eq!(strokes, [false, true]);
}

/// A module that sends the weak echo some milliseconds before the blow that shook the pad: an order waits until that is known.
#[test]
fn an_echo_that_comes_before_its_blow_asks_for_nothing() {
    let pad = |note| {
        let notes = crate::NoteRange::new(note, note).expect("a note");
        Place::port("Pad").expect("a name").with_touch(Touch::Notes(notes)).expect("a touch")
    };
    let pedal = Place::port("Pad").expect("a name").with_touch(Touch::Pedal(64)).expect("a touch");
    let controls = Controls::new(vec![(Order::Stop, pad(51)), (Order::Next, pad(52)), (Order::Again, pedal)]);
    let (desk, fetched) = Desk::new(&InputSettings { controls, ..settings(RetriggerMask::USUAL) });
    let source = desk.enter(SourceKind::Port, "Pad");
    let other = desk.enter(SourceKind::Port, "Other");
    let [mut tap, mut other] = [source, other].map(|source| Tap::new(Arc::clone(&desk), source));
    let asked = |now| {
        desk.settle_orders(at(now));
        fetched.orders.try_iter().collect::<Vec<_>>()
    };
    // Of a player's pad, and of another order's.
    tap.feed(&[0x99, 51, 20], at(0), Seconds::ZERO);
    assert_eq!(asked(3), []);
    tap.feed(&[0x99, 38, 120], at(3), Seconds::ZERO);
    assert_eq!(asked(100), []);
    tap.feed(&[0x99, 51, 20], at(1_000), Seconds::ZERO);
    tap.feed(&[0x99, 52, 120], at(1_004), Seconds::ZERO);
    assert_eq!(asked(1_100), [Order::Next]);
    // Soft by itself, and beside a blow that is too late, not hard enough or of another module.
    tap.feed(&[0x99, 51, 20], at(2_000), Seconds::ZERO);
    tap.feed(&[0x99, 38, 70], at(2_004), Seconds::ZERO);
    other.feed(&[0x99, 38, 120], at(2_005), Seconds::ZERO);
    tap.feed(&[0x99, 40, 120], at(2_009), Seconds::ZERO);
    assert_eq!(asked(2_029), []);
    assert_eq!(asked(2_030), [Order::Stop]);
    tap.feed(&[0x99, 51, 32, 52, 90], at(3_000), Seconds::ZERO);
    tap.feed(&[0xB9, 64, 64], at(3_001), Seconds::ZERO);
    assert_eq!(asked(3_029), []);
    assert_eq!(asked(3_031), [Order::Stop, Order::Next, Order::Again]);
}

#[test]
fn a_pedals_contact_bounces_and_is_masked() {
    let pedal = || Place::port("Pad").expect("a name").with_touch(Touch::Pedal(64)).expect("a touch");
    let check = |retrigger_ms: Option<i64>, usual_ms: i64, expected: usize| {
        let retrigger = retrigger_ms.map(Seconds::from_millis);
        let roster =
            Roster::new(vec![Entry { retrigger, ..Entry::new("beat", vec![pedal()]) }]).expect("a list");
        let (desk, fetched) =
            Desk::new(&InputSettings { roster, ..settings(Seconds::from_millis(usual_ms)) });
        let source = desk.enter(SourceKind::Port, "Pad");
        let mut tap = Tap::new(desk, source);
        let (down, up) = ([0xB0, 64, 127], [0xB0, 64, 0]);
        for beat in 0..4 {
            // Down with two bounces 4 ms apart, and one 40 ms after; up with one bounce.
            let edges = [(0, down), (4, up), (8, down), (12, up), (16, down), (36, up), (40, down)];
            let comes_up = [(250, up), (254, down), (258, up)];
            for (ms, bytes) in edges.into_iter().chain(comes_up) {
                tap.feed(&bytes, at(500 * beat + ms), Seconds::ZERO);
            }
        }
        let struck = fetched.strokes.try_iter().filter(Stroke::is_attack).count();
        assert_eq!(struck, expected, "{retrigger_ms:?}");
    };
    check(Some(60), 25, 4);
    check(None, 60, 4);
    // Whoever wants none masked has all: five a beat.
    check(Some(0), 25, 20);
}

/// Two devices that a part of a name fits: the first is meant, and it is said. A whole name is no part.
#[test]
fn a_part_of_two_names_is_told() {
    let place = |name: &str| Place::port(name).expect("a name");
    let roster =
        Roster::new(vec![Entry::new("K1", vec![place("pad")]), Entry::new("K2", vec![place("Pad B")])]);
    let controls = Controls::new(vec![(Order::Next, place("pad"))]);
    let settings = InputSettings { roster: roster.expect("apart"), controls, ..InputSettings::default() };
    let (desk, fetched) = Desk::new(&settings);
    assert_eq!(desk.unseen().len(), 3);
    desk.enter(SourceKind::Port, "Pad A");
    desk.enter(SourceKind::Port, "Other");
    assert_eq!(fetched.notices.len(), 0);
    assert_eq!(desk.unseen(), [("K2".to_owned(), "Pad B".to_owned())]);
    desk.enter(SourceKind::Port, "Pad B");
    let told: Vec<_> = fetched.notices.try_iter().collect();
    let [part, meant, other] = ["pad", "Pad A", "Pad B"].map(str::to_owned);
    assert_eq!(told, [Notice::Ambiguous { part, meant, other }]);
    assert!(desk.unseen().is_empty());
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
        tap.feed(&[0x99, note, velocity], at(ms), Seconds::ZERO);
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
    let mut tap = Tap::new(Arc::clone(&desk), source);
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
        tap.feed(&bytes, at(0), Seconds::ZERO);
    }
    desk.settle_orders(at(30));
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
    let mut send = |ms, bytes: &[u8]| tap.feed(bytes, at(ms), Seconds::ZERO);
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
    desk.settle_orders(at(930));
    assert_eq!((fetched.touches.len(), fetched.orders.len()), (0, 1));
}

/// Notes 51 and 52 and the pedal 64 of `Pad` ask for stop, next and again. Fed these messages, what has been asked for `wait_ms` after
/// the last of them.
fn asked_of(events: &[(i64, [u8; 3])], wait_ms: i64) -> Vec<Order> {
    let touch = |touch| Place::port("Pad").expect("a name").with_touch(touch).expect("a touch");
    let note = |note| Touch::Notes(crate::NoteRange::new(note, note).expect("a note"));
    let controls = Controls::new(vec![
        (Order::Stop, touch(note(51))),
        (Order::Next, touch(note(52))),
        (Order::Again, touch(Touch::Pedal(64))),
    ]);
    let (desk, fetched) = Desk::new(&InputSettings { controls, ..settings(RetriggerMask::USUAL) });
    let source = desk.enter(SourceKind::Port, "Pad");
    let mut tap = Tap::new(Arc::clone(&desk), source);
    let mut last = 0;
    for (ms, bytes) in events {
        desk.settle_orders(at(*ms));
        tap.feed(bytes, at(*ms), Seconds::ZERO);
        last = *ms;
    }
    desk.settle_orders(at(last + wait_ms));
    fetched.orders.try_iter().collect()
}

/// The echo of a neighbour's blow, told after it or before it, masks no order that is meant; its own bouncing asks for nothing.
#[test]
fn an_echo_masks_no_order() {
    let check = |events: &[(i64, [u8; 3])], expected: &[Order]| {
        assert_eq!(asked_of(events, 100), expected, "{events:?}");
    };
    let (echo, blow, meant) = ([0x99, 51, 20], [0x99, 38, 120], [0x99, 51, 100]);
    check(&[(0, blow), (3, echo), (60, meant)], &[Order::Stop]);
    check(&[(0, echo), (3, blow), (60, meant)], &[Order::Stop]);
    check(&[(0, echo), (3, blow), (5, meant)], &[Order::Stop]);
    check(&[(0, blow), (3, echo), (9, [0x99, 51, 18])], &[]);
    check(&[(0, echo), (3, blow), (9, [0x99, 51, 18])], &[]);
    // An echo within the mask of an order prolongs nothing.
    check(&[(0, meant), (150, blow), (152, echo), (210, meant)], &[Order::Stop, Order::Stop]);
}

/// A weak blow just before the hard one on the same pad: one order, by the hard one, whatever becomes of the weak one.
#[test]
fn the_hard_blow_after_a_weak_one_is_the_order() {
    let (weak, hard, neighbour) = ([0x99, 51, 15], [0x99, 51, 110], [0x99, 38, 127]);
    let check = |events: &[(i64, [u8; 3])], expected: &[Order]| {
        assert_eq!(asked_of(events, 100), expected, "{events:?}");
    };
    check(&[(0, weak), (4, hard)], &[Order::Stop]);
    // What a neighbour's blow shows to have been an echo is the weak one only.
    check(&[(0, weak), (4, hard), (6, neighbour)], &[Order::Stop]);
    // The hard one shows what was shaken by it, although a weak one came before it.
    check(&[(0, weak), (2, [0x99, 52, 12]), (4, hard)], &[Order::Stop]);
    check(&[(0, weak), (4, hard), (8, [0x99, 52, 12])], &[Order::Stop]);
}

/// A pad that sends more than a hand can strike within the time that an order waits gives none, not even the first; nor does a pedal.
#[test]
fn a_wild_pad_gives_no_order() {
    let flood = |every_us: i64, bytes: &[[u8; 3]]| {
        let controls = Controls::new(vec![(Order::Stop, Place::port("Pad").expect("a name"))]);
        let (desk, fetched) = Desk::new(&InputSettings { controls, ..settings(RetriggerMask::USUAL) });
        let source = desk.enter(SourceKind::Port, "Pad");
        let mut tap = Tap::new(Arc::clone(&desk), source);
        let mut now = HostTime::from_nanos(0);
        for number in 0..2_000 {
            now = now + Seconds::from_micros(every_us);
            tap.feed(&bytes[number % bytes.len()], now, Seconds::ZERO);
            desk.settle_orders(now);
        }
        desk.settle_orders(now + Seconds::from_millis(100));
        fetched.orders.try_iter().count()
    };
    let (on, off) = ([0x99, 51, 100], [0x99, 51, 0]);
    // 10,000, 1,500 and 250 blows a second; with releases between; a pedal's contact.
    assert_eq!(flood(100, &[on]), 0);
    assert_eq!(flood(667, &[on]), 0);
    assert_eq!(flood(4_000, &[on]), 0);
    assert_eq!(flood(333, &[on, off]), 0);
    assert_eq!(flood(333, &[[0xB9, 64, 127], [0xB9, 64, 0]]), 0);
    // A pad that bounces four times has been struck once.
    let bounces = [(0, on), (6, on), (12, on), (18, on), (24, on)];
    assert_eq!(asked_of(&bounces, 30), [Order::Stop]);
    assert_eq!(asked_of(&[(0, on)], 29), [], "it is not known before");
}

/// Some modules tell the echo before its blow: of a stroke on another player's pad, or of an order. What the shaken player strikes within
/// the mask after it is no bouncing; what is no harder than the echo is.
#[test]
fn an_echo_told_early_masks_no_stroke() {
    let check = |blow: u8, own: u8, expected: &[(bool, bool)]| {
        let bell = Touch::Notes(crate::NoteRange::new(51, 51).expect("a note"));
        let bell = Place::port("Pad").expect("a name").with_touch(bell).expect("a touch");
        let controls = Controls::new(vec![(Order::Next, bell)]);
        let (desk, fetched) = Desk::new(&InputSettings { controls, ..settings(RetriggerMask::USUAL) });
        let source = desk.enter(SourceKind::Port, "Pad");
        let mut tap = Tap::new(Arc::clone(&desk), source);
        for (ms, note, velocity) in [(0, 45, 20), (3, blow, 120), (12, 45, own)] {
            tap.feed(&[0x99, note, velocity], at(ms), Seconds::ZERO);
        }
        let mut echoes = crate::Echoes::new();
        desk.tell_of_orders(&mut echoes);
        fetched.strokes.try_iter().for_each(|stroke| echoes.take(stroke, Instrument::Pad, stroke.stamp));
        let told = std::iter::from_fn(|| echoes.rest()).filter(|stroke| stroke.note == 45);
        let marks: Vec<_> = told.map(|stroke| (stroke.crosstalk, stroke.retrigger)).collect();
        assert_eq!(marks, expected, "{blow}, {own}");
    };
    check(38, 90, &[(true, false), (false, false)]);
    check(51, 90, &[(true, false), (false, false)]);
    check(38, 18, &[(true, false), (false, true)]);
}

/// The blow that gives an order is no stroke, and shows all the same what was its echo before it, whichever of the two is fetched first.
#[test]
fn an_order_shows_the_echo_before_it() {
    let check = |strokes_first: bool| {
        let controls = Controls::new(vec![(Order::Next, Place::port("Bell").expect("a name"))]);
        let bell = Touch::Notes(crate::NoteRange::new(51, 51).expect("a note"));
        let place = Place::port("Pad").expect("a name").with_touch(bell).expect("a touch");
        let controls = Controls::new([controls.places(), &[(Order::Stop, place)]].concat());
        let (desk, fetched) = Desk::new(&InputSettings { controls, ..settings(RetriggerMask::USUAL) });
        let [pad, bell] = ["Pad", "Bell"].map(|name| desk.enter(SourceKind::Port, name));
        let [mut pad, mut bell] = [pad, bell].map(|source| Tap::new(Arc::clone(&desk), source));
        pad.feed(&[0x99, 45, 20], at(0), Seconds::ZERO);
        pad.feed(&[0x99, 51, 120], at(3), Seconds::ZERO);
        // Of another module.
        pad.feed(&[0x99, 45, 20], at(500), Seconds::ZERO);
        bell.feed(&[0x99, 51, 120], at(503), Seconds::ZERO);
        let mut echoes = crate::Echoes::new();
        let take = |echoes: &mut crate::Echoes| {
            fetched.strokes.try_iter().for_each(|stroke| echoes.take(stroke, Instrument::Pad, stroke.stamp));
        };
        if strokes_first {
            take(&mut echoes);
        }
        desk.tell_of_orders(&mut echoes);
        take(&mut echoes);
        let marks: Vec<_> =
            std::iter::from_fn(|| echoes.due(at(600))).map(|stroke| stroke.crosstalk).collect();
        assert_eq!(marks, [true, false], "{strokes_first}");
    };
    check(true);
    check(false);
}

/// A pad that goes wild slower than a flood: it has asked once, and asks for nothing more until it was quiet for a second. A person who
/// strikes four times a second means each.
#[test]
fn a_pad_struck_on_and_on_asks_once() {
    let check = |every_ms: &[i64], seconds: i64, expected: usize| {
        let mut events = Vec::new();
        let mut ms = 0;
        for gap in every_ms.iter().cycle() {
            events.push((ms, [0x99, 51, 100]));
            ms += gap;
            if ms >= seconds * 1_000 {
                break;
            }
        }
        assert_eq!(asked_of(&events, 100).len(), expected, "every {every_ms:?} ms");
        // It is heard again after a second of quiet.
        let last = events.last().map_or(0, |(ms, _)| *ms);
        events.push((last + 1_000, [0x99, 51, 100]));
        assert_eq!(asked_of(&events, 100).len(), expected + 1, "every {every_ms:?} ms");
    };
    for every_ms in [8, 20, 50, 100, 150, 190] {
        check(&[every_ms], 10, 1);
    }
    // In bursts: two are through until it is known.
    check(&[30, 30, 30, 30, 210], 10, 1);
    check(&[80, 210], 10, 3);
    check(&[250], 3, 12);
    // A pad that bounces by itself is struck once each time.
    check(&[6, 6, 6, 232], 3, 12);
}
