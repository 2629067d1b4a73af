//! The pulse that runs away, scatters, or lets one attack go astray.

use super::super::rhythms::PARTS;
use super::{Chance, Ground, Planted, faultless, told};

/// Faster or slower than the click: throughout, from a bar on, or only where notes are short.
pub(super) fn runs_away(ground: &Ground<'_>, faster: bool, chance: &mut Chance) -> Option<Planted> {
    let side = if faster { -1.0 } else { 1.0 };
    if chance.percent(25) {
        return in_short_notes(ground, side, chance);
    }
    let written = ground.written;
    let last = written.notes.last()?.at_ms;
    let from_bar = if chance.percent(50) { 0 } else { 1 + chance.below(written.bars.len().div_ceil(2)) };
    let start = written.ms(written.bars.get(from_bar)?.start);
    let running = written.notes.iter().filter(|note| note.at_ms >= start).count();
    let least = (6.0 * ground.spread_ms).max(120.0);
    let most = (0.06 * (last - start)).min(1.5 * written.beat_ms);
    if most < least || running < 12 {
        return None;
    }
    let gain = chance.between(least, most);
    let mut strokes = faultless(written);
    for stroke in &mut strokes {
        stroke.at_ms += side * gain * ((stroke.at_ms - start) / (last - start)).max(0.0);
    }
    let what = format!("{gain:.0} ms from {} to the end", told(written, written.bars[from_bar].start));
    Some(Planted::new(strokes, vec![], what))
}

/// Every run of short notes gets ahead or behind, by so much of its length but not by a note; the long note at its end is taken where the click has
/// it again.
fn in_short_notes(ground: &Ground<'_>, side: f64, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let notes = &written.notes;
    let short = |index: usize| {
        let next = notes.get(index + 1).map_or(i64::MAX, |next| next.at);
        next - notes[index].at <= PARTS / 2
    };
    let rate = chance.between(0.08, 0.16);
    let mut strokes = faultless(written);
    let (mut first, mut runs, mut most, mut closest) = (0, 0, 0.0_f64, f64::INFINITY);
    for index in 0..notes.len() {
        if !short(index) {
            // The run ends with this note; it is worth the name from five notes on.
            if index - first >= 4 {
                runs += 1;
                for (stroke, note) in strokes.iter_mut().zip(notes).take(index + 1).skip(first) {
                    let ahead = rate * (note.at_ms - notes[first].at_ms);
                    stroke.at_ms += side * ahead;
                    most = most.max(ahead);
                }
                for pair in notes[first..=index].windows(2) {
                    closest = closest.min(pair[1].at_ms - pair[0].at_ms);
                }
            }
            first = index + 1;
        }
    }
    let long = notes.len() >= 16 && (0..notes.len()).filter(|index| !short(*index)).count() >= 6;
    let tells = runs >= 2 && long && most < 0.5 * closest && ground.tellable(most, runs);
    let what = format!("{:.0} % in {runs} runs of short notes, {most:.0} ms at most", 100.0 * rate);
    tells.then(|| Planted::new(strokes, vec![], what))
}

/// Two and a half times as loose as usual, where the notes are not closer than that is loose.
pub(super) fn unsteady(ground: &Ground<'_>) -> Option<Planted> {
    let looser = (55.0 / ground.spread_ms).max(2.5);
    let strokes = faultless(ground.written);
    let room = (0..strokes.len()).map(|note| ground.written.room_ms(note)).fold(f64::INFINITY, f64::min);
    let tells = strokes.len() >= 16 && room >= 3.5 * looser * ground.spread_ms;
    let what = format!("a spread of {:.0} ms", looser * ground.spread_ms);
    tells.then(|| Planted { looser, ..Planted::new(strokes, vec![], what) })
}

/// One attack early or late. After a rest or a long note an early one is another mistake.
pub(super) fn single(ground: &Ground<'_>, side: f64, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let index = chance.below(written.notes.len());
    let room = written.room_ms(index).min(written.beat_ms);
    let least = (5.5 * ground.spread_ms).max(80.0);
    let most = (0.42 * room).min(10.0 * ground.spread_ms.max(12.0)).min(270.0);
    let before = index.checked_sub(1).and_then(|before| written.notes.get(before));
    let entry = before.is_none_or(|before| before.silence > 0 || before.length >= 2 * PARTS);
    if most < least || written.notes.len() < 8 || (entry && side < 0.0) {
        return None;
    }
    let by_ms = side * chance.between(least, most);
    let at_ms = written.notes[index].at_ms + by_ms;
    let away = (1.8 * ground.spread_ms).max(36.0);
    let off = |unit: f64| (at_ms / unit - (at_ms / unit).round()).abs() * unit;
    let parts = if written.compound { [3.0, 2.0] } else { [4.0, 3.0] };
    let is_figure = parts.iter().any(|part| off(written.beat_ms / part) < away);
    let mut strokes = faultless(written);
    strokes[index].at_ms = at_ms;
    let place = written.notes[index].at_ms;
    let what = format!("{by_ms:.0} ms off: {}", told(written, written.notes[index].at));
    (!is_figure).then(|| Planted::new(strokes, vec![(place, place)], what))
}
