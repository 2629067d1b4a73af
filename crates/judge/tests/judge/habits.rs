//! Figures and habits that take the whole of them to be told rightly, by players of human unevenness.

use counting::TimedCount;
use judge::{FindingKind, Hand, Judgement, Settings, judge};
use rhythm::{AttackId, Deed, Sticking};
use timebase::Span;

use crate::pattern::of_text;
use crate::player::{Chance, EVEN};

/// The counts of a rhythm text of these bars.
fn counts(bars: &str, bpm: u32) -> Vec<TimedCount> {
    let text = format!("meter: 4/4\ntempo: quarter = {bpm}\n\n{bars}\n");
    of_text(&text)
}

/// The counts of what is struck, so many ms off.
type Meant = Vec<(AttackId, f64)>;

/// What is written, moved by so many beats for every attack; `None` is not struck.
fn meant(counts: &[TimedCount], by_beats: impl Fn(AttackId) -> Option<f64>) -> Meant {
    let attacks = counts.iter().filter(|count| count.deed == Deed::Attack);
    let moved = |count: &TimedCount| {
        Some((count.id, count.at.as_millis_f64() + by_beats(count.id)? * beat_ms(counts)))
    };
    attacks.filter_map(moved).collect()
}

/// The length of the first beat.
fn beat_ms(counts: &[TimedCount]) -> f64 {
    let mut beats = counts.iter().filter(|count| count.on_beat).map(|count| count.at.as_millis_f64());
    let first = beats.next().expect("a beat");
    beats.next().expect("another") - first
}

/// The take of a player who scatters by 18 ms.
fn take(counts: &[TimedCount], mut meant: Meant, seed: u64) -> Judgement {
    meant.sort_by(|a, b| a.1.total_cmp(&b.1));
    let times: Vec<f64> = meant.into_iter().map(|(_, at)| at).collect();
    let played = EVEN.with_spread(18.0).play(&times, &mut Chance::new(seed));
    judge(counts, &played, &Settings::default())
}

fn says(judgement: &Judgement) -> Vec<&str> {
    judgement.findings().iter().map(|finding| finding.says.as_str()).collect()
}

/// Where in its beat of a quarter.
fn in_beat(id: AttackId) -> f64 {
    (id.at.numerator() as f64 / id.at.denominator() as f64 * 4.0).fract()
}

fn is_at(id: AttackId, bar: u32, sixteenth: i64) -> bool {
    id.bar == bar && id.at == Span::new(sixteenth, 16)
}

const SEEDS: std::ops::Range<u64> = 0..8;

const TRIPLETS: &str = "| 1 2 la li 3 4 | 1 e & a 2 3 la li 4 | 1 & 2 3 la li 4 | 1 la li 2 & 3 (4) | 1 e & 2 3 & a 4 | 1 2 la li 3 & 4 | 1 la li 2 3 e & a 4 | 1 (2 3 4) |";

#[test]
fn a_triplet_struck_twice_is_no_reading_of_three_strokes() {
    let counts = counts(TRIPLETS, 76);
    let (la, li) = (Span::new(1, 12), Span::new(1, 6));
    let as_eighths = |id: AttackId| match id {
        id if id.bar == 4 && id.at == la => Some(1.0 / 6.0),
        id if id.bar == 4 && id.at == li => None,
        _ => Some(0.0),
    };
    for seed in SEEDS {
        let judgement = take(&counts, meant(&counts, as_eighths), seed);
        assert_eq!(
            says(&judgement),
            ["bar 4: the triplet on 1 was played as two eighths: 1 of 6 times"],
            "{seed}"
        );
    }
    // One stroke less where two are left in their places is a missed one.
    for seed in SEEDS {
        let without = |id: AttackId| (id.bar != 4 || id.at != li).then_some(0.0);
        let judgement = take(&counts, meant(&counts, without), seed);
        assert_eq!(says(&judgement), ["bar 4: the attack on the li of 1 was missed"], "{seed}");
    }
}

#[test]
fn a_quarter_triplet_struck_short_long_short_is_told_as_that() {
    let bars = "| {3:2 1/4 1/4 1/4} 1/4 1/4 | 1 2 & 3 4 | 1/4 1/4 {3:2 1/4 1/4 1/4} | 1 & 2 3 (4) | {3:2 1/4 1/4 1/4} 1/2 | 1 2 3 & 4 | 1 & 2 & 3 4 | 1 (2 3 4) |";
    let counts = counts(bars, 80);
    let uneven = |id: AttackId| {
        let third = (in_beat(id) * 3.0).round();
        Some(match third {
            // The second comes at two thirds of a beat, the last at a third of the next.
            2.0 => -1.0 / 6.0,
            1.0 => 1.0 / 6.0,
            _ => 0.0,
        })
        .map(|by| if (in_beat(id) * 3.0 - third).abs() < 1e-9 { by } else { 0.0 })
    };
    for seed in SEEDS {
        let judgement = take(&counts, meant(&counts, uneven), seed);
        let expected =
            "bar 1: the triplet on 1 was played as an eighth, a quarter and an eighth: 3 of 3 times";
        assert_eq!(says(&judgement), [expected], "{seed}");
    }
}

/// 80 ms early after every rest, on beats and on &s, and nowhere else.
#[test]
fn entries_early_after_rests_are_one_habit() {
    let on_beats = "| 1 & (2) 3 4 & | 1 2 (3) 4 | (1) 2 & 3 4 | 1 & 2 (3) 4 & | 1 (2) 3 & 4 | (1) 2 3 (4) | 1 (2) 3 & 4 | 1 2 (3) 4 |";
    let on_ands = "| 1 (2) & 3 4 | 1 & 2 (3) & 4 | 1 2 (3) & 4 & | 1 (2) & 3 (4) & | 1 2 3 4 | (1) & 2 3 4 | 1 (2) & 3 & 4 | 1 2 (3 4) |";
    for (bars, bpm) in [(on_beats, 92), (on_ands, 88)] {
        let counts = counts(bars, bpm);
        let after_rest: Vec<AttackId> = counts
            .windows(2)
            .filter(|pair| pair[0].deed == Deed::Rest && pair[1].deed == Deed::Attack)
            .map(|pair| pair[1].id)
            .collect();
        let early =
            |id: AttackId| Some(if after_rest.contains(&id) { -80.0 / beat_ms(&counts) } else { 0.0 });
        for seed in SEEDS {
            let judgement = take(&counts, meant(&counts, early), seed);
            let [finding] = judgement.findings() else { panic!("{seed}: {:?}", says(&judgement)) };
            assert_eq!(finding.kind, FindingKind::EarlyEntry, "{seed}");
            assert!(finding.says.starts_with("after rests the entries come "), "{seed}: {}", finding.says);
            assert!(finding.notes.len() + 1 >= after_rest.len(), "{seed}: {:?}", finding.notes);
            assert!(finding.notes.iter().all(|note| after_rest.contains(note)), "{seed}");
        }
        // Where all &s are early, it is no habit of rests.
        let bunched = |id: AttackId| Some(if in_beat(id) > 0.4 { -80.0 / beat_ms(&counts) } else { 0.0 });
        for seed in SEEDS {
            let judgement = take(&counts, meant(&counts, bunched), seed);
            assert!(
                judgement.findings().iter().all(|finding| finding.kind != FindingKind::EarlyEntry),
                "{seed}: {:?}",
                says(&judgement)
            );
        }
    }
}

#[test]
fn a_dotted_figure_with_a_late_short_note_is_no_swing() {
    let bars = "| 1 _2 & 3 4 | 1 2 & 3 (4) | 1 _2 & 3 & 4 | 1 2 3 (4) | 1 _2 & 3 4 | 1 & 2 & 3 4 | 1 _2 & 3 _4 & | 1 (2) 3 (4) |";
    let counts = counts(bars, 84);
    let dotted = |id: AttackId| {
        let late = [1, 3, 5, 7].iter().any(|&bar| is_at(id, bar, 6)) || is_at(id, 7, 14);
        Some(if late { 1.0 / 6.0 } else { 0.0 })
    };
    for seed in SEEDS {
        let judgement = take(&counts, meant(&counts, dotted), seed);
        let expected = "bar 1: the dotted figure on 1 was played with its short note as late as the last of a triplet: 5 of 5 times";
        assert_eq!(says(&judgement), [expected], "{seed}");
    }
    // Where the other &s are as late, the beat is swung, and no figure is.
    for seed in SEEDS {
        let swung = |id: AttackId| Some(if in_beat(id) > 0.4 { 1.0 / 6.0 } else { 0.0 });
        let judgement = take(&counts, meant(&counts, swung), seed);
        let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind).collect();
        assert_eq!(kinds, [FindingKind::AndsSwung], "{seed}: {:?}", says(&judgement));
    }
}

/// An & that comes late as all of them do makes no triplet of the two sixteenths before it.
#[test]
fn where_the_ands_are_swung_no_sixteenths_are_a_triplet() {
    let bars = "| 1 & 2 3 & 4 | 1 2 & 3 4 & | 1 e & 2 3 & 4 | 1 & 2 & 3 4 | 1 2 & 3 4 | 1 & 2 3 & 4 | 1 2 & 3 & 4 | 1 e & 2 3 (4) |";
    let counts = counts(bars, 100);
    let swung = |id: AttackId| Some(if in_beat(id) > 0.4 { 70.0 / beat_ms(&counts) } else { 0.0 });
    for seed in 0..40 {
        let judgement = take(&counts, meant(&counts, swung), seed);
        let kinds: Vec<_> = judgement
            .findings()
            .iter()
            .map(|finding| finding.kind)
            .filter(|kind| kind.is_mistake())
            .collect();
        assert_eq!(kinds, [FindingKind::AndsSwung], "{seed}: {:?}", says(&judgement));
    }
}

#[test]
fn swung_sixteenths_are_told_and_the_ands_are_not() {
    let bars = "| 1 e & 2 & a 3 4 | 1 & a 2 e & 3 & 4 | 1 e & a 2 3 & 4 | 1 & a 2 & 3 4 | 1 _e & a 2 a 3 4 | 1 e & 2 3 & a 4 | 1 & 2 e & 3 4 | 1 (2 3 4) |";
    let counts = counts(bars, 72);
    let swung = |id: AttackId| Some(if (in_beat(id) * 2.0).fract() > 0.1 { 0.087 } else { 0.0 });
    for seed in SEEDS {
        let judgement = take(&counts, meant(&counts, swung), seed);
        let [finding] = judgement.findings() else { panic!("{seed}: {:?}", says(&judgement)) };
        assert_eq!(finding.kind, FindingKind::AndsSwung, "{seed}");
        assert!(finding.says.starts_with("the e and the a come "), "{seed}: {}", finding.says);
        assert!(finding.says.ends_with(" ms late throughout"), "{seed}: {}", finding.says);
    }
    for seed in SEEDS {
        let judgement = take(&counts, meant(&counts, |_| Some(0.0)), seed);
        assert_eq!(judgement.findings()[0].kind, FindingKind::GoodTake, "{seed}: {:?}", says(&judgement));
    }
}

const TWICE: &str = "|: 1 2 & 3 4 | 1 & 2 3 (4) | (1) 2 3 & 4 & | 1 3 :|\n| 1 & 2 & 3 4 | 1 2 3 (4) | 1 & 2 3 4 & | 1 (2 3 4) |";

#[test]
fn what_goes_wrong_every_time_through_is_one_finding() {
    let counts = counts(TWICE, 100);
    let without = |passes: &'static [u32]| {
        move |id: AttackId| (!(is_at(id, 2, 2) && passes.contains(&id.pass))).then_some(0.0)
    };
    let rest_struck = |passes: &[u32]| {
        let mut meant = meant(&counts, |_| Some(0.0));
        let rests = counts.iter().filter(|count| is_at(count.id, 2, 12) && passes.contains(&count.id.pass));
        meant.extend(rests.map(|count| (count.id, count.at.as_millis_f64())));
        meant
    };
    for seed in SEEDS {
        let judgement = take(&counts, meant(&counts, without(&[1, 2])), seed);
        assert_eq!(says(&judgement), ["bar 2: the attack on the & of 1 was missed both times"], "{seed}");
        assert_eq!(judgement.findings()[0].notes.len(), 2, "{seed}");
        let judgement = take(&counts, meant(&counts, without(&[2])), seed);
        assert_eq!(says(&judgement), ["bar 2, second time: the attack on the & of 1 was missed"], "{seed}");
        let judgement = take(&counts, rest_struck(&[1, 2]), seed);
        assert_eq!(says(&judgement), ["bar 2: the rest on 4 was struck both times"], "{seed}");
        assert_eq!(judgement.findings()[0].strokes.len(), 2, "{seed}");
        let judgement = take(&counts, rest_struck(&[1]), seed);
        assert_eq!(says(&judgement), ["bar 2: the rest on 4 was struck"], "{seed}");
    }
}

#[test]
fn hands_exchanged_throughout_may_be_the_pads() {
    let mut counts = counts("| 1 & 2 & 3 & 4 & | 1 & 2 3 4 | 1 & 2 & 3 & 4 & |", 92);
    let attacks = counts.iter_mut().filter(|count| count.deed == Deed::Attack);
    for (number, count) in attacks.enumerate() {
        count.marks.sticking = Some(if number % 2 == 0 { Sticking::Right } else { Sticking::Left });
    }
    let said = |wrong: fn(usize) -> bool| {
        let times: Vec<f64> = meant(&counts, |_| Some(0.0)).into_iter().map(|(_, at)| at).collect();
        let played = EVEN.with_spread(18.0).play(&times, &mut Chance::new(3));
        let with_hands = played.into_iter().enumerate().map(|(number, played)| {
            played.with_hand(if (number % 2 == 0) != wrong(number) { Hand::Right } else { Hand::Left })
        });
        let with_hands: Vec<_> = with_hands.collect();
        let judgement = judge(&counts, &with_hands, &Settings::default());
        judgement.findings()[0].says.clone()
    };
    let exchanged = "left and right may be exchanged";
    assert!(said(|_| true).ends_with(exchanged), "{}", said(|_| true));
    assert!(said(|number| number != 5).ends_with(exchanged), "{}", said(|number| number != 5));
    assert!(!said(|number| number < 10).contains(exchanged), "{}", said(|number| number < 10));
}
