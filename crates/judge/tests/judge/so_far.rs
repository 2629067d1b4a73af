use judge::{Fate, Settings, Verdict, judge, judge_so_far};
use timebase::{Moment, Seconds};

use crate::pattern::{counts, played, struck};

fn at(ms: i64) -> Moment {
    Moment::ZERO + Seconds::from_millis(ms)
}

#[test]
fn what_may_still_be_struck_is_pending() {
    let counts = counts(&["xxxx"], 120);
    let settings = Settings::default();
    let fates = |played_ms: &[f64], now: i64| -> Vec<Fate> {
        let judgement = judge_so_far(&counts, &played(played_ms.iter().copied()), at(now), &settings);
        judgement.notes().iter().map(|note| note.fate).collect()
    };
    use Fate::{Missed, Pending, Struck};
    assert_eq!(fates(&[], -1000), [Pending; 4]);
    // The gate is open for 250 ms after the note.
    assert_eq!(fates(&[], 249), [Pending; 4]);
    assert_eq!(fates(&[], 250), [Missed, Pending, Pending, Pending]);
    assert_eq!(fates(&[5.0], 6), [Struck(0), Pending, Pending, Pending]);
    // An early stroke is judged at once, before its note is due.
    assert_eq!(fates(&[5.0, 440.0], 441), [Struck(0), Struck(1), Pending, Pending]);
    // The second note is missed only when its gate has closed; the third stroke is not taken for it.
    assert_eq!(fates(&[5.0, 1010.0], 1011), [Struck(0), Missed, Struck(1), Pending]);
    assert_eq!(fates(&[5.0, 1010.0, 1490.0], 5000), [Struck(0), Missed, Struck(1), Struck(2)]);
}

#[test]
fn every_stroke_of_a_clean_take_is_judged_as_it_comes() {
    let counts = counts(&["x---x-x-xxxxx---", "x-x-x---....x---"], 100);
    let take = struck(&counts, &[-35.0, -48.0, -22.0, -40.0, -31.0]);
    let settings = Settings::default();
    for heard in 1..=take.len() {
        let now = take[heard - 1].at + Seconds::from_millis(1);
        let judgement = judge_so_far(&counts, &take[..heard], now, &settings);
        let fates: Vec<_> = judgement.notes().iter().map(|note| note.fate).collect();
        let expected: Vec<_> =
            (0..take.len()).map(|n| if n < heard { Fate::Struck(n) } else { Fate::Pending }).collect();
        assert_eq!(fates, expected, "after {heard}");
        assert!(judgement.attacks().iter().all(|attack| attack.verdict() != Verdict::Extra), "after {heard}");
        assert!(!judgement.findings().iter().any(|finding| finding.kind.is_mistake()), "after {heard}");
    }
}

#[test]
fn when_all_is_past_it_is_the_final_judgement() {
    let counts = counts(&["x-x-x-..", "x---x-x-"], 110);
    let mut take = struck(&counts, &[20.0, -30.0, 5.0]);
    take.remove(3);
    let settings = Settings::default();
    assert_eq!(judge_so_far(&counts, &take, at(60_000), &settings), judge(&counts, &take, &settings));
}
