//! Tempos that step, rounds played again, and how long it all may take.

use proptest::prelude::*;
use sequencer::drill::{CountIn, CountInWhen, DrillPlan, Outcome, Pace, Stepper, Steps};
use timebase::{Ratio, Seconds};

use super::{drill, refused};

const TEXT: &str = "meter: 2/4\ntempo: quarter = 60\n| 1 2 | 1 & 2 |";

fn steps() -> Steps {
    Steps {
        from: 60.into(),
        by: 10.into(),
        up_after: 2,
        down_after: 1,
        least: 50.into(),
        most: 75.into(),
        ends_at_most: false,
    }
}

/// The tempo of each round, and of the one after the last, for rounds good (`g`) and bad (`b`).
#[track_caller]
fn check(steps: Steps, told: &str, expected: &[u32]) {
    let mut stepper = Stepper::new(&steps);
    let mut found = vec![stepper.bpm().to_integer()];
    for letter in told.chars() {
        stepper = stepper.after(if letter == 'g' { Outcome::Good } else { Outcome::Bad }, &steps);
        found.push(stepper.bpm().to_integer());
    }
    assert_eq!(found, expected, "{told}");
}

#[test]
fn the_tempo_steps_up_after_good_rounds_and_down_after_bad_ones() {
    check(steps(), "gggggg", &[60, 60, 70, 70, 75, 75, 75]);
    check(steps(), "gbgg", &[60, 60, 50, 50, 60]);
    check(steps(), "bbb", &[60, 50, 50, 50]);
    check(Steps { down_after: 2, ..steps() }, "bgbbg", &[60, 60, 60, 60, 50, 50]);
    // A step that would leave the bounds goes to the bound, and back from there.
    check(steps(), "ggggbb", &[60, 60, 70, 70, 75, 65, 55]);
    let mut stepper = Stepper::new(&Steps { ends_at_most: true, ..steps() });
    let done: Vec<bool> = (0..6)
        .map(|_| {
            stepper = stepper.after(Outcome::Good, &Steps { ends_at_most: true, ..steps() });
            stepper.is_done()
        })
        .collect();
    assert_eq!(done, [false, false, false, false, false, true], "two more at 75");
}

fn stepping(steps: Steps) -> DrillPlan {
    DrillPlan { pace: Pace::Stepping(steps), bars: Some(1), times: 4, ..DrillPlan::default() }
}

#[test]
fn rounds_follow_what_is_told_of_those_before() {
    let drill = drill(stepping(steps()), &[TEXT]);
    let mut rounds = drill.rounds();
    let mut tempos = Vec::new();
    let told = [Some(Outcome::Good), Some(Outcome::Good), None, Some(Outcome::Bad), Some(Outcome::Good)];
    for told in told {
        let round = rounds.next_round().expect("eight rounds");
        tempos.push(round.tempo().to_string());
        if let Some(outcome) = told {
            rounds.told(outcome);
        }
    }
    tempos.push(rounds.next_round().expect("eight rounds").tempo().to_string());
    // What is not told leaves the tempo alone.
    let expected = [60, 60, 70, 70, 60, 60].map(|bpm| format!("quarter = {bpm}"));
    assert_eq!(tempos, expected);
}

#[test]
fn a_bad_round_is_played_again() {
    let plan = DrillPlan { bars: Some(1), again: 2, ..DrillPlan::default() };
    let drill = drill(plan, &[TEXT]);
    let bars = |outcome: fn(usize) -> Outcome| -> Vec<u32> {
        drill.rounds_if(|round| outcome(round.number())).map(|round| round.bars().0).collect()
    };
    assert_eq!(bars(|_| Outcome::Good), [1, 2]);
    assert_eq!(bars(|_| Outcome::Bad), [1, 1, 1, 2, 2, 2]);
    assert_eq!(bars(|number| if number == 1 { Outcome::Bad } else { Outcome::Good }), [1, 1, 2]);
    // Bar of two beats called and answered at 60: 4 s; counted in once: 2 s.
    assert_eq!(drill.bounds(), (Seconds::from_millis(10_000), Seconds::from_millis(26_000)));
}

#[test]
fn a_drill_ends_when_the_fastest_tempo_is_good() {
    let plan = DrillPlan { times: 50, ..stepping(Steps { ends_at_most: true, ..steps() }) };
    let drill = drill(plan, &[TEXT]);
    assert_eq!(drill.rounds_if(|_| Outcome::Good).count(), 6);
    assert_eq!(drill.rounds_if(|_| Outcome::Bad).count(), 100);
}

/// Worked out by hand, in beats of 60 / tempo: 4 beats a round, 2 of count-in at the start and at each new tempo.
/// All good: 60 60 70 70 75 75 75 75, two changes. All bad: 60, then 50, one change.
#[test]
fn bounds_are_the_quickest_and_the_slowest_way() {
    let drill = drill(stepping(steps()), &[TEXT]);
    let (least, most) = drill.bounds();
    let beats = |beats: f64, bpm: f64| beats * 60.0 / bpm;
    let quickest = beats(10.0, 60.0) + beats(10.0, 70.0) + beats(18.0, 75.0);
    assert!((least.as_secs_f64() - quickest).abs() < 1e-6, "{least}");
    let slowest = beats(6.0, 60.0) + beats(30.0, 50.0);
    // Going up and down costs count-ins: it may be slower than staying slow.
    assert!(most.as_secs_f64() >= slowest - 1e-6, "{most}");
}

#[test]
fn steps_that_are_none_are_refused() {
    let check = |steps: Steps, words: &str| {
        let said = refused(DrillPlan { pace: Pace::Stepping(steps), ..DrillPlan::default() }, TEXT);
        assert!(said.contains(words), "{said}");
    };
    check(Steps { by: 0.into(), ..steps() }, "a step is more than nothing");
    check(Steps { least: 61.into(), ..steps() }, "the slowest is at most the first");
    check(Steps { most: 59.into(), ..steps() }, "the first at most the fastest");
    check(Steps { least: 12.into(), ..steps() }, "12 is not a tempo");
    check(Steps { up_after: 0, ..steps() }, "0 is not a number of rounds before a step");
    let fine = Steps { by: Ratio::new(1, 1_000), up_after: 50, down_after: 50, most: 300.into(), ..steps() };
    let plan = DrillPlan { pace: Pace::Stepping(fine), times: 1_000, ..DrillPlan::default() };
    let said = refused(plan, TEXT);
    assert!(said.contains("too many tempos"), "{said}");
}

fn outcomes() -> impl Strategy<Value = Vec<bool>> {
    proptest::collection::vec(any::<bool>(), 1..200)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever rounds become, the drill lasts no shorter and no longer than its bounds, and some way reaches each.
    #[test]
    fn no_drill_leaves_its_bounds(
        told in outcomes(),
        again in 0u32..3,
        up_after in 1u32..4,
        down_after in 1u32..3,
        by in 3u32..40,
        ends_at_most in any::<bool>(),
        when in prop::sample::select(vec![CountInWhen::Changes, CountInWhen::Start, CountInWhen::Rounds]),
        rest in 0u32..3,
    ) {
        let steps = Steps { by: by.into(), up_after, down_after, ends_at_most, ..steps() };
        let plan = DrillPlan { again, rest, count_in: CountIn { bars: 1, when, ..CountIn::default() }, ..stepping(steps) };
        let drill = drill(plan, &[TEXT, "meter: 3/4\n3 | 1 2 3 | 1 |"]);
        let (least, most) = drill.bounds();
        let became = |number: usize| {
            if told[number % told.len()] { Outcome::Good } else { Outcome::Bad }
        };
        let rounds: Vec<_> = drill.rounds_if(|round| became(round.number())).collect();
        let lasts = rounds[rounds.len() - 1].ends() - rounds[0].starts();
        let slack = Seconds::from_micros(1);
        prop_assert!(lasts >= least - slack && lasts <= most + slack, "{least} {lasts} {most}");
        let sum = rounds.iter().fold(Seconds::ZERO, |sum, round| sum + round.length());
        prop_assert!((sum - lasts).abs() < slack, "the lengths of the rounds add up: {sum} {lasts}");
    }
}
