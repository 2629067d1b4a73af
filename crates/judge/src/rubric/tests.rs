use rhythm::{Bar, Event, Form, Meter, Rhythm};
use timebase::{Moment, Span, TempoMap};

use super::*;
use crate::{Played, Settings, judge};

/// Eight bars of `1 2 (3) 4` at 120, which is 24 attacks, struck at their places moved by `place` (in ms); `None` is left out.
fn judged(place: impl Fn(usize, i64) -> Option<i64>, more: &[i64]) -> Judgement {
    let deeds = [Deed::Attack, Deed::Attack, Deed::Rest, Deed::Attack];
    let bar = |number| {
        let events = (0..).zip(deeds).map(|(n, deed)| Event::new(Span::QUARTER * n, Span::QUARTER, deed));
        Bar::new(number, Meter::COMMON, Form::Counts, events.collect()).expect("a bar")
    };
    let rhythm = Rhythm::new(None, None, (1..=8).map(bar).collect(), vec![]).expect("a rhythm");
    let tempo = timebase::Tempo::new(Span::QUARTER, 120.into()).expect("a tempo");
    let map = TempoMap::constant(tempo);
    let counts = counting::count(&rhythm).timed(&rhythm, &rhythm.performance(), &map);
    let places = (0..8).flat_map(|bar| [0, 500, 1500].map(|at| bar * 2_000 + at));
    let struck = places.enumerate().filter_map(|(n, at)| Some(at + place(n, at)?));
    let played: Vec<Played> = struck
        .chain(more.iter().copied())
        .map(|ms| Played::new(Moment::ZERO + Seconds::from_millis(ms)))
        .collect();
    judge(&counts, &played, &Settings::default())
}

/// A player who scatters by a few ms.
fn steady(n: usize) -> i64 {
    [3, -4, 6, -2, 0, 5, -6][n % 7]
}

fn scored(judgement: &Judgement, rubric: &Rubric, overruled: &[FindingKind], calibrated: bool) -> Scored {
    let overruled: Vec<bool> =
        judgement.findings().iter().map(|finding| overruled.contains(&finding.kind)).collect();
    let tolerance = Settings::DEFAULT_TOLERANCE;
    score(judgement, rubric, &Known { tolerance, calibrated, overruled: &overruled })
}

fn check_rhythm(judgement: &Judgement, overruled: &[FindingKind], hundredths: f64, called: &str, why: &str) {
    let line = scored(judgement, &Rubric::default(), overruled, false).rhythm;
    assert!((line.hundredths.expect("said") - hundredths).abs() < 1e-9, "{line:?}");
    assert_eq!((line.called.as_deref(), line.why.as_str()), (Some(called), why));
}

#[test]
fn all_struck_is_all_there_is() {
    let good = judged(|n, _| Some(steady(n)), &[]);
    check_rhythm(&good, &[], 100.0, "secure", "none of 24 attacks missed, no rest struck");
    let pulse = scored(&good, &Rubric::default(), &[], false).pulse;
    assert_eq!((pulse.hundredths, pulse.called.as_deref()), (Some(100.0), Some("secure")));
    assert_eq!(pulse.why, "24 of 24 attacks on time (±50 ms), spread 4 ms, no drift");
}

#[test]
fn the_lines_stand_apart() {
    // Loose and right, and steady and wrong.
    let loose = judged(|n, _| Some(steady(n) * 18), &[]);
    let loose = scored(&loose, &Rubric::default(), &[], false);
    assert_eq!(loose.rhythm.hundredths, Some(100.0), "{loose:?}");
    assert!(loose.pulse.hundredths.expect("said") < 75.0, "{loose:?}");
    let wrong = judged(|n, _| (n != 7 && n != 16).then(|| steady(n)), &[3_000, 9_000]);
    let wrong = scored(&wrong, &Rubric::default(), &[], false);
    assert_eq!(wrong.pulse.hundredths, Some(100.0), "{wrong:?}");
    // Two missed and two rests struck of 24: 20/24.
    assert!((wrong.rhythm.hundredths.expect("said") - 100.0 * 20.0 / 24.0).abs() < 1e-9, "{wrong:?}");
    assert_eq!(wrong.rhythm.why, "2 of 24 attacks missed, rests struck 2 times");
}

#[test]
fn what_is_overruled_does_not_count() {
    let take = judged(|n, _| (n != 7).then(|| steady(n)), &[9_000]);
    let why = "1 of 24 attacks missed, a rest struck once";
    check_rhythm(&take, &[], 100.0 * 22.0 / 24.0, "secure", why);
    let why = "1 of 24 attacks missed, no rest struck (1 finding overruled)";
    check_rhythm(&take, &[FindingKind::RestStruck], 100.0 * 23.0 / 24.0, "secure", why);
    let both = [FindingKind::RestStruck, FindingKind::AttackMissed];
    let why = "none of 24 attacks missed, no rest struck (2 findings overruled)";
    check_rhythm(&take, &both, 100.0, "secure", why);
}

#[test]
fn an_overruled_rush_is_no_fault_of_the_pulse() {
    // Two percent faster than written.
    let rush = judged(|n, at| Some(steady(n) - at / 50), &[]);
    let kinds: Vec<_> = rush.findings().iter().map(|finding| finding.kind).collect();
    assert!(kinds.contains(&FindingKind::Rushing), "{kinds:?}");
    let before = scored(&rush, &Rubric::default(), &[], false).pulse;
    let after = scored(&rush, &Rubric::default(), &[FindingKind::Rushing], false).pulse;
    // It counts once, as a drift: 2 % of 1 to 6 leave four fifths of one part in four, and all are on time about it.
    assert!((before.hundredths.expect("said") - 95.0).abs() < 0.5, "{before:?}");
    assert!(
        before.why.starts_with("24 of 24 attacks on time (±50 ms about the drifting pulse)"),
        "{before:?}"
    );
    assert!(before.why.contains("faster"), "{before:?}");
    assert_eq!(after.hundredths, Some(100.0), "{after:?}");
}

#[test]
fn another_rubric_gives_another_result() {
    let take = judged(|n, _| (n % 6 != 5).then(|| steady(n)), &[]);
    let missed = RhythmWeights { missed: 3.0, ..RhythmWeights::default() };
    let strict = Rubric { rhythm: missed, scale: Scale::Points(10), ..Rubric::default() };
    check_rhythm(&take, &[], 100.0 * 20.0 / 24.0, "nearly there", "4 of 24 attacks missed, no rest struck");
    let line = scored(&take, &strict, &[], false).rhythm;
    assert_eq!((line.hundredths, line.called.as_deref()), (Some(50.0), Some("5 of 10")));
    let nothing = RhythmWeights { missed: 0.0, ..RhythmWeights::default() };
    let line = scored(&take, &Rubric { rhythm: nothing, ..Rubric::default() }, &[], false).rhythm;
    assert_eq!(line.hundredths, Some(100.0));
}

#[test]
fn the_click_is_spoken_of_only_where_the_latency_is_known() {
    let ahead = judged(|n, _| Some(steady(n) - 100), &[]);
    let with_click = PulseWeights { click: 4.0, ..PulseWeights::default() };
    let rubric = Rubric { pulse: with_click, ..Rubric::default() };
    let unknown = scored(&ahead, &rubric, &[], false);
    assert_eq!((unknown.click, unknown.pulse.hundredths), (Click::Uncalibrated, Some(100.0)));
    let known = scored(&ahead, &rubric, &[], true);
    let Click::Bias(bias) = known.click else { panic!("{known:?}") };
    assert!((bias.as_millis_f64() + 100.0).abs() < 4.0, "{bias:?}");
    // Two tolerances ahead is half of the click's four parts of eight.
    assert!((known.pulse.hundredths.expect("said") - 75.0).abs() < 1.5, "{known:?}");
}

#[test]
fn too_little_is_no_result() {
    let nothing = scored(&judged(|_, _| None, &[]), &Rubric::default(), &[], true);
    assert_eq!((nothing.pulse.hundredths, nothing.click), (None, Click::TooFew));
    assert_eq!(nothing.pulse.why, "0 attacks matched, 4 are needed to say");
    let no_weight =
        PulseWeights { on_time: 0.0, spread: 0.0, drift: 0.0, click: 0.0, ..PulseWeights::default() };
    let rubric = Rubric { pulse: no_weight, ..Rubric::default() };
    let line = scored(&judged(|n, _| Some(steady(n)), &[]), &rubric, &[], false).pulse;
    assert!(line.hundredths.is_none() && line.why.starts_with("nothing of it counts"), "{line:?}");
}

#[test]
fn a_share_falls_evenly_between_its_bounds() {
    for (size, expected) in [(0.0, 1.0), (0.5, 1.0), (1.0, 0.5), (1.25, 0.25), (1.5, 0.0), (9.0, 0.0)] {
        assert_eq!(share(size, (0.5, 1.5)), expected, "{size}");
    }
    // Bounds in one place are a step.
    assert_eq!((share(1.0, (1.0, 1.0)), share(1.01, (1.0, 1.0))), (1.0, 0.0));
}

#[test]
fn levels_begin_where_they_say() {
    let scale = Rubric::default().scale;
    for (hundredths, expected) in
        [(100.0, "secure"), (90.0, "secure"), (89.99, "nearly there"), (74.0, "on the way"), (0.0, "not yet")]
    {
        assert_eq!(scale.called(hundredths), expected);
    }
    assert_eq!(Scale::Points(20).called(88.0), "17.5 of 20");
}
