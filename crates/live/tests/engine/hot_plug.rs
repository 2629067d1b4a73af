//! Devices that go and come back: what is stated happens, and the take is whole.

use input::{Entry, InputSettings, Place, Roster};
use live::offline::{Offline, Setup};
use live::{Error, Event};
use take::Ended;
use timebase::SampleRate;

use crate::{Hands, at, kept, ms, offsets_ms, opened, play, quarters, told};

fn engine() -> Offline {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    engine
}

fn beats(count: i64) -> Hands {
    Hands::even("Pad", (0..count).map(|beat| at(500 * beat)), [0x99, 38, 90])
}

/// A cable is pulled in the middle and plugged in again: the row says so, and the same player goes on.
#[test]
fn a_pad_that_comes_back_goes_on_as_the_same_player() {
    let mut engine = engine();
    let folder = tempfile::tempdir().expect("a folder");
    engine.start(kept(quarters(4), &folder.path().join("take"))).expect("a drill");
    let mut hands = [beats(16)];
    // Two seconds of count-in and lead, then three of sixteen beats' eight seconds.
    while engine.drill_now().is_none_or(|now| now < at(2_900)) {
        play(&mut engine, ms(5), &mut hands);
    }
    engine.unplug("Pad");
    while engine.drill_now().is_none_or(|now| now < at(5_100)) {
        play(&mut engine, ms(5), &mut hands);
    }
    engine.plug("Pad");
    play(&mut engine, ms(5_000), &mut hands);
    let told = told(&engine);
    let (ended, players, disturbances) = told.end.expect("it is over");
    assert_eq!((ended, disturbances, players.len()), (Ended::Finished, 0, 1));
    let missing: Vec<bool> = told
        .others
        .iter()
        .filter_map(|event| if let Event::Judged(players) = event { players.first() } else { None })
        .map(|player| !player.missing.is_empty())
        .collect();
    let changes: Vec<bool> =
        missing.iter().zip(&missing[1..]).filter(|(a, b)| a != b).map(|(_, b)| *b).collect();
    assert_eq!(changes, [true, false], "the row says that the pad is gone, and then no more");
    let said: Vec<_> =
        told.notices.iter().map(|notice| notice.contains("has gone") || notice.contains("is back")).collect();
    assert_eq!(said, [true, true], "{:?}", told.notices);
    assert!(told.notices.iter().all(|notice| notice.contains("P1 plays on")), "{:?}", told.notices);
    // Beats at 3.0 to 5.0 s went unheard, everything else is there.
    assert_eq!(offsets_ms(&players[0]).len(), 11);
    let take = opened(&folder.path().join("take"));
    assert_eq!((take.ended(), take.players()[0].strokes.len()), (Some(Ended::Finished), 11));
}

/// Of a player at two pads the row says which of them is away: unplugged, or held back.
#[test]
fn the_row_says_which_pad_is_away() {
    let place = |name: &str| Place::port(name).expect("a name");
    let roster = Roster::new(vec![Entry::new("K1", vec![place("Left"), place("Right")])]).expect("a list");
    let setup = Setup { input: InputSettings { roster, ..InputSettings::default() }, ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    ["Left", "Right"].into_iter().for_each(|name| engine.plug(name));
    engine.start(quarters(4)).expect("a drill");
    let until = |engine: &mut Offline, ms: i64| {
        while engine.drill_now().is_none_or(|now| now < at(ms)) {
            play(engine, crate::ms(5), &mut []);
        }
    };
    until(&mut engine, 1_000);
    engine.unplug("Left");
    until(&mut engine, 2_000);
    engine.unplug("Right");
    until(&mut engine, 3_000);
    ["Left", "Right"].into_iter().for_each(|name| engine.plug(name));
    until(&mut engine, 4_000);
    for _ in 0..100 {
        engine.pass(ms(5));
        for _ in 0..10 {
            engine.send("Right", &[0x99, 38, 90]);
        }
    }
    until(&mut engine, 7_000);
    let states =
        |event: &Event| if let Event::Judged(players) = event { Some(players[0].state()) } else { None };
    let mut said: Vec<String> = told(&engine).others.iter().filter_map(states).collect();
    said.dedup();
    assert_eq!(said, ["", "not there: Left", "gone", "", "held back: Right", ""]);
}

fn phase_of(engine: &Offline) -> bool {
    engine.drill_now().is_some_and(|now| now > at(2_100))
}

/// Plays the drill until two seconds are over, and gives its take's folder.
fn under_way(engine: &mut Offline, folder: &tempfile::TempDir) -> std::path::PathBuf {
    let take = folder.path().join("take");
    engine.start(kept(quarters(4), &take)).expect("a drill");
    let mut hands = [beats(16)];
    while !phase_of(engine) {
        play(engine, ms(5), &mut hands);
    }
    take
}

/// The sound device goes: the drill ends, its take is whole, and as soon as there is a device, of whatever rate, the next one
/// can be played.
#[test]
fn a_sound_device_that_goes_ends_the_drill_and_not_the_rig() {
    let mut engine = engine();
    let folder = tempfile::tempdir().expect("a folder");
    let take = under_way(&mut engine, &folder);
    engine.unplug_sound("unplugged");
    engine.pass(ms(3_000));
    let first = told(&engine);
    assert_eq!(first.end.expect("it is over").0, Ended::Stopped);
    assert!(
        matches!(first.others.last(), Some(Event::SoundGone { why }) if why == "unplugged"),
        "{:?}",
        first.others
    );
    assert!(matches!(engine.start(quarters(1)), Err(Error::Gone)));
    let kept = opened(&take);
    assert_eq!(kept.ended(), Some(Ended::Stopped));
    assert_eq!(kept.players()[0].strokes.len(), 5);
    assert_eq!(kept.disturbed().len(), 1);
    let wav = take::wav::read_wav(&take.join("take.wav")).expect("sound");
    assert!(wav.length() >= ms(3_500), "{:?}", wav.length());

    let rate = SampleRate::new(44_100).expect("in range");
    engine.plug_sound(rate);
    engine.pass(ms(2_000));
    let second = told(&engine);
    let back =
        second.others.iter().any(|event| matches!(event, Event::SoundBack { rate: new, .. } if *new == rate));
    assert!(back, "{:?}", second.others);
    engine.start(quarters(2)).expect("a drill");
    play(&mut engine, ms(8_000), &mut [beats(8)]);
    let (ended, players, _) = told(&engine).end.expect("it is over");
    assert_eq!((ended, offsets_ms(&players[0]).len()), (Ended::Finished, 8));
    assert!(offsets_ms(&players[0]).iter().all(|offset| offset.abs() < 0.5));
}

/// A driver that falls silent without a word is taken for gone.
#[test]
fn a_device_that_stands_still_is_gone() {
    let mut engine = engine();
    let folder = tempfile::tempdir().expect("a folder");
    let take = under_way(&mut engine, &folder);
    engine.stall(ms(3_500));
    let told = told(&engine);
    assert_eq!(told.end.expect("it is over").0, Ended::Stopped);
    assert!(told.others.iter().any(|event| matches!(event, Event::SoundGone { why } if why.contains("3 s"))));
    assert_eq!(opened(&take).players()[0].strokes.len(), 5);
}

/// A second or more without sound: nobody played on.
#[test]
fn a_long_gap_stops_the_drill_and_a_short_one_marks_it() {
    for (gap, ended) in [(60, Ended::Finished), (1_500, Ended::Stopped)] {
        let mut engine = engine();
        let folder = tempfile::tempdir().expect("a folder");
        let take = under_way(&mut engine, &folder);
        engine.stall(ms(gap));
        engine.pass(ms(12_000));
        let told = told(&engine);
        let (end, _, disturbances) = told.end.expect("it is over");
        assert_eq!((end, disturbances), (ended, 1), "{gap} ms: {:?}", told.notices);
        assert_eq!(opened(&take).disturbed().len(), 1);
    }
}

#[test]
fn sleep_stops_the_drill_and_keeps_its_take() {
    let mut engine = engine();
    let folder = tempfile::tempdir().expect("a folder");
    let take = under_way(&mut engine, &folder);
    engine.sleep(ms(600_000));
    engine.pass(ms(1_000));
    let told = told(&engine);
    assert_eq!(told.end.expect("it is over").0, Ended::Stopped);
    assert!(told.notices.iter().any(|notice| notice.contains("slept for 600 s")), "{:?}", told.notices);
    assert_eq!(opened(&take).players()[0].strokes.len(), 5);
    // Awake, the next drill plays.
    engine.start(quarters(1)).expect("a drill");
    play(&mut engine, ms(6_000), &mut [beats(4)]);
    assert_eq!(offsets_ms(&super::told(&engine).end.expect("it is over").1[0]).len(), 4);
}

#[test]
fn sound_moved_to_another_device_is_marked_and_goes_on() {
    let mut engine = engine();
    let folder = tempfile::tempdir().expect("a folder");
    let take = under_way(&mut engine, &folder);
    engine.says(&audio::Event::Moved);
    engine.pass(ms(12_000));
    let told = told(&engine);
    let (ended, _, disturbances) = told.end.expect("it is over");
    assert_eq!((ended, disturbances), (Ended::Finished, 1));
    assert!(told.notices.iter().any(|notice| notice.contains("another device's")), "{:?}", told.notices);
    assert_eq!(opened(&take).disturbed().len(), 1);
}

/// Nothing is plugged in at all: the space bar plays.
#[test]
fn without_any_pad_the_space_bar_plays() {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.start(quarters(1)).expect("a drill");
    for beat in 0..4 {
        while engine.drill_now().is_none_or(|now| now < at(500 * beat)) {
            engine.pass(ms(1));
        }
        let stamp = engine.now() - (engine.drill_now().expect("it runs") - at(500 * beat));
        engine.input().strike_key(stamp, ms(1));
    }
    engine.pass(ms(4_000));
    let (_, players, _) = told(&engine).end.expect("it is over");
    assert_eq!(players[0].source, "keyboard");
    assert_eq!(offsets_ms(&players[0]).len(), 4);
}

/// A machine that cannot keep up loses sound on and on: the first time is told at once, the others in one line every ten seconds
/// and at the end, so that the strokes are seen between. What is told in full adds up to what the take has.
#[test]
fn losses_of_sound_are_folded() {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.start(quarters(7)).expect("a drill");
    engine.pass(ms(2_000));
    for _ in 0..60 {
        engine.says(&audio::Event::Dropout);
        engine.pass(ms(100));
        engine.stall(ms(30));
        engine.pass(ms(100));
    }
    engine.pass(ms(8_000));
    let told = told(&engine);
    let (_, _, disturbances) = told.end.expect("it is over");
    let whys = told.others.iter().filter_map(|event| match event {
        Event::Disturbed { why } => Some(why.as_str()),
        _ => None,
    });
    let whys: Vec<&str> = whys.collect();
    assert!(disturbances >= 60, "{disturbances}");
    assert!((2..=3).contains(&whys.len()), "{whys:?}");
    assert_eq!(whys[0], "the sound system reports a dropout");
    let more: usize = whys[1..]
        .iter()
        .map(|why| {
            let (times, rest) = why.split_once(" times more").expect("how often");
            assert!(rest.contains(" ms in all"), "{why}");
            times.rsplit(' ').next().and_then(|times| times.parse().ok()).unwrap_or(0_usize)
        })
        .sum();
    assert_eq!(more + 1, disturbances, "{whys:?}");
}

/// What a library says is no sentence for a teacher.
#[test]
fn no_real_time_priority_is_told_in_plain_words() {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.says(&audio::Event::NotRealTime { why: "Refused. Glitches may occur.".to_owned() });
    engine.pass(ms(100));
    let notices = told(&engine).notices;
    assert_eq!(
        notices,
        [
            "the system gives no real-time priority: sound may drop out while the machine is busy; close other programs"
        ]
    );
}
