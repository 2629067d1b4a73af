//! The law of a stored take: what is said of it when it is judged again is what was said when its drill ended.

use std::path::Path;

use input::{Controls, Entry, Grouping, InputSettings, Instrument, Order, Place, Players, Roster, Touch};
use judge::{FindingKind, Judgement, Settings, Split, Task};
use live::offline::{Offline, Setup};
use live::stored::{StoredPlayer, played};
use live::{Drill, PlayerState};
use sequencer::{Plan, sequence};
use take::Ended;
use take::json::{self, JudgeFile};
use timebase::{Moment, Seconds};

use crate::{Hands, at, drill, kept, ms, opened, play, told};

/// Four bars at 120: quarters, eighths among them, a rest, a note held over two beats.
const FOUR: &str = "meter: 4/4\ntempo: quarter = 120\n| 1 2 3 4 | 1 & 2 & 3 4 | 1 2 (3) 4 | 1 2 3 |";

/// When they are struck, in ms.
const STRUCK: [i64; 16] = [
    0, 500, 1_000, 1_500, 2_000, 2_250, 2_500, 2_750, 3_000, 3_500, 4_000, 4_500, 5_500, 6_000, 6_500, 7_000,
];

fn setup(roster: &[(&str, &[Place], Instrument)], controls: Controls) -> Setup {
    let entry = |(code, places, instrument): &(&str, &[Place], Instrument)| Entry {
        instrument: *instrument,
        ..Entry::new(code, places.to_vec())
    };
    let roster = Roster::new(roster.iter().map(entry).collect()).expect("a list");
    Setup { input: InputSettings { roster, controls, ..InputSettings::default() }, ..Setup::default() }
}

fn port(name: &str) -> Place {
    Place::port(name).expect("a name")
}

fn pedal(name: &str) -> Place {
    port(name).with_touch(Touch::Pedal(64)).expect("a pedal")
}

/// Judged as the program does it, with nothing but the folder.
fn again(dir: &Path) -> Vec<(String, Judgement)> {
    let take = opened(dir);
    let header = take.header();
    let rhythm = rhythm::text::read(&header.rhythm).rhythm.expect("the take's own");
    let plan = Plan::of(&rhythm).with_bpm(header.tempo.bpm()).expect("its tempo");
    let sequence = sequence(&rhythm, &counting::count(&rhythm), &plan);
    let judged = |player: StoredPlayer<'_>| {
        let strokes: Vec<_> = player.strokes().iter().map(|stroke| played(stroke, header.bar_one)).collect();
        let judgement = player.judged(sequence.counts(), &strokes, header.bar_one, Settings::default());
        (player.label().to_owned(), judgement)
    };
    StoredPlayer::all(&take).into_iter().map(judged).collect()
}

/// Everything that was said in the end, and the same of the take's folder.
struct Both {
    ended: Ended,
    live: Vec<PlayerState>,
    dir: tempfile::TempDir,
}

impl Both {
    /// Plays [`FOUR`] and holds what was said in the end against what is said of the take.
    fn of(setup: Setup, pads: &[&str], mut hands: Vec<Hands>, between: impl FnMut(&mut Offline)) -> Self {
        Self::of_drill(drill(FOUR), setup, pads, &mut hands, between)
    }

    fn of_drill(
        drill: Drill,
        setup: Setup,
        pads: &[&str],
        hands: &mut [Hands],
        mut between: impl FnMut(&mut Offline),
    ) -> Self {
        let dir = tempfile::tempdir().expect("a folder");
        let mut engine = Offline::new(setup).expect("an engine");
        pads.iter().for_each(|name| engine.plug(name));
        engine.start(kept(drill, &dir.path().join("take"))).expect("a drill");
        let until = engine.now() + ms(14_000);
        let mut end = None;
        while end.is_none() && engine.now() < until {
            play(&mut engine, ms(5), hands);
            between(&mut engine);
            end = told(&engine).end;
        }
        let (ended, live, _) = end.expect("it is over");
        let both = Self { ended, live, dir };
        both.are_alike();
        both
    }

    fn take(&self) -> std::path::PathBuf {
        self.dir.path().join("take")
    }

    fn are_alike(&self) {
        let stored = again(&self.take());
        let labels =
            |of: &[(String, Judgement)]| of.iter().map(|(label, _)| label.clone()).collect::<Vec<_>>();
        let live: Vec<(String, Judgement)> =
            self.live.iter().map(|player| (player.label.clone(), (*player.judgement).clone())).collect();
        assert_eq!(labels(&live), labels(&stored));
        for ((label, live), (_, stored)) in live.iter().zip(&stored) {
            assert_eq!(live.findings(), stored.findings(), "{label}");
            assert_eq!(live.attacks(), stored.attacks(), "{label}");
            assert_eq!(live, stored, "{label}");
        }
        let take = opened(&self.take());
        let resolution = take.header().players.iter().filter_map(|player| player.resolution).max();
        let resolution = resolution.unwrap_or(Split::DEFAULT_RESOLUTION);
        let judged = stored.iter().map(|(label, judgement)| (label.as_str(), judgement));
        let file = JudgeFile::at_resolution(judged, take.header().bar_one, resolution);
        assert_eq!(take.judgement().map(json::text), Some(json::text(&file)));
    }

    fn kinds(&self, label: &str) -> Vec<FindingKind> {
        let player = self.live.iter().find(|player| player.label == label).expect("in a row");
        player.judgement.findings().iter().map(|finding| finding.kind).collect()
    }

    fn says(&self, label: &str) -> Vec<String> {
        let player = self.live.iter().find(|player| player.label == label).expect("in a row");
        player.judgement.findings().iter().map(|finding| finding.says.clone()).collect()
    }
}

/// Struck at each of these moments, let go so long after.
fn held(
    pad: &'static str,
    note: u8,
    struck: impl IntoIterator<Item = i64>,
    length: impl Fn(i64) -> i64,
) -> Hands {
    let mut messages: Vec<(Moment, [u8; 3])> = Vec::new();
    for start in struck {
        messages.push((at(start), [0x90, note, 90]));
        messages.push((at(start + length(start)), [0x80, note, 0]));
    }
    messages.sort_by_key(|(at, _)| *at);
    Hands::new(pad, messages)
}

fn nothing(_: &mut Offline) {}

#[test]
fn flams_and_chords_are_one_attack_each() {
    let flams = STRUCK.iter().flat_map(|&ms| [(at(ms - 45), [0x99, 38, 40]), (at(ms), [0x99, 38, 110])]);
    let hands = STRUCK.iter().flat_map(|&ms| [(at(ms), [0x99, 38, 90]), (at(ms + 6), [0x99, 40, 80])]);
    let both = Both::of(
        setup(
            &[("K1", &[port("Left")], Instrument::Pad), ("K2", &[port("Right")], Instrument::Pad)],
            Controls::default(),
        ),
        &["Left", "Right"],
        vec![Hands::new("Left", flams), Hands::new("Right", hands)],
        nothing,
    );
    assert_eq!(both.ended, Ended::Finished);
    for label in ["K1", "K2"] {
        assert_eq!(both.kinds(label), [FindingKind::GoodTake], "{label}");
    }
}

#[test]
fn a_pads_gate_time_is_no_length() {
    let both = Both::of(Setup::default(), &["Pad"], vec![held("Pad", 38, STRUCK, |_| 200)], nothing);
    assert_eq!(both.kinds("P1"), [FindingKind::GoodTake]);
}

/// Keys held for as long as is written, let go too soon, bouncing, and in chords.
#[test]
fn keys_are_held_as_they_are_said_to_be() {
    let keys = || setup(&[("K2", &[port("Keys")], Instrument::Keys)], Controls::default());
    let long = |start: i64| match start {
        2_000..=2_750 => 200,
        4_500 => 450,
        7_000 => 900,
        _ => 460,
    };
    let both = Both::of(keys(), &["Keys"], vec![held("Keys", 60, STRUCK, long)], nothing);
    assert!(!both.kinds("K2").contains(&FindingKind::ReleasedEarly), "{:?}", both.says("K2"));
    for short in [60, 200] {
        let both = Both::of(keys(), &["Keys"], vec![held("Keys", 60, STRUCK, |_| short)], nothing);
        assert!(both.kinds("K2").contains(&FindingKind::ReleasedEarly), "{short}: {:?}", both.says("K2"));
    }
    // A contact that bounces, and a chord whose notes are let go apart.
    let bounced = STRUCK.iter().flat_map(|&ms| {
        let on = [(at(ms), [0x90, 60, 90]), (at(ms + 4), [0x90, 60, 30]), (at(ms + 20), [0x90, 64, 80])];
        let off = [(at(ms + 150), [0x80, 64, 0]), (at(ms + 190), [0x80, 60, 0])];
        on.into_iter().chain(off)
    });
    let both = Both::of(keys(), &["Keys"], vec![Hands::new("Keys", bounced)], nothing);
    assert!(both.kinds("K2").contains(&FindingKind::ReleasedEarly), "{:?}", both.says("K2"));
}

/// One player strikes one key of two keyboards in turn, and lets go of each only when the other is down.
#[test]
fn a_key_is_let_go_on_the_keyboard_it_was_struck_on() {
    let ends = STRUCK[1..].iter().copied().chain([7_900]);
    let mut hands = [("Left", Vec::new()), ("Right", Vec::new())];
    for (number, (start, next)) in STRUCK.into_iter().zip(ends).enumerate() {
        let end = if start == 4_500 { 4_950 } else { next + 20 };
        hands[number % 2].1.extend([(at(start), [0x90, 60, 90]), (at(end), [0x80, 60, 0])]);
    }
    let both = Both::of(
        setup(&[("K1", &[port("Left"), port("Right")], Instrument::Keys)], Controls::default()),
        &["Left", "Right"],
        hands.map(|(pad, messages)| Hands::new(pad, messages)).into(),
        nothing,
    );
    assert_eq!(both.kinds("K1"), [FindingKind::GoodTake], "{:?}", both.says("K1"));
}

#[test]
fn what_was_not_reached_is_not_missed() {
    for lost in [false, true] {
        let mut is_over = false;
        let both = Both::of(
            setup(&[("K1", &[port("Pad")], Instrument::Pad)], Controls::default()),
            &["Pad"],
            vec![Hands::even("Pad", STRUCK.map(at), [0x99, 38, 90])],
            |engine| {
                if !is_over && engine.drill_now().is_some_and(|now| now > at(3_300)) {
                    is_over = true;
                    if lost { engine.unplug_sound("unplugged") } else { engine.stop() }
                }
            },
        );
        assert_eq!(both.ended, Ended::Stopped);
        assert_eq!(both.live[0].judgement.missed().count(), 0);
        assert!(both.live[0].judgement.findings().iter().all(|finding| !finding.kind.is_mistake()));
    }
}

/// Killed: nothing but the journal, as it was at that moment. What was heard is judged, and nothing is missed behind it.
#[test]
fn a_killed_take_is_judged_up_to_where_it_was_heard() {
    let copies = tempfile::tempdir().expect("a folder");
    let mut copied = None;
    let both = {
        let copies = copies.path();
        let dir = tempfile::tempdir().expect("a folder");
        let mut engine = Offline::new(Setup::default()).expect("an engine");
        engine.plug("Pad");
        engine.start(kept(drill(FOUR), &dir.path().join("take"))).expect("a drill");
        let flams = STRUCK.iter().filter(|ms| **ms != 1_500);
        let flams = flams.flat_map(|&ms| [(at(ms - 45), [0x99, 38, 40]), (at(ms), [0x99, 38, 110])]);
        let mut hands = [Hands::new("Pad", flams)];
        while engine.drill_now().is_none_or(|now| now < at(4_100)) {
            play(&mut engine, ms(5), &mut hands);
        }
        std::fs::copy(dir.path().join("take/journal.jsonl"), copies.join("journal.jsonl")).expect("copied");
        copied.get_or_insert(copies.to_owned());
        engine.stop();
        play(&mut engine, ms(50), &mut []);
        told(&engine).end.expect("it is over").1
    };
    let stored = again(&copied.expect("a copy"));
    let (label, judgement) = &stored[0];
    assert_eq!((label.as_str(), judgement.attacks()), ("P1", both[0].judgement.attacks()));
    let says: Vec<_> = judgement.findings().iter().map(|finding| finding.says.as_str()).collect();
    assert_eq!(says, ["bar 1: the attack on 4 was missed"]);
}

/// A cable is pulled for two seconds: neither the judgement nor the take makes a mistake of it.
#[test]
fn an_absence_is_no_mistake() {
    let (mut gone, mut back) = (false, false);
    let both = Both::of(
        setup(
            &[("K1", &[port("Pad")], Instrument::Pad), ("K2", &[port("Tame")], Instrument::Pad)],
            Controls::default(),
        ),
        &["Pad", "Tame"],
        vec![
            Hands::even("Pad", STRUCK.map(at), [0x99, 38, 90]),
            Hands::even("Tame", STRUCK.map(at), [0x99, 38, 90]),
        ],
        |engine| {
            let now = engine.drill_now();
            if !gone && now.is_some_and(|now| now > at(2_850)) {
                gone = true;
                engine.unplug("Pad");
            }
            if !back && now.is_some_and(|now| now > at(4_200)) {
                back = true;
                engine.plug("Pad");
            }
        },
    );
    assert_eq!(both.says("K1"), ["not heard from bar 2, 3 to bar 3, 1: nothing is asked there"]);
    assert_eq!(both.kinds("K2"), [FindingKind::GoodTake]);
    let take = opened(&both.take());
    let absent = &take.header().players[0].absent;
    assert_eq!(absent.len(), 1);
    let in_drill = |at: Moment| (at - take.header().bar_one).as_millis_f64();
    // After the last stroke that was heard, until the program listens again.
    assert!((2_750.0..2_900.0).contains(&in_drill(absent[0].from)), "{}", in_drill(absent[0].from));
    assert!(absent[0].to.is_some_and(|to| (4_200.0..4_300.0).contains(&in_drill(to))));
}

/// One player at two pads. One of them is dead from 2.4 s on, which is noticed half a second later, and back at 4.2 s: what falls to it is
/// not missed, also what was before the other pad was last heard, and what the other pad strikes is judged.
#[test]
fn one_of_two_pads_is_away() {
    let (mut gone, mut back) = (false, false);
    let hand = |first: usize, late: i64| {
        let struck = STRUCK.into_iter().skip(first).step_by(2);
        struck.map(move |ms| at(ms + late)).collect::<Vec<_>>()
    };
    let left = hand(0, 0).into_iter().filter(|struck| !(at(2_400)..at(4_200)).contains(struck));
    let both = Both::of(
        setup(&[("K1", &[port("Left"), port("Right")], Instrument::Pad)], Controls::default()),
        &["Left", "Right"],
        vec![Hands::even("Left", left, [0x99, 38, 90]), Hands::even("Right", hand(1, 10), [0x99, 40, 90])],
        |engine| {
            let now = engine.drill_now();
            if !gone && now.is_some_and(|now| now > at(2_850)) {
                gone = true;
                engine.unplug("Left");
            }
            if !back && now.is_some_and(|now| now > at(4_200)) {
                back = true;
                engine.plug("Left");
            }
        },
    );
    let unheard = ["bar 2, 2", "bar 2, 3", "bar 3, 1"];
    assert_eq!(both.says("K1"), unheard.map(|place| format!("not heard at {place}: nothing is asked there")));
    let judgement = &both.live[0].judgement;
    let late = judgement.attacks().iter().filter_map(|attack| attack.answer);
    let late = late.filter(|answer| answer.offset > ms(9)).count();
    assert_eq!((judgement.attacks().len(), late, judgement.missed().count()), (13, 8, 0));
}

/// One player at two pads, of which one goes wild: what the other strikes meanwhile is judged, and nothing is missed.
#[test]
fn one_of_two_pads_is_wild() {
    let hand = |first: usize| STRUCK.into_iter().skip(first).step_by(2).map(at);
    let left = hand(0).filter(|struck| !(at(3_200)..at(4_200)).contains(struck));
    let both = Both::of(
        setup(&[("K1", &[port("Left"), port("Right")], Instrument::Pad)], Controls::default()),
        &["Left", "Right"],
        vec![Hands::even("Left", left, [0x99, 38, 90]), Hands::even("Right", hand(1), [0x99, 40, 90])],
        |engine| floods(engine, "Left", 3_200..4_200),
    );
    assert_eq!(both.says("K1"), ["not heard at bar 3, 1: nothing is asked there"]);
    assert_eq!(both.live[0].judgement.attacks().len(), STRUCK.len() - 1);
}

/// Floods, ten thousand messages a second, at these times of the drill; what is let through sounds like strokes.
fn floods(engine: &mut Offline, pad: &str, times: std::ops::Range<i64>) {
    let Some(now) = engine.drill_now().filter(|now| (at(times.start)..at(times.end)).contains(now)) else {
        return;
    };
    let stamp = engine.now();
    for number in 0..50 {
        let before = Seconds::from_micros(5_000 - 100 * number);
        if at(times.start) <= now - before {
            engine.send_at(pad, &[0x99, 38, 100], stamp - before);
        }
    }
}

/// A pad goes wild between two beats and calms down again: what it sent, also what went through before that was known, is no stroke of the
/// player's, neither an extra one nor one that answers, and what was struck before and after is judged.
#[test]
fn what_a_wild_pad_sends_is_no_stroke() {
    let both = Both::of(
        setup(&[("K1", &[port("Pad")], Instrument::Pad)], Controls::default()),
        &["Pad"],
        vec![Hands::even(
            "Pad",
            STRUCK.into_iter().filter(|ms| !(3_100..4_400).contains(ms)).map(at),
            [0x99, 38, 90],
        )],
        |engine| floods(engine, "Pad", 3_200..4_200),
    );
    assert_eq!(both.says("K1"), ["not heard from bar 2, 4 to bar 3, 1: nothing is asked there"]);
    assert_eq!(both.live[0].judgement.attacks().len(), STRUCK.len() - 2);
    let take = opened(&both.take());
    let roles = |role| take.players()[0].strokes.iter().filter(|stroke| stroke.role == role).count();
    assert!(roles(take::Role::Wild) >= 1 && roles(take::Role::Attack) == STRUCK.len() - 2);
    let absent = &take.header().players[0].absent;
    let from = (absent[0].from - take.header().bar_one).as_millis_f64();
    assert!(absent.len() == 1 && (3_190.0..3_215.0).contains(&from), "{from}: from the first message on");
}

/// A device that was never there, one that came in late, and one that gives orders only.
#[test]
fn nobody_is_judged_for_what_is_not_there() {
    let controls = Controls::new(vec![(Order::Next, pedal("Ped"))]);
    let roster: &[(&str, &[Place], Instrument)] =
        &[("K1", &[port("Pad")], Instrument::Pad), ("K9", &[port("Away")], Instrument::Pad)];
    let mut late = false;
    let both = Both::of(
        setup(roster, controls.clone()),
        &["Ped", "Pad"],
        vec![
            Hands::even("Pad", STRUCK.map(at), [0x99, 38, 90]),
            Hands::even("Late", STRUCK[9..].iter().copied().map(at), [0x99, 38, 90]),
        ],
        |engine| {
            if !late && engine.drill_now().is_some_and(|now| now > at(3_050)) {
                late = true;
                engine.plug("Late");
            }
        },
    );
    let labels: Vec<&str> = both.live.iter().map(|player| player.label.as_str()).collect();
    assert_eq!(labels, ["K1", "K9", "P3"]);
    assert_eq!(both.kinds("K1"), [FindingKind::GoodTake]);
    assert_eq!(both.says("K9"), ["not there: nothing is judged"]);
    assert_eq!(both.live[1].missing, ["Away"]);
    assert_eq!(both.says("P3"), ["not heard from bar 1, 1 to bar 2, 3: nothing is asked there"]);
    // Without a list the pad is the first player, and the switch none.
    let pad = vec![Hands::even("Pad", STRUCK.map(at), [0x99, 38, 90])];
    let both = Both::of(setup(&[], controls), &["Ped", "Pad"], pad, nothing);
    assert_eq!(both.live.len(), 1);
    assert_eq!((both.live[0].label.as_str(), both.live[0].source.as_str()), ("P1", "Pad"));
    assert_eq!(Players::new(Grouping::ByPort).all().len(), 0);
}

/// A pedal keeps the pulse: the beats are what it is held against, whatever the hands have to play.
#[test]
fn a_pedal_keeps_the_pulse_in_a_row_of_its_own() {
    let beats =
        (0..16).flat_map(|beat| [(at(500 * beat), [0xb0, 64, 127]), (at(500 * beat + 120), [0xb0, 64, 0])]);
    let roster: &[(&str, &[Place], Instrument)] =
        &[("beat", &[pedal("Ped")], Instrument::Pad), ("K1", &[port("Pad")], Instrument::Pad)];
    let both = Both::of(
        setup(roster, Controls::default()),
        &["Ped", "Pad"],
        vec![Hands::new("Ped", beats), Hands::even("Pad", STRUCK.map(at), [0x99, 38, 90])],
        nothing,
    );
    assert_eq!(both.live[0].judgement.task(), Task::Pulse);
    let says = both.says("beat");
    assert_eq!(says.len(), 1);
    assert!(says[0].starts_with("the pulse was kept: all 16 beats were struck and nothing else"), "{says:?}");
    assert_eq!(both.kinds("K1"), [FindingKind::GoodTake]);
    assert_eq!(opened(&both.take()).header().players[0].instrument, Some(take::Instrument::Pedal));
}

/// The latency that was taken out, and what stamps are worth, are known of whoever struck.
#[test]
fn what_is_known_of_stamps_is_kept() {
    let mut drill = drill(FOUR);
    drill.latency = Some(Seconds::from_millis(7));
    let mut hands = [Hands::even("Pad", STRUCK.map(|ms| at(ms + 7)), [0x99, 38, 90])];
    let both = Both::of_drill(drill, Setup::default(), &["Pad", "Silent"], &mut hands, nothing);
    assert_eq!(both.kinds("P1"), [FindingKind::GoodTake]);
    assert_eq!(both.says("P2"), ["nothing was struck: 16 attacks missed"]);
    let take = opened(&both.take());
    let known: Vec<_> =
        take.header().players.iter().map(|note| (note.latency, note.resolution.is_some())).collect();
    assert_eq!(known, [(Some(Seconds::from_millis(7)), true), (None, false)]);
}
