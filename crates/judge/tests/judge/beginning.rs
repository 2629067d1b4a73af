//! Takes whose beginning is not known: without a click, and in recordings that do not say where bar 1 lies.

use counting::TimedCount;
use judge::{FindingKind, Judgement, Played, Settings, TempoOf, beginning, judge};
use timebase::Moment;

use crate::own_tempo::{FAST, SLOW};
use crate::pattern::{counts, written_ms};
use crate::player::{Chance, EVEN};

const BEAT_MS: f64 = 60_000.0 / 92.0;
const BAR_MS: f64 = 4.0 * BEAT_MS;

/// Even strokes, meant for these moments and played so much later.
fn struck(meant_ms: &[f64], later_ms: f64, seed: u64) -> Vec<Played> {
    let at: Vec<f64> = meant_ms.iter().map(|at| at + later_ms).collect();
    EVEN.with_spread(16.0).play(&at, &mut Chance::from(seed))
}

/// Judged from where it fits best, and where that is, in ms.
fn placed(counts: &[TimedCount], played: &[Played]) -> (Judgement, f64) {
    let settings = Settings::default().with_tempo_of(TempoOf::Written);
    let zero = beginning(counts, played, &settings).expect("strokes");
    let moved: Vec<Played> =
        played.iter().map(|stroke| Played::new(Moment::ZERO + (stroke.at - zero))).collect();
    (judge(counts, &moved, &settings), zero.as_millis_f64())
}

fn without_click(counts: &[TimedCount], played: &[Played]) -> Judgement {
    judge(counts, played, &Settings::default().with_tempo_of(TempoOf::Player))
}

fn kinds(judgement: &Judgement) -> Vec<FindingKind> {
    judgement.findings().iter().map(|finding| finding.kind).collect()
}

fn says(judgement: &Judgement) -> Vec<&str> {
    judgement.findings().iter().map(|finding| finding.says.as_str()).collect()
}

#[test]
fn a_good_take_is_good_wherever_it_begins_in_the_recording() {
    for (rhythm, seeds) in [(SLOW, 0..10), (FAST, 10..20)] {
        let counts = counts(&rhythm, 92);
        for seed in seeds {
            let later = 3_157.0 + 400.0 * seed as f64;
            let (judgement, zero) = placed(&counts, &struck(&written_ms(&counts), later, seed));
            assert_eq!(kinds(&judgement), [FindingKind::GoodTake], "{seed}: {:?}", says(&judgement));
            assert!((zero - later).abs() < 20.0, "{seed}: {zero} for {later}");
            assert_eq!(judgement.sums().bias, None, "nothing is known of the click");
            assert!(judgement.sums().spread.is_some() && judgement.sums().drift.is_some());
            assert!(!judgement.is_placed());
        }
    }
}

#[test]
fn what_is_wrong_is_told_from_where_the_take_fits() {
    let counts = counts(&SLOW, 92);
    for seed in 0..10 {
        // The held note of bar 2 and the rest at the end of bar 1 struck.
        let mut meant = written_ms(&counts);
        meant.extend([3.0 * BEAT_MS, BAR_MS + BEAT_MS]);
        meant.sort_by(f64::total_cmp);
        let (judgement, _) = placed(&counts, &struck(&meant, 5_000.0, seed));
        let mut found = kinds(&judgement);
        found.sort_unstable();
        assert_eq!(
            found,
            [FindingKind::HoldStruck, FindingKind::RestStruck],
            "{seed}: {:?}",
            says(&judgement)
        );
    }
}

#[test]
fn half_a_take_lies_where_it_was_begun() {
    for rhythm in [SLOW, FAST] {
        let counts = counts(&rhythm, 92);
        for seed in 0..10 {
            let half: Vec<f64> =
                written_ms(&counts).into_iter().filter(|at| *at < 4.0 * BAR_MS - 1.0).collect();
            let (judgement, zero) = placed(&counts, &struck(&half, 3_157.0, seed));
            assert!((zero - 3_157.0).abs() < 20.0, "{seed}: {zero}");
            assert!(!kinds(&judgement).contains(&FindingKind::OtherRhythm), "{seed}: {:?}", says(&judgement));
        }
    }
}

#[test]
fn a_recording_that_was_cut_off_in_front_is_laid_where_it_goes_on() {
    let counts = counts(&SLOW, 92);
    for seed in 0..10 {
        let rest: Vec<f64> = written_ms(&counts).into_iter().filter(|at| *at > 2.0 * BAR_MS - 1.0).collect();
        let (_, zero) = placed(&counts, &struck(&rest, -4_000.0, seed));
        assert!((zero + 4_000.0).abs() < 20.0, "{seed}: {zero}");
    }
}

#[test]
fn a_test_stroke_before_a_take_without_a_click_is_one_stroke_too_many() {
    for rhythm in [SLOW, FAST] {
        let counts = counts(&rhythm, 92);
        for seed in 0..12 {
            let mut meant = written_ms(&counts);
            // Some fall beats before the first note, others anywhere.
            let before = if seed < 6 { 3.0 * BEAT_MS } else { 1_700.0 + 90.0 * seed as f64 };
            meant.insert(0, -before);
            let judgement = without_click(&counts, &struck(&meant, 2_000.0, seed));
            let ratio = judgement.tempo_ratio().expect("a tempo");
            assert!((ratio - 1.0).abs() < 0.02, "{seed}: {ratio}");
            assert_eq!(kinds(&judgement), [FindingKind::ExtraAttack], "{seed}: {:?}", says(&judgement));
        }
    }
}

#[test]
fn bars_left_out_at_the_beginning_without_a_click_are_those_bars() {
    for rhythm in [SLOW, FAST] {
        let counts = counts(&rhythm, 92);
        for (bars, seed) in [1.0, 2.0].into_iter().flat_map(|bars| (0..12).map(move |seed| (bars, seed))) {
            let rest: Vec<f64> =
                written_ms(&counts).into_iter().filter(|at| *at > bars * BAR_MS - 1.0).collect();
            let judgement = without_click(&counts, &struck(&rest, 2_000.0, seed));
            let ratio = judgement.tempo_ratio().expect("a tempo");
            assert!((ratio - 1.0).abs() < 0.02, "{bars} {seed}: {ratio}, {:?}", says(&judgement));
            assert!(says(&judgement)[0].starts_with("bar 1"), "{bars} {seed}: {:?}", says(&judgement));
        }
    }
}

#[test]
fn of_one_stroke_nothing_is_said() {
    let counts = counts(&SLOW, 92);
    for tempo_of in [TempoOf::Click, TempoOf::Player, TempoOf::Written] {
        let one = struck(&[2_000.0], 0.0, 1);
        let judgement = judge(&counts, &one, &Settings::default().with_tempo_of(tempo_of));
        assert_eq!(says(&judgement), ["one stroke: nothing can be said of it"], "{tempo_of:?}");
        assert_eq!(judgement.tempo_ratio(), None);
    }
    for strokes in 2..=3 {
        let few = struck(&[2_000.0, 2_700.0, 3_300.0][..strokes], 0.0, 1);
        let judgement = without_click(&counts, &few);
        assert_eq!(judgement.tempo_ratio(), None);
        assert!(
            says(&judgement)[0].ends_with("too few for anything to be said of them"),
            "{:?}",
            says(&judgement)
        );
    }
}

#[test]
fn of_two_strokes_with_a_click_the_rest_is_missed() {
    let counts = counts(&SLOW, 92);
    let two = struck(&written_ms(&counts)[..2], 0.0, 1);
    let judgement = judge(&counts, &two, &Settings::default());
    assert_eq!(kinds(&judgement), [FindingKind::AttackMissed], "{:?}", says(&judgement));
}
