//! Where calls, responses, pickups and silent clicks fall. Positions are worked out by hand from what the plan's words mean;
//! a pickup stands inside the bar before: common practice, no source.

use sequencer::drill::{
    Audible, CountIn, CountInWhen, Drill, DrillPlan, HardBar, Heard, Material, PickupBy, RoundKind,
    SilentClick, TurnOrder, Turns,
};
use sequencer::{Aside, Choice, Cued, Entry};
use timebase::{Moment, Seconds};

use super::{all_good, asked, drill, refused, sections, told};

fn check(plan: DrillPlan, text: &str, round: usize, expected: [&str; 3]) {
    let rounds = all_good(&drill(plan, &[text]));
    assert_eq!(told(&rounds[round - 1]), expected.map(str::to_owned), "round {round} of {text}");
}

#[test]
fn the_call_is_counted_and_clapped_and_the_response_has_the_click() {
    let text = "meter: 2/4\n| 1 & 2 | 1 (2) |";
    check(
        DrillPlan::default(),
        text,
        1,
        [
            ">-1/2 -1/4 >0 1/4 >1/2 3/4 >1 5/4 >3/2 7/4",
            // The last word of the call has room until the round's end: nobody counts in the response.
            "1@-1/2+1/4 2@-1/4+1/4 1@0+1/8 &@1/8+1/8 2@1/4+1/4 1@1/2+1/4 2@3/4+5/4",
            "0+1/8 1/8+1/8 1/4+1/4 1/2+1/4",
        ],
    );
    // Bar by bar, running on: the second round has no count-in.
    let by_bar = DrillPlan { bars: Some(1), ..DrillPlan::default() };
    check(by_bar.clone(), text, 2, [">0 1/4 >1/2 3/4", "1@0+1/4 2@1/4+3/4", "0+1/4"]);
    let rounds = all_good(&drill(by_bar, &[text]));
    assert_eq!(rounds.len(), 2);
    assert_eq!(sections(&rounds[0]), "count-in:-1/2..0 call:0..1/2 response0:1/2..1");
    assert_eq!(sections(&rounds[1]), "call:0..1/2 response0:1/2..1");
    assert_eq!((rounds[0].bars(), rounds[1].bars()), ((1, 1), (2, 2)));
}

#[test]
fn what_the_plan_leaves_audible_is_heard() {
    let heard = |response| Heard { response, ..Heard::default() };
    let of = |response| DrillPlan {
        heard: heard(response),
        count_in: CountIn { bars: 0, when: CountInWhen::Start, ..CountIn::default() },
        ..DrillPlan::default()
    };
    let text = "meter: 2/4\n| 1 & (2) |";
    let clap = Audible { clap: true, ..Audible::NOTHING };
    let count = Audible { count: true, ..Audible::NOTHING };
    let call = ["1@0+1/8 &@1/8+1/8 2@1/4", "0+1/8 1/8+1/8"];
    check(of(Audible::NOTHING), text, 1, [">0 1/4", &format!("{}+3/4", call[0]), call[1]]);
    check(of(clap), text, 1, [">0 1/4", &format!("{}+3/4", call[0]), "0+1/8 1/8+1/8 1/2+1/8 5/8+1/8"]);
    check(
        of(count),
        text,
        1,
        [">0 1/4", "1@0+1/8 &@1/8+1/8 2@1/4+1/4 1@1/2+1/8 &@5/8+1/8 2@3/4+1/4", call[1]],
    );
}

#[test]
fn a_breath_is_clicked_through() {
    let plan = DrillPlan {
        breath: 3,
        rest: 2,
        bars: Some(1),
        count_in: CountIn { bars: 0, when: CountInWhen::Start, ..CountIn::default() },
        ..DrillPlan::default()
    };
    let text = "meter: 2/4\n| 1 2 | 1 2 |";
    let rounds = all_good(&drill(plan.clone(), &[text]));
    assert_eq!(sections(&rounds[0]), "call:0..1/2 breath:1/2..5/4 response0:5/4..7/4");
    assert_eq!(sections(&rounds[1]), "rest:-1/2..0 call:0..1/2 breath:1/2..5/4 response0:5/4..7/4");
    check(plan, text, 2, ["-1/2 -1/4 >0 1/4 1/2 3/4 1 >5/4 3/2", "1@0+1/4 2@1/4+3/2", "0+1/4 1/4+1/4"]);
}

/// Over the Stile's beginning: three four, and it begins on 3. The last bar is two beats long, so that the repeat is seamless.
const STILE: &str = "meter: 3/4\n3 & | 1 2 3 & | 1 _2 |";

#[test]
fn a_pickup_whose_last_bar_leaves_room_runs_on() {
    let text = STILE;
    let rounds = all_good(&drill(DrillPlan::default(), &[text]));
    // A full bar counted in, then 1 2 of the pickup's own bar; the response's pickup begins where the call ends.
    assert_eq!(sections(&rounds[0]), "count-in:-3/2..-1/4 call:-1/4..5/4 response0:5/4..11/4");
    check(
        DrillPlan::default(),
        text,
        1,
        [
            ">-3/2 -5/4 -1 >-3/4 -1/2 -1/4 >0 1/4 1/2 >3/4 1 5/4 >3/2 7/4 2 >9/4 5/2 11/4",
            "1@-3/2+1/4 2@-5/4+1/4 3@-1+1/4 1@-3/4+1/4 2@-1/2+1/4 3@-1/4+1/8 &@-1/8+1/8 \
             1@0+1/4 2@1/4+1/4 3@1/2+1/8 &@5/8+1/8 1@3/4+1/4 2@1+1/4 3@5/4+1/8 &@11/8+13/8",
            "-1/4+1/8 -1/8+1/8 0+1/4 1/4+1/4 1/2+1/8 5/8+1/8 3/4+1/2 5/4+1/8 11/8+1/8",
        ],
    );
    // The next time through, its pickup stands where the response's last bar left room, and clicks once there.
    let twice = DrillPlan { times: 2, ..DrillPlan::default() };
    let rounds = all_good(&drill(twice, &[text]));
    assert_eq!(sections(&rounds[1]), "call:-1/4..5/4 response0:5/4..11/4");
    assert!(told(&rounds[1])[0].starts_with(">0 1/4 1/2"), "{:?}", told(&rounds[1]));
    assert!(told(&rounds[1])[1].starts_with("3@-1/4+1/8 &@-1/8+1/8 1@0"), "{:?}", told(&rounds[1]));
    assert_eq!(rounds[1].starts(), rounds[0].ends());
}

/// The last bar is full, so the response's pickup falls inside it, on beats that the call has too.
#[test]
fn a_pickup_inside_the_calls_last_bar_is_sounded_by_whom_the_plan_says() {
    let text = "meter: 2/4\ntempo: quarter = 60\n& | 1 2 | 1/2 |";
    let plan = |pickup_by| DrillPlan {
        pickup_by,
        count_in: CountIn { bars: 0, when: CountInWhen::Start, ..CountIn::default() },
        ..DrillPlan::default()
    };
    let clicks = ">0 1/4 >1/2 3/4 >1 5/4 >3/2 7/4";
    let call = "&@-1/8+1/8 1@0+1/4 2@1/4+1/4 1@1/2+1/4";
    let claps = "-1/8+1/8 0+1/4 1/4+1/4 1/2+1/2";
    // Whoever calls leads in: the & before the bar line is counted and clapped, and nobody is asked for it.
    let led = [clicks, &format!("{call} 2@3/4+1/8 &@7/8+9/8"), &format!("{claps} 7/8+1/8")];
    check(plan(PickupBy::Call), text, 1, led);
    let rounds = |pickup_by| all_good(&drill(plan(pickup_by), &[text]));
    let bar_line = Moment::ZERO + Seconds::from_millis(4_000);
    assert_eq!(rounds(PickupBy::Call)[0].responses()[0].counts()[0].at, bar_line);
    // The players come in with it themselves: it sounds as the response does, and they are asked from there on.
    check(plan(PickupBy::Players), text, 1, [clicks, &format!("{call} 2@3/4+5/4"), claps]);
    let theirs = &rounds(PickupBy::Players)[0];
    assert_eq!(theirs.responses()[0].counts()[0].at, bar_line - Seconds::from_millis(500));
    assert_eq!(theirs.responses()[0].counts()[0].id.bar, 0);
    check(plan(PickupBy::Both), text, 1, led);
    assert_eq!(rounds(PickupBy::Both)[0].responses()[0].counts(), theirs.responses()[0].counts());
    // While the pickup falls inside the call, the call is what is under way.
    let section = theirs.section_at(bar_line - Seconds::from_millis(250)).expect("a section");
    assert_eq!(section.kind, sequencer::drill::SectionKind::Call);
}

#[test]
fn a_pickup_without_room_gets_a_bar_of_its_own() {
    let text = "meter: 2/4\n& | 1 2 | 1/2 |";
    let rounds = all_good(&drill(
        DrillPlan {
            times: 2,
            count_in: CountIn { bars: 0, when: CountInWhen::Start, ..CountIn::default() },
            ..DrillPlan::default()
        },
        &[text],
    ));
    // The response's last bar is full: the next call's pickup is led to by the counts of its own bar.
    assert_eq!(sections(&rounds[1]), "count-in:-1/2..-1/8 call:-1/8..1 response0:7/8..2");
    assert!(told(&rounds[1])[1].starts_with("1@-1/2+1/4 2@-1/4+1/8 &@-1/8+1/8 1@0"));
    // Where there is a beat to breathe, the pickup stands in it.
    let breathing = DrillPlan { times: 2, rest: 1, ..DrillPlan::default() };
    let rounds = all_good(&drill(breathing.clone(), &[text]));
    assert_eq!(sections(&rounds[1]), "rest:-1/4..-1/8 call:-1/8..1 response0:7/8..2");
    let rounds = all_good(&drill(breathing, &["meter: 2/4\n2 | 1 2 | 1/2 |"]));
    assert_eq!(sections(&rounds[1]), "call:-1/4..1 response0:3/4..2", "it takes up the whole beat");
}

#[test]
fn a_model_comes_once_and_whole() {
    let plan = DrillPlan {
        heard: Heard { model: Some(Audible::ALL), ..Heard::default() },
        bars: Some(1),
        times: 2,
        hard: vec![HardBar { rhythm: 0, bar: 2, times: 2 }],
        ..DrillPlan::default()
    };
    let rounds = all_good(&drill(plan, &["| 1 2 | 1 & 2 |"]));
    let kinds: Vec<_> = rounds.iter().map(|round| (round.kind(), round.bars())).collect();
    let hard = (RoundKind::Hard, (2, 2));
    let phrase = |bar| (RoundKind::Phrase, (bar, bar));
    let time = [hard, hard, phrase(1), phrase(2)];
    let expected: Vec<_> = [(RoundKind::Model, (1, 2))].into_iter().chain(time).chain(time).collect();
    assert_eq!(kinds, expected);
    assert_eq!(sections(&rounds[0]), "count-in:-1..0 model:0..2");
    assert!(rounds[0].responses().is_empty());
    assert_eq!(sections(&rounds[1]), "call:0..1 response0:1..2", "the pulse goes on");
    let numbers: Vec<usize> = rounds.iter().map(sequencer::drill::Round::number).collect();
    assert_eq!(numbers, (1..=9).collect::<Vec<_>>());
}

#[test]
fn the_click_falls_silent_where_the_plan_says() {
    let by_turns = SilentClick { by_turns: Some((1, 2)), bars: vec![] };
    let plan = DrillPlan { silent: by_turns, bars: Some(1), ..DrillPlan::default() };
    let text = "meter: 2/4\n| 1 | 1 2 | 1 | 1 |";
    let clicks: Vec<String> =
        all_good(&drill(plan, &[text])).iter().map(|round| told(round)[0].clone()).collect();
    // With, without, without; through calls and responses alike. The count-in is no bar of the drill.
    assert_eq!(clicks, [">-1/2 -1/4 >0 1/4", ">1/2 3/4", "", ">0 1/4"]);
    let bars = SilentClick { by_turns: None, bars: vec![2] };
    let plan = DrillPlan { silent: bars, ..DrillPlan::default() };
    let rounds = all_good(&drill(plan, &["meter: 2/4\n| 1 | 1 2 |"]));
    assert_eq!(told(&rounds[0])[0], ">-1/2 -1/4 >0 1/4 >1/2 3/4 >1 5/4", "bar 2 of the response has none");
}

#[test]
fn players_take_turns() {
    let turns = |order| Turns { players: vec!["K1".to_owned(), "K2".to_owned()], order };
    let text = "meter: 2/4\n| 1 | 1 2 |";
    let by_round =
        DrillPlan { turns: turns(TurnOrder::ByRound), bars: Some(1), times: 2, ..DrillPlan::default() };
    let who = |plan: DrillPlan| -> Vec<Vec<Option<usize>>> {
        let rounds = all_good(&drill(plan, &[text]));
        rounds.iter().map(|round| round.responses().iter().map(|r| r.player()).collect()).collect()
    };
    assert_eq!(who(by_round), [[Some(0)], [Some(1)], [Some(0)], [Some(1)]]);
    let within = DrillPlan { turns: turns(TurnOrder::WithinRound), breath: 1, ..DrillPlan::default() };
    assert_eq!(who(within.clone()), [[Some(0), Some(1)]]);
    let rounds = all_good(&drill(within, &[text]));
    assert_eq!(
        sections(&rounds[0]),
        "count-in:-1/2..0 call:0..1 breath:1..5/4 response0:5/4..9/4 breath:9/4..5/2 response1:5/2..7/2"
    );
    let places = asked(&rounds[0], 1);
    assert_eq!(places.iter().map(ToString::to_string).collect::<Vec<_>>(), ["5/2", "3", "13/4"]);
    let alone = DrillPlan {
        turns: Turns { players: vec!["K1".to_owned()], ..Turns::default() },
        ..DrillPlan::default()
    };
    assert_eq!(who(alone), [[None]]);
}

#[test]
fn playing_along_has_no_call() {
    let plan = DrillPlan { is_called: false, times: 2, ..DrillPlan::default() };
    let rounds = all_good(&drill(plan, &["meter: 2/4\n2 | 1 2 | 1 |"]));
    assert_eq!(sections(&rounds[0]), "count-in:-1..-1/4 response0:-1/4..3/4");
    assert_eq!(sections(&rounds[1]), "response0:-1/4..3/4");
    // Nobody calls, so the pickup is the players'.
    assert_eq!(rounds[0].responses()[0].counts()[0].id.bar, 0);
}

#[test]
fn the_notation_is_hidden_during_the_call() {
    let plan = DrillPlan { is_hidden_in_call: true, ..DrillPlan::default() };
    let rounds = all_good(&drill(plan, &["tempo: quarter = 60\nmeter: 2/4\n| 1 2 |"]));
    let at = |ms| Moment::ZERO + Seconds::from_millis(ms);
    let hidden: Vec<bool> =
        [-1_000, 0, 1_999, 2_000, 3_999].map(|ms| rounds[0].is_hidden_at(at(ms))).to_vec();
    assert_eq!(hidden, [false, true, true, false, false]);
}

#[test]
fn a_change_of_tempo_or_rhythm_is_counted_in_as_the_plan_says() {
    let texts = ["meter: 2/4\ntempo: quarter = 60\n| 1 |", "meter: 3/4\ntempo: quarter = 60\n| 1 |"];
    let counted = |when, texts: &[&str]| -> Vec<bool> {
        let plan = DrillPlan {
            count_in: CountIn { bars: 1, when, ..CountIn::default() },
            times: 2,
            ..DrillPlan::default()
        };
        let rounds = all_good(&drill(plan, texts));
        rounds.iter().map(|round| sections(round).starts_with("count-in")).collect()
    };
    assert_eq!(counted(CountInWhen::Changes, &texts), [true; 4]);
    assert_eq!(counted(CountInWhen::Start, &texts), [true, false, false, false]);
    assert_eq!(counted(CountInWhen::Changes, &texts[..1]), [true, false]);
    assert_eq!(counted(CountInWhen::Rounds, &texts[..1]), [true, true]);
    let faster = [texts[0], "meter: 2/4\ntempo: quarter = 90\n| 1 |"];
    assert_eq!(counted(CountInWhen::Start, &faster), [true; 4], "nobody could find another tempo");
}

#[test]
fn what_is_outside_its_limits_is_refused() {
    let plan = DrillPlan::default;
    let text = "| 1 |";
    let check = |plan: DrillPlan, words: &str| {
        let said = refused(plan, text);
        assert!(said.contains(words), "{said}");
    };
    check(
        DrillPlan { bars: Some(0), ..plan() },
        "0 is not a number of bars called at once: it goes from 1 to 64",
    );
    check(DrillPlan { breath: 33, ..plan() }, "33 is not a number of beats to breathe");
    check(DrillPlan { times: 0, ..plan() }, "0 is not a number of times through a drill");
    check(DrillPlan { again: 21, ..plan() }, "21 is not a number of times a bad round");
    let hard = |rhythm, bar| vec![HardBar { rhythm, bar, times: 1 }];
    check(DrillPlan { hard: hard(1, 1), ..plan() }, "there is no rhythm 2 in the drill: it has 1");
    check(DrillPlan { hard: hard(0, 2), ..plan() }, "rhythm 1 of the drill has no bar 2");
    let many = DrillPlan { times: 1_000, again: 20, ..plan() };
    check(many, "21000 is not a number of rounds in a drill");
    let none = sequencer::drill::Drill::new(plan(), vec![]).map(|_| ()).expect_err("none").to_string();
    assert!(none.contains("0 is not a number of rhythms in a drill"), "{none}");
}

/// The words are those that the system's table has (`assets/counting`), the entry's those of common practice, no source.
#[test]
fn a_class_is_called_in_its_own_counting_and_led_in_with_words() {
    let words = |system: &str, choice: Choice, entry: Entry| {
        let rhythm = rhythm::text::read("meter: 2/4\n| 1 & 2 | 1 _2 |").rhythm.expect("a rhythm");
        let system = counting::System::named(system).expect("a system");
        let line = counting::count_in(&rhythm, &system, &counting::Settings::default());
        let count_in = CountIn { bars: 2, entry, ..CountIn::default() };
        let plan = DrillPlan { count_in, ..DrillPlan::default() };
        let drill = Drill::new(plan, vec![Material::chosen(rhythm, &line, choice)]).expect("a drill");
        let known = drill.words();
        let round = &all_good(&drill)[0];
        let said: Vec<String> = round
            .cues()
            .iter()
            .filter_map(|cue| match &cue.cued {
                Cued::Count { say, .. } => {
                    assert!(known.contains(say), "{say} is not among the drill's words");
                    Some(say.to_string())
                }
                _ => None,
            })
            .collect();
        said.join(" ")
    };
    let usual = Choice::default();
    assert_eq!(words("numbers", usual, Entry::Numbers), "1 2 1 2 1 & 2 1 2");
    assert_eq!(words("takadimi", usual, Entry::ReadyGo), "1 2 ready go ta di ta ta");
    let silent = Choice { holds: Aside::Silent, ..usual };
    assert_eq!(words("numbers", silent, Entry::ReadyPlay), "1 2 ready play 1 & 2 1");
}

#[test]
fn a_bar_without_click_that_no_rhythm_has_is_refused() {
    let plan = DrillPlan {
        silent: SilentClick { bars: vec![2, 99], ..SilentClick::default() },
        ..DrillPlan::default()
    };
    assert!(refused(plan, "| 1 | 1 | 1 |").contains("has a bar 99"), "not refused");
}
