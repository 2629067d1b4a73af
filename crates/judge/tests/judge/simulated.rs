//! Simulated players: what went in comes out. Seeds are fixed, so every run sees the same players.

use judge::{FindingKind, Settings, Verdict, judge};
use timebase::Seconds;

use crate::pattern::{counts, written_ms};
use crate::player::{Chance, EVEN, Player};

/// Linear phase correction, σT 20 and σM 10 ms: standard deviation 32.07 at α .25, 25.82 at .5, 24.14 at .8284
/// (closed form var(A) = (σT² + 2ασM²)/(α(2−α)), computed).
#[test]
fn the_spread_of_a_phase_correcting_player_is_the_closed_form() {
    let counts = counts(&["xxxx"; 1_000], 100);
    let written = written_ms(&counts);
    for (correction, expected) in [(0.25, 32.07), (0.5, 25.82), (0.8284, 24.14)] {
        let player = Player { correction, bias_ms: -40.0, ..EVEN };
        assert!((player.variance().sqrt() - expected).abs() < 0.005);
        let judgement = judge(&counts, &player.play(&written, &mut Chance::from(17)), &Settings::default());
        let sums = judgement.sums();
        assert_eq!(sums.matched, 4_000, "{correction}");
        let spread = sums.spread.expect("many").as_millis_f64();
        assert!((spread / expected - 1.0).abs() < 0.04, "{correction}: {spread}");
        let bias = sums.bias.expect("many").as_millis_f64();
        assert!((bias + 40.0).abs() < 2.5, "{correction}: {bias}");
        let drift = sums.drift.expect("many");
        assert!(!drift.sure && drift.percent.abs() < 0.01, "{correction}: {drift:?}");
    }
}

/// γ(1) = (1−α)var(A) − σM², which is 0 at α = .8284: a check of the simulated player, on its offsets as judged.
#[test]
fn neighbouring_offsets_hang_together_as_the_closed_form_says() {
    let counts = counts(&["xxxx"; 1_000], 100);
    let written = written_ms(&counts);
    for correction in [0.25, 0.5, 0.8284] {
        let player = Player { correction, ..EVEN };
        let judgement = judge(&counts, &player.play(&written, &mut Chance::from(4)), &Settings::default());
        let offsets: Vec<f64> = judgement
            .attacks()
            .iter()
            .filter_map(|attack| Some(attack.answer?.offset.as_millis_f64()))
            .collect();
        let mean = offsets.iter().sum::<f64>() / offsets.len() as f64;
        let products = offsets.windows(2).map(|pair| (pair[0] - mean) * (pair[1] - mean));
        let covariance = products.sum::<f64>() / (offsets.len() - 1) as f64;
        let expected = (1.0 - correction) * player.variance() - player.motor_ms.powi(2);
        assert!(
            (covariance - expected).abs() < 0.1 * player.variance(),
            "{correction}: {covariance} {expected}"
        );
    }
}

const PHRASE: [&str; 8] = [
    "x---x-x-x---x---",
    "x-x-x---xxxxx---",
    "x---....x-x-x-x-",
    "x-----x-x---....",
    "x-x-x-x-x---x---",
    "x---x---xxxxxxxx",
    "x---xx-xx---x-x-",
    "x---x---x-------",
];

/// For each take: whether every attack answers its own note, and how often a mistake is found in a clean take.
struct Tally {
    takes: u32,
    wrong_pairs: u32,
    pairs: u32,
    with_mistakes: u32,
}

fn tally(spread_ms: f64, rush_percent: f64, seeds: std::ops::Range<u64>) -> Tally {
    let mut tally = Tally { takes: 0, wrong_pairs: 0, pairs: 0, with_mistakes: 0 };
    for seed in seeds {
        let mut chance = Chance::from(seed);
        let bpm = 60 + u32::try_from(seed % 73).expect("small");
        let counts = counts(&PHRASE, bpm);
        let player =
            Player { bias_ms: -60.0 + 80.0 * chance.even(), rush_percent, ..EVEN }.with_spread(spread_ms);
        let take = player.play(&written_ms(&counts), &mut chance);
        let judgement = judge(&counts, &take, &Settings::default());
        tally.takes += 1;
        for (n, note) in judgement.notes().iter().enumerate() {
            let own = matches!(note.fate, judge::Fate::Struck(a) if judgement.attacks()[a].index == n);
            tally.pairs += 1;
            tally.wrong_pairs += u32::from(!own);
        }
        let mistakes = judgement.findings().iter().filter(|finding| finding.kind.is_mistake());
        tally.with_mistakes += u32::from(mistakes.count() > 0);
    }
    tally
}

#[test]
fn clean_takes_are_aligned_and_seldom_blamed() {
    for (spread_ms, most_wrong, most_blamed) in
        [(10.0, 0.0, 0.01), (20.0, 0.001, 0.05), (30.0, 0.01, 1.0), (45.0, 0.04, 1.0)]
    {
        let tally = tally(spread_ms, 0.0, 1_000..1_300);
        let wrong = f64::from(tally.wrong_pairs) / f64::from(tally.pairs);
        let blamed = f64::from(tally.with_mistakes) / f64::from(tally.takes);
        eprintln!("spread {spread_ms}: wrong pairs {wrong:.5}, blamed {blamed:.4}");
        assert!(wrong <= most_wrong && blamed <= most_blamed, "spread {spread_ms}: {wrong} {blamed}");
    }
}

#[test]
fn rushing_is_found_when_it_is_there() {
    for (rush, kind) in [(2.0, FindingKind::Rushing), (-2.0, FindingKind::Dragging)] {
        for seed in 0..100 {
            let mut chance = Chance::from(seed);
            let counts = counts(&PHRASE, 96);
            let player = Player { rush_percent: rush, ..EVEN }.with_spread(20.0);
            let judgement =
                judge(&counts, &player.play(&written_ms(&counts), &mut chance), &Settings::default());
            assert_eq!(judgement.missed().count(), 0, "seed {seed}");
            assert!(judgement.findings().iter().any(|finding| finding.kind == kind), "seed {seed}");
            let drift = judgement.sums().drift.expect("many");
            assert!((drift.percent - rush).abs() < 0.5, "seed {seed}: {drift:?}");
            let spread = judgement.sums().spread.expect("many");
            assert!(spread < Seconds::from_millis(30), "seed {seed}: {spread}");
        }
    }
}

/// One attack left out and one stray put in, both at random: what is told of the others stays right.
#[test]
fn planted_misses_and_strays_are_found() {
    let (mut right, mut pairs, mut found, mut planted) = (0, 0, 0, 0);
    for seed in 2_000..2_300 {
        let mut chance = Chance::from(seed);
        let counts = counts(&PHRASE, 60 + u32::try_from(seed % 73).expect("small"));
        let written = written_ms(&counts);
        let mut take = EVEN.with_spread(20.0).play(&written, &mut chance);
        let missed = (0..written.len()).min_by_key(|_| chance.even().to_bits()).expect("notes");
        take.remove(missed);
        let judgement = judge(&counts, &take, &Settings::default());
        planted += 1;
        let missed_as = judgement.notes().iter().position(|note| note.fate == judge::Fate::Missed);
        found += i32::from(missed_as == Some(missed) && judgement.missed().count() == 1);
        for (n, note) in judgement.notes().iter().enumerate().filter(|(n, _)| *n != missed) {
            let own = if n < missed { n } else { n - 1 };
            right +=
                i32::from(matches!(note.fate, judge::Fate::Struck(a) if judgement.attacks()[a].index == own));
            pairs += 1;
        }
        assert!(
            judgement.attacks().iter().filter(|a| a.verdict() == Verdict::Extra).count() <= 1,
            "seed {seed}"
        );
    }
    eprintln!("misses found {found} of {planted}, pairs right {right} of {pairs}");
    assert!(f64::from(found) >= 0.97 * f64::from(planted), "{found} of {planted}");
    assert!(f64::from(right) >= 0.999 * f64::from(pairs), "{right} of {pairs}");
}
