//! Takes of a player who loses his place, stops, begins again, or takes another way through repeats and bars than written.

use counting::TimedCount;
use judge::FindingKind;

use crate::pattern::{bars_ms, of_text, written_ms};
use crate::player::judged;

/// The one mistake that is told of each of twenty takes in which this was meant.
fn told(counts: &[TimedCount], meant_ms: &[f64]) -> Vec<(FindingKind, String)> {
    let mistake = |seed| {
        let judgement = judged(counts, meant_ms, seed);
        let all: Vec<_> =
            judgement.findings().iter().filter(|finding| finding.kind.is_mistake()).cloned().collect();
        match &all[..] {
            [one] => (one.kind, one.says.clone()),
            others => panic!(
                "seed {seed}: {:#?}",
                others.iter().map(|finding| finding.says.as_str()).collect::<Vec<_>>()
            ),
        }
    };
    (0..20).map(mistake).collect()
}

/// Whether all of these takes are told as this, but for being in time, which few strokes may leave open.
fn check(counts: &[TimedCount], meant_ms: &[f64], kind: FindingKind, expected: &str) {
    for (told, says) in told(counts, meant_ms) {
        assert_eq!((told, says.trim_end_matches(", in time")), (kind, expected));
    }
}

/// What is written, without what lies in a stretch.
fn without(counts: &[TimedCount], from: f64, to: f64) -> Vec<f64> {
    written_ms(counts).into_iter().filter(|at| *at < from - 1.0 || *at > to - 1.0).collect()
}

const BEAT: f64 = 750.0;
const EIGHT_BARS: &str = "meter: 4/4\ntempo: quarter = 80\n
| 1 & a 2 e & 3 4 | 1 e & a 2 3 & 4 | 1 2 & a 3 e & 4 | 1 e & 2 e & 3 & a 4 | 1 & 2 e & a 3 4 | 1 & a 2 4 | (1) 2 3 & 4 | 1 & 2 3 (4) |\n";

#[test]
fn who_loses_his_place_and_is_in_again_in_time_went_nowhere() {
    let counts = of_text(EIGHT_BARS);
    let bars = bars_ms(&counts);
    let missed = FindingKind::AttackMissed;
    check(
        &counts,
        &without(&counts, bars[3], bars[4]),
        missed,
        "bar 4 was not played; in again on 1 of bar 5",
    );
    check(
        &counts,
        &without(&counts, bars[3], bars[5]),
        missed,
        "bar 4 to bar 5 were not played; in again on 1 of bar 6",
    );
    check(
        &counts,
        &without(&counts, bars[2] + 2.0 * BEAT, bars[4]),
        missed,
        "from 3 in bar 3 to the end of bar 4 nothing was played; in again on 1 of bar 5",
    );
}

#[test]
fn who_stops_for_good_or_comes_in_late_is_told_where() {
    let counts = of_text(EIGHT_BARS);
    let bars = bars_ms(&counts);
    let missed = FindingKind::AttackMissed;
    check(
        &counts,
        &without(&counts, bars[4], f64::MAX),
        missed,
        "stopped after bar 4: nothing was played from bar 5 on",
    );
    check(&counts, &without(&counts, 0.0, bars[1]), missed, "came in at bar 2: bar 1 was not played");
}

/// What was played before the stop, and all once more from the beginning after so many beats.
fn begun_again(counts: &[TimedCount], until: f64, waited: f64) -> Vec<f64> {
    let written = written_ms(counts);
    let before = written.iter().copied().filter(|at| *at < until - 1.0);
    before.chain(written.iter().map(|at| at + until + waited * BEAT)).collect()
}

#[test]
fn beginning_again_is_told_as_that_however_long_the_wait() {
    let counts = of_text(EIGHT_BARS);
    let bars = bars_ms(&counts);
    for (waited, later) in
        [(0.0, ""), (1.0, ", a beat later"), (4.0, ", a bar later"), (5.0, ", 5 beats later")]
    {
        let expected = format!("stopped after bar 2, and began again from bar 1{later}");
        check(&counts, &begun_again(&counts, bars[2], waited), FindingKind::BarRepeated, &expected);
    }
    // Sixteenths a part of a beat beside the click lie near others that are written, so that a take or two in twenty is not clear.
    let meant = begun_again(&counts, bars[2], 1.33);
    let as_that = |&seed: &u64| {
        let judgement = judged(&counts, &meant, seed);
        judgement.findings().iter().any(|finding| finding.says.contains(", and began again from bar 1, "))
    };
    let told = (0..20).filter(as_that).count();
    assert!(told >= 17, "{told} of 20");
}

/// Music of few values that repeats itself lies on most of its beginning at many distances.
#[test]
fn beginning_again_is_told_in_music_that_repeats_itself() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 80\n
|: 1 2 3 & 4 | 1 & 2 3 (4) | 1 2 & 3 4 | 1 2 3 (4) :| |: 1 & 2 & 3 4 | 1 (2) 3 4 :| 1 2 3 & 4 & | 1 (2 3 4) |\n",
    );
    let bars = bars_ms(&counts);
    let expected = "stopped after bar 2, and began again from bar 1, a bar later";
    check(&counts, &begun_again(&counts, bars[2], 4.0), FindingKind::BarRepeated, expected);
}

#[test]
fn straight_into_the_second_ending_is_a_repeat_that_was_not_taken() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 88\n
|: 1 2 & 3 4 | 1 & 2 3 (4) | [1.] 1 (2) 3 & 4 :| [2.] 1 & 2 & 3 (4) || 1 2 3 4 & | 1 & 2 3 4 | 1 2 & 3 & 4 | 1 2 3 (4) | 1 & 2 3 & 4 | 1 (2 3 4) |\n",
    );
    // Bars 1, 2, 3, 1, 2, 4 and so on are written, bars 1, 2, 4 and so on played.
    let bars = bars_ms(&counts);
    let by = bars[5] - bars[2];
    let meant: Vec<f64> = without(&counts, bars[2], bars[5])
        .into_iter()
        .map(|at| if at < bars[2] - 1.0 { at } else { at - by })
        .collect();
    check(
        &counts,
        &meant,
        FindingKind::RepeatNotTaken,
        "bar 1, second time: the repeat was not taken, from bar 2 straight into bar 4",
    );
}

#[test]
fn three_beats_in_every_bar_of_four_are_a_beat_too_few_in_every_bar() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 80\n
| 1 & a 2 e & 3 4 | 1 e & a 2 3 & 4 | 1 2 & a 3 e & 4 | 1 e & 2 e & 3 & a 4 | 1 & 2 e & a 3 4 | 1 & a 2 3 & a 4 | 1 e & a 2 e & a 3 (4) | 1 & a 2 e & 3 (4) |\n",
    );
    let bars = bars_ms(&counts);
    let mut meant = Vec::new();
    for at in written_ms(&counts) {
        let bar = bars.partition_point(|bar| *bar <= at + 1.0) - 1;
        if at - bars[bar] < 3.0 * BEAT - 1.0 {
            meant.push(at - BEAT * f64::from(u32::try_from(bar).expect("few")));
        }
    }
    check(
        &counts,
        &meant,
        FindingKind::BeatDropped,
        "from bar 1 on the last beat of every bar was left out: counted in 3, written is 4",
    );
}

#[test]
fn bars_counted_longer_for_a_while_are_told_with_both_ends() {
    let counts = of_text(
        "meter: 5/8 3+2\ntempo: eighth = 132\n
| 1 2 3 4 5 | 1 4 | 1 3 4 5 | 1 2 4 | 1 (2) 3 4 | 1 2 3 4 | 1 4 5 | 1 (4 5) |\n",
    );
    let bars = bars_ms(&counts);
    let eighth = (bars[1] - bars[0]) / 5.0;
    let later = |at: f64| {
        let bar = bars.partition_point(|bar| *bar <= at + 1.0) - 1;
        eighth * f64::from(u32::try_from(bar.min(4)).expect("few"))
    };
    let meant: Vec<f64> = written_ms(&counts).into_iter().map(|at| at + later(at)).collect();
    check(
        &counts,
        &meant,
        FindingKind::BeatAdded,
        "from bar 1 to bar 4 a beat too many was put in every bar: counted in 6, written is 5",
    );
}

#[test]
fn one_bar_at_half_the_speed_is_told_as_that() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 80\n
| 1 2 3 4 | 1 2 & 3 4 | 1 2 (3) 4 | 1 & 2 & 3 (4) | 1 2 3 & 4 & | 1 (2) 3 4 | 1 & 2 3 & 4 | 1 2 3 (4) |\n",
    );
    let bars = bars_ms(&counts);
    let bar = bars[5] - bars[4];
    let meant: Vec<f64> =
        written_ms(&counts).into_iter().map(|at| at + (at - bars[4]).clamp(0.0, bar)).collect();
    let expected =
        "bar 5 took twice its time: every value twice as long as written; what follows came that much later";
    let as_that = |&seed: &u64| {
        let judgement = judged(&counts, &meant, seed);
        let mut mistakes = judgement.findings().iter().filter(|finding| finding.kind.is_mistake());
        mistakes.next().is_some_and(|finding| finding.says == expected) && mistakes.next().is_none()
    };
    // Half of it fits as written too, so that some takes leave it open.
    let told = (0..20).filter(as_that).count();
    assert!(told >= 10, "{told} of 20");
}

#[test]
fn a_phrase_with_a_pickup_that_is_a_beat_early_is_early_throughout() {
    let counts = of_text(
        "meter: 3/4\ntempo: quarter = 112\n
3 | 1 2 3 | 1 _2 3 | 1 & 2 3 | 1 _2 & 3 | 1 (2) 3 | 1 2 & 3 & | 1 & 2 & 3 | 1 _2 |\n",
    );
    let beat = 60_000.0 / 112.0;
    let meant: Vec<f64> = written_ms(&counts).into_iter().map(|at| at - beat).collect();
    check(&counts, &meant, FindingKind::PhraseEarly, "the whole phrase came a beat early");
}

/// What is written, but in each of these performed bars what another of them has.
fn with_bars(counts: &[TimedCount], instead: &[(usize, usize)]) -> Vec<f64> {
    let bars = bars_ms(counts);
    let written = written_ms(counts);
    let played = |bar: usize| {
        let there = instead.iter().find(|(here, _)| *here == bar).map_or(bar, |(_, there)| *there);
        let (from, to) = (bars[there], bars.get(there + 1).copied().unwrap_or(f64::MAX));
        let inside = written.iter().filter(|at| **at > from - 1.0 && **at < to - 1.0);
        inside.map(|at| at + bars[bar] - from).collect::<Vec<f64>>()
    };
    (0..bars.len()).flat_map(played).collect()
}

#[test]
fn bars_that_change_places_are_told_as_that() {
    let counts = of_text(EIGHT_BARS);
    let exchanged = FindingKind::BarExchanged;
    check(&counts, &with_bars(&counts, &[(5, 6), (6, 5)]), exchanged, "bar 6 and bar 7 changed places");
    check(&counts, &with_bars(&counts, &[(4, 5)]), exchanged, "bar 6 was played where bar 5 is written");
    check(
        &counts,
        &with_bars(&counts, &[(3, 1), (4, 2)]),
        exchanged,
        "bar 2 and bar 3 were played where bar 4 and bar 5 are written",
    );
}

/// Bars 2 and 4 differ in one note, so that two bars one later than written are nearly the same strokes.
#[test]
fn that_two_bars_changed_places_is_told_before_that_two_were_others() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 84\n
| 1 & 2 & 3 4 | 1 & _2 & 3 4 | 1 2 & _3 & 4 | 1 & _2 & 3 (4) | 1 2 3 & _4 & | _1 & 2 3 4 | 1 & _2 & _3 & 4 | 1 2 3 (4) |\n",
    );
    let meant = with_bars(&counts, &[(2, 3), (3, 2)]);
    check(&counts, &meant, FindingKind::BarExchanged, "bar 3 and bar 4 changed places");
}

#[test]
fn the_wrong_ending_is_told_as_that() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 88\n
|: 1 2 & 3 4 | 1 & 2 3 (4) | [1.] 1 (2) 3 & 4 e & a :| [2.] 1 & 2 & 3 (4) || 1 2 3 4 & | 1 & 2 3 4 | 1 2 & 3 & 4 | 1 2 3 (4) | 1 & 2 3 & 4 | 1 (2 3 4) |\n",
    );
    // Bars 1, 2, 3, 1, 2, 4 and so on are written.
    for (meant, expected) in [
        ((5, 2), "the wrong ending was taken: bar 3 was played where bar 4 is written"),
        ((2, 5), "the wrong ending was taken: bar 4 was played where bar 3 is written"),
    ] {
        check(&counts, &with_bars(&counts, &[meant]), FindingKind::BarExchanged, expected);
    }
}
