//! Cut bars, pickups that come again and tempos that change inside a rhythm. Places are worked out by hand from what the words of the
//! plan mean.

use sequencer::drill::{Audible, Drill, DrillPlan, Heard, Outcome, Round, SilentClick, Turns};
use timebase::{Position, Seconds};

use super::{all_good, drill, sections, told};

/// Bar 2 is cut where it is repeated; the last time through its other half follows.
const CUT: &str = "meter: 4/4\n|: 1 2 3 4 | [lasts 1/2] 1 2 :| [from 1/2] 3 4 | 1 2 3 4 |";
/// A pickup inside the repeat: the cut bar 2 leaves room for it.
const REPEATED: &str = "meter: 4/4\n|: 4 | 1 2 3 4 | [lasts 3/4] 1 2 3 :| 1 2 3 4 | 1 2 3 4 |";

fn numbers(round: &Round) -> Vec<(u32, u32)> {
    round.played().iter().map(|bar| (bar.number, bar.pass)).collect()
}

fn lines(round: &Round) -> String {
    let told = round.bar_lines().iter().map(|(at, _)| at.to_string());
    told.collect::<Vec<_>>().join(" ")
}

#[test]
fn the_click_comes_back_where_a_cut_bar_ends() {
    let silent = SilentClick { by_turns: None, bars: vec![2] };
    let plan = DrillPlan { silent, ..DrillPlan::default() };
    let clicks = &told(&all_good(&drill(plan, &[CUT]))[0])[0];
    // The call is four and a half bars long. In the response: bar 1, half of bar 2 silent, bar 1 again, all of bar 2 silent, bar 3.
    let response = clicks.split_once(">9/2 ").expect("a response").1;
    assert_eq!(response, "19/4 5 21/4 >6 25/4 13/2 27/4 >8 33/4 17/2 35/4");
    // A bar that is cut at the end of a section is taken to be whole, silence and all.
    let last = DrillPlan {
        silent: SilentClick { by_turns: None, bars: vec![2] },
        bars: Some(2),
        ..DrillPlan::default()
    };
    let clicks = &told(&all_good(&drill(last, &[CUT]))[0])[0];
    assert_eq!(clicks, ">-1 -3/4 -1/2 -1/4 >0 1/4 1/2 3/4 >1 5/4 3/2 7/4 >2 9/4 5/2 11/4");
}

#[test]
fn a_pickup_that_comes_again_leads_into_its_own_bar() {
    let rounds = |bars| all_good(&drill(DrillPlan { bars: Some(bars), ..DrillPlan::default() }, &[REPEATED]));
    let played: Vec<_> = rounds(2).iter().map(numbers).collect();
    assert_eq!(played, [vec![(0, 1), (1, 1), (2, 1)], vec![(0, 2), (1, 2), (2, 2)], vec![(3, 1), (4, 1)]]);
    // It stands where the response before has left room for it.
    let second = &rounds(2)[1];
    assert_eq!(sections(second), "call:-1/4..7/4 response0:7/4..15/4");
    assert!(told(second)[2].starts_with("-1/4+1/4 0+1/4"), "{}", told(second)[2]);
    let played: Vec<_> = rounds(1).iter().map(numbers).collect();
    assert_eq!(played[1..3], [vec![(2, 1)], vec![(0, 2), (1, 2)]]);
}

#[test]
fn bar_lines_stand_where_bars_begin() {
    let two = |breath| DrillPlan { bars: Some(2), breath, ..DrillPlan::default() };
    let rounds = all_good(&drill(two(0), &[REPEATED]));
    // Counted in with a bar and the rest of the pickup's; the cut bar is made whole and holds the next pickup.
    assert_eq!(lines(&rounds[0]), "-2 -1 0 1 2 3");
    assert_eq!(lines(&rounds[1]), "0 1 2 3");
    let rounds = all_good(&drill(two(2), &[REPEATED]));
    assert_eq!(lines(&rounds[0]), "-2 -1 0 1 2 5/2 7/2", "the breath is a bar of two beats");
    let whole = all_good(&drill(DrillPlan::default(), &[CUT]));
    assert_eq!(lines(&whole[0]), "-1 0 1 3/2 5/2 3 7/2 9/2 11/2 6 7 15/2 8");
}

#[test]
fn another_tempo_inside_a_rhythm_is_counted_in() {
    let text = "meter: 4/4\ntempo: quarter = 60\n\
                | 1 2 3 4 | [quarter = 120] 1 2 3 4 | 1 & 2 & 3 4 | [quarter = 90] 1 2 3 4 |";
    let plan = |breath| DrillPlan { bars: Some(1), breath, ..DrillPlan::default() };
    let rounds = all_good(&drill(plan(0), &[text]));
    let counted: Vec<bool> = rounds.iter().map(|round| sections(round).starts_with("count-in")).collect();
    assert_eq!(counted, [true, true, false, true]);
    let tempi: Vec<String> = rounds.iter().map(|round| round.entry_tempo().to_string()).collect();
    assert_eq!(tempi, ["quarter = 60", "quarter = 120", "quarter = 120", "quarter = 90"]);
    // A bar at 60 answered at 60, though the rhythm goes on at 120.
    assert_eq!(rounds[0].length(), Seconds::from_millis(12_000));
    // Two bars to a round: the response begins at 60 again, and the breath before it too.
    let two = DrillPlan { bars: Some(2), ..plan(2) };
    let round = &all_good(&drill(two, &[text]))[0];
    let map = round.tempo_map();
    let breath = Position::ZERO + timebase::Span::new(2, 1);
    let response = breath + timebase::Span::HALF;
    assert_eq!(map.moment_at(response) - map.moment_at(breath), Seconds::from_millis(2_000));
    // A gradual change that goes on from round to round is no other tempo.
    let gradual = "meter: 2/4\ntempo: quarter = 60\n\
                   | 1 2 | [quarter = 120 over 2 bars] 1 2 | 1 2 | 1 2 |";
    let rounds = all_good(&drill(plan(0), &[gradual]));
    let counted: Vec<bool> = rounds.iter().map(|round| sections(round).starts_with("count-in")).collect();
    assert_eq!(counted, [true, false, false, false]);
}

#[test]
fn who_failed_has_the_round_again() {
    let players = ["K1", "K2", "K3"].map(str::to_owned).to_vec();
    let turns = Turns { players, ..Turns::default() };
    let plan = DrillPlan { bars: Some(1), again: 2, turns, ..DrillPlan::default() };
    let drill: Drill = drill(plan, &["| 1 | 1 | 1 | 1 |"]);
    let became = ["good", "bad", "bad", "good", "bad", "good"];
    let rounds: Vec<Round> = drill
        .rounds_if(|round| match became.get(round.number() - 1) {
            Some(&"bad") => Outcome::Bad,
            _ => Outcome::Good,
        })
        .collect();
    let who: Vec<_> = rounds.iter().map(|round| (round.bars().0, round.responses()[0].player())).collect();
    let expected = [(1, 0), (2, 1), (2, 1), (2, 1), (3, 2), (3, 2), (4, 0)];
    assert_eq!(who, expected.map(|(bar, player)| (bar, Some(player))));
}

#[test]
fn what_a_cut_bar_lacks_is_counted_where_nothing_clicks() {
    let count = Audible { count: true, ..Audible::NOTHING };
    let heard = Heard { response: count, ..Heard::default() };
    let plan = DrillPlan { heard, bars: Some(1), times: 2, ..DrillPlan::default() };
    let rounds = all_good(&drill(plan, &["meter: 3/4\n3 & | 1 2 |"]));
    let words = &told(&rounds[0])[1];
    assert!(words.ends_with("1@3/4+1/4 2@1+1/4 3@5/4+1/4"), "{words}");
    // The pickup of the next round falls there: its beat is said once.
    let next = &told(&rounds[1])[1];
    assert!(next.starts_with("&@-1/8+1/8 1@0"), "{next}");
}
