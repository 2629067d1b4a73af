//! Pads that misbehave or do more than strike: floods, garbage, orders, thru-sound.

use input::{Controls, InputSettings, NoteRange, Order, Place, Touch};
use live::Event;
use live::offline::{Offline, Setup};
use take::Ended;

use crate::{Hands, at, ms, offsets_ms, play, quarters, told};

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
    let floods = told.notices.iter().filter(|notice| notice.contains("more than hands can strike")).count();
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
