//! Drill plans: robots that answer, at tempos that step, by turns; what is struck during a call; what the take keeps.

use std::collections::VecDeque;
use std::sync::Arc;

use judge::{Judgement, Settings};
use live::offline::{Offline, Setup};
use live::stored::response_judged;
use live::{Drill, Event, Part, Planned, RoundOver, Tally};
use mixer::{Mixer, Programme, SoundEvent};
use rhythm::Deed;
use sequencer::drill::{
    Audible, DrillPlan, Heard, Material, Outcome, Pace, SectionKind, Steps, TurnOrder, Turns,
};
use sequencer::{Levels, Plan, Sequence, Sounds, sequence};
use take::{Drilled, Ended};
use timebase::{Moment, Ratio, SampleRate, Seconds};

use crate::{kept, ms, opened};

fn planned(plan: DrillPlan, texts: &[&str]) -> Planned {
    let materials = texts.iter().map(|text| {
        let rhythm = rhythm::text::read(text).rhythm.unwrap_or_else(|| panic!("{text}"));
        let line = counting::count(&rhythm);
        Material::new(rhythm, &line)
    });
    let drill = sequencer::drill::Drill::new(plan, materials.collect()).expect("a plan");
    Planned::new(None, drill)
}

fn at_tempo(planned: &Planned, rhythm: usize, bpm: Ratio<u32>) -> Sequence {
    let rhythm = planned.drill.rhythms()[rhythm].rhythm();
    let plan = Plan::of(rhythm).with_bpm(bpm).expect("a tempo");
    sequence(rhythm, &counting::count(rhythm), &plan)
}

/// What a robot strikes in a part: the pad, and how much later than written; nothing leaves the written attack out.
type Robot<'a> = &'a dyn Fn(&Part, usize) -> Option<(&'static str, Seconds)>;

/// Everything that was told of a plan, and what was heard from the engine's first frame on.
#[derive(Default)]
struct Lesson {
    parts: Vec<Arc<Part>>,
    rounds: Vec<Arc<RoundOver>>,
    sound: Vec<f32>,
    ended: Option<(Ended, usize)>,
}

/// Plays a plan to its end, or for so long; the robot strikes where the rhythm is struck, in every part in which it sounds.
fn teach(engine: &mut Offline, planned: &Planned, most: Seconds, robot: Robot<'_>) -> Lesson {
    let mut lesson = Lesson::default();
    let mut strokes: VecDeque<(Moment, &'static str)> = VecDeque::new();
    let until = engine.now() + most;
    while engine.now() < until && lesson.ended.is_none() {
        // One block.
        engine.pass(ms(1));
        lesson.sound.extend_from_slice(engine.played());
        for event in engine.events().try_iter() {
            match event {
                Event::Part(part) => {
                    strokes.extend(struck(planned, &part, robot));
                    lesson.parts.push(part);
                }
                Event::Round(round) => lesson.rounds.push(round),
                Event::Notice(notice) => assert!(notice.contains("was plugged in"), "{notice}"),
                Event::Ended { ended, disturbances, .. } => lesson.ended = Some((ended, disturbances)),
                _ => {}
            }
        }
        while let (Some(now), Some(&(at, pad))) = (engine.drill_now(), strokes.front()) {
            if at > now {
                break;
            }
            strokes.pop_front();
            let stamp = engine.now() - (now - at);
            engine.send_at(pad, &[0x99, 38, 100], stamp);
        }
    }
    lesson
}

fn struck(planned: &Planned, part: &Part, robot: Robot<'_>) -> Vec<(Moment, &'static str)> {
    if !matches!(part.section, SectionKind::Call | SectionKind::Response(_)) {
        return Vec::new();
    }
    let sequence = at_tempo(planned, part.rhythm, part.tempo.bpm());
    let attacks = sequence.counts().iter().filter(|count| count.deed == Deed::Attack);
    let asked = attacks.filter(|count| part.bars.0 <= count.id.bar && count.id.bar <= part.bars.1);
    let strokes = asked.enumerate().filter_map(|(number, count)| {
        let (pad, late) = robot(part, number)?;
        Some((part.bar_one + count.at.since_zero() + late, pad))
    });
    strokes.collect()
}

fn is_response(part: &Part) -> bool {
    matches!(part.section, SectionKind::Response(_))
}

fn stepping(ends_at_most: bool) -> DrillPlan {
    let bpm = Ratio::from_integer;
    let steps = Steps {
        from: bpm(100),
        by: bpm(10),
        up_after: 1,
        down_after: 1,
        least: bpm(90),
        most: bpm(120),
        ends_at_most,
    };
    DrillPlan { pace: Pace::Stepping(steps), times: 6, ..DrillPlan::default() }
}

fn told(rounds: &[Arc<RoundOver>]) -> Vec<(String, Option<Outcome>)> {
    rounds.iter().map(|round| (round.tempo.bpm().to_string(), round.outcome)).collect()
}

const BARS: &str = "meter: 4/4\ntempo: quarter = 100\n| 1 2 & 3 4 |";

/// The tempo goes by how the rounds went, and every frame of the sound stands where it would if all had been one piece.
#[test]
fn the_tempo_steps_by_how_rounds_went_and_the_sound_has_no_seam() {
    let planned = planned(stepping(false), &[BARS]);
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    engine.start(Drill::of_plan(planned.clone())).expect("a drill");
    // In the third round two attacks of five are left out, in the fourth one comes much too late.
    let robot = |part: &Part, number: usize| match (is_response(part), part.round, number) {
        (false, ..) | (true, 3, 0 | 1) => None,
        (true, 4, 3) => Some(("Pad", ms(90))),
        _ => Some(("Pad", ms(12))),
    };
    let lesson = teach(&mut engine, &planned, ms(60_000), &robot);
    assert_eq!(lesson.ended, Some((Ended::Finished, 0)));
    let (good, bad) = (Some(Outcome::Good), Some(Outcome::Bad));
    let expected = [("100", good), ("110", good), ("120", bad), ("110", bad), ("100", good), ("110", good)];
    let expected: Vec<_> = expected.iter().map(|(bpm, became)| ((*bpm).to_owned(), *became)).collect();
    assert_eq!(told(&lesson.rounds), expected);

    // The same rounds as one programme, which nothing follows.
    let outcome = |number: usize| lesson.rounds[number - 1].outcome.expect("known");
    let pack = take::voices::open(Drill::DEFAULT_VOICE).expect("shipped");
    let words = planned.drill.words();
    let sounds = Sounds::of(&pack, words.iter().map(|word| word.as_str()));
    let mut zero = None;
    let mut events: Vec<SoundEvent> = Vec::new();
    let mut bank = None;
    for round in planned.drill.rounds_if(|round| outcome(round.number())) {
        let sounding = sounds.lower_round(&round).expect("sayable");
        let shift = *zero.get_or_insert(sounding.bar_one()) - sounding.bar_one();
        let programme = sounding.programme();
        events.extend(programme.events().iter().map(|event| SoundEvent { at: event.at + shift, ..*event }));
        bank = Some(programme.bank().clone());
    }
    let whole = Programme::new(bank.expect("rounds"), events, timebase::Frames::ZERO).expect("a programme");
    let mut mixer = Levels::default().on(Mixer::new(&whole)).expect("levels");
    let mut expected = vec![0.0; usize::try_from(whole.length().count()).expect("a length")];
    mixer.render(&mut expected);
    let first = |sound: &[f32]| sound.iter().position(|sample| *sample != 0.0).expect("a sound");
    let (heard, expected) = (&lesson.sound[first(&lesson.sound)..], &expected[first(&expected)..]);
    assert!(heard.len() >= expected.len());
    // Sums of the same sounds in another order.
    let worst =
        heard.iter().zip(expected).map(|(heard, expected)| (heard - expected).abs()).fold(0.0, f32::max);
    assert!(worst < 1e-5, "{worst}");
}

#[test]
fn a_drill_ends_when_the_fastest_tempo_is_good() {
    let planned = planned(stepping(true), &[BARS]);
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    engine.start(Drill::of_plan(planned.clone())).expect("a drill");
    let robot = |part: &Part, _| is_response(part).then_some(("Pad", ms(-10)));
    let lesson = teach(&mut engine, &planned, ms(60_000), &robot);
    let tempos: Vec<_> = told(&lesson.rounds).into_iter().map(|(bpm, _)| bpm).collect();
    assert_eq!(
        (tempos.as_slice(), lesson.ended),
        (&["100", "110", "120"].map(str::to_owned)[..], Some((Ended::Finished, 0)))
    );
}

/// Of a round in which nobody ever struck nothing is known: the tempo stays.
#[test]
fn where_nobody_strikes_the_tempo_stays() {
    let planned = planned(DrillPlan { times: 2, ..stepping(false) }, &[BARS]);
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    engine.start(Drill::of_plan(planned.clone())).expect("a drill");
    let lesson = teach(&mut engine, &planned, ms(40_000), &|_, _| None);
    assert_eq!(told(&lesson.rounds), vec![("100".to_owned(), None); 2]);
}

const TWO_BARS: &str = "meter: 4/4\ntempo: quarter = 120\n| 1 2 & 3 4 & | 1 (2) 3 & 4 |";

/// Whoever claps along with the call, up to its last attack and before the bar line, makes no mistake; the take keeps it.
#[test]
fn what_is_struck_during_a_call_is_no_mistake() {
    let plan = DrillPlan { bars: Some(1), times: 2, is_hidden_in_call: true, ..DrillPlan::default() };
    let planned = planned(plan, &[TWO_BARS]);
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    let folder = tempfile::tempdir().expect("a folder");
    let take = folder.path().join("take");
    engine.start(kept(Drill::of_plan(planned.clone()), &take)).expect("a drill");
    let late = |part: &Part| if is_response(part) { ms(15) } else { ms(-30) };
    let lesson = teach(&mut engine, &planned, ms(60_000), &|part, _| Some(("Pad", late(part))));
    assert_eq!(lesson.ended, Some((Ended::Finished, 0)));
    let tallies: Vec<Tally> = lesson.rounds.iter().map(|round| round.answers[0].tally).collect();
    let clean = |asked| Tally { asked, on_time: asked, ..Tally::default() };
    assert_eq!(tallies, [clean(6), clean(4), clean(6), clean(4)]);
    // Without a gap: count-in, then call and response by turns, each where the one before ended; hidden in the call.
    let sections: Vec<_> = lesson.parts.iter().map(|part| (part.section, part.is_hidden)).collect();
    let (call, response) = ((SectionKind::Call, true), (SectionKind::Response(0), false));
    let mut expected = vec![(SectionKind::CountIn, false)];
    expected.extend([call, response].repeat(4));
    assert_eq!(sections, expected);
    assert!(lesson.parts.windows(2).all(|two| two[0].to == two[1].from));

    let take = opened(&take);
    assert_eq!(take.players()[0].strokes.len(), 40, "calls and responses");
    let drilled = take.header().drill.as_ref().expect("a drill");
    assert_eq!(judged_again(drilled, &take), tallies);
    is_said_again(&lesson, &take);
    let good: Vec<_> = drilled.rounds.iter().map(|round| round.good).collect();
    assert_eq!(good, [Some(true); 4]);
    // The click of count-in, calls and responses, once each.
    assert_eq!(take.header().clicks.len(), 4 + 8 * 4);
    assert!(take.header().clicks.windows(2).all(|two| two[1].at - two[0].at == ms(500)));
    let seconds =
        f64::from(u32::try_from(take.frames()).expect("some")) / f64::from(SampleRate::HZ_48000.hz());
    assert!((seconds - 18.25).abs() < 1.1, "{seconds}");
}

/// Every response of a take judged by what the take says of it alone.
fn judged_again(drilled: &Drilled, take: &take::Take) -> Vec<Tally> {
    responses_again(drilled, take).iter().flatten().map(|(_, judgement)| Tally::of(judgement)).collect()
}

/// What was said of every round that was over is what is said of the take.
fn is_said_again(lesson: &Lesson, take: &take::Take) {
    let drilled = take.header().drill.as_ref().expect("a drill");
    let stored = responses_again(drilled, take);
    let answers = lesson.rounds.iter().flat_map(|round| &round.answers);
    for (answer, stored) in answers.zip(&stored) {
        let live: Vec<_> =
            answer.players.iter().map(|player| (player.label.clone(), (*player.judgement).clone())).collect();
        assert_eq!(&live, stored);
    }
}

fn responses_again(drilled: &Drilled, take: &take::Take) -> Vec<Vec<(String, Judgement)>> {
    let mut judged = Vec::new();
    for round in &drilled.rounds {
        let rhythm = rhythm::text::read(&drilled.rhythms[round.rhythm]).rhythm.expect("our own");
        let plan = Plan::of(&rhythm).with_bpm(round.tempo.bpm()).expect("a tempo");
        let sequence = sequence(&rhythm, &counting::count(&rhythm), &plan);
        for response in &round.responses {
            let counts = &sequence.counts()[response.counts.clone()];
            judged.push(response_judged(take, drilled, response, counts, Settings::default()));
        }
    }
    judged
}

/// At one pad the turns are told by the plan; with pads of their own only the pad of whoever's turn it is counts.
#[test]
fn turns_are_judged_each_by_whoever_was_asked() {
    let turns = |order| Turns { players: vec!["K1".to_owned(), "K2".to_owned()], order };
    let plan = DrillPlan { turns: turns(TurnOrder::ByRound), times: 3, ..DrillPlan::default() };
    let shared = planned(plan, &[BARS]);
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    let folder = tempfile::tempdir().expect("a folder");
    let (first, second) = (folder.path().join("first"), folder.path().join("second"));
    engine.start(kept(Drill::of_plan(shared.clone()), &first)).expect("a drill");
    let lesson =
        teach(&mut engine, &shared, ms(60_000), &|part, _| is_response(part).then_some(("Pad", ms(5))));
    is_said_again(&lesson, &opened(&first));
    let answers: Vec<_> = lesson.rounds.iter().flat_map(|round| &round.answers).collect();
    let names: Vec<_> = answers.iter().map(|answer| answer.player.as_deref()).collect();
    assert_eq!(names, [Some("K1"), Some("K2"), Some("K1")]);
    for answer in &answers {
        let rows: Vec<_> = answer.players.iter().map(|player| Some(player.label.as_str())).collect();
        assert_eq!((rows, answer.tally.on_time), (vec![answer.player.as_deref()], 5));
    }
    let whose: Vec<_> = lesson.parts.iter().filter_map(|part| part.player.as_deref()).collect();
    assert_eq!(whose, ["K1", "K2", "K1"]);

    let plan = DrillPlan { turns: turns(TurnOrder::WithinRound), times: 2, ..DrillPlan::default() };
    let own = planned(plan, &[BARS]);
    let pad = |name: &str| vec![input::Place::port(name).expect("a name")];
    let roster = vec![input::Entry::new("K1", pad("Left")), input::Entry::new("K2", pad("Right"))];
    let roster = input::Roster::new(roster).expect("a list");
    let input = input::InputSettings { roster, ..input::InputSettings::default() };
    let mut engine = Offline::new(Setup { input, ..Setup::default() }).expect("an engine");
    engine.plug("Left");
    engine.plug("Right");
    engine.start(kept(Drill::of_plan(own.clone()), &second)).expect("a drill");
    // Right strikes when it is Left's turn too, beside the written attacks; Left never comes in on its own.
    let robot = |part: &Part, _| match part.player.as_deref() {
        Some("K1") => Some(("Right", ms(140))),
        Some(_) => Some(("Right", ms(5))),
        None => None,
    };
    let lesson = teach(&mut engine, &own, ms(60_000), &robot);
    is_said_again(&lesson, &opened(&second));
    let tallies: Vec<_> = lesson
        .rounds
        .iter()
        .map(|round| round.answers.iter().map(|answer| answer.tally).collect::<Vec<_>>())
        .collect();
    let clean = Tally { asked: 5, on_time: 5, ..Tally::default() };
    // Of K1, who never struck, nothing is counted.
    assert_eq!(tallies, vec![vec![Tally::default(), clean]; 2]);
    let missed = lesson.rounds[0].answers[0].players[0].judgement.missed().count();
    assert_eq!(missed, 5, "K1's row shows them all the same");
}

/// Play along with silent bars and nothing heard in the response but what the plan says; stopped in the middle.
#[test]
fn a_plan_that_is_stopped_keeps_what_was_played() {
    let heard = Heard { response: Audible::NOTHING, ..Heard::default() };
    let plan = DrillPlan { is_called: false, times: 4, heard, ..DrillPlan::default() };
    let planned = planned(plan, &[TWO_BARS]);
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    let folder = tempfile::tempdir().expect("a folder");
    let take = folder.path().join("take");
    engine.start(kept(Drill::of_plan(planned.clone()), &take)).expect("a drill");
    let all = |_: &Part, _| Some(("Pad", ms(8)));
    // Count-in of 2 s, then 4 s a round: stopped in the second.
    let lesson = teach(&mut engine, &planned, ms(8_500), &all);
    assert_eq!((lesson.rounds.len(), lesson.ended), (1, None));
    engine.stop();
    let lesson = teach(&mut engine, &planned, ms(100), &all);
    assert_eq!(lesson.ended, Some((Ended::Stopped, 0)));
    let take = opened(&take);
    let drilled = take.header().drill.as_ref().expect("a drill");
    assert_eq!(drilled.rounds.iter().map(|round| round.good).collect::<Vec<_>>(), [Some(true), None]);
    assert_eq!(judged_again(drilled, &take)[0].on_time, 10);
    assert!(take.header().bar_one > Moment::ZERO);
}
