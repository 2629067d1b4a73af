//! A take as text, to look at.

use std::fmt::Write as _;

use judge::{Fate, Judgement};
use rhythm::Deed;

use super::rhythms::{PARTS, Written};
use super::score::Result;
use super::take::Take;

/// Whether there is something to look at.
pub(crate) fn fails(take: &Take, result: &Result) -> bool {
    (take.kind.is_some() && !result.told) || !result.false_ones.is_empty() || result.labels.f() < 0.95
}

/// The rhythm bar by bar, what was planted, every stroke, and what was said.
pub(crate) fn show(take: &Take, judgement: &Judgement, result: &Result) -> String {
    let mut text = String::new();
    let planted = take.kind.map_or("clean", |kind| kind.name());
    let written = &take.written;
    let bpm = 60_000.0 / written.beat_ms;
    let _ = writeln!(
        text,
        "== {planted}, seed {}, {:.0} ms, {bpm:.0} to the minute: {}",
        take.seed, take.spread_ms, take.planted.what
    );
    bars(&mut text, written);
    strokes(&mut text, take, judgement);
    let missed = judgement.notes().iter().enumerate().filter(|(_, note)| note.fate == Fate::Missed);
    let missed: Vec<String> = missed.map(|(index, _)| index.to_string()).collect();
    let _ = writeln!(
        text,
        "  said to be missed: {}",
        if missed.is_empty() { "none".to_owned() } else { missed.join(" ") }
    );
    for finding in judgement.findings() {
        let wrong = if result.false_ones.contains(&finding.kind) { "FALSE " } else { "" };
        let _ =
            writeln!(text, "  {wrong}{} ({:.2}): {}", finding.kind.name(), finding.confidence, finding.says);
    }
    let told = match (take.kind.is_some(), result.told, result.elsewhere) {
        (false, ..) => "",
        (_, true, _) => "told, ",
        (_, _, true) => "TOLD ELSEWHERE, ",
        _ => "NOT TOLD, ",
    };
    let _ = writeln!(text, "  {told}alignment F {:.3}", result.labels.f());
    text
}

/// Bars on the coarsest grid that has every place: `x` struck, `-` goes on, `.` silent, a blank before every beat.
fn bars(text: &mut String, written: &Written) {
    for (index, bar) in written.bars.iter().enumerate() {
        let events = written.rhythm.bars()[bar.index].events();
        let part = written.rhythm.bars()[bar.index].meter().felt_beat() / PARTS;
        let origin = *events[0].at.in_units_of(part).numer();
        let places: Vec<i64> =
            events.iter().map(|event| *event.at.in_units_of(part).numer() - origin).collect();
        let length = bar.end - bar.start;
        let step = places.iter().chain(&[PARTS, length]).fold(0, |a, b| divisor(a, *b));
        let mut line = String::new();
        for at in (0..length).step_by(usize::try_from(step).unwrap_or(1)) {
            if (origin + at) % PARTS == 0 {
                line.push(' ');
            }
            let event = places.partition_point(|place| *place <= at) - 1;
            let begins = places[event] == at;
            line.push(match events[event].deed {
                Deed::Attack if begins => 'x',
                Deed::Attack | Deed::Hold => '-',
                Deed::Rest => '.',
            });
        }
        let at = written.ms(bar.start);
        let _ = writeln!(text, "  bar {:2} ({} time {}) {at:8.0} ms |{line}", index + 1, bar.index, bar.pass);
    }
}

fn divisor(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { divisor(b, a % b) }
}

/// Each stroke: when, what it answers in truth and as told (an exclamation mark where they differ), and its error.
fn strokes(text: &mut String, take: &Take, judgement: &Judgement) {
    let mut told: Vec<Option<usize>> = vec![None; take.sounded.len()];
    for (note, fate) in judgement.notes().iter().enumerate() {
        if let Fate::Struck(attack) = fate.fate {
            told[judgement.attacks()[attack].index] = Some(note);
        }
    }
    let name = |note: Option<usize>| note.map_or("-".to_owned(), |note| note.to_string());
    let cells: Vec<String> = take
        .sounded
        .iter()
        .zip(told)
        .map(|(sounded, told)| {
            let truth = sounded.stroke.answers;
            let differs = if truth == told { String::new() } else { format!("!{}", name(told)) };
            let at = sounded.played.at.as_millis_f64();
            format!("{at:.0}:{}{differs}({:+.0})", name(truth), sounded.error_ms)
        })
        .collect();
    for line in cells.chunks(10) {
        let _ = writeln!(text, "    {}", line.join("  "));
    }
}
