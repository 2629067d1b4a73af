//! What happens in a lesson, one situation a test.

use counting::TimedCount;
use judge::{Fate, Judgement, Played, Settings, Verdict, judge};
use timebase::Seconds;

use crate::pattern::{counts, played, struck, written_ms};
use crate::player::Chance;

fn judged(counts: &[TimedCount], played: &[Played]) -> Judgement {
    judge(counts, played, &Settings::default())
}

/// For each written attack, the given attack that answers it.
fn answers(judgement: &Judgement) -> Vec<Option<usize>> {
    let attacks = judgement.attacks();
    let answer = |note: &judge::Note| match note.fate {
        Fate::Struck(attack) => Some(attacks[attack].index),
        Fate::Missed | Fate::Pending => None,
    };
    judgement.notes().iter().map(answer).collect()
}

fn all_in_order(number: usize) -> Vec<Option<usize>> {
    (0..number).map(Some).collect()
}

fn verdicts(judgement: &Judgement) -> Vec<Verdict> {
    judgement.attacks().iter().map(judge::Attack::verdict).collect()
}

fn bias_ms(judgement: &Judgement) -> Option<f64> {
    judgement.sums().bias.map(Seconds::as_millis_f64)
}

/// Every other note fast, then slow, then fast: nothing that repeats by the bar.
const MIXED: [&str; 4] = ["x---x-x-x---x---", "x-x-x---xxxxx---", "x---....x-x-x-x-", "x-------x-x-x---"];

#[test]
fn a_steady_bias_is_matched_and_on_time() {
    for bias in [-150.0, -80.0, -40.0, 0.0, 40.0, 80.0, 150.0, 250.0] {
        let counts = counts(&MIXED.repeat(2), 100);
        let judgement = judged(&counts, &struck(&counts, &[bias]));
        assert_eq!(answers(&judgement), all_in_order(judgement.notes().len()), "{bias}");
        assert_eq!(bias_ms(&judgement), Some(bias));
        assert!(verdicts(&judgement).iter().all(|&verdict| verdict == Verdict::OnTime), "{bias}");
    }
}

/// 80 ms early in sixteenths 104 ms apart is also 24 ms late by one note; only the ends tell.
#[test]
fn eighty_early_in_even_sixteenths_is_early_and_not_one_note_late() {
    let counts = counts(&["xxxxxxxxxxxxxxxx"; 4], 144);
    let judgement = judged(&counts, &struck(&counts, &[-80.0, -72.0, -88.0, -80.0]));
    assert_eq!(answers(&judgement), all_in_order(64));
    assert_eq!(bias_ms(&judgement), Some(-80.0));
    assert!(verdicts(&judgement).iter().all(|&verdict| verdict == Verdict::OnTime));
}

#[test]
fn one_missed_note_does_not_spoil_the_rest() {
    let counts = counts(&["xxxxxxxxxxxxxxxx"; 2], 132);
    for missed in 0..32 {
        let mut played = struck(&counts, &[12.0, -9.0, 20.0, -25.0, 3.0]);
        played.remove(missed);
        let judgement = judged(&counts, &played);
        let expected: Vec<_> =
            (0..32).map(|n| (n != missed).then(|| if n < missed { n } else { n - 1 })).collect();
        assert_eq!(answers(&judgement), expected, "missed {missed}");
    }
}

#[test]
fn strays_are_extra_and_nothing_else_changes() {
    let counts = counts(&MIXED, 88);
    let offsets = [15.0, -20.0, 5.0, -10.0];
    let clean = struck(&counts, &offsets);
    let ends = written_ms(&counts).last().copied().expect("attacks") + 400.0;
    let mut chance = Chance::from(5);
    for _ in 0..500 {
        let at = -500.0 + chance.even() * (ends + 900.0);
        let mut attacks = clean.clone();
        attacks.extend(played([at]));
        let judgement = judged(&counts, &attacks);
        assert_eq!(judgement.missed().count(), 0, "stray at {at}");
        let extra: Vec<_> =
            judgement.attacks().iter().filter(|attack| attack.verdict() == Verdict::Extra).collect();
        assert_eq!(extra.len(), 1, "stray at {at}");
        // The stray is the extra one, unless it lies nearer to a note than the stroke that was meant.
        let stray = extra[0].index == clean.len();
        let near = written_ms(&counts).iter().any(|written| (written - at).abs() <= 40.0);
        assert!(stray || near, "stray at {at}");
    }
}

#[test]
fn a_doubling_leaves_the_nearer_stroke_as_the_answer() {
    let counts = counts(&["x-x-x-x-"; 2], 90);
    let mut attacks = struck(&counts, &[10.0]);
    attacks.extend(played([10.0 + 45.0, 2000.0 / 3.0 * 3.0 + 10.0 + 35.0]));
    let judgement = judged(&counts, &attacks);
    assert_eq!(answers(&judgement), all_in_order(8));
    assert_eq!(verdicts(&judgement).iter().filter(|&&verdict| verdict == Verdict::Extra).count(), 2);
}

/// 1 _& 2: the tie into the "e" is struck again, 104 ms before the next attack.
#[test]
fn a_struck_tie_just_before_the_next_attack_does_not_take_its_place() {
    // Attack on 1, held over 2, attack on the e of 2.
    let counts = counts(&["x----xxxx-------"; 2], 144);
    let mut attacks = struck(&counts, &[10.0, -15.0, 20.0, 5.0, -10.0]);
    let number = attacks.len();
    // Struck on count 2 of both bars, where the first note is held.
    attacks.extend(played([60_000.0 / 144.0 + 8.0, 5.0 * 60_000.0 / 144.0 - 20.0]));
    let judgement = judged(&counts, &attacks);
    assert_eq!(answers(&judgement), all_in_order(number));
    let held: Vec<_> = judgement.attacks().iter().filter_map(|attack| attack.fell_on).collect();
    assert_eq!(held.len(), 2, "{held:?}");
}

/// A stroke in a long note and none where the next is written: that note came a beat early. In a shorter one it is
/// a figure of its own.
#[test]
fn a_stroke_in_a_held_note_is_the_next_attack_only_after_a_long_one() {
    let says = |bar: &'static str, stroke: usize, at: f64| {
        let counts = counts(&[bar, "x-x-x-x-", "x-x-x-x-"], 100);
        let mut attacks = struck(&counts, &[0.0]);
        attacks[stroke] = played([at])[0];
        let judgement = judged(&counts, &attacks);
        judgement.findings().iter().map(|finding| finding.says.clone()).collect::<Vec<_>>()
    };
    assert_eq!(
        says("x---x---", 1, 600.0),
        ["bar 1: the long note before 3 was cut short: the next attack came a beat early"]
    );
    assert_eq!(
        says("x-x---xx", 2, 1200.0),
        ["bar 1: the long note before 4 was cut short: the next attack came a beat early"]
    );
    assert_eq!(says("x-x--xx-", 2, 1200.0), ["bar 1: the dotted figure on 2 was played in even notes"]);
}

/// 104 ms apart and up to 45 ms off to either side: a stroke may lie nearer to its neighbour's note than to its own.
#[test]
fn dense_sixteenths_with_wide_jitter_keep_their_order() {
    let counts = counts(&["xxxxxxxxxxxxxxxx"; 8], 144);
    for seed in 0..50 {
        let mut chance = Chance::from(seed);
        let offsets: Vec<f64> = (0..128).map(|_| (chance.even() * 2.0 - 1.0) * 45.0).collect();
        let judgement = judged(&counts, &struck(&counts, &offsets));
        assert_eq!(answers(&judgement), all_in_order(128), "seed {seed}");
    }
}

#[test]
fn a_player_who_rushes_away_from_the_click_is_followed() {
    for (percent, bpm) in [(3.0, 120), (3.0, 60), (-3.0, 96), (6.0, 100), (-6.0, 132)] {
        let counts = counts(&MIXED.repeat(4), bpm);
        let written = written_ms(&counts);
        let mut chance = Chance::from(11);
        let rushed = written.iter().map(|at| at / (1.0 + percent / 100.0) + 8.0 * chance.normal());
        let judgement = judged(&counts, &played(rushed));
        assert_eq!(answers(&judgement), all_in_order(written.len()), "{percent} at {bpm}");
        let drift = judgement.sums().drift.expect("many attacks");
        assert!((drift.percent - percent).abs() < 0.1 && drift.sure, "{percent} at {bpm}: {drift:?}");
        let spread = judgement.sums().spread.expect("many attacks").as_millis_f64();
        assert!((6.5..9.5).contains(&spread), "{percent} at {bpm}: {spread}");
    }
}

#[test]
fn values_at_the_tolerance_are_on_time() {
    let counts = counts(&["xxxx"; 2], 60);
    // The bias is 0: five of eight lie there.
    let check = |offset, expected| {
        let judgement = judged(&counts, &struck(&counts, &[0.0, 0.0, offset, 0.0, 0.0, 0.0, 0.0, 0.0]));
        assert_eq!(verdicts(&judgement)[2], expected, "{offset}");
    };
    check(50.0, Verdict::OnTime);
    check(50.000_001, Verdict::Late);
    check(-50.0, Verdict::OnTime);
    check(-50.000_001, Verdict::Early);
    let strict = Settings::default().with_tolerance(Seconds::from_millis(20)).expect("in range");
    let take = struck(&counts, &[0.0, 0.0, 20.0, 0.0, 21.0, 0.0, -21.0, 0.0]);
    let verdicts = verdicts(&judge(&counts, &take, &strict));
    assert_eq!(
        verdicts[2..7],
        [Verdict::OnTime, Verdict::OnTime, Verdict::Late, Verdict::OnTime, Verdict::Early]
    );
}

/// Sixteenths at 150 are 100 ms apart: a third is 33.3 ms. The first quarter has a quarter before it and a sixteenth after.
#[test]
fn the_tolerance_is_at_most_a_third_of_the_shortest_neighbouring_interval() {
    let counts = counts(&["x---x---xxxxx---"], 150);
    let offsets = [0.0, 49.0, 0.0, 33.3, 0.0, -33.4, 0.0];
    let verdicts = verdicts(&judged(&counts, &struck(&counts, &offsets)));
    let on_time = Verdict::OnTime;
    assert_eq!(verdicts, [on_time, on_time, on_time, on_time, on_time, Verdict::Early, on_time]);
}

/// An attack off the beat that falls on the next beat, where a rest is written: one attack moved, and no stray beside a missed one.
#[test]
fn even_quarters_over_a_syncopation() {
    // 1 2 & (3) 4 at 120, played 1 2 3 4.
    let counts = counts(&["x-xx..x-".replace("xx", "-x").as_str(); 1], 120);
    let written = written_ms(&counts);
    assert_eq!(written, [0.0, 750.0, 1500.0]);
    let judgement = judged(&counts, &played([0.0, 1000.0, 1500.0]));
    assert_eq!(answers(&judgement), [Some(0), None, Some(2)]);
    let says: Vec<_> = judgement.findings().iter().map(|finding| finding.says.as_str()).collect();
    assert_eq!(says, ["bar 1: the attack on the & of 2 was played on the beat, on 3"]);
}

#[test]
fn nothing_and_next_to_nothing_is_judged_without_a_claim() {
    let counts = counts(&["xxxx"], 100);
    let judgement = judged(&counts, &[]);
    assert_eq!(judgement.missed().count(), 4);
    assert_eq!((judgement.sums().bias, judgement.sums().spread, judgement.sums().drift), (None, None, None));
    let judgement = judged(&counts, &played([30.0]));
    assert_eq!((judgement.sums().bias, judgement.sums().matched), (None, 1));
    assert_eq!(verdicts(&judgement), [Verdict::OnTime]);
    let judgement = judged(&[], &played([30.0, 40.0]));
    assert_eq!(verdicts(&judgement), [Verdict::Extra, Verdict::Extra]);
    assert_eq!(judged(&[], &[]).findings(), []);
}

#[test]
fn a_thousand_strokes_in_a_second_answer_one_note_each() {
    let counts = counts(&["xxxx"; 4], 120);
    let judgement = judged(&counts, &played((0..1_000).map(|n| 1000.0 + f64::from(n))));
    assert!(judgement.attacks().len() == 1_000 && judgement.notes().len() == 16);
    let struck = judgement.notes().iter().filter(|note| matches!(note.fate, Fate::Struck(_))).count();
    let extra = verdicts(&judgement).iter().filter(|&&verdict| verdict == Verdict::Extra).count();
    assert_eq!(struck + extra, 1_000);
}

/// Two eighths and a quarter read as a quarter and two eighths.
#[test]
fn values_that_change_places_are_one_mistake() {
    let counts = counts(&["x-x-x-x-", "x-x-xxx-"], 100);
    let mut attacks = struck(&counts, &[4.0, -6.0, 3.0, -5.0]);
    attacks[7] = played([2400.0 + 1800.0])[0];
    attacks[8] = played([2400.0 + 2100.0])[0];
    let judgement = judged(&counts, &attacks);
    let says: Vec<_> = judgement.findings().iter().map(|finding| finding.says.as_str()).collect();
    assert_eq!(says, ["bar 2: the two eighths and quarter on 3 was played as a quarter and two eighths"]);
}

/// Nobody kept the click: when the player began and how fast is found.
#[test]
fn a_take_without_a_click_is_judged_in_the_players_own_tempo() {
    let counts = counts(&MIXED.repeat(3), 96);
    for (tempo, begins, seed) in
        [(1.0, 0.0, 1), (0.82, 5_300.0, 2), (1.31, -2_000.0, 3), (0.5, 700.0, 4), (2.0, 90.0, 5)]
    {
        let mut chance = Chance::from(seed);
        let at: Vec<f64> =
            written_ms(&counts).into_iter().map(|at| begins + at / tempo + 12.0 * chance.normal()).collect();
        let mut take = played(at);
        take.remove(20);
        let settings = Settings::default().with_tempo_of(judge::TempoOf::Player);
        let judgement = judge(&counts, &take, &settings);
        let number = judgement.notes().len();
        let expected: Vec<_> =
            (0..number).map(|n| (n != 20).then(|| if n < 20 { n } else { n - 1 })).collect();
        assert_eq!(answers(&judgement), expected, "tempo {tempo}");
        let found = judgement.tempo_ratio().expect("it is looked for");
        assert!((found / tempo - 1.0).abs() < 0.01, "{found} for {tempo}");
        assert_eq!(judgement.sums().bias, None);
        let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind.name()).collect();
        assert_eq!(kinds, ["attack-missed"], "tempo {tempo}");
    }
}

/// Every dotted figure in even notes, with quarters around them: a figure misread and not the beat struck.
#[test]
fn even_dotted_figures_are_not_the_beat() {
    let counts = counts(&["x--xx---x---x---"; 8], 80);
    let quarter = 750.0;
    let at = written_ms(&counts)
        .into_iter()
        .enumerate()
        .map(|(n, at)| if n % 5 == 1 { at - quarter / 4.0 } else { at });
    let judgement = judged(&counts, &played(at.collect::<Vec<_>>()));
    let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind.name()).collect();
    assert_eq!(kinds, ["dotted-even"]);
}

/// A rest struck once is no more useful than a figure misread in every bar.
#[test]
fn what_is_a_habit_comes_before_what_happened_once() {
    let counts = counts(&["x--xx---x---...."; 8], 80);
    let quarter = 750.0;
    let at = written_ms(&counts)
        .into_iter()
        .enumerate()
        .map(|(n, at)| if n % 4 == 1 { at - quarter / 4.0 } else { at });
    let mut attacks = played(at.collect::<Vec<_>>());
    attacks.extend(played([4.0 * quarter + 3.0 * quarter + 8.0]));
    let judgement = judged(&counts, &attacks);
    let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind.name()).collect();
    assert_eq!(kinds, ["dotted-even", "rest-struck"]);
}

fn says_of(counts: &[TimedCount], attacks: &[Played]) -> Vec<String> {
    judged(counts, attacks).findings().iter().map(|finding| finding.says.clone()).collect()
}

/// 280 ms lie beyond the gate of 250. A missed note with one stray beside it, each neighbour struck, is one late attack.
#[test]
fn a_stroke_beyond_the_gate_is_its_note_where_nothing_else_is() {
    let counts = counts(&["x-x-x-x-"; 4], 60);
    let mut attacks = struck(&counts, &[4.0, -6.0, 3.0, -5.0]);
    attacks[5].at += Seconds::from_millis(286);
    assert_eq!(says_of(&counts, &attacks), ["bar 2: the attack on 2 came 277 ms late"]);
}

/// One missed and two strays around it: nobody knows which of the two was meant.
#[test]
fn what_cannot_be_told_apart_is_said_to_be_not_clear() {
    let counts = counts(&["x-x-x-x-"; 4], 100);
    let mut attacks = struck(&counts, &[4.0, -6.0, 3.0, -5.0]);
    attacks.remove(5);
    attacks.extend(played([2400.0 + 320.0, 2400.0 + 880.0]));
    let says = "bar 2, near 2: 1 attack is missing and 2 strokes are not written; what was played for what is not clear";
    assert_eq!(says_of(&counts, &attacks), [says]);
}

/// Every & 70 ms early, most of them in dotted figures, which then look like the long and short of a triplet.
#[test]
fn bunched_ands_are_a_habit_and_no_figures() {
    let counts = counts(&["x--xx-x-", "x-xxx-xx"].repeat(4), 84);
    let eighth = 60_000.0 / 84.0 / 2.0;
    let at = written_ms(&counts).into_iter().enumerate().map(|(n, at)| {
        let is_and = (at / eighth).round() % 2.0 > 0.5;
        at + [4.0, -6.0, 3.0, -5.0][n % 4] - if is_and { 70.0 } else { 0.0 }
    });
    let judgement = judged(&counts, &played(at.collect::<Vec<_>>()));
    let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind.name()).collect();
    assert_eq!(kinds, ["ands-bunched"]);
}

/// A pulse that lies off for three notes is no three single attacks.
#[test]
fn neighbours_that_lie_off_together_are_no_single_attacks() {
    let counts = counts(&["x-x-x-x-"; 8], 90);
    let mut offsets = [8.0, -12.0, 6.0, -9.0].repeat(8);
    for offset in &mut offsets[13..17] {
        *offset -= 85.0;
    }
    let kinds: Vec<_> =
        judged(&counts, &struck(&counts, &offsets)).findings().iter().map(|finding| finding.kind).collect();
    assert!(!kinds.contains(&judge::FindingKind::EarlyAttack), "{kinds:?}");
}

/// Stamps that come once a frame of the screen: no sentence is finer.
#[test]
fn sentences_are_no_finer_than_the_stamps() {
    let counts = counts(&["x-x-x-x-"; 4], 60);
    let mut attacks = struck(&counts, &[4.0, -6.0, 3.0, -5.0]);
    attacks[5].at += Seconds::from_millis(186);
    let coarse = Settings::default().with_resolution(Seconds::from_millis(17));
    let judgement = judge(&counts, &attacks, &coarse);
    assert_eq!(judgement.findings()[0].says, "bar 2: the attack on 2 came about 170 ms late");
}
