//! What is so throughout is told as the habit it is: of a place in the bar, of long notes, of a hand, of half a beat.

use counting::TimedCount;
use judge::{FindingKind, Hand, Judgement, Played, Settings, judge};
use rhythm::{AttackId, Deed};
use timebase::Span;

use crate::pattern::of_text;
use crate::player::{Chance, EVEN};

/// The counts of a rhythm text of these bars.
fn counts(meter: &str, tempo: &str, bars: &str) -> Vec<TimedCount> {
    let text = format!("meter: {meter}\ntempo: {tempo}\n\n{bars}\n");
    of_text(&text)
}

const DENSE: &str = "| 1 & 2 & 3 & 4 & | 1 2 & 3 4 & | 1 & 2 & (3) & 4 | 1 & 2 & 3 4 | 1 & 2 & 3 & 4 & | 1 2 3 (4) | 1 & 2 & 3 & 4 | 1 & 2 & 3 4 | 1 2 3 4 & | 1 (2 3 4) |";
const LONG: &str = "| 1 _2 3 _4 | 1 2 3 4 | 1 _2 3 4 | 1 _2 _3 4 | 1 2 3 4 | 1 _2 3 & 4 | 1 _2 3 _4 | 1 & 2 3 _4 | 1 _2 3 & 4 | 1 2 & 3 4 | 1 _2 3 4 | 1 (2 3 4) |";
const SIX: &str = "| 1 la li 2 | 1 _la li 2 _la li | 1 la li 2 _la li | 1 2 la li | 1 _la li 2 | 1 la li 2 la li | 1 _la li 2 la li | 1 2 |";

/// The take of a player who scatters by 18 ms, with every attack so many ms off.
fn played(counts: &[TimedCount], seed: u64, off_ms: impl Fn(usize, AttackId) -> f64) -> Vec<Played> {
    let attacks = counts.iter().filter(|count| count.deed == Deed::Attack);
    let times: Vec<f64> = attacks
        .enumerate()
        .map(|(number, count)| count.at.as_millis_f64() + off_ms(number, count.id))
        .collect();
    EVEN.with_spread(18.0).play(&times, &mut Chance::new(seed))
}

fn said(counts: &[TimedCount], played: &[Played]) -> Judgement {
    judge(counts, played, &Settings::default())
}

/// The one mistake of a take.
fn only(judgement: &Judgement) -> (FindingKind, String) {
    let mistakes: Vec<_> = judgement.findings().iter().filter(|finding| finding.kind.is_mistake()).collect();
    assert_eq!(mistakes.len(), 1, "{mistakes:?}");
    (mistakes[0].kind, mistakes[0].says.clone())
}

const SEEDS: std::ops::Range<u64> = 0..8;

#[test]
fn a_late_first_count_is_no_early_ands() {
    let counts = counts("4/4", "quarter = 120", DENSE);
    for seed in SEEDS {
        let late = played(&counts, seed, |_, id| if id.at == Span::ZERO { 60.0 } else { 0.0 });
        let (kind, says) = only(&said(&counts, &late));
        assert_eq!(kind, FindingKind::LateAttack, "{seed}: {says}");
        assert!(says.starts_with("count 1 comes ") && says.contains(" ms late"), "{seed}: {says}");
    }
}

#[test]
fn half_a_beat_late_is_no_good_take() {
    for (tempo, half, sure) in [("quarter = 72", 416.7, true), ("quarter = 120", 250.0, false)] {
        let counts = counts("4/4", tempo, DENSE);
        for seed in SEEDS {
            let judgement = said(&counts, &played(&counts, seed, |_, _| half - 25.0));
            let found = judgement.findings();
            // So much may be the loudspeaker's.
            let (kind, says) = if sure {
                (FindingKind::PhraseLate, "the whole phrase came half a beat late")
            } else {
                (FindingKind::SteadyLag, "if it is not, all came half a beat late, on the &s")
            };
            assert!(
                found.iter().any(|finding| finding.kind == kind && finding.says.contains(says)),
                "{seed}: {found:?}"
            );
            assert_eq!(found.iter().any(|finding| finding.kind == FindingKind::GoodTake), !sure, "{seed}");
        }
    }
    // Nothing sounds before it is struck.
    let counts = counts("4/4", "quarter = 120", DENSE);
    for seed in SEEDS {
        let (kind, says) = only(&said(&counts, &played(&counts, seed, |_, _| -275.0)));
        assert_eq!(
            (kind, &says[..]),
            (FindingKind::PhraseEarly, "the whole phrase came half a beat early, on the &s")
        );
    }
}

#[test]
fn long_notes_cut_short_are_a_habit_and_no_lost_pulse() {
    let counts = counts("4/4", "quarter = 104", LONG);
    let attacks: Vec<(AttackId, f64)> = counts
        .iter()
        .filter(|count| count.deed == Deed::Attack)
        .map(|count| (count.id, count.at.as_millis_f64()))
        .collect();
    let beat = 60_000.0 / 104.0;
    let after_long = |number: usize| number > 0 && attacks[number].1 - attacks[number - 1].1 > 1.9 * beat;
    for seed in SEEDS {
        let early = played(&counts, seed, |number, _| if after_long(number) { -90.0 } else { 0.0 });
        let (kind, says) = only(&said(&counts, &early));
        assert_eq!(kind, FindingKind::CutShort, "{seed}: {says}");
        assert!(says.starts_with("long notes are cut short: the next attack comes "), "{seed}: {says}");
    }
}

#[test]
fn thirds_of_the_beat_have_habits_of_their_own() {
    let counts = counts("6/8", "dotted quarter = 60", SIX);
    let third = |id: AttackId| id.at.numerator() as f64 / id.at.denominator() as f64 * 8.0 % 3.0;
    for seed in SEEDS {
        let early = played(&counts, seed, |_, id| if third(id) > 1.9 { -60.0 } else { 0.0 });
        let (kind, says) = only(&said(&counts, &early));
        assert_eq!(kind, FindingKind::AndsBunched, "{seed}: {says}");
        assert!(says.starts_with("the li come ") && says.contains(" ms early"), "{seed}: {says}");
    }
}

#[test]
fn a_late_hand_is_told_where_both_strike_at_the_same_places() {
    let bars = "| 1 la li 2 & 3 | 1 2 la li 3 | 1 & 2 la li 3 | 1 la li 2 3 & | 1 2 & 3 la li | 1 la li 2 3 | 1 & 2 3 & | 1 (2 3) |";
    let counts = counts("3/4", "quarter = 84", bars);
    let hand = |number: usize| if number.is_multiple_of(2) { Hand::Right } else { Hand::Left };
    let take = |seed: u64, late_ms: f64| {
        let late = played(&counts, seed, |number, _| if number % 2 == 1 { late_ms } else { 0.0 });
        let struck = late.into_iter().enumerate().map(|(number, played)| played.with_hand(hand(number)));
        said(&counts, &struck.collect::<Vec<_>>())
    };
    for seed in SEEDS {
        let (kind, says) = only(&take(seed, 45.0));
        assert_eq!(kind, FindingKind::LateAttack, "{seed}: {says}");
        assert!(
            says.starts_with("the left hand comes ") && says.contains(" after the right"),
            "{seed}: {says}"
        );
        let even = take(seed, 0.0);
        assert!(!even.findings().iter().any(|finding| finding.says.contains("hand")), "{seed}");
    }
}

#[test]
fn late_ands_are_no_swing_until_they_are_one() {
    let counts = counts("4/4", "quarter = 84", DENSE);
    let beat = 60_000.0 / 84.0;
    for seed in SEEDS {
        for (part, swung) in [(0.065, false), (1.0 / 6.0, true)] {
            let late = played(&counts, seed, |_, id| {
                let off_beat = id.at.numerator() as f64 / id.at.denominator() as f64 * 4.0 % 1.0 > 0.4;
                if off_beat { part * beat } else { 0.0 }
            });
            let (kind, says) = only(&said(&counts, &late));
            assert_eq!(kind, FindingKind::AndsSwung, "{seed}: {says}");
            assert_eq!(says.ends_with("the beat is swung"), swung, "{seed}: {says}");
        }
    }
}

#[test]
fn what_runs_in_its_eighths_does_not_scatter_too() {
    let counts = counts("4/4", "quarter = 120", &DENSE.replace("(3) & 4", "3 & 4"));
    let attacks: Vec<f64> = counts
        .iter()
        .filter(|count| count.deed == Deed::Attack)
        .map(|count| count.at.as_millis_f64())
        .collect();
    // Each run of eighths is 9 % faster; the quarter at its end is in time with the click again.
    let mut off = vec![0.0; attacks.len()];
    for number in 1..attacks.len() {
        let is_short = attacks[number] - attacks[number - 1] < 260.0;
        off[number] = if is_short { off[number - 1] - 0.09 * 250.0 } else { 0.0 };
    }
    let mut told = 0;
    for seed in SEEDS {
        let judgement = said(&counts, &played(&counts, seed, |number, _| off[number]));
        let kinds: Vec<_> =
            judgement.findings().iter().map(|f| f.kind).filter(|kind| kind.is_mistake()).collect();
        if kinds == [FindingKind::Rushing] {
            told += 1;
            assert!(judgement.findings()[0].says.starts_with("rushing in the eighths"), "{seed}");
        }
        assert!(
            !(kinds.contains(&FindingKind::Rushing) && kinds.contains(&FindingKind::Unsteady)),
            "{seed}: {:?}",
            judgement.findings()
        );
    }
    assert!(told >= 6, "{told} of 8");
}
