use judge::{Fate, Live, Played, Settings, Verdict, judge, judge_so_far};
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

#[test]
fn a_stroke_is_judged_at_once_as_when_everything_is_weighed() {
    let bars = ["x---x-x-xxxxx---", "x-x-x---....x---", "x-xxx-..x---x-x-"].repeat(5);
    let counts = counts(&bars, 96);
    let settings = Settings::default();
    // Clean, but for one note left out and one stroke too much.
    let mut take = struck(&counts, &[-35.0, -48.0, -22.0, -40.0, -31.0]);
    take.remove(70);
    take.insert(90, Played::new(take[90].at - Seconds::from_millis(80)));
    let mut live = Live::new(counts.clone().into(), settings);
    for heard in 1..=take.len() {
        live.strike(take[heard - 1]);
        let now = take[heard - 1].at + Seconds::from_millis(1);
        let (at_once, weighed) =
            (live.provisional(now), judge_so_far(&counts, &take[..heard], now, &settings));
        assert_eq!(at_once.attacks(), weighed.attacks(), "after {heard}");
        assert_eq!(at_once.notes(), weighed.notes(), "after {heard}");
        assert_eq!(at_once.sums(), weighed.sums(), "after {heard}");
    }
    assert_eq!(live.whole(), judge(&counts, &take, &settings));
}

#[test]
fn what_was_found_by_weighing_holds_for_the_strokes_that_follow() {
    let counts = counts(&["x-x-xxx-", "x---x-x-", "xxx-x---", "x-..x-x-"].repeat(4), 100);
    let settings = Settings::default();
    // A beat late from the third bar on.
    let beat = Seconds::from_millis(600);
    let mut take = struck(&counts, &[10.0, -20.0, 15.0]);
    for played in take.iter_mut().filter(|played| played.at > at(4_700)) {
        played.at += beat;
    }
    let mut live = Live::new(counts.into(), settings);
    let half = take.len() / 2;
    for &played in &take[..half] {
        live.strike(played);
    }
    let weighed = live.revised(take[half - 1].at);
    let shift = weighed.attacks().last().and_then(|attack| attack.answer).expect("an answer").shift;
    assert!((shift - beat).abs() < Seconds::from_millis(30), "{shift:?}");
    for &played in &take[half..] {
        live.strike(played);
        let judgement = live.provisional(played.at);
        let answer = judgement.attacks().last().and_then(|attack| attack.answer).expect("an answer");
        assert_eq!(answer.shift, shift);
        assert!(answer.lean.abs() <= Seconds::from_millis(50), "{answer:?}");
        assert_eq!(judgement.findings(), weighed.findings());
    }
}

#[test]
fn a_stroke_heard_late_takes_its_place() {
    let counts = counts(&["x-x-x-x-", "x-x-x-x-"], 100);
    let take = struck(&counts, &[10.0, -20.0, 15.0]);
    let settings = Settings::default();
    let mut live = Live::new(counts.clone().into(), settings);
    for index in [0, 2, 1, 3, 5, 4, 7, 6] {
        live.strike(take[index]);
        live.provisional(take[7].at);
    }
    let judgement = live.provisional(at(60_000));
    let given: Vec<usize> = judgement.attacks().iter().map(|attack| attack.index).collect();
    assert_eq!(given, [0, 2, 1, 3, 5, 4, 7, 6]);
    assert!(judgement.notes().iter().all(|note| matches!(note.fate, Fate::Struck(_))));
    assert_eq!(live.whole().notes(), judgement.notes());
}

/// A grace that was taken for the attack makes way for its main stroke, whatever else has been heard.
#[test]
fn a_main_stroke_takes_the_place_of_its_grace() {
    let counts = counts(&["xxxx", "xxxx"], 120);
    let settings = Settings::default();
    let mut live = Live::new(counts.clone().into(), settings);
    let mut given = Vec::new();
    for number in 0..8 {
        let main = at(500 * number + 5);
        let grace = main - Seconds::from_millis(45);
        live.strike(Played::new(grace));
        live.provisional(grace + Seconds::from_millis(1));
        live.restrike(usize::try_from(number).expect("small"), Played::new(main));
        live.provisional(main + Seconds::from_millis(1));
        given.push(Played::new(main));
    }
    let expected = judge(&counts, &given, &settings);
    assert_eq!(live.whole(), expected);
    assert_eq!(live.provisional(at(60_000)).attacks(), expected.attacks());
    // Of two that stand close together the moved one may pass the other.
    live.strike(Played::new(at(4_010)));
    live.strike(Played::new(at(4_020)));
    live.restrike(8, Played::new(at(4_030)));
    given.extend([4_030, 4_020].map(|ms| Played::new(at(ms))));
    assert_eq!(live.whole(), judge(&counts, &given, &settings));
}
