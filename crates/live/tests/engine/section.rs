//! Many players at once: nothing lost, nothing doubled, everybody told apart.

use input::{Entry, InputSettings, Instrument, NoteRange, Place, Roster, Touch};
use live::offline::{Offline, Setup};
use live::{Event, Measured, MeasuredLoop, MeasuredPad, SoundAt};
use take::Ended;
use timebase::{Frames, Moment, SampleRate, Seconds};

use crate::{Hands, at, drill, kept, ms, offsets_ms, opened, play, quarters, told};

fn listed(roster: Vec<Entry>) -> Setup {
    let roster = Roster::new(roster).expect("a list");
    Setup { input: InputSettings { roster, ..InputSettings::default() }, ..Setup::default() }
}

fn port(name: &str) -> Place {
    Place::port(name).expect("a name")
}

/// Thirty-two players, sixteen on each of two modules by channel, sixteen strokes a second each.
#[test]
fn thirty_two_players_lose_and_double_nothing() {
    let name = |player: u8| format!("K{player:02}");
    let module = |player: u8| if player < 16 { "Module A" } else { "Module B" };
    let roster = (0..32).map(|player| {
        let place = port(module(player)).on_channel(player % 16).expect("a channel");
        Entry::new(&name(player), vec![place])
    });
    let mut engine = Offline::new(listed(roster.collect())).expect("an engine");
    engine.plug("Module A");
    engine.plug("Module B");
    let folder = tempfile::tempdir().expect("a folder");
    engine.start(kept(quarters(3), &folder.path().join("take"))).expect("a drill");
    // Ninety-six strokes in six seconds, everybody 1 ms after the one before.
    let moment = |player: u8, stroke: i64| {
        Moment::ZERO + Seconds::from_micros(62_500 * stroke + 1_000 * i64::from(player))
    };
    let mut hands: Vec<Hands> = (0..32)
        .map(|player| {
            let on = [0x90 | (player % 16), 38, 80];
            let off = [0x80 | (player % 16), 38, 0];
            let strokes = (0..96).flat_map(|stroke| {
                let struck = moment(player, stroke);
                [(struck, on), (struck + ms(20), off)]
            });
            Hands::new(module(player), strokes)
        })
        .collect();
    play(&mut engine, ms(10_000), &mut hands);
    let told = told(&engine);
    let (ended, players, disturbances) = told.end.expect("it is over");
    assert_eq!((ended, disturbances, told.notices), (Ended::Finished, 0, Vec::new()));
    assert_eq!((engine.input().lost(), engine.input().held()), (0, 0));
    let labels: Vec<_> = players.iter().map(|player| player.label.clone()).collect();
    assert_eq!(labels, (0..32).map(name).collect::<Vec<_>>());

    let take = opened(&folder.path().join("take"));
    let bar_one = take.header().bar_one;
    for player in take.players() {
        let number: u8 = player.label[1..].parse().expect("a number");
        assert_eq!(player.strokes.len(), 96, "{}", player.label);
        for (stroke, number_of_stroke) in player.strokes.iter().zip(0i64..) {
            let expected = bar_one + moment(number, number_of_stroke).since_zero();
            assert!((stroke.at - expected).abs() < Seconds::from_micros(100), "{}: {stroke:?}", player.label);
            assert!(stroke.released.is_some() && !stroke.role.is_of_the_pad());
        }
    }
}

/// A class: two on one module by note, one with two pads, one at keys, and the pulse on a pedal of the keys.
#[test]
fn a_section_is_judged_each_by_their_own_strokes() {
    let notes = |from, to| Touch::Notes(NoteRange::new(from, to).expect("a range"));
    let keys = Entry { instrument: Instrument::Keys, ..Entry::new("K4", vec![port("Keys")]) };
    let setup = listed(vec![
        Entry::new("K1", vec![port("Module").with_touch(notes(36, 40)).expect("a touch")]),
        Entry::new("K2", vec![port("Module").with_touch(notes(41, 50)).expect("a touch")]),
        Entry::new("K3", vec![port("Left"), port("Right")]),
        keys,
        Entry::new("pulse", vec![port("Keys").with_touch(Touch::Pedal(64)).expect("a touch")]),
    ]);
    let mut engine = Offline::new(setup).expect("an engine");
    ["Module", "Left", "Right", "Keys"].into_iter().for_each(|name| engine.plug(name));
    engine.start(quarters(2)).expect("a drill");
    let beats = |late: i64| (0..8).map(move |beat| at(500 * beat + late));
    let held = (0..8).flat_map(|beat| {
        let struck = at(500 * beat + 5);
        // Keys struck together within 20 ms, and let go after 450 ms.
        [
            (struck, [0x90, 60, 80]),
            (struck + ms(20), [0x90, 64, 80]),
            (struck + ms(450), [0x80, 60, 0]),
            (struck + ms(455), [0x80, 64, 0]),
        ]
    });
    let flams = (0..8).flat_map(|beat| {
        let main = at(500 * beat - 30);
        if beat == 4 {
            vec![(main - ms(45), [0x99, 45, 40]), (main, [0x99, 45, 110])]
        } else {
            vec![(main, [0x99, 45, 90])]
        }
    });
    let mut hands = [
        Hands::even("Module", beats(20), [0x99, 38, 90]),
        Hands::new("Module", flams),
        Hands::even("Left", beats(10).step_by(2), [0x99, 38, 90]),
        Hands::even("Right", beats(10).skip(1).step_by(2), [0x99, 38, 90]),
        Hands::new("Keys", held),
        Hands::new(
            "Keys",
            beats(0).flat_map(|down| [(down, [0xB0, 64, 127]), (down + ms(200), [0xB0, 64, 0])]),
        ),
    ];
    play(&mut engine, ms(8_000), &mut hands);
    let (_, players, _) = told(&engine).end.expect("it is over");
    let labels: Vec<_> = players.iter().map(|player| player.label.as_str()).collect();
    assert_eq!(labels, ["K1", "K2", "K3", "K4", "pulse"]);
    for (player, late) in players.iter().zip([20.0, -30.0, 10.0, 5.0, 0.0]) {
        let offsets = offsets_ms(player);
        assert_eq!(offsets.len(), 8, "{}: {offsets:?}", player.label);
        assert!(offsets.iter().all(|offset| (offset - late).abs() < 0.5), "{}: {offsets:?}", player.label);
        assert_eq!(
            player.judgement.attacks().len(),
            8,
            "{}: no chord and no flam is two attacks",
            player.label
        );
        let released =
            player.judgement.attacks().iter().filter(|attack| attack.played.released.is_some()).count();
        assert_eq!(released, if player.label == "K4" { 8 } else { 0 }, "{}", player.label);
    }
}

#[test]
fn each_device_has_a_latency_of_its_own() {
    let at = SoundAt { output: "virtual".to_owned(), rate: SampleRate::HZ_48000, block: Frames::new(256) };
    let mut measured = Measured::default();
    let looped = MeasuredLoop { at, input: "Mic".to_owned(), late: ms(10), moved: Seconds::ZERO };
    measured.keep_loop(looped);
    let (port, input) = ("Slow".to_owned(), "Mic".to_owned());
    measured.keep_pad(MeasuredPad { port, input, late: ms(35), uncertainty: Seconds::ZERO });
    let mut engine = Offline::new(Setup { measured, ..Setup::default() }).expect("an engine");
    engine.plug("Quick");
    engine.plug("Slow");
    engine.start(quarters(2)).expect("a drill");
    let late = |ms: i64| (0..8).map(move |beat| crate::at(500 * beat + ms));
    let mut hands =
        [Hands::even("Quick", late(10), [0x99, 38, 90]), Hands::even("Slow", late(45), [0x99, 38, 90])];
    play(&mut engine, ms(8_000), &mut hands);
    let (_, players, _) = told(&engine).end.expect("it is over");
    for player in &players {
        assert!(offsets_ms(player).iter().all(|offset| offset.abs() < 0.5), "{:?}", offsets_ms(player));
    }
}

#[test]
fn a_turn_gives_the_pad_another_name() {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    let mut turns = live::Turns::new([("P1".to_owned(), vec!["K7".to_owned(), "K9".to_owned()])]);
    let mut heard = Vec::new();
    for _ in 0..turns.rounds() {
        let mut drill = drill("meter: 2/4\ntempo: quarter = 120\n| 1 2 |\n");
        drill.names = turns.now();
        engine.start(drill).expect("a drill");
        let mut hands = [Hands::even("Pad", [at(0), at(500)], [0x99, 38, 90])];
        play(&mut engine, ms(5_000), &mut hands);
        let (_, players, _) = told(&engine).end.expect("it is over");
        heard.push((players[0].label.clone(), offsets_ms(&players[0]).len()));
        turns.advance();
    }
    assert_eq!(heard, [("K7".to_owned(), 2), ("K9".to_owned(), 2)]);
}

/// Every stroke is told once, in order, however long a judging may wait.
#[test]
fn every_stroke_is_told_once() {
    let setup = Setup { judged_every: ms(300), ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    engine.plug("Pad");
    engine.start(quarters(4)).expect("a drill");
    let mut hands = [Hands::even("Pad", (0..32).map(|eighth| at(250 * eighth)), [0x99, 38, 90])];
    play(&mut engine, ms(12_000), &mut hands);
    let struck: Vec<usize> = told(&engine)
        .others
        .into_iter()
        .filter_map(|event| if let Event::Struck { attack, .. } = event { Some(attack.index) } else { None })
        .collect();
    assert_eq!(struck, (0..32).collect::<Vec<_>>());
}

fn three_listed() -> Offline {
    let roster = [("K1", "Pad A"), ("K2", "Pad B"), ("K3", "Pad C")];
    let roster = roster.iter().map(|(code, pad)| Entry::new(code, vec![port(pad)]));
    let mut engine = Offline::new(listed(roster.collect())).expect("an engine");
    ["Pad A", "Pad B", "Pad C"].into_iter().for_each(|pad| engine.plug(pad));
    engine
}

fn labels(players: &[live::PlayerState]) -> Vec<&str> {
    players.iter().map(|player| player.label.as_str()).collect()
}

/// Who plays is told with the beginning of the count-in, before anybody has struck or could have missed anything.
#[test]
fn those_who_are_listed_have_rows_from_the_count_in_on() {
    let mut engine = three_listed();
    engine.start(quarters(1)).expect("a drill");
    engine.pass(ms(100));
    let rows = told(&engine).others.into_iter().find_map(|event| match event {
        Event::Judged(players) => Some(players),
        _ => None,
    });
    assert_eq!(rows.as_deref().map(labels), Some(vec!["K1", "K2", "K3"]));
    engine.stop();
    // Where nobody is known yet, that is told too.
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.start(quarters(1)).expect("a drill");
    engine.pass(ms(100));
    assert!(told(&engine).others.iter().any(|event| matches!(event, Event::Judged(rows) if rows.is_empty())));
}

/// Plays a drill of a bar, the space bar struck on its beats or not; the labels of those who are judged at its end.
fn with_space_bar(engine: &mut Offline, strikes: bool) -> Vec<(String, usize)> {
    engine.start(quarters(1)).expect("a drill");
    let mut beats = if strikes { vec![1_500, 1_000, 500, 0] } else { Vec::new() };
    for _ in 0..7_000 {
        engine.pass(ms(1));
        let due = |beat: &i64| engine.drill_now().is_some_and(|now| now >= at(*beat));
        if beats.last().is_some_and(due) {
            beats.pop();
            let now = engine.now();
            engine.input().strike_key(now, ms(8));
        }
    }
    let (.., players, _) = told(engine).end.expect("it is over");
    players.iter().map(|player| (player.label.clone(), player.judgement.attacks().len())).collect()
}

/// Whoever struck the space bar once is no member of the section for good: only where it is struck, or nobody else is there.
#[test]
fn the_space_bar_is_judged_in_drills_in_which_it_is_struck() {
    let judged = |rows: &[(&str, usize)]| -> Vec<(String, usize)> {
        rows.iter().map(|(label, strokes)| ((*label).to_owned(), *strokes)).collect()
    };
    let pads = [("K1", 0), ("K2", 0), ("K3", 0)];
    let mut engine = three_listed();
    let both = judged(&[pads[0], pads[1], pads[2], ("P4", 4)]);
    assert_eq!(with_space_bar(&mut engine, true), both);
    assert_eq!(with_space_bar(&mut engine, false), judged(&pads));
    assert_eq!(with_space_bar(&mut engine, true), both);
    // With the pads away it is the only one that can be played on.
    ["Pad A", "Pad B", "Pad C"].into_iter().for_each(|pad| engine.unplug(pad));
    assert_eq!(with_space_bar(&mut engine, false), judged(&[pads[0], pads[1], pads[2], ("P4", 0)]));
    // Alone it has its row, struck or not.
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    assert_eq!(with_space_bar(&mut engine, true), judged(&[("P1", 4)]));
    assert_eq!(with_space_bar(&mut engine, false), judged(&[("P1", 0)]));
    // Who is listed with it is judged as everybody who is listed.
    let roster = vec![Entry::new("K1", vec![port("Pad A")]), Entry::new("K2", vec![port(Place::SPACE_BAR)])];
    let mut engine = Offline::new(listed(roster)).expect("an engine");
    engine.plug("Pad A");
    assert_eq!(with_space_bar(&mut engine, true), judged(&[("K1", 0), ("K2", 4)]));
    assert_eq!(with_space_bar(&mut engine, false), judged(&[("K1", 0), ("K2", 0)]));
}
