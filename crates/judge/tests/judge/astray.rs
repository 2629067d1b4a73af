//! Takes that leave the written course for good: another speed from a bar on, longer bars, a repeat too many, another rhythm.

use counting::TimedCount;
use judge::{Finding, FindingKind, Judgement};
use rhythm::Deed;

use crate::pattern::{bars_ms, of_text, written_ms};
use crate::player::judged;

fn mistakes(judgement: &Judgement) -> Vec<&Finding> {
    judgement.findings().iter().filter(|finding| finding.kind.is_mistake()).collect()
}

/// The mistake that is told of each of these takes, and no other.
fn told(takes: impl Iterator<Item = Judgement>) -> Vec<(FindingKind, String)> {
    takes
        .map(|judgement| match mistakes(&judgement)[..] {
            [one] => (one.kind, one.says.clone()),
            ref others => panic!("{:#?}", others.iter().map(|finding| &finding.says).collect::<Vec<_>>()),
        })
        .collect()
}

const EIGHT_BARS: &str = "meter: 4/4\ntempo: quarter = 60\n
| 1 2 3 4 | 1 & 2 3 (4) | 1 2 & 3 4 | 1 _2 3 4 | 1 & 2 & 3 (4) | 1 2 3 & 4 | (1) 2 3 4 | 1 (2 3 4) |\n";

#[test]
fn half_the_speed_from_a_bar_on_is_told_as_that() {
    let counts = of_text(EIGHT_BARS);
    let from = bars_ms(&counts)[4];
    let meant: Vec<f64> = written_ms(&counts).into_iter().map(|at| at + (at - from).max(0.0)).collect();
    for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
        assert_eq!(kind, FindingKind::HalfSpeed);
        assert_eq!(
            says,
            "from bar 5 on all was played at half the speed: every value twice as long as written"
        );
    }
}

#[test]
fn twice_the_speed_from_a_bar_on_is_told_as_that() {
    let counts = of_text(EIGHT_BARS);
    let from = bars_ms(&counts)[4];
    let meant: Vec<f64> = written_ms(&counts).into_iter().map(|at| at - (at - from).max(0.0) / 2.0).collect();
    for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
        assert_eq!(kind, FindingKind::DoubleSpeed);
        assert!(says.starts_with("from bar 5 on all was played at twice the speed"), "{says}");
    }
}

/// What is written, with so much put in at the end of every bar.
fn with_longer_bars(counts: &[TimedCount], by_ms: f64) -> Vec<f64> {
    let bars = bars_ms(counts);
    let before =
        |at: f64| (0_u32..).zip(&bars).take_while(|(_, bar)| **bar <= at + 1.0).last().map_or(0, |(n, _)| n);
    written_ms(counts).into_iter().map(|at| at + by_ms * f64::from(before(at))).collect()
}

#[test]
fn three_counted_in_four_is_a_beat_too_many_in_every_bar() {
    let counts = of_text(
        "meter: 3/4\ntempo: quarter = 80\n
| 1 2 3 | 1 & 2 3 | 1 _2 3 & | 1 2 & (3) | 1 & 2 & 3 | 1 _2 3 | (1) 2 3 | 1 _2 _3 |\n",
    );
    let meant = with_longer_bars(&counts, 750.0);
    for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
        assert_eq!(kind, FindingKind::BeatAdded);
        assert_eq!(says, "from bar 1 on a beat too many was put in every bar: counted in 4, written is 3");
    }
}

#[test]
fn seven_eighths_counted_in_eight_are_a_beat_too_many_in_every_bar() {
    let counts = of_text(
        "meter: 7/8 2+2+3\ntempo: eighth = 132\n
| 1 3 5 | 1 2 3 5 6 | 1 3 5 6 7 | 1 2 3 4 5 | 1 (3) 5 | 1 3 4 5 7 | 1 3 5 |\n",
    );
    let meant = with_longer_bars(&counts, 60_000.0 / 132.0);
    for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
        assert_eq!(kind, FindingKind::BeatAdded);
        assert_eq!(says, "from bar 1 on a beat too many was put in every bar: counted in 8, written is 7");
    }
}

/// What is written, and the bars `[from, to)` of the performance once more behind them.
fn with_bars_again(counts: &[TimedCount], from: usize, to: usize) -> Vec<f64> {
    let bars = bars_ms(counts);
    let length = bars[to] - bars[from];
    let written = written_ms(counts);
    let once = written.iter().filter(|at| **at < bars[to] - 1.0).copied();
    let rest = written.iter().filter(|at| **at >= bars[from] - 1.0).map(|at| at + length);
    once.chain(rest).collect()
}

#[test]
fn a_repeat_played_once_too_often_is_one_finding() {
    let twice = of_text(
        "meter: 4/4\ntempo: quarter = 100\n
|: 1 2 & 3 4 | 1 & 2 3 (4) | (1) 2 3 & 4 & | 1 3 :|\n| 1 & 2 & 3 4 | 1 2 3 (4) | 1 & 2 3 4 & | 1 (2 3 4) |\n",
    );
    let meant = with_bars_again(&twice, 4, 8);
    for (kind, says) in told((0..20).map(|seed| judged(&twice, &meant, seed))) {
        assert_eq!(kind, FindingKind::BarRepeated);
        assert_eq!(says, "bar 1 to bar 4: the repeat was played once too often, 3 times instead of 2");
    }
    let thrice =
        of_text("meter: 4/4\ntempo: quarter = 90\n\n|: 1 & 2 3 4 | 1 2 (3) & 4 :| 3 times\n| 1 2 3 (4) |\n");
    let meant = with_bars_again(&thrice, 4, 6);
    for (kind, says) in told((0..20).map(|seed| judged(&thrice, &meant, seed))) {
        assert_eq!(kind, FindingKind::BarRepeated);
        assert_eq!(says, "bar 1 to bar 2: the repeat was played once too often, 4 times instead of 3");
    }
}

#[test]
fn a_take_of_another_rhythm_is_not_one_at_half_the_speed() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 92\n
| 1 2 & 3 (4) | 1 _2 3 4 & | 1 & 2 (3) 4 | 1 2 3 _4 | _1 2 3 & 4 | (1) 2 & 3 4 | 1 & (2) 3 4 & | 1 2 3 (4) |\n",
    );
    let beats = [0, 2, 3, 4, 7, 8, 10, 12, 13, 14, 16, 18, 19, 20, 23, 25, 26, 27, 28, 30, 31];
    let meant: Vec<f64> = beats.iter().map(|&beat| f64::from(beat) * 60_000.0 / 92.0).collect();
    for seed in 0..20 {
        let judgement = judged(&counts, &meant, seed);
        let kinds: Vec<FindingKind> = mistakes(&judgement).iter().map(|finding| finding.kind).collect();
        assert!(!kinds.contains(&FindingKind::HalfSpeed), "{:?}", mistakes(&judgement));
    }
}

#[test]
fn strokes_that_fall_on_no_count_of_a_silent_bar_do_not_fit() {
    let counts = of_text("meter: 4/4\ntempo: quarter = 92\n\n| (1 2 3 4) |\n");
    assert!(counts.iter().all(|count| count.deed == Deed::Rest));
    let meant: Vec<f64> = (0..32).map(|n| f64::from(n) * 326.0).collect();
    for (kind, _) in told((0..5).map(|seed| judged(&counts, &meant, seed))) {
        assert_eq!(kind, FindingKind::OtherRhythm);
    }
}

#[test]
fn who_stops_for_bars_is_told_that_he_went_on_so_much_later() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 92\n
| 1 2 & 3 (4) | 1 _2 3 4 & | 1 & 2 (3) 4 | 1 2 3 _4 | _1 2 3 & 4 | (1) 2 & 3 4 | 1 & (2) 3 4 & | 1 2 3 (4) |\n",
    );
    let bars = bars_ms(&counts);
    let two = bars[2] - bars[0];
    // Struck once more on 1, then the stop.
    let mut meant: Vec<f64> =
        written_ms(&counts).into_iter().map(|at| if at < bars[3] - 1.0 { at } else { at + two }).collect();
    meant.push(bars[3]);
    for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
        // Which of the two strokes on 1 answers it nobody can tell.
        let (at_bar_line, behind) = (
            "stopped at the bar line before bar 4, and went on 2 bars later",
            "bar 4: stopped before 2, and went on 2 bars later",
        );
        assert!(says == at_bar_line || says == behind, "{kind:?}: {says}");
    }
}

#[test]
fn a_jump_back_that_is_not_made_is_no_repeat() {
    let counts = of_text(
        "meter: 4/4\ntempo: quarter = 104\n
| 1 2 3 & 4 | 1 & 2 3 (4) [fine] | 1 2 & 3 4 | (1) 2 3 4 & [D.C. al fine] |\n",
    );
    let end = bars_ms(&counts)[4] - 1.0;
    let meant: Vec<f64> = written_ms(&counts).into_iter().filter(|at| *at < end).collect();
    for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
        assert_eq!(kind, FindingKind::RepeatNotTaken);
        assert_eq!(says, "bar 1 to bar 2 were not played the second time");
    }
}

#[test]
fn a_third_of_a_beat_is_told_as_the_note_it_is() {
    let counts = of_text(
        "meter: 6/8\ntempo: dotted quarter = 66\n
| 1 la li 2 | 1 li 2 li | 1 2 la li | _1 la li 2 | 1 li 2 | 1 la li 2 li | (1) 2 la li | 1 li 2 (li) |\n",
    );
    let eighth = 60_000.0 / 66.0 / 3.0;
    let from = bars_ms(&counts)[3] - 1.0;
    let meant: Vec<f64> =
        written_ms(&counts).into_iter().map(|at| if at < from { at } else { at - eighth }).collect();
    for seed in 0..20 {
        let judgement = judged(&counts, &meant, seed);
        for finding in mistakes(&judgement) {
            assert!(!finding.says.contains("0.3"), "{}", finding.says);
        }
    }
}

#[test]
fn whole_bars_late_are_told_in_bars() {
    let counts = of_text(EIGHT_BARS);
    let bar = bars_ms(&counts)[1];
    let meant: Vec<f64> = written_ms(&counts).into_iter().map(|at| at + bar).collect();
    for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
        assert_eq!(kind, FindingKind::PhraseLate);
        assert_eq!(says, "the whole phrase came a bar late");
    }
}

/// Two bars at half the speed between others as written: nothing has a name for that, and nothing is made up.
#[test]
fn two_bars_at_half_the_speed_are_no_skip_and_no_way_back() {
    let counts = of_text(EIGHT_BARS);
    let bars = bars_ms(&counts);
    let two = bars[6] - bars[4];
    let meant: Vec<f64> =
        written_ms(&counts).into_iter().map(|at| at + (at - bars[4]).clamp(0.0, two)).collect();
    for seed in 0..20 {
        let judgement = judged(&counts, &meant, seed);
        for finding in mistakes(&judgement) {
            let vague = matches!(
                finding.kind,
                FindingKind::OtherRhythm | FindingKind::Unclear | FindingKind::AttackMissed
            );
            assert!(vague, "seed {seed}: {}", finding.says);
        }
    }
}

/// What was not played at the end speaks for no other way through what was.
#[test]
fn a_repeat_at_the_end_that_is_not_taken_is_no_longer_bar() {
    for text in [
        "meter: 4/4\ntempo: quarter = 80\n\n|: 1 2 & 3 4 | 1 & 2 3 (4) | 1 2 3 & 4 & | 1 3 :|\n",
        "meter: 3/4\ntempo: quarter = 96\n\n|: 1 2 3 | 1 & 2 3 | 1 _2 3 & | 1 2 (3) :|\n",
        "meter: 6/8\ntempo: dotted quarter = 66\n\n|: 1 la li 2 | 1 li 2 li | 1 2 la li | 1 li 2 :|\n",
    ] {
        let counts = of_text(text);
        let end = bars_ms(&counts)[4] - 1.0;
        let meant: Vec<f64> = written_ms(&counts).into_iter().filter(|at| *at < end).collect();
        for (kind, says) in told((0..20).map(|seed| judged(&counts, &meant, seed))) {
            assert_eq!(kind, FindingKind::RepeatNotTaken, "{says}");
            assert_eq!(says, "bar 1, second time: the repeat was not taken");
        }
    }
}
