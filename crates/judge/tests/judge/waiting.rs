//! Who waits before every bar line, with a click and without: told as that, and not as what it makes of a straight tempo.

use judge::{FindingKind, Judgement, Played, Settings, TempoOf, judge};

use crate::own_tempo::{FAST, SLOW};
use crate::pattern::{counts, written_ms};
use crate::player::{Chance, EVEN};

/// Somebody who scatters by 15 or 22 ms and comes so many ms later, bar for bar of 4/4, as `waits` says of a bar's number from 0.
fn take(rhythm: &[&str], bpm: u32, own_tempo: bool, seed: u64, waits: impl Fn(usize) -> f64) -> Judgement {
    let counts = counts(rhythm, bpm);
    let bar = 4.0 * 60_000.0 / f64::from(bpm);
    let mut waited = 0.0;
    let mut late = Vec::new();
    for number in 0..rhythm.len() {
        waited += if number == 0 { 0.0 } else { waits(number) };
        late.push(waited);
    }
    let meant: Vec<f64> = written_ms(&counts)
        .into_iter()
        .map(|at| {
            let number = (0..late.len()).rev().find(|&number| bar * number as f64 <= at + 1.0).unwrap_or(0);
            2_000.0 * f64::from(u8::from(own_tempo)) + at + late[number]
        })
        .collect();
    let player = EVEN.with_spread(if seed.is_multiple_of(2) { 15.0 } else { 22.0 });
    let played: Vec<Played> = player.play(&meant, &mut Chance::from(seed));
    let tempo = if own_tempo { TempoOf::Player } else { TempoOf::Click };
    judge(&counts, &played, &Settings::default().with_tempo_of(tempo))
}

fn kinds(judgement: &Judgement) -> Vec<FindingKind> {
    let mistakes = judgement.findings().iter().filter(|finding| finding.kind.is_mistake());
    mistakes.map(|finding| finding.kind).collect()
}

fn says(judgement: &Judgement) -> Vec<&str> {
    judgement.findings().iter().map(|finding| finding.says.as_str()).collect()
}

#[test]
fn waits_before_every_bar_line_are_one_finding() {
    for (rhythm, bpm) in [(SLOW, 92), (FAST, 104)] {
        for own_tempo in [false, true] {
            // Without a click longer waits are not always found: the tempo is looked for first.
            let most = if own_tempo { 200.0 } else { 250.0 };
            for ms in [120.0, 200.0, most] {
                for seed in 0..6 {
                    let judgement = take(&rhythm, bpm, own_tempo, seed, |_| ms);
                    let case = format!("{bpm} {own_tempo} {ms} {seed}: {:?}", says(&judgement));
                    assert_eq!(kinds(&judgement), [FindingKind::PauseAtBarLine], "{case}");
                    let finding = &judgement.findings()[0];
                    assert!(finding.says.contains("before every bar line"), "{case}");
                    assert!(finding.says.contains("inside the bars the tempo was kept"), "{case}");
                    assert_eq!(finding.notes.len(), rhythm.len() - 1, "{case}");
                    // What was waited is no unsteadiness, and no part of the tempo.
                    let spread = judgement.sums().spread.expect("a spread").as_millis_f64();
                    assert!(spread < 32.0, "{case}: {spread}");
                    if let Some(ratio) = judgement.tempo_ratio() {
                        assert!((ratio - 1.0).abs() < 0.02, "{case}: {ratio}");
                    }
                }
            }
        }
    }
}

#[test]
fn waits_need_not_be_even() {
    let uneven = [0.0, 180.0, 280.0, 120.0, 220.0, 200.0, 130.0, 250.0];
    for own_tempo in [false, true] {
        for seed in 10..16 {
            let judgement = take(&FAST, 104, own_tempo, seed, |bar| uneven[bar]);
            assert_eq!(kinds(&judgement), [FindingKind::PauseAtBarLine], "{seed}: {:?}", says(&judgement));
        }
    }
}

#[test]
fn dragging_a_single_pause_and_a_late_first_count_are_no_waits_at_every_bar_line() {
    for seed in 20..32 {
        let paused = take(&FAST, 104, false, seed, |bar| if bar == 4 { 400.0 } else { 0.0 });
        let waits =
            |judgement: &Judgement| says(judgement).iter().any(|says| says.contains("every bar line"));
        assert!(!waits(&paused), "{seed}: {:?}", says(&paused));
        let counts = counts(&FAST, 104);
        for own_tempo in [false, true] {
            let tempo = if own_tempo { TempoOf::Player } else { TempoOf::Click };
            let settings = Settings::default().with_tempo_of(tempo);
            let player = EVEN.with_spread(18.0);
            let bar = 4.0 * 60_000.0 / 104.0;
            let meant = |each: &dyn Fn(f64) -> f64| written_ms(&counts).into_iter().map(each).collect();
            let dragged: Vec<f64> = meant(&|at| at * 1.03);
            let dragged = judge(&counts, &player.play(&dragged, &mut Chance::from(seed)), &settings);
            assert!(!waits(&dragged), "{seed}: {:?}", says(&dragged));
            let first = |at: f64| (at / bar - (at / bar).round()).abs() < 0.01;
            let late: Vec<f64> = meant(&|at| if first(at) { at + 70.0 } else { at });
            let late = judge(&counts, &player.play(&late, &mut Chance::from(seed)), &settings);
            assert!(!waits(&late), "{seed}: {:?}", says(&late));
        }
    }
}
