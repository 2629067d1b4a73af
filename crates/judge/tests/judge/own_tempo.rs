//! Takes without a click: the tempo is the player's, and what he does with it is told as with one.

use counting::TimedCount;
use judge::{FindingKind, Judgement, Settings, TempoOf, judge};

use crate::pattern::{counts, written_ms};
use crate::player::{Chance, EVEN};

/// Eight bars of quarters and eighths with rests and ties.
pub(crate) const SLOW: [&str; 8] =
    ["x-xxx-..", "x---x-xx", "xxx-..x-", "x-x-x---", "--x-xxx-", "..xxx-x-", "xx..x-xx", "x-x-x-.."];
pub(crate) const FAST: [&str; 8] =
    ["xxx-x-x-", "x-xxx-..", "xxxxx-x-", "x---xxx-", "x-x-xxxx", "..xxx-x-", "xxx-xxx-", "x-......"];

/// Played by somebody whose strokes scatter by 15 and 22 ms, where `when` says, in ms; each seed a take.
fn takes(
    counts: &[TimedCount],
    seeds: std::ops::Range<u64>,
    when: impl Fn(f64) -> f64,
) -> impl Iterator<Item = (u64, Judgement)> {
    let settings = Settings::default().with_tempo_of(TempoOf::Player);
    let at: Vec<f64> = written_ms(counts).into_iter().map(|at| 2_000.0 + when(at)).collect();
    seeds.map(move |seed| {
        let player = EVEN.with_spread(if seed % 2 == 0 { 15.0 } else { 22.0 });
        (seed, judge(counts, &player.play(&at, &mut Chance::from(seed)), &settings))
    })
}

fn kinds(judgement: &Judgement) -> Vec<FindingKind> {
    judgement.findings().iter().map(|finding| finding.kind).collect()
}

fn says(judgement: &Judgement) -> Vec<&str> {
    judgement.findings().iter().map(|finding| finding.says.as_str()).collect()
}

/// When bar 5 begins, in ms.
fn bar_five(bpm: u32) -> f64 {
    16.0 * 60_000.0 / f64::from(bpm)
}

#[test]
fn dragging_and_rushing_from_a_bar_on_is_told_from_there() {
    for (rhythm, bpm, by, kind) in [
        (SLOW, 92, 1.05, FindingKind::Dragging),
        (FAST, 132, 0.955, FindingKind::Rushing),
        (FAST, 120, 1.06, FindingKind::Dragging),
    ] {
        let counts = counts(&rhythm, bpm);
        let from = bar_five(bpm);
        let turned = |at: f64| if at < from { at } else { from + by * (at - from) };
        let (mut told, mut others) = (0, Vec::new());
        for (seed, judgement) in takes(&counts, 0..12, turned) {
            let found = judgement.findings();
            assert!(
                !kinds(&judgement).contains(&FindingKind::GoodTake),
                "{kind:?} {seed}: {:?}",
                says(&judgement)
            );
            // The best bar may be the one beside it.
            let bar = found.first().and_then(|finding| finding.place).map_or(0, |place| place.bar);
            let there = (4..=6).contains(&bar) && found[0].says.contains("than before");
            if kinds(&judgement) == [kind] && there {
                told += 1;
            } else {
                others.push((seed, judgement.findings().to_vec()));
            }
        }
        assert!(told >= 10, "{kind:?}: {told} of 12, not {others:?}");
    }
}

#[test]
fn an_even_take_in_another_tempo_turns_nowhere() {
    for (rhythm, bpm) in [(SLOW, 92), (FAST, 132)] {
        let counts = counts(&rhythm, bpm);
        for (seed, judgement) in takes(&counts, 20..40, |at| at * 1.08) {
            assert_eq!(kinds(&judgement), [FindingKind::GoodTake], "{bpm} {seed}: {:?}", says(&judgement));
            let ratio = judgement.tempo_ratio().expect("a tempo");
            assert!((ratio * 1.08 - 1.0).abs() < 0.01, "{bpm} {seed}: {ratio}");
        }
    }
}

#[test]
fn a_pause_at_a_bar_line_is_one_pause() {
    let counts = counts(&SLOW, 92);
    let beat = 60_000.0 / 92.0;
    for part in [0.7, 1.0] {
        let from = bar_five(92);
        let paused = |at: f64| if at < from { at } else { at + part * beat };
        let (mut told, mut others) = (0, Vec::new());
        for (seed, judgement) in takes(&counts, 40..52, paused) {
            let says = says(&judgement);
            assert!(!says.iter().any(|says| says.contains(" 0 beats")), "{part} {seed}: {says:?}");
            // Bar 5 begins with a note held over: the pause may lie before its first attack, or a beat later.
            let found = kinds(&judgement);
            let pause = matches!(found[..], [FindingKind::PauseAtBarLine | FindingKind::BeatAdded]);
            if pause && says[0].contains("bar 5") {
                told += 1;
            } else {
                others.push((seed, judgement.findings().to_vec()));
            }
        }
        assert!(told >= 10, "{part}: {told} of 12, not {others:?}");
    }
}

#[test]
fn a_beat_left_out_early_is_found() {
    let counts = counts(&SLOW, 92);
    let beat = 60_000.0 / 92.0;
    let (mut told, mut others) = (0, Vec::new());
    for (seed, judgement) in takes(&counts, 60..72, |at| if at < 5.5 * beat { at } else { at - beat }) {
        if kinds(&judgement) == [FindingKind::BeatDropped] && says(&judgement)[0].starts_with("bar 2") {
            told += 1;
        } else {
            others.push((seed, judgement.findings().to_vec()));
        }
    }
    assert!(told >= 10, "{told} of 12, not {others:?}");
}
