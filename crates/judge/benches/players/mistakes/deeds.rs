//! Something struck that is not written, or the reverse, or a single attack too soon.

use rhythm::Deed;

use super::super::rhythms::PARTS;
use super::{Chance, Ground, Planted, Stroke, differ, faultless, in_order, told};

/// A stroke at each of these counts, in order; it answers what is written there.
fn at_counts(ground: &Ground<'_>, which: impl Fn(&counting::TimedCount) -> bool) -> Vec<Stroke> {
    let written = ground.written;
    let counts = written.counts.iter().enumerate().filter(|(_, count)| which(count));
    let own = faultless(written);
    let stroke = |(index, count): (usize, &counting::TimedCount)| {
        let answers = written.notes.iter().position(|note| note.count == index);
        let like = answers.map_or(silent(written.beat_ms), |note| own[note]);
        // Held until the next, as whoever strikes all beats does.
        Stroke { at_ms: count.at.as_millis_f64(), held_ms: written.beat_ms, ..like }
    };
    counts.map(stroke).collect()
}

/// A stroke that answers nothing, held for a third of a beat.
fn silent(beat_ms: f64) -> Stroke {
    Stroke { at_ms: 0.0, answers: None, bounce_ms: None, accent: false, hand: None, held_ms: 0.3 * beat_ms }
}

/// The beats and nothing else.
pub(super) fn beats(ground: &Ground<'_>) -> Option<Planted> {
    let strokes = at_counts(ground, |count| count.on_beat);
    let counts = at_counts(ground, |_| true);
    let tells = strokes.len() >= 6
        && ground.reads_otherwise(&strokes, &faultless(ground.written))
        && differ(&strokes, &counts, ground.near_ms()) >= 3;
    tells.then(|| Planted::new(strokes, vec![], "the beats were struck"))
}

/// Every count that is said.
pub(super) fn every_count(ground: &Ground<'_>) -> Option<Planted> {
    let strokes = at_counts(ground, |count| count.say.is_some());
    let beats = at_counts(ground, |count| count.on_beat);
    let tells = strokes.len() >= 6
        && ground.reads_otherwise(&strokes, &faultless(ground.written))
        && differ(&strokes, &beats, ground.near_ms()) >= 3;
    tells.then(|| Planted::new(strokes, vec![], "every count was struck"))
}

/// One hold or rest struck on its count, or several.
pub(super) fn silence(ground: &Ground<'_>, deed: Deed, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let clear = (5.0 * ground.spread_ms).max(100.0);
    let far = |at: f64| written.notes.iter().all(|note| (note.at_ms - at).abs() >= clear);
    let silences = written.counts.iter().filter(|count| count.deed == deed && far(count.at.as_millis_f64()));
    let mut at: Vec<f64> = silences.map(|count| count.at.as_millis_f64()).collect();
    if chance.percent(60) {
        at = vec![*chance.pick(&at)?];
    } else {
        at = chance.shuffled(at);
        at.truncate(4);
    }
    let mut strokes = faultless(written);
    strokes.extend(at.iter().map(|at_ms| Stroke { at_ms: *at_ms, ..silent(written.beat_ms) }));
    let strokes = in_order(strokes);
    let all = at_counts(ground, |count| count.say.is_some());
    let beats = at_counts(ground, |count| count.on_beat);
    let alone = [all, beats].iter().all(|other| differ(&strokes, other, ground.near_ms()) >= 2);
    let tells = !at.is_empty() && alone;
    let places = at.iter().map(|at| (*at, *at)).collect();
    tells.then(|| Planted::new(strokes, places, format!("struck {deed:?} at {at:.0?} ms")))
}

/// A beat, or the half of it; in a beat of three an eighth.
fn so_much(ground: &Ground<'_>, chance: &mut Chance) -> i64 {
    let part = if ground.written.compound { PARTS / 3 } else { PARTS / 2 };
    if chance.percent(50) { PARTS } else { part }
}

/// The first attack after a rest half a beat or a beat too soon; the next in its place again.
pub(super) fn early_entry(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let sooner = so_much(ground, chance);
    let notes = &ground.written.notes;
    let fits = |index: &usize| {
        let before = &notes[index - 1];
        let apart = notes[*index].at - before.at;
        before.silence >= sooner && apart - sooner >= PARTS / 3
    };
    sooner_by(ground, (1..notes.len()).filter(fits).collect(), sooner, chance)
}

/// The attack after a note of two beats or more half a beat or a beat too soon; the next in its place again. Dotted
/// figures are another matter.
pub(super) fn cut_short(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let sooner = so_much(ground, chance);
    let notes = &ground.written.notes;
    let fits = |index: &usize| {
        let (before, note) = (&notes[index - 1], &notes[*index]);
        let dotted = before.length == 3 * note.length;
        before.silence == 0 && before.length >= 2 * PARTS && before.length >= 2 * sooner && !dotted
    };
    sooner_by(ground, (1..notes.len()).filter(fits).collect(), sooner, chance)
}

fn sooner_by(ground: &Ground<'_>, fitting: Vec<usize>, sooner: i64, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let index = *chance.pick(&fitting)?;
    let by_ms = written.ms(sooner);
    let mut strokes = faultless(written);
    strokes[index].at_ms -= by_ms;
    let from = written.notes[index - 1].at_ms;
    let what = format!("{sooner} twelfths of a beat too soon: {}", told(written, written.notes[index].at));
    // The place is anywhere in the rest, or in the long note: there it is told, or at the attack.
    let place = (from, written.notes[index].at_ms);
    ground.tellable(by_ms, 1).then(|| Planted::new(strokes, vec![place], what))
}

/// One attack left out; or the one at the same place of the bar, every time.
pub(super) fn missed(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let clear = |index: &usize| written.room_ms(*index) >= 4.0 * ground.spread_ms;
    let mut out: Vec<usize> = (0..written.notes.len()).filter(clear).collect();
    let one = *chance.pick(&out)?;
    if chance.percent(60) {
        out = vec![one];
    } else {
        let in_bar = |index: usize| written.notes[index].at - written.bars[written.notes[index].bar].start;
        out.retain(|index| in_bar(*index) == in_bar(one));
        let apart = out.windows(2).all(|pair| pair[1] > pair[0] + 1);
        if out.len() < 3 || out.len() * 4 > written.notes.len() || !apart {
            return None;
        }
    }
    if out.len() * 4 > written.notes.len() {
        return None;
    }
    let mut strokes = faultless(written);
    strokes.retain(|stroke| stroke.answers.is_none_or(|note| !out.contains(&note)));
    let places = out.iter().map(|index| (written.notes[*index].at_ms, written.notes[*index].at_ms)).collect();
    let at: Vec<String> = out.iter().map(|index| told(written, written.notes[*index].at)).collect();
    Some(Planted::new(strokes, places, format!("not struck: {}", at.join(", "))))
}

/// A bounce of the stick; or a stray stroke away from every count.
pub(super) fn extra(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let mut strokes = faultless(written);
    let silent = silent(written.beat_ms);
    if chance.percent(50) {
        let bounce = chance.between(30.0, 60.0);
        let roomy = |index: &usize| written.room_ms(*index) >= 3.0 * bounce.max(1.5 * ground.spread_ms);
        let fitting: Vec<usize> = (0..written.notes.len()).filter(roomy).collect();
        let index = *chance.pick(&fitting)?;
        let at_ms = written.notes[index].at_ms;
        let again = Stroke { at_ms: at_ms + bounce, bounce_ms: Some(bounce), ..silent };
        strokes.insert(index + 1, again);
        let what = format!("bounced after {bounce:.0} ms: {}", told(written, written.notes[index].at));
        return Some(Planted::new(strokes, vec![(at_ms, at_ms)], what));
    }
    let clear = (5.0 * ground.spread_ms).max(100.0);
    let at_ms = chance.between(0.0, written.ms(written.end()));
    let far = written.counts.iter().all(|count| (count.at.as_millis_f64() - at_ms).abs() >= clear);
    strokes.push(Stroke { at_ms, ..silent });
    let what = format!("a stray stroke at {at_ms:.0} ms");
    far.then(|| Planted::new(in_order(strokes), vec![(at_ms, at_ms)], what))
}
