use counting::TimedCount;
use judge::{Delay, FindingKind, Played, Settings, judge};

use crate::pattern::{counts, played, repeated, struck, written_ms};
use crate::player::Chance;

fn says(counts: &[TimedCount], played: &[Played]) -> Vec<String> {
    let judgement = judge(counts, played, &Settings::default());
    judgement.findings().iter().map(|finding| finding.says.clone()).collect()
}

/// Twelve quarters and eighths, the & of 2 in bar 1, a rest on 3, a tie over the bar line into bar 2.
const WRITTEN: [&str; 4] = ["x-xx..x-", "--x-x-x-", "x-x-xxx-", "x-x-x---"];
const OFFSETS: [f64; 5] = [4.0, -6.0, 9.0, -11.0, 2.0];

/// The take with one stroke more, or one less.
fn check(change: impl Fn(&mut Vec<Played>), expected: &str) {
    let counts = counts(&WRITTEN, 100);
    let mut take = struck(&counts, &OFFSETS);
    change(&mut take);
    assert_eq!(says(&counts, &take), [expected]);
}

/// ms of an eighth, counted from count 1 of bar 1.
fn eighth(number: u32) -> f64 {
    f64::from(number) * 300.0
}

fn with(at_ms: f64) -> impl Fn(&mut Vec<Played>) {
    move |take| take.extend(played([at_ms]))
}

#[test]
fn strokes_on_silences_are_named_by_their_count() {
    check(with(eighth(4) + 20.0), "bar 1: the rest on 3 was struck");
    check(with(eighth(8) - 30.0), "bar 2: the held note was struck again on 1");
    check(with(eighth(31) - 300.0), "bar 4: the held note was struck again on 4");
}

#[test]
fn strokes_elsewhere_are_named_by_the_count_before() {
    check(with(eighth(5)), "bar 1: an extra attack in the rest after 3");
    check(with(eighth(1) + 10.0), "bar 1: an extra attack after 1");
    check(with(eighth(2) + 60.0), "bar 1: the attack on 2 was struck twice");
    check(with(eighth(21) - 55.0), "bar 3: the attack on the & of 3 was struck twice");
    check(with(-900.0), "an extra attack before the first count");
    check(with(eighth(40)), "an extra attack after the last bar");
}

/// The same slip at three places or more is one thing to tell; at two it is told for each.
#[test]
fn the_same_slip_in_many_places_is_told_once() {
    let with = |eighths: &'static [u32], off_ms: f64| {
        move |take: &mut Vec<Played>| take.extend(played(eighths.iter().map(|&n| eighth(n) + off_ms)))
    };
    // Struck again on the tied 1, on the held 3 of bar 1's last note and on the held 4 at the end.
    let counts = counts(&["x---xx--", "x---x-x-", "x-x-x---", "x---x-x-"], 100);
    let told = |change: &dyn Fn(&mut Vec<Played>)| {
        let mut take = struck(&counts, &OFFSETS);
        change(&mut take);
        take.sort_by_key(|played| played.at);
        let judgement = judge(&counts, &take, &Settings::default());
        let told = judge::together(judgement.findings());
        // Each can be overruled by itself.
        assert!(judgement.findings().iter().all(|finding| finding.notes.len() + finding.strokes.len() == 1));
        told.into_iter().map(|finding| finding.says).collect::<Vec<_>>()
    };
    assert_eq!(
        told(&with(&[2, 10, 22, 26], 20.0)),
        ["bar 1: the held note was struck again on 2; also in bars 2, 3 and 4"]
    );
    assert_eq!(
        told(&with(&[2, 22], 20.0)),
        ["bar 1: the held note was struck again on 2", "bar 3: the held note was struck again on 4"]
    );
    // A bouncing stick: each of these notes once more.
    assert_eq!(
        told(&with(&[0, 8, 12, 16, 20], 60.0)),
        ["bar 1: the attack on 1 was struck twice; also in 4 more places, in bars 2 and 3"]
    );
    assert_eq!(
        told(&|take| {
            for note in [11, 8, 1] {
                take.remove(note);
            }
        }),
        ["bar 1: the attack on 3 was missed; also in bars 3 and 4"]
    );
}

#[test]
fn missed_attacks_are_named_one_by_one_and_runs_as_one() {
    let without =
        |range: std::ops::Range<usize>| move |take: &mut Vec<Played>| drop(take.drain(range.clone()));
    check(without(2..3), "bar 1: the attack on the & of 2 was missed");
    check(without(9..10), "bar 3: the attack on 3 was missed");
    check(without(4..8), "bar 2: 4 attacks in a row missed, from 2 to 1 in bar 3");
    check(|take| take.clear(), "nothing was struck: 15 attacks missed");
}

#[test]
fn single_attacks_far_off_are_named_with_their_distance() {
    let moved = |n: usize, by: f64| {
        move |take: &mut Vec<Played>| take[n].at += timebase::Seconds::from_millis_f64(by)
    };
    // The offsets there are −11 and 9; the pulse lies at 2.
    check(moved(3, 93.0), "bar 1: the attack on 4 came 80 ms late");
    check(moved(7, -90.0), "bar 3: the attack on 1 came 83 ms early");
}

#[test]
fn a_passage_played_again_says_which_time() {
    let counts = repeated(&["x-x-x-x-", "x-xxx-.."], 3, 100);
    let mut take = struck(&counts, &OFFSETS);
    take.extend(played([eighth(16 + 14)]));
    take.remove(16 + 6);
    assert_eq!(
        says(&counts, &take),
        [
            "bar 2, second time: the rest on 4 was struck",
            "bar 2, third time: the attack on the & of 2 was missed"
        ]
    );
}

#[test]
fn a_good_take_is_told_with_why() {
    let counts = counts(&WRITTEN, 100);
    let expected =
        "a good take: all 15 attacks were struck and nothing else, 15 of them on time, spread 8 ms";
    assert_eq!(says(&counts, &struck(&counts, &OFFSETS)), [expected]);
}

#[test]
fn a_steady_distance_from_the_click_is_told_and_is_no_fault() {
    let counts = counts(&WRITTEN, 100);
    let with_bias = |bias: f64, delay| {
        let take = struck(&counts, &OFFSETS.map(|offset| offset + bias));
        let judgement = judge(&counts, &take, &Settings::default().with_delay(delay));
        judgement.findings().iter().map(|finding| finding.says.clone()).collect::<Vec<_>>()
    };
    for (bias, delay, expected) in [
        (
            -42.0,
            Delay::Unknown,
            "the attacks fall 40 ms before the click throughout; how much of that is the equipment's delay was not measured, so nothing is said of the player",
        ),
        (
            -42.0,
            Delay::TakenOff,
            "the attacks fall 40 ms ahead of the click throughout; steady, some tens of milliseconds are no fault",
        ),
        (
            158.0,
            Delay::Unknown,
            "the attacks fall 160 ms after the click throughout; so much may be the equipment's delay, so measure that first",
        ),
        (
            158.0,
            Delay::TakenOff,
            "the attacks fall 160 ms behind the click throughout; steady, but so much is heard",
        ),
    ] {
        assert_eq!(with_bias(bias, delay)[1..], [expected]);
    }
    assert_eq!(with_bias(-15.0, Delay::TakenOff).len(), 1);
}

#[test]
fn a_rush_is_told_with_how_much_and_from_where() {
    let counts = counts(&WRITTEN.repeat(2), 100);
    let rushed = |percent: f64| {
        let mut chance = Chance::from(3);
        let at =
            written_ms(&counts).into_iter().map(|at| at / (1.0 + percent / 100.0) + 8.0 * chance.normal());
        let judgement = judge(&counts, &played(at.collect::<Vec<_>>()), &Settings::default());
        judgement.findings().to_vec()
    };
    let found = rushed(3.0);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].kind, FindingKind::Rushing);
    assert!(
        found[0].says.starts_with("rushing: 2.98 % faster than written, ")
            && found[0].says.ends_with("from bar 1 to bar 8"),
        "{found:?}"
    );
    let found = rushed(-3.0);
    assert_eq!((found.len(), found[0].kind), (1, FindingKind::Dragging), "{found:?}");
}

#[test]
fn scatter_is_told_and_one_slip_is_not_scatter() {
    let counts = counts(&["x-x-x-x-"; 8], 90);
    let mut chance = Chance::from(8);
    let loose: Vec<f64> = (0..32).map(|_| 48.0 * chance.normal()).collect();
    let judgement = judge(&counts, &struck(&counts, &loose), &Settings::default());
    let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind).collect();
    assert_eq!(kinds, [FindingKind::Unsteady]);
    let mut slip = [5.0, -5.0, 3.0, -3.0].repeat(8);
    slip[20] = 220.0;
    assert_eq!(says(&counts, &struck(&counts, &slip)), ["bar 6: the attack on 1 came 220 ms late"]);
}

/// Beginners make several mistakes in a take: each that has a place of its own is told.
#[test]
fn each_mistake_with_a_place_of_its_own_is_told() {
    let counts = counts(&WRITTEN, 100);
    let mut take = struck(&counts, &OFFSETS);
    take.extend(played([eighth(4), eighth(8)]));
    let judgement = judge(&counts, &take, &Settings::default());
    let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind.name()).collect();
    assert_eq!(kinds, ["hold-struck", "rest-struck"]);
    assert!(judgement.findings()[0].confidence < judgement.findings()[0].evidence, "another seems wrong too");

    let mut take = struck(&counts, &OFFSETS);
    take.remove(10);
    take.extend(played([eighth(4), eighth(8), eighth(26) + 150.0]));
    let judgement = judge(&counts, &take, &Settings::default());
    let kinds: Vec<_> = judgement.findings().iter().map(|finding| finding.kind.name()).collect();
    assert_eq!(kinds, ["hold-struck", "rest-struck", "attack-missed", "extra-attack"]);
}

/// Where much lies together that nobody can tell apart, that is said.
#[test]
fn much_in_one_place_is_not_clear() {
    let counts = counts(&WRITTEN, 100);
    let mut take = struck(&counts, &OFFSETS);
    take.remove(6);
    take.remove(4);
    take.extend(played([eighth(9), eighth(10), eighth(13)]));
    take.extend(played([eighth(8) + 130.0, eighth(11) + 120.0, eighth(12) + 140.0]));
    let expected = "bar 2, near 4: 1 attack is missing and 5 strokes are not written; what was played for what is not clear";
    assert_eq!(says(&counts, &take), [expected]);
}
