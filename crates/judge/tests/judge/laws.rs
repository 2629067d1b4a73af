use counting::TimedCount;
use judge::{Fate, Gate, Judgement, Played, Settings, judge, judge_so_far, matching};
use proptest::prelude::*;
use rhythm::{AttackId, Deed};
use timebase::{Moment, Seconds, Span};

use crate::pattern::{counts, struck};

fn at(millis: i64) -> Moment {
    Moment::ZERO + Seconds::from_millis(millis)
}

/// Any counts in order of time, up to `most` of them, 20 to 600 ms apart.
fn any_counts(most: usize) -> impl Strategy<Value = Vec<TimedCount>> {
    let deed = prop_oneof![4 => Just(Deed::Attack), 1 => Just(Deed::Hold), 1 => Just(Deed::Rest)];
    prop::collection::vec((20i64..600, deed, any::<bool>()), 0..most).prop_map(|counts| {
        let mut time = 0;
        let each = (0..).zip(counts).map(|(place, (gap, deed, on_beat))| {
            time += gap;
            let id = AttackId { bar: 1, pass: 1, at: Span::new(place, 64) };
            TimedCount {
                id,
                at: at(time),
                say: None,
                deed,
                on_beat,
                beat: Span::QUARTER,
                marks: rhythm::Marks::NONE,
            }
        });
        each.collect()
    })
}

fn any_played(most: usize) -> impl Strategy<Value = Vec<Played>> {
    prop::collection::vec((-300i64..8_000).prop_map(|ms| Played::new(at(ms))), 0..most)
}

fn any_settings() -> impl Strategy<Value = Settings> {
    let gate = prop_oneof![
        (5i64..=1_000).prop_map(|ms| Gate::Following { most: Seconds::from_millis(ms) }),
        (5i64..=1_000).prop_map(|ms| Gate::Fixed(Seconds::from_millis(ms))),
    ];
    (5i64..=250, gate).prop_map(|(tolerance, gate)| {
        let settings = Settings::default().with_tolerance(Seconds::from_millis(tolerance)).expect("in range");
        settings.with_gate(gate).expect("in range")
    })
}

/// Every written attack struck once or not, every played attack an answer once or extra, and both in the same order.
fn is_sound(judgement: &Judgement, counts: &[TimedCount], played: &[Played]) -> Result<(), TestCaseError> {
    let written = counts.iter().filter(|count| count.deed == Deed::Attack);
    prop_assert!(judgement.notes().iter().map(|note| note.id).eq(written.map(|count| count.id)));
    let mut indices: Vec<_> = judgement.attacks().iter().map(|attack| attack.index).collect();
    indices.sort_unstable();
    prop_assert!(indices.into_iter().eq(0..played.len()));
    prop_assert!(judgement.attacks().iter().all(|attack| attack.played == played[attack.index]));
    prop_assert!(judgement.attacks().is_sorted_by_key(|attack| attack.played.at));
    let mut before = None;
    for note in judgement.notes() {
        if let Fate::Struck(attack) = note.fate {
            prop_assert!(before < Some(attack), "order");
            before = Some(attack);
            let answer = judgement.attacks()[attack].answer;
            prop_assert_eq!(answer.map(|answer| answer.id), Some(note.id));
        }
    }
    let struck = judgement.notes().iter().filter(|note| matches!(note.fate, Fate::Struck(_))).count();
    prop_assert_eq!(judgement.attacks().iter().filter(|attack| attack.answer.is_some()).count(), struck);
    let misread =
        judgement.attacks().iter().filter(|a| a.answer.is_some_and(|answer| answer.misread)).count();
    prop_assert_eq!(judgement.sums().matched, struck - misread);
    for attack in judgement.attacks() {
        prop_assert!(attack.answer.is_none() || attack.fell_on.is_none());
        if let Some((id, deed)) = attack.fell_on {
            prop_assert!(
                counts.iter().any(|count| count.id == id && count.deed == deed && deed != Deed::Attack)
            );
        }
        if let Some(answer) = attack.answer {
            // Beyond fifty days times are taken for fifty days.
            let fifty_days = Seconds::from_millis(4_320_000_000);
            if [attack.played.at, answer.written].iter().all(|at| at.since_zero().abs() < fifty_days) {
                prop_assert_eq!(answer.offset, attack.played.at - answer.written - answer.shift);
            }
        }
    }
    Ok(())
}

/// Every way to pair rising rows in order within a window: the most pairs, and the least sum of squares (µs²) of those.
fn best_by_trying_all(written: &[i64], played: &[i64], window: i64) -> (usize, i64) {
    let Some((&first, rest)) = written.split_first() else {
        return (0, 0);
    };
    let mut best = best_by_trying_all(rest, played, window);
    for (index, &stroke) in played.iter().enumerate() {
        if (stroke - first).abs() <= window {
            let (pairs, squares) = best_by_trying_all(rest, &played[index + 1..], window);
            let candidate = (pairs + 1, squares + (stroke - first).pow(2));
            if candidate.0 > best.0 || (candidate.0 == best.0 && candidate.1 < best.1) {
                best = candidate;
            }
        }
    }
    best
}

/// The size of a maximum matching in the graph of all pairs within the window, order or no order (augmenting paths).
fn most_pairs(written: &[i64], played: &[i64], window: i64) -> usize {
    fn augment(w: usize, near: &[Vec<usize>], seen: &mut [bool], partner: &mut [Option<usize>]) -> bool {
        for &p in &near[w] {
            if !std::mem::replace(&mut seen[p], true)
                && partner[p].is_none_or(|other| augment(other, near, seen, partner))
            {
                partner[p] = Some(w);
                return true;
            }
        }
        false
    }
    let near: Vec<Vec<usize>> = written
        .iter()
        .map(|w| (0..played.len()).filter(|&p| (played[p] - w).abs() <= window).collect())
        .collect();
    let mut partner = vec![None; played.len()];
    (0..written.len()).filter(|&w| augment(w, &near, &mut vec![false; played.len()], &mut partner)).count()
}

fn rising(micros: std::ops::Range<i64>, most: usize) -> impl Strategy<Value = Vec<i64>> {
    prop::collection::vec(micros, 0..most).prop_map(|mut times| {
        times.sort_unstable();
        times
    })
}

fn moments(micros: &[i64]) -> Vec<Moment> {
    micros.iter().map(|&us| Moment::ZERO + Seconds::from_micros(us)).collect()
}

proptest! {
    #[test]
    fn every_judgement_is_sound(counts in any_counts(24), played in any_played(30), settings in any_settings()) {
        is_sound(&judge(&counts, &played, &settings), &counts, &played)?;
    }

    #[test]
    fn a_judgement_on_the_way_is_sound_and_misses_nothing_early(
        counts in any_counts(24), played in any_played(30), settings in any_settings(), now in -500i64..8_000,
    ) {
        let heard: Vec<_> = played.into_iter().filter(|played| played.at <= at(now)).collect();
        let judgement = judge_so_far(&counts, &heard, at(now), &settings);
        is_sound(&judgement, &counts, &heard)?;
        // A player may be ahead in the music and strike what comes later, but nothing is missed before its time.
        let open = judgement.notes().iter().filter(|note| note.at > at(now + 2_000));
        prop_assert!(open.into_iter().all(|note| note.fate != Fate::Missed));
        let late = judge_so_far(&counts, &heard, at(1_000_000_000), &settings);
        prop_assert_eq!(late, judge(&counts, &heard, &settings));
    }

    #[test]
    fn the_order_in_which_attacks_are_given_does_not_matter(
        counts in any_counts(16), played in any_played(20).prop_shuffle(), settings in any_settings(),
    ) {
        let mut sorted = played.clone();
        sorted.sort_by_key(|played| played.at);
        let (a, b) = (judge(&counts, &played, &settings), judge(&counts, &sorted, &settings));
        prop_assert_eq!(a.notes(), b.notes());
        prop_assert_eq!(a.sums(), b.sums());
        prop_assert_eq!(a.findings(), b.findings());
    }

    #[test]
    fn where_zero_lies_does_not_matter(
        counts in any_counts(16), played in any_played(20), settings in any_settings(), by_us in -10_000_000i64..10_000_000,
    ) {
        let by = Seconds::from_micros(by_us);
        let moved: Vec<_> = counts.iter().map(|count| TimedCount { at: count.at + by, ..count.clone() }).collect();
        let moved_played: Vec<_> = played.iter().map(|played| Played { at: played.at + by, ..*played }).collect();
        let (a, b) = (judge(&counts, &played, &settings), judge(&moved, &moved_played, &settings));
        let pairs = |judgement: &Judgement| judgement.attacks().iter().map(|attack| attack.answer.map(|answer| (answer.id, answer.offset))).collect::<Vec<_>>();
        prop_assert_eq!(pairs(&a), pairs(&b));
        prop_assert_eq!(a.sums().bias, b.sums().bias);
    }

    /// A player as steady as most, so much earlier or later: the same notes are answered, every offset and the bias have
    /// moved by that much, and nothing else has.
    #[test]
    fn a_shifted_take_has_shifted_offsets(
        offsets in prop::collection::vec(-30.0f64..30.0, 27), by_us in -60_000i64..60_000, bpm in 60u32..120,
    ) {
        let counts = counts(&["x---x-x-x---x---", "x-x-x---xxxxx---", "x---....x-x-x-x-", "x-------x-x-x---"], bpm);
        let played = struck(&counts, &offsets);
        let by = Seconds::from_micros(by_us);
        let moved: Vec<_> = played.iter().map(|played| Played { at: played.at + by, ..*played }).collect();
        let (a, b) = (judge(&counts, &played, &Settings::default()), judge(&counts, &moved, &Settings::default()));
        prop_assert_eq!(a.notes(), b.notes());
        for (a, b) in a.attacks().iter().zip(b.attacks()) {
            let (a, b) = (a.answer.expect("struck"), b.answer.expect("struck"));
            prop_assert_eq!((a.offset + by, a.lean, a.verdict), (b.offset, b.lean, b.verdict));
        }
        prop_assert_eq!(a.sums().bias.map(|bias| bias + by), b.sums().bias);
        let (a, b) = (a.sums(), b.sums());
        let near = |a: f64, b: f64| (a - b).abs() < 1e-5;
        prop_assert!(near(a.spread.expect("many").as_millis_f64(), b.spread.expect("many").as_millis_f64()));
        prop_assert!(near(a.drift.expect("many").percent, b.drift.expect("many").percent));
    }

    #[test]
    fn no_better_matching_exists(written in rising(0..400_000, 6), played in rising(0..400_000, 6), window in 0i64..150_000) {
        let pairs = matching(&moments(&written), &moments(&played), Seconds::from_micros(window));
        prop_assert!(pairs.is_sorted_by(|a, b| a.0 < b.0 && a.1 < b.1));
        prop_assert!(pairs.iter().all(|&(w, p)| (played[p] - written[w]).abs() <= window));
        let squares: i64 = pairs.iter().map(|&(w, p)| (played[p] - written[w]).pow(2)).sum();
        prop_assert_eq!((pairs.len(), squares), best_by_trying_all(&written, &played, window));
    }

    /// Order costs no match: as many are found as by maximum matching without order, which is what `mir_eval` 0.8.2 counts.
    #[test]
    fn as_many_as_a_maximum_matching(written in rising(0..5_000_000, 60), played in rising(0..5_000_000, 60), window in 0i64..300_000) {
        let pairs = matching(&moments(&written), &moments(&played), Seconds::from_micros(window));
        prop_assert_eq!(pairs.len(), most_pairs(&written, &played, window));
    }

    #[test]
    fn no_times_panic(times in prop::collection::vec(any::<i64>(), 0..12), written in prop::collection::vec(any::<i64>(), 0..8)) {
        let mut written = written;
        written.sort_unstable();
        let counts: Vec<_> = (0..).zip(written).map(|(place, nanos)| TimedCount {
            id: AttackId { bar: 1, pass: 1, at: Span::new(place, 64) },
            at: Moment::ZERO + Seconds::from_nanos(nanos),
            say: None,
            deed: if place % 3 == 2 { Deed::Rest } else { Deed::Attack },
            on_beat: false,
            beat: Span::QUARTER,
            marks: rhythm::Marks::NONE,
        }).collect();
        let played: Vec<_> = times.into_iter().map(|nanos| Played::new(Moment::ZERO + Seconds::from_nanos(nanos))).collect();
        is_sound(&judge(&counts, &played, &Settings::default()), &counts, &played)?;
    }
}
