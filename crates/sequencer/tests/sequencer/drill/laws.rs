//! What holds of every drill.

use proptest::prelude::*;
use sequencer::Cued;
use sequencer::drill::{
    Audible, CountIn, CountInWhen, DrillPlan, Heard, PickupBy, Round, RoundKind, SectionKind, SilentClick,
    TurnOrder, Turns,
};
use timebase::{Moment, Position, SampleRate, Seconds, Span};

use super::{all_good, drill};

/// Bars of every kind, and tempos that fall on no whole frame.
const TEXTS: [&str; 6] = [
    "meter: 2/4\ntempo: quarter = 97\n| 1 & 2 | 1 (2) | 1 2 & | _1 2 |",
    "meter: 3/4\ntempo: quarter = 113\n3 & | 1 2 3 & | 1 _2 3 | 1 & 2 |",
    "meter: 3/4\ntempo: quarter = 61.3\n& | 1 2 3 | 1 2 & 3 | 3/4 |",
    "meter: 6/8\ntempo: dotted quarter = 71\n| 1 la li 2 | 1 li 2 li | (1) 2 la li |",
    "tempo: quarter = 88\n|: 1 2 & 3 4 | [2/4] [quarter = 101] 1 e & a 2 :| [4/4] 1 (2) 3 4 |",
    "tempo: quarter = 72\n4 | 1 2 | [quarter = 96 over 2 bars] 1 & 2 3 | 1 la li 2 3 4 | 1 2 3 |",
];

fn plan() -> impl Strategy<Value = DrillPlan> {
    let shape = (proptest::option::of(1u32..4), 0u32..4, 0u32..3, 1u32..3, 0u32..3);
    let who = (
        prop::sample::select(vec![PickupBy::Call, PickupBy::Players, PickupBy::Both]),
        prop::sample::select(vec![CountInWhen::Changes, CountInWhen::Start, CountInWhen::Rounds]),
        prop::sample::select(vec![TurnOrder::ByRound, TurnOrder::WithinRound]),
        0usize..4,
    );
    let heard = (any::<[bool; 3]>(), any::<bool>(), any::<bool>(), proptest::option::of((1u32..4, 1u32..4)));
    (shape, who, heard).prop_map(
        |(
            (bars, breath, rest, times, counted),
            (pickup_by, when, order, players),
            (heard, model, is_called, by_turns),
        )| {
            let [click, count, clap] = heard;
            DrillPlan {
                bars,
                breath,
                rest,
                times,
                count_in: CountIn { bars: counted, when, ..CountIn::default() },
                pickup_by,
                is_called,
                heard: Heard {
                    model: model.then_some(Audible::ALL),
                    call: Audible::ALL,
                    response: Audible { click, count, clap, tone: false },
                },
                turns: Turns { players: (0..players).map(|n| format!("K{n}")).collect(), order },
                silent: SilentClick { by_turns, bars: vec![2] },
                ..DrillPlan::default()
            }
        },
    )
}

fn attacks(round: &Round, response: usize) -> Vec<(rhythm::AttackId, Moment)> {
    let counts = round.responses()[response].counts().iter();
    counts.filter(|count| count.deed == rhythm::Deed::Attack).map(|count| (count.id, count.at)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// A response is the call, later by the length of the call in whole bars and the breath: every attack that is asked for is
    /// clapped in the call so much earlier. What is not asked for is the pickup that the call leads in with, and nothing else.
    #[test]
    fn a_response_is_the_call_shifted_by_its_length(plan in plan(), text in prop::sample::select(TEXTS.to_vec())) {
        let plan = DrillPlan { is_called: true, ..plan };
        for round in all_good(&drill(plan.clone(), &[text])) {
            if round.kind() == RoundKind::Model {
                continue;
            }
            let call = round.sections().iter().find(|section| section.kind == SectionKind::Call).expect("a call");
            let claps: Vec<(rhythm::AttackId, Position)> = round
                .cues()
                .iter()
                .filter(|cue| cue.at >= call.from && cue.at < call.to)
                .filter_map(|cue| match &cue.cued {
                    Cued::Clap { id, .. } => Some((*id, cue.at)),
                    _ => None,
                })
                .collect();
            let mut whole = None;
            for (number, response) in round.responses().iter().enumerate() {
                let shift = response.zero() - Position::ZERO;
                let asked = attacks(&round, number);
                let expected: Vec<_> = claps
                    .iter()
                    .filter(|(id, at)| {
                        let own = *at < call.to && (plan.pickup_by != PickupBy::Call || id.bar > 0);
                        // A response's pickup inside the call's last bar is no note of the call.
                        own && (id.bar > 0 || *at < Position::ZERO)
                    })
                    .map(|(id, at)| (*id, round.tempo_map().moment_at(*at + shift)))
                    .collect();
                prop_assert_eq!(&asked, &expected, "round {} of {}", round.number(), text);
                // Each response is as much later than the one before as the first is than the call.
                let each = shift / (i64::try_from(number).expect("small") + 1);
                prop_assert_eq!(*whole.get_or_insert(each), each);
            }
        }
    }

    /// No two clicks, words or claps at one place; no word runs into the next; rounds follow one another without a gap, and no
    /// cue of a round stands in another's time but the pickup for which there was room.
    #[test]
    fn nothing_overlaps_and_lengths_add_up(plan in plan(), texts in prop::sample::subsequence(TEXTS.to_vec(), 1..4)) {
        let drill = drill(plan, &texts);
        let rounds = all_good(&drill);
        let mut sum = Seconds::ZERO;
        let mut ended: Option<Moment> = None;
        let mut latest: [Option<Moment>; 3] = [None; 3];
        for round in &rounds {
            let kind = |cued: &Cued| match cued {
                Cued::Click { .. } | Cued::Division => 0,
                Cued::Clap { .. } => 1,
                Cued::Tone { .. } => 2,
                Cued::Count { .. } => 3,
            };
            for pair in round.cues().windows(2) {
                let (a, b) = ((pair[0].at, kind(&pair[0].cued)), (pair[1].at, kind(&pair[1].cued)));
                prop_assert!(a < b, "{:?} and {:?}", pair[0], pair[1]);
            }
            let words = round.cues().iter().filter_map(|cue| match &cue.cued {
                Cued::Count { slot, .. } => Some((cue.at, *slot)),
                _ => None,
            });
            let words: Vec<_> = words.collect();
            for (index, (at, slot)) in words.iter().enumerate() {
                let next = words.get(index + 1).map_or(round.end(), |(next, _)| *next);
                prop_assert!(slot.is_positive() && *at + *slot == next);
            }
            prop_assert!(round.cues().iter().all(|cue| cue.at >= round.sounds_from() && cue.at < round.end()));
            // A click through what a last bar lacks may stand under the next round's pickup, never beside another click.
            let of = |wanted: usize| {
                let places = round.cues().iter().filter(move |cue| kind(&cue.cued) == wanted).map(|cue| cue.at);
                places.map(|at| round.tempo_map().moment_at(at))
            };
            for (wanted, latest) in latest.iter_mut().enumerate() {
                if let (Some(first), Some(before)) = (of(wanted).next(), *latest) {
                    prop_assert!(first > before, "a cue of a round at or before one of the round before");
                }
                *latest = of(wanted).next_back().or(*latest);
            }
            if let Some(ended) = ended {
                prop_assert_eq!(round.starts(), ended);
            }
            sum += round.length();
            ended = Some(round.ends());
        }
        let whole = rounds[rounds.len() - 1].ends() - rounds[0].starts();
        let slack = Seconds::from_nanos(i64::try_from(rounds.len()).expect("few") + 1);
        prop_assert!((sum - whole).abs() <= slack);
        let (least, most) = drill.bounds();
        prop_assert_eq!(least, most, "nothing depends on what rounds become");
        prop_assert!((least - whole).abs() <= slack, "{} {}", least, whole);
    }

    /// Sections stand in order, and a response's counts inside their own.
    #[test]
    fn counts_stand_in_their_sections(plan in plan(), text in prop::sample::select(TEXTS.to_vec())) {
        for round in all_good(&drill(plan.clone(), &[text])) {
            for pair in round.sections().windows(2) {
                prop_assert!(pair[0].from < pair[1].from && pair[0].to < pair[1].to, "{:?}", round.sections());
            }
            for (number, response) in round.responses().iter().enumerate() {
                let section = round.sections().iter().find(|s| s.kind == SectionKind::Response(number));
                let section = section.expect("a section");
                let (from, to) = (round.tempo_map().moment_at(section.from), round.tempo_map().moment_at(section.to));
                prop_assert!(response.counts().iter().all(|count| count.at >= from && count.at < to), "outside");
                prop_assert!(response.counts().windows(2).all(|pair| pair[0].at < pair[1].at));
                prop_assert!(!response.counts().is_empty(), "nothing is asked");
            }
        }
    }
}

/// A hundred rounds at 97 a minute: every click of every round falls on the frame that the number of beats since the beginning
/// gives, 60 · 48000 · n / 97 to the nearest, in whole numbers.
#[test]
fn clicks_of_the_hundredth_round_are_right_to_the_frame() {
    let plan = DrillPlan { bars: Some(1), times: 50, ..DrillPlan::default() };
    let drill = drill(plan, &["meter: 2/4\ntempo: quarter = 97\n| 1 2 | 1 & 2 |"]);
    let rounds = all_good(&drill);
    assert_eq!(rounds.len(), 100);
    let mut beat = -2_i64;
    for round in &rounds {
        for cue in round.cues().iter().filter(|cue| matches!(cue.cued, Cued::Click { .. })) {
            let frame = round.tempo_map().frame_at(cue.at, SampleRate::HZ_48000).index();
            assert_eq!(frame, (2 * 60 * 48_000 * beat + 97).div_euclid(2 * 97), "beat {beat}");
            beat += 1;
        }
    }
    assert_eq!(beat, 100 * 4);
}

/// Rounds at a new odd tempo each, whose exact beginnings fit no machine word: still right to the frame, by fractions
/// that are multiplied out without bounds.
#[test]
fn the_last_of_many_tempos_is_right_to_the_frame() {
    use num_bigint::BigInt;
    use sequencer::drill::{Pace, Steps};
    let steps = Steps {
        from: timebase::Ratio::new(60_007, 1_000),
        by: timebase::Ratio::new(1_013, 1_000),
        up_after: 1,
        down_after: 1,
        least: 60.into(),
        most: 300.into(),
        ends_at_most: false,
    };
    let plan = DrillPlan { pace: Pace::Stepping(steps), times: 200, ..DrillPlan::default() };
    let rounds = all_good(&drill(plan, &["meter: 2/4\n| 1 2 |"]));
    // Beats before the last round's first bar line: of every round 2 counted in, 2 called, 2 answered; the
    // first count-in lies before zero.
    let (mut numerator, mut denominator) = (BigInt::from(0), BigInt::from(1));
    for number in 0..200_i64 {
        let thousandths = 60_007 + 1_013 * number;
        let beats = if number == 0 {
            4
        } else if number == 199 {
            2
        } else {
            6
        };
        numerator = numerator * thousandths + &denominator * (beats * 60_000);
        denominator *= thousandths;
    }
    let frame: BigInt = (numerator * 2 * 48_000 + &denominator) / (denominator * 2);
    let found = rounds[199].tempo_map().frame_at(Position::ZERO, SampleRate::HZ_48000).index();
    assert_eq!(BigInt::from(found), frame);
    assert_eq!(rounds[199].end() - Position::ZERO, Span::WHOLE);
}
