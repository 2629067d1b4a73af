//! Pads that misbehave or do more than strike: floods, garbage, orders, thru-sound.

use input::{Controls, Entry, InputSettings, NoteRange, Order, Place, Roster, Touch};
use judge::Judgement;
use live::Event;
use live::offline::{Offline, Setup};
use take::Ended;
use timebase::{Frame, Seconds};

use crate::{Hands, at, kept, ms, offsets_ms, opened, play, quarters, told};

/// Two at one module: K1 on its pad 38, K2 on those from 45 to 70.
fn at_a_module() -> Offline {
    let entry = |code: &str, least, most| {
        let notes = Touch::Notes(NoteRange::new(least, most).expect("a range"));
        let place = Place::port("Module").expect("a name").with_touch(notes).expect("a touch");
        Entry::new(code, vec![place])
    };
    let roster = Roster::new(vec![entry("K1", 38, 38), entry("K2", 45, 70)]).expect("apart");
    let setup = Setup { input: InputSettings { roster, ..InputSettings::default() }, ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    engine.plug("Module");
    engine
}

/// Eleven pads of K2's flood for two seconds: K1 on the same module is judged as if nothing were, and the take says what was held
/// back from when to when.
#[test]
fn a_flood_does_not_silence_the_others_of_its_module_and_is_marked() {
    let mut engine = at_a_module();
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path().join("take");
    engine.start(kept(quarters(2), &folder)).expect("a drill");
    let mut hands = [Hands::even("Module", (0..8).map(|beat| at(500 * beat + 10)), [0x99, 38, 90])];
    let until = engine.now() + ms(8_000);
    let mut sent = 0_u32;
    while engine.now() < until {
        let before = engine.now();
        play(&mut engine, ms(1), &mut hands);
        let passed = (engine.now() - before).as_nanos() / 100_000;
        let floods = engine.drill_now().is_some_and(|now| (at(700)..at(2_700)).contains(&now));
        for _ in 0..if floods { passed } else { 0 } {
            let [note, velocity] = [sent % 11, sent * 37 % 120].map(|of| u8::try_from(of).expect("small"));
            engine.send("Module", &[0x99, 60 + note, 1 + velocity]);
            sent += 1;
        }
    }
    let told = told(&engine);
    let (ended, players, disturbances) = told.end.expect("it is over");
    assert_eq!((ended, disturbances), (Ended::Finished, 0), "the sound was whole");
    let first = offsets_ms(&players[0]);
    assert_eq!(first.len(), 8);
    assert!(first.iter().all(|offset| (offset - 10.0).abs() < 0.5), "{first:?}");
    // What went through before the pads were known for wild is nobody's stroke either.
    assert_eq!(players[1].judgement.attacks(), []);
    let [began, over] = &told.notices[..] else { panic!("{:?}", told.notices) };
    assert!(began.contains("more than hands can strike"), "{began}");
    let held = engine.input().held();
    assert!(held > 18_000 && over.contains(&format!("\"Module\": {held} messages in 2.0 s")), "{over}");
    assert!(over.contains("what K2 struck there") && over.contains("The take is marked"), "{over}");
    let take = opened(&folder);
    let [stretch] = take.disturbed() else { panic!("{:?}", take.disturbed()) };
    let bar_one = take.header().bar_one;
    let (from, to) = (stretch.from - bar_one, stretch.to - bar_one);
    assert!(from > ms(690) && from < ms(780) && to > ms(2_680) && to < ms(2_720), "{from} {to}");
    assert!(stretch.why.contains(&held.to_string()), "{}", stretch.why);
    // K2 struck nothing: what may have been struck while the pads were wild cannot be said to be missed.
    let missed_ms = |judgement: &Judgement| {
        let missed: Vec<_> =
            judgement.missed().map(|note| note.at.since_zero().as_nanos() / 1_000_000).collect();
        missed
    };
    assert_eq!(missed_ms(&players[1].judgement), [0, 3_000, 3_500]);
    let says =
        |finding: &judge::Finding| finding.says.contains("not heard from bar 1, 2 to bar 1, second time, 2");
    assert!(players[1].judgement.findings().iter().any(says), "{:?}", players[1].judgement.findings());
    let [_, stored] = &take.header().players[..] else { panic!("{:?}", take.header().players) };
    assert_eq!(stored.absent.len(), 1, "{:?}", stored.absent);
    // Nor do they sound: K2's pads begin to flood when K1's second stroke has died away.
    let sound = take::wav::read_wav(&folder.join("take.wav")).expect("sound");
    let loudest = |from_ms: i64, to_ms: i64| {
        let frame = |ms: i64| {
            let at = bar_one + Seconds::from_millis(ms);
            usize::try_from(Frame::at(at, sound.rate).index()).expect("positive")
        };
        let player = sound.channel(1).take(frame(to_ms)).skip(frame(from_ms));
        player.fold(0.0f32, |most, sample| most.max(sample.abs()))
    };
    assert!(loudest(500, 600) > 0.1 && loudest(1_000, 1_100) > 0.1, "K1 sounds");
    assert!(loudest(695, 995) < 0.01, "{}", loudest(695, 995));
    let second = take.players().iter().find(|player| player.label == "K2").expect("K2 is seated");
    let wild = second.strokes.iter().filter(|stroke| stroke.role == take::Role::Wild).count();
    assert!((11..=22).contains(&wild) && second.strokes.iter().all(|stroke| stroke.role.is_of_the_pad()));
}

/// A module that sends the weak echo on the neighbour's pad 2 ms before the blow: nobody is judged by it, and the take tells it from
/// bouncing. As soft a stroke by itself is one.
#[test]
fn an_echo_that_is_sent_before_its_blow_is_nobodys_stroke() {
    let mut engine = at_a_module();
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path().join("take");
    engine.start(kept(quarters(2), &folder)).expect("a drill");
    let echoed = (0..4).flat_map(|beat| {
        let blow = at(500 * beat);
        [(blow - ms(2), [0x99, 45, 12]), (blow, [0x99, 38, 120]), (blow + ms(20), [0x99, 38, 0])]
    });
    let mut hands = [
        Hands::new("Module", echoed.clone()),
        Hands::even("Module", (4..8).map(|beat| at(500 * beat + 5)), [0x99, 45, 12]),
    ];
    play(&mut engine, ms(8_000), &mut hands);
    let (_, players, _) = told(&engine).end.expect("it is over");
    assert_eq!(offsets_ms(&players[0]).len(), 4);
    assert_eq!((players[1].judgement.attacks().len(), players[1].shaken), (4, 4));
    assert!(offsets_ms(&players[1]).iter().all(|offset| (offset - 5.0).abs() < 0.5));
    let journal = std::fs::read_to_string(folder.join("journal.jsonl")).expect("there");
    let count = |word: &str| journal.lines().filter(|line| line.contains(word)).count();
    assert_eq!((count("\"role\":\"crosstalk\""), count("\"retrigger\":true")), (4, 4));
    let take = opened(&folder);
    let second = take.players().iter().find(|player| player.label == "K2").expect("K2 has struck");
    assert_eq!(second.strokes.iter().filter(|stroke| stroke.role == take::Role::Crosstalk).count(), 4);
}

/// One player with two pads that send one note, both hands together: one attack a beat.
#[test]
fn both_hands_on_two_pads_of_one_note_are_one_attack() {
    let place = |name: &str| Place::port(name).expect("a name");
    let roster = Roster::new(vec![Entry::new("K1", vec![place("Left"), place("Right")])]).expect("a list");
    let setup = Setup { input: InputSettings { roster, ..InputSettings::default() }, ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    ["Left", "Right"].into_iter().for_each(|name| engine.plug(name));
    engine.start(quarters(2)).expect("a drill");
    let beats = |late: i64| (0..8).map(move |beat| at(500 * beat + late));
    let mut hands =
        [Hands::even("Left", beats(0), [0x99, 38, 100]), Hands::even("Right", beats(5), [0x99, 38, 95])];
    play(&mut engine, ms(8_000), &mut hands);
    let (_, players, _) = told(&engine).end.expect("it is over");
    assert_eq!((players.len(), players[0].judgement.attacks().len()), (1, 8));
}

/// One pad floods, one sends garbage, a third is struck: the third is judged as if it were alone.
#[test]
fn what_is_wrong_with_one_pad_does_no_harm_to_another() {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    ["Tame", "Wild", "Broken"].into_iter().for_each(|name| engine.plug(name));
    engine.start(quarters(2)).expect("a drill");
    let mut hands = [Hands::even("Tame", (0..8).map(|beat| at(500 * beat + 10)), [0x99, 38, 90])];
    let mut state = 1u64;
    let until = engine.now() + ms(8_000);
    while engine.now() < until {
        let before = engine.now();
        play(&mut engine, ms(1), &mut hands);
        // Ten thousand messages a second.
        let passed = (engine.now() - before).as_nanos() / 100_000;
        for _ in 0..passed {
            engine.send("Wild", &[0x90, 40, 100]);
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            engine.send("Broken", &state.to_le_bytes());
        }
    }
    let told = told(&engine);
    let (ended, players, _) = told.end.expect("it is over");
    assert_eq!(ended, Ended::Finished);
    let tame = offsets_ms(&players[0]);
    assert_eq!(tame.len(), 8);
    assert!(tame.iter().all(|offset| (offset - 10.0).abs() < 0.5), "{tame:?}");
    let floods = told.notices.iter().filter(|notice| notice.contains("sends more than hands")).count();
    assert!((1..=4).contains(&floods), "{:?}", told.notices);
    assert!(engine.input().held() > 40_000, "{}", engine.input().held());
    assert_eq!(engine.input().lost(), 0);
}

#[test]
fn a_pad_stops_the_drill_and_asks_for_the_next() {
    let bell = |note| {
        let notes = Touch::Notes(NoteRange::new(note, note).expect("a note"));
        Place::port("Pad").expect("a name").with_touch(notes).expect("a touch")
    };
    let controls = Controls::new(vec![(Order::Stop, bell(51)), (Order::Next, bell(52))]);
    let setup = Setup { input: InputSettings { controls, ..InputSettings::default() }, ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    engine.plug("Pad");
    engine.start(quarters(8)).expect("a drill");
    engine.pass(ms(4_000));
    for note in [51, 52] {
        engine.send("Pad", &[0x99, note, 80]);
    }
    engine.pass(ms(100));
    let told = told(&engine);
    let (ended, players, _) = told.end.expect("it is over");
    assert_eq!(ended, Ended::Stopped);
    assert!(players.iter().all(|player| player.judgement.attacks().is_empty()), "an order is no stroke");
    let orders: Vec<_> = told
        .others
        .iter()
        .filter_map(|event| if let Event::Order(order) = event { Some(*order) } else { None })
        .collect();
    assert_eq!(orders, [Order::Stop, Order::Next]);
}

/// The pad that stops the drill is shaken by a blow of which the module tells some milliseconds later: the drill goes on. As soft a blow by
/// itself stops it.
#[test]
fn the_echo_of_a_blow_stops_nothing() {
    let notes = Touch::Notes(NoteRange::new(51, 51).expect("a note"));
    let bell = Place::port("Pad").expect("a name").with_touch(notes).expect("a touch");
    let controls = Controls::new(vec![(Order::Stop, bell)]);
    let setup = Setup { input: InputSettings { controls, ..InputSettings::default() }, ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    engine.plug("Pad");
    engine.start(quarters(8)).expect("a drill");
    engine.pass(ms(4_000));
    let now = engine.now();
    engine.send_at("Pad", &[0x99, 51, 15], now - ms(4));
    engine.pass(ms(6));
    engine.send_at("Pad", &[0x99, 38, 110], now);
    engine.pass(ms(100));
    assert!(told(&engine).end.is_none(), "an echo is no order");
    // Later than one blow may bounce.
    engine.pass(ms(200));
    engine.send("Pad", &[0x99, 51, 15]);
    engine.pass(ms(100));
    assert_eq!(told(&engine).end.expect("it is over").0, Ended::Stopped);
}

/// A struck pad sounds in the block that is asked for next; a pad's own bouncing does not.
#[test]
fn a_stroke_sounds_in_the_next_block() {
    let mut engine = Offline::new(Setup { thru_percent: 100, ..Setup::default() }).expect("an engine");
    engine.plug("Pad");
    engine.pass(ms(100));
    assert!(engine.played().iter().all(|sample| *sample == 0.0));
    let loudest =
        |engine: &Offline| engine.played().iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
    let block = |engine: &mut Offline| {
        engine.step(|callback, out, entered, stamps| callback.fill(out, entered, stamps), |_| {});
    };
    for (velocity, soft) in [(127, false), (30, true)] {
        engine.send("Pad", &[0x99, 38, velocity]);
        // The thread hears of it after the block under way, and the next one sounds.
        block(&mut engine);
        block(&mut engine);
        let level = loudest(&engine);
        assert!(if soft { (0.01..0.15).contains(&level) } else { level > 0.1 }, "{velocity}: {level}");
        engine.pass(ms(1_000));
        assert_eq!(loudest(&engine), 0.0);
    }
    engine.send("Pad", &[0x99, 38, 127, 0x99, 38, 90]);
    engine.pass(ms(1_000));
    // Off by default.
    let mut silent = Offline::new(Setup::default()).expect("an engine");
    silent.plug("Pad");
    silent.send("Pad", &[0x99, 38, 127]);
    block(&mut silent);
    block(&mut silent);
    assert_eq!(loudest(&silent), 0.0);
}

/// While somebody learns what is played on, nothing struck stops the drill or is judged.
#[test]
fn what_is_touched_is_told_while_it_is_asked_for() {
    let controls = Controls::new(vec![(Order::Stop, Place::port("Pad").expect("a name"))]);
    let setup = Setup { input: InputSettings { controls, ..InputSettings::default() }, ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    engine.plug("Pad");
    engine.ask_touches(true);
    engine.send("Pad", &[0x99, 38, 100]);
    engine.pass(ms(100));
    engine.send("Pad", &[0xb0, 64, 127]);
    engine.pass(ms(100));
    engine.ask_touches(false);
    engine.send("Pad", &[0x99, 38, 100]);
    engine.pass(ms(100));
    let told: Vec<String> = engine
        .events()
        .try_iter()
        .filter_map(|event| match event {
            Event::Touched(touch) => Some(touch.to_string()),
            Event::Order(order) => Some(order.name().to_owned()),
            _ => None,
        })
        .collect();
    assert_eq!(told, ["Pad, channel 10, note 38", "Pad, channel 1, pedal 64", "stop"]);
}
