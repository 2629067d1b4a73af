//! A pulse that is not kept is never called a good take, nor told to be steady.

use counting::TimedCount;
use judge::{FindingKind, Judgement, Settings, Verdict, judge};
use timebase::Seconds;

use crate::own_tempo::{FAST, SLOW};
use crate::pattern::{counts, struck, written_ms};
use crate::player::{Chance, EVEN};

fn kinds(judgement: &Judgement) -> Vec<FindingKind> {
    judgement.findings().iter().map(|finding| finding.kind).collect()
}

fn says(judgement: &Judgement) -> Vec<&str> {
    judgement.findings().iter().map(|finding| finding.says.as_str()).collect()
}

/// Played by somebody whose strokes scatter by so much, where `when` says, in ms.
fn take(counts: &[TimedCount], seed: u64, spread: f64, when: impl Fn(f64) -> f64) -> Judgement {
    let at: Vec<f64> = written_ms(counts).into_iter().map(when).collect();
    let played = EVEN.with_spread(spread).play(&at, &mut Chance::from(seed));
    judge(counts, &played, &Settings::default())
}

#[test]
fn a_pulse_that_runs_and_is_found_again_is_told_with_both_places() {
    for (rhythm, bpm, by, kind) in [
        (FAST, 132, 1.03, FindingKind::Dragging),
        (FAST, 120, 0.98, FindingKind::Rushing),
        (SLOW, 92, 1.025, FindingKind::Dragging),
    ] {
        let counts = counts(&rhythm, bpm);
        let from = 16.0 * 60_000.0 / f64::from(bpm);
        let (mut told, mut others) = (0, Vec::new());
        for seed in 0..12 {
            let spread = if seed % 2 == 0 { 15.0 } else { 22.0 };
            let judgement = take(&counts, seed, spread, |at| if at < from { at * by } else { at });
            let says = says(&judgement);
            assert!(!says.is_empty() && !says[0].starts_with("a good take"), "{bpm} {seed}: {says:?}");
            if kinds(&judgement) == [kind] && says[0].contains(" up to bar 5: ") {
                told += 1;
            } else {
                others.push((seed, judgement.findings().to_vec()));
            }
        }
        // Where the break is as long as an eighth, a note and a stroke beside it may be told to be left over.
        assert!(told >= 8, "{bpm} {kind:?}: {told} of 12, not {others:?}");
    }
}

/// Wherever the offsets go, a take of which a fifth and more is off is not good, and something is said of it.
#[test]
fn no_take_is_good_of_which_much_is_off() {
    let counts = counts(&FAST, 132);
    let mut not_kept = 0;
    for seed in 0..60_u32 {
        let mut chance = Chance::from(u64::from(seed) + 500);
        // A pulse that swings to and fro, some bars to a side.
        let (size, bars, from) =
            (90.0 + 60.0 * chance.even(), 3.0 + 3.0 * chance.even(), 6.3 * chance.even());
        let bar = 4.0 * 60_000.0 / 132.0;
        let swing = |at: f64| at + size * (from + std::f64::consts::TAU * at / (bars * bar)).sin();
        let judgement = take(&counts, u64::from(seed), 15.0, swing);
        let (says, found) = (says(&judgement), kinds(&judgement));
        assert!(!says.is_empty(), "{seed}");
        let on_time = judgement.attacks().iter().filter(|attack| attack.verdict() == Verdict::OnTime).count();
        if found.contains(&FindingKind::GoodTake) {
            assert!(on_time * 10 >= judgement.attacks().len() * 7, "{seed}: {says:?}");
        }
        not_kept += usize::from(says[0].contains("but only "));
    }
    assert!(not_kept > 0, "some have no other name");
}

#[test]
fn what_runs_away_is_not_told_to_be_steady() {
    let counts = counts(&FAST, 132);
    let from = 16.0 * 60_000.0 / 132.0;
    for seed in 0..12 {
        let rushed = |at: f64| if at < from { at } else { from + (at - from) * 0.96 };
        let judgement = take(&counts, seed, 22.0, rushed);
        let found = kinds(&judgement);
        assert_eq!(found, [FindingKind::Rushing], "{seed}: {:?}", says(&judgement));
        let sums = judgement.sums();
        let drift = sums.drift.expect("many attacks");
        assert!(drift.sure && drift.percent > 2.5, "{seed}: {drift:?}");
        assert!(sums.spread.expect("many attacks") < Seconds::from_millis(40), "{seed}: {sums:?}");
        let split = judgement.split(judge::Split::DEFAULT_RESOLUTION);
        assert!(
            split.bias.is_none() && split.spread.is_some_and(|spread| spread.high < Seconds::from_millis(60))
        );
    }
}

#[test]
fn a_take_of_another_rhythm_has_no_sums() {
    let counts = counts(&SLOW, 92);
    let mut chance = Chance::from(77);
    let mut at = 0.0;
    let strokes: Vec<f64> = std::iter::repeat_with(|| {
        at += 230.0 + 400.0 * chance.even();
        at
    })
    .take_while(|at| *at < 20_000.0)
    .collect();
    let judgement = judge(&counts, &crate::pattern::played(strokes), &Settings::default());
    assert_eq!(kinds(&judgement), [FindingKind::OtherRhythm], "{:?}", says(&judgement));
    let sums = judgement.sums();
    assert_eq!((sums.bias, sums.spread, sums.drift), (None, None, None));
    let split = judgement.split(judge::Split::DEFAULT_RESOLUTION);
    assert!(split.bias.is_none() && split.spread.is_none() && split.drift_percent.is_none());
}

#[test]
fn nobody_is_unsteady_by_less_than_steady_players_scatter() {
    let counts = counts(&FAST, 132);
    for (tolerance, spread) in [(15, 11.0), (10, 14.0), (5, 22.0)] {
        let settings =
            Settings::default().with_tolerance(Seconds::from_millis(tolerance)).expect("within its limits");
        for seed in 0..12 {
            let mut chance = Chance::from(seed + 900);
            let offsets: Vec<f64> = (0..36).map(|_| chance.normal()).collect();
            let size = (offsets.iter().map(|offset| offset * offset).sum::<f64>() / 36.0).sqrt();
            let offsets: Vec<f64> = offsets.iter().map(|offset| offset * spread / size).collect();
            let judgement = judge(&counts, &struck(&counts, &offsets), &settings);
            let says = says(&judgement);
            assert!(!kinds(&judgement).contains(&FindingKind::Unsteady), "{tolerance} {seed}: {says:?}");
            assert!(!says.is_empty(), "{tolerance} {seed}");
        }
    }
}
