//! Mistakes of where one is in the music: what follows comes sooner or later.

use super::super::rhythms::{PARTS, PlayedBar, Written, written};
use super::{Chance, Ground, Planted, Stroke, differ, faultless, in_order, told};

/// The take of another rhythm of the same meter and tempo.
pub(super) fn other_rhythm(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let other = written(ground.written.page, chance);
    let mut strokes = faultless(&other);
    for stroke in &mut strokes {
        stroke.answers = None;
    }
    let own = faultless(ground.written);
    let many = own.len().max(strokes.len());
    // Two rhythms of one meter share the most of their beats; of another one half fits at most.
    let apart = differ(&strokes, &own, ground.near_ms()) >= many && many >= 12;
    let alike_long = strokes.len() * 2 > own.len() && own.len() * 2 > strokes.len();
    let mut planted = Planted::new(strokes, vec![], "the take of another rhythm");
    planted.is_aligned = false;
    (apart && alike_long).then_some(planted)
}

/// All so many times as slow, from the first beat of the first bar (of the pickup) on. In half of the takes at half speed the
/// recording ends with the click.
pub(super) fn speed(ground: &Ground<'_>, slower: f64, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let zero = written.ms(written.bars[0].start);
    let mut strokes = faultless(written);
    for stroke in &mut strokes {
        stroke.at_ms = zero + (stroke.at_ms - zero) * slower;
        stroke.held_ms *= slower;
    }
    let mut what = format!("{slower} times the length");
    if slower > 1.0 && chance.percent(50) {
        strokes.retain(|stroke| stroke.at_ms < written.ms(written.end()));
        what.push_str(", cut off at the end of the click");
    }
    let tells = strokes.len() >= 6 && ground.reads_otherwise(&strokes, &faultless(written));
    tells.then(|| Planted::new(strokes, vec![], what))
}

/// The whole phrase one or two beats off.
pub(super) fn phrase(ground: &Ground<'_>, side: f64, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let beats_a_bar = written.rhythm.bars()[written.bars.len().min(2) - 1].meter().felt_beats();
    let many = if beats_a_bar > 2 && chance.percent(30) { 2.0 } else { 1.0 };
    let mut strokes = faultless(written);
    for stroke in &mut strokes {
        stroke.at_ms += side * many * written.beat_ms;
    }
    // Where bars are alike, two beats early may as well be two beats late.
    let alone = (-3..=3).filter(|beats| f64::from(*beats) != side * many).all(|beats| {
        let other = written.beat_ms * (f64::from(beats) - side * many);
        let others: Vec<Stroke> =
            strokes.iter().map(|stroke| Stroke { at_ms: stroke.at_ms + other, ..*stroke }).collect();
        differ(&strokes, &others, ground.near_ms()) >= 3
    });
    let tells = alone && ground.reads_otherwise(&strokes, &faultless(written));
    tells.then(|| Planted::new(strokes, vec![], format!("the whole phrase {} beats off", side * many)))
}

/// The strokes without `[from, to)`, what follows so much sooner; all in twelfths.
fn without(written: &Written, from: i64, to: i64) -> Vec<Stroke> {
    let (from, to) = (written.ms(from) - 1.0, written.ms(to) - 1.0);
    let mut strokes = faultless(written);
    strokes.retain(|stroke| stroke.at_ms < from || stroke.at_ms >= to);
    for stroke in strokes.iter_mut().filter(|stroke| stroke.at_ms >= to) {
        stroke.at_ms -= to - from;
    }
    strokes
}

/// The strokes with what follows `at` later by so much.
fn later(written: &Written, at: i64, by_ms: f64) -> Vec<Stroke> {
    let mut strokes = faultless(written);
    for stroke in strokes.iter_mut().filter(|stroke| stroke.at_ms > written.ms(at) - 1.0) {
        stroke.at_ms += by_ms;
    }
    strokes
}

/// `[from, to)` played twice: the strokes, and their answers where the second time is the true one.
fn twice(written: &Written, from: i64, to: i64) -> (Vec<Stroke>, Vec<Option<usize>>) {
    let (from, to) = (written.ms(from) - 1.0, written.ms(to) - 1.0);
    let all = faultless(written);
    let inside = |stroke: &&Stroke| stroke.at_ms >= from && stroke.at_ms < to;
    let mut strokes: Vec<Stroke> = all.iter().filter(|stroke| stroke.at_ms < to).copied().collect();
    let mut second: Vec<Option<usize>> =
        strokes.iter().map(|stroke| stroke.answers.filter(|_| stroke.at_ms < from)).collect();
    for again in all.iter().filter(inside) {
        strokes.push(Stroke { at_ms: again.at_ms + (to - from), answers: None, ..*again });
        second.push(again.answers);
    }
    for after in all.iter().filter(|stroke| stroke.at_ms >= to) {
        strokes.push(Stroke { at_ms: after.at_ms + (to - from), ..*after });
        second.push(after.answers);
    }
    (strokes, second)
}

/// What is left out where the repeat is: the second time through the body, before its own ending; in twelfths.
fn second_time(written: &Written) -> Option<(i64, i64)> {
    let repeat = written.rhythm.repeats().first()?;
    let body = repeat.endings.first().map_or(repeat.bars.end, |ending| ending.bars.start);
    let again = |bar: &&PlayedBar| bar.pass == 2 && bar.index >= repeat.bars.start && bar.index < body;
    let from = written.bars.iter().find(again)?.start;
    let to = written.bars.iter().rfind(again)?.end;
    // Of one bar it would be a bar left out.
    (body - repeat.bars.start >= 2).then_some((from, to))
}

/// Straight on where the passage should have come again.
pub(super) fn repeat_not_taken(ground: &Ground<'_>) -> Option<Planted> {
    let written = ground.written;
    let (from, to) = second_time(written)?;
    let strokes = without(written, from, to);
    let left_out = faultless(written).len() - strokes.len();
    let tells = left_out >= 4 && differ(&strokes, &faultless(written), ground.near_ms()) >= 4;
    let place = (written.ms(from), written.ms(to));
    tells.then(|| Planted::new(strokes, vec![place], "the repeat was passed over"))
}

/// Whether the strokes differ from the rhythm as written, and no other of these ways gives the same but for one stroke.
fn is_alone(ground: &Ground<'_>, strokes: &[Stroke], others: impl Iterator<Item = Vec<Stroke>>) -> bool {
    let near = ground.near_ms();
    differ(strokes, &faultless(ground.written), near) >= 3
        && others.into_iter().all(|other| differ(strokes, &other, near) >= 2)
}

fn inner_bars(written: &Written) -> Vec<usize> {
    let differs = |bar: &usize| {
        let content = written.content(*bar);
        let begun = written.notes.iter().filter(|note| note.bar < *bar).count() >= 3;
        let alone = content != written.content(bar - 1) && content != written.content(bar + 1);
        begun && !content.is_empty() && alone
    };
    (1..written.bars.len().saturating_sub(1)).filter(differs).collect()
}

pub(super) fn bar_skipped(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let bars = &written.bars;
    let first = *chance.pick(&inner_bars(written))?;
    let many = if chance.percent(20) && first + 2 < bars.len() { 2 } else { 1 };
    let skip = |bar: usize| without(written, bars[bar].start, bars[bar + many - 1].end);
    let strokes = skip(first);
    let others = (1..bars.len() - many).filter(|bar| *bar != first).map(skip);
    // A passage that is left out the second time is a repeat not taken.
    let repeat = second_time(written).map(|(from, to)| without(written, from, to));
    let is_repeat = repeat.is_some_and(|repeat| differ(&strokes, &repeat, ground.near_ms()) < 2);
    let after = strokes.iter().filter(|stroke| stroke.at_ms > written.ms(bars[first].start) - 1.0).count();
    let tells = !is_repeat && after >= 4 && is_alone(ground, &strokes, others);
    let place = (written.ms(bars[first].start), written.ms(bars[first + many - 1].end));
    let what = format!("{many} bars left out from {}", told(written, bars[first].start));
    tells.then(|| Planted::new(strokes, vec![place], what))
}

pub(super) fn bar_repeated(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let bars = &written.bars;
    let bar = *chance.pick(&inner_bars(written))?;
    let again = |bar: usize| twice(written, bars[bar].start, bars[bar].end);
    let (strokes, second) = again(bar);
    let others = (1..bars.len() - 1).filter(|other| *other != bar).map(|other| again(other).0);
    let tells = goes_on(written, bars[bar].end) && is_alone(ground, &strokes, others);
    let place = (written.ms(bars[bar].start), written.ms(bars[bar].end));
    let what = format!("played twice: {}", told(written, bars[bar].start));
    let planted = Planted { or_answers: Some(second), ..Planted::new(strokes, vec![place], what) };
    tells.then_some(planted)
}

/// The bar before or behind one in its place, or both in the place of the other; what follows comes in its time.
pub(super) fn bar_exchanged(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let bars = &written.bars;
    let long = |bar: usize| bars[bar].end - bars[bar].start;
    let pairs = (1..bars.len().saturating_sub(2)).map(|bar| (bar, bar + 1));
    let ways: Vec<(usize, usize, bool)> = pairs
        .filter(|(one, other)| long(*one) == long(*other))
        .flat_map(|(one, other)| [(one, other, true), (one, other, false), (other, one, false)])
        .collect();
    let &(bar, other, both) = chance.pick(&ways)?;
    let put = |(bar, other, both): (usize, usize, bool)| {
        let all = faultless(written);
        let inside = |of: usize| {
            let (from, to) = (written.ms(bars[of].start) - 1.0, written.ms(bars[of].end) - 1.0);
            move |stroke: &&Stroke| stroke.at_ms >= from && stroke.at_ms < to
        };
        let moved = |from: usize, to: usize| {
            let by_ms = written.ms(bars[to].start) - written.ms(bars[from].start);
            let strokes: Vec<Stroke> = all.iter().filter(inside(from)).copied().collect();
            strokes.into_iter().map(move |stroke| Stroke {
                at_ms: stroke.at_ms + by_ms,
                answers: None,
                ..stroke
            })
        };
        let kept = |stroke: &&Stroke| !inside(bar)(stroke) && (!both || !inside(other)(stroke));
        let mut strokes: Vec<Stroke> = all.iter().filter(kept).copied().collect();
        strokes.extend(moved(other, bar));
        if both {
            strokes.extend(moved(bar, other));
        }
        in_order(strokes)
    };
    let strokes = put((bar, other, both));
    let others = ways.iter().filter(|way| **way != (bar, other, both)).map(|way| put(*way));
    let begun = written.notes.iter().filter(|note| note.bar < bar.min(other)).count() >= 3;
    let tells = begun
        && goes_on(written, bars[bar.max(other)].end)
        && differ(&strokes, &faultless(written), ground.near_ms()) >= 5
        && is_alone(ground, &strokes, others);
    let (first, last) = if both { (bar.min(other), bar.max(other)) } else { (bar, bar) };
    let place = (written.ms(bars[first].start), written.ms(bars[last].end));
    let what = format!(
        "{} in the place of {}{}",
        told(written, bars[other].start),
        told(written, bars[bar].start),
        if both { " and the reverse" } else { "" }
    );
    tells.then(|| Planted::new(strokes, vec![place], what))
}

/// Where beats may be changed: a bar and four strokes after the beginning, and four strokes before the end.
fn inner_beats(written: &Written) -> Vec<i64> {
    let bar = written.bars.get(1).map_or(i64::MAX, |bar| bar.start);
    let from = written.notes.get(3).map_or(i64::MAX, |note| note.at + 1).max(bar);
    let to = written.notes.iter().rev().nth(3).map_or(i64::MIN, |note| note.at);
    written.beats().filter(|at| *at >= from && *at <= to).collect()
}

/// Whether four strokes follow what was left out or played again. With fewer nobody can tell a beat left out from a player who stopped
/// before the end, nor one played again from strokes too many in the last long note.
fn goes_on(written: &Written, from: i64) -> bool {
    written.notes.iter().filter(|note| note.at >= from).count() >= 4
}

/// The stretch of beats that give the same strokes when they are changed; nothing where such beats lie apart, or where others
/// give the same but for one stroke.
fn stretch(
    ground: &Ground<'_>,
    at: i64,
    strokes: &[Stroke],
    change: impl Fn(i64) -> Vec<Stroke>,
) -> Option<(f64, f64)> {
    let written = ground.written;
    let same: Vec<(i64, usize)> =
        written.beats().map(|other| (other, differ(strokes, &change(other), ground.near_ms()))).collect();
    let from = same.iter().rev().skip_while(|(other, _)| *other > at).take_while(|(_, d)| *d == 0).last()?.0;
    let to = same.iter().skip_while(|(other, _)| *other < at).take_while(|(_, d)| *d == 0).last()?.0;
    let near = from - PARTS..=to + PARTS;
    let alone = same.iter().all(|(other, d)| near.contains(other) || *d >= 2);
    (alone && to - from <= 4 * PARTS).then(|| (written.ms(from), written.ms(to + PARTS)))
}

pub(super) fn beat_dropped(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let at = *chance.pick(&inner_beats(written))?;
    let drop = |at: i64| without(written, at, at + PARTS);
    let strokes = drop(at);
    let place = stretch(ground, at, &strokes, drop)?;
    let tells = goes_on(written, at + PARTS) && differ(&strokes, &faultless(written), ground.near_ms()) >= 3;
    tells.then(|| Planted::new(strokes, vec![place], format!("left out: {}", told(written, at))))
}

/// The pulse stands still before the beat at some place, at a bar line or within a bar, for one or two beats, or for half a beat to
/// nearly two (a pupil who hears the click no more). The note before is within a beat of the bar line, or in the same bar.
pub(super) fn pause(ground: &Ground<'_>, at_bar_line: bool, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let starts = |at: &i64| written.bars.iter().any(|bar| bar.start == *at);
    let fitting = |at: &i64| {
        let next = written.notes.iter().position(|note| note.at >= *at);
        let Some((next, before)) = next.and_then(|next| Some((next, next.checked_sub(1)?))) else {
            return false;
        };
        let (next, before) = (&written.notes[next], &written.notes[before]);
        if at_bar_line {
            starts(at) && next.at == *at && before.at >= at - PARTS
        } else {
            !starts(at) && next.bar == before.bar && next.at == *at
        }
    };
    if !at_bar_line && chance.percent(30) {
        return stutter(ground, chance);
    }
    let places: Vec<i64> = inner_beats(written).into_iter().filter(fitting).collect();
    let at = *chance.pick(&places)?;
    let beats = match chance.below(10) {
        0..6 => 1.0,
        6..8 if at_bar_line => 2.0,
        _ => chance.between(0.55, 1.9),
    };
    let by_ms = beats * written.beat_ms;
    let wait = |at: i64| later(written, at, by_ms);
    let strokes = wait(at);
    let place = stretch(ground, at, &strokes, wait)?;
    let tells = differ(&strokes, &faultless(written), ground.near_ms()) >= 3;
    let what = format!("stands still for {beats:.2} beats before {}", told(written, at));
    tells.then(|| Planted::new(strokes, vec![(place.0 - written.beat_ms, place.1)], what))
}

/// A beat struck twice, what follows a beat later.
fn stutter(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let content = |at: i64| -> Vec<i64> {
        let inside = written.notes.iter().filter(|note| (at..at + PARTS).contains(&note.at));
        inside.map(|note| note.at - at).collect()
    };
    let alone = |at: &i64| {
        let own = content(*at);
        !own.is_empty() && own != content(at - PARTS) && own != content(at + PARTS)
    };
    let places: Vec<i64> = inner_beats(written).into_iter().filter(alone).collect();
    let at = *chance.pick(&places)?;
    let again = |at: i64| twice(written, at, at + PARTS);
    let (strokes, second) = again(at);
    let place = stretch(ground, at, &strokes, |at| again(at).0)?;
    let tells = goes_on(written, at + PARTS) && differ(&strokes, &faultless(written), ground.near_ms()) >= 3;
    let what = format!("struck twice: {}", told(written, at));
    let planted = Planted { or_answers: Some(second), ..Planted::new(strokes, vec![place], what) };
    tells.then_some(planted)
}
