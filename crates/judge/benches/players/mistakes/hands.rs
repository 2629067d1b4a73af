//! Which hand, how hard, and how long the key is held.

use judge::Hand;
use rhythm::Sticking;

use super::super::rhythms::PARTS;
use super::{Chance, Ground, Planted, faultless, told};

/// Some of these notes, one or up to a third of them, in order.
fn some(mut notes: Vec<usize>, chance: &mut Chance) -> Vec<usize> {
    let many = if chance.percent(50) { 1 } else { 1 + notes.len() / 3 };
    notes = chance.shuffled(notes);
    notes.truncate(many);
    notes.sort_unstable();
    notes
}

fn at(ground: &Ground<'_>, notes: &[usize]) -> (Vec<(f64, f64)>, String) {
    let written = ground.written;
    let places = notes.iter().map(|note| (written.notes[*note].at_ms, written.notes[*note].at_ms)).collect();
    let told: Vec<String> = notes.iter().map(|note| told(written, written.notes[*note].at)).collect();
    (places, told.join(", "))
}

pub(super) fn wrong_hand(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let notes = &ground.written.notes;
    let told_by =
        |index: &usize| matches!(notes[*index].marks.sticking, Some(Sticking::Left | Sticking::Right));
    let wrong = some((0..notes.len()).filter(told_by).collect(), chance);
    let mut strokes = faultless(ground.written);
    for &note in &wrong {
        let other = if strokes[note].hand == Some(Hand::Left) { Hand::Right } else { Hand::Left };
        strokes[note].hand = Some(other);
    }
    let (places, what) = at(ground, &wrong);
    let tells = ground.instrument.hand && !wrong.is_empty();
    tells.then(|| Planted::new(strokes, places, format!("the other hand: {what}")))
}

/// Accents left out, or put where none stand. Four are written at least, else nobody knows how loud an accent is.
pub(super) fn accents(ground: &Ground<'_>, left_out: bool, chance: &mut Chance) -> Option<Planted> {
    let notes = &ground.written.notes;
    let accented: Vec<usize> =
        (0..notes.len()).filter(|index| notes[*index].marks.accent.is_some()).collect();
    let plain = (0..notes.len()).filter(|index| !accented.contains(index)).collect();
    if accented.len() < 4 || !ground.instrument.velocity {
        return None;
    }
    let mut wrong = some(if left_out { accented } else { plain }, chance);
    wrong.truncate(3);
    let mut strokes = faultless(ground.written);
    for &note in &wrong {
        strokes[note].accent = !left_out;
    }
    let (places, what) = at(ground, &wrong);
    let deed = if left_out { "no accent" } else { "an accent" };
    (!wrong.is_empty()).then(|| Planted::new(strokes, places, format!("{deed}: {what}")))
}

/// Keys let go after a third of the note, of a beat and a half or longer; the others are held for five sixths of theirs.
pub(super) fn released_early(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let long = |index: &usize| written.notes[*index].length * 2 >= 3 * PARTS;
    let short = some((0..written.notes.len()).filter(long).collect(), chance);
    let mut strokes = faultless(written);
    for &note in &short {
        strokes[note].held_ms = written.ms(written.notes[note].length) * chance.between(0.2, 0.4);
    }
    let (places, what) = at(ground, &short);
    let places = places
        .iter()
        .zip(&short)
        .map(|(place, note)| (place.0, place.1 + written.ms(written.notes[*note].length)))
        .collect();
    let tells = ground.instrument.release && !short.is_empty();
    tells.then(|| Planted::new(strokes, places, format!("let go early: {what}")))
}

/// Keys held through most of a rest of half a beat or longer.
pub(super) fn held_through_rest(ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let before_rest = |index: &usize| {
        let silence = written.notes[*index].silence;
        silence * 2 >= PARTS && written.ms(silence) >= 250.0
    };
    let held = some((0..written.notes.len()).filter(before_rest).collect(), chance);
    let mut strokes = faultless(written);
    let mut places = Vec::new();
    for &index in &held {
        let note = &written.notes[index];
        // Through a long silence nobody holds on by mistake: two beats of it are enough.
        let through = note.silence.min(2 * PARTS);
        strokes[index].held_ms = written.ms(note.length) + written.ms(through) * chance.between(0.7, 0.9);
        places.push((note.at_ms, note.at_ms + written.ms(note.length + through)));
    }
    let (_, what) = at(ground, &held);
    let tells = ground.instrument.release && !held.is_empty();
    tells.then(|| Planted::new(strokes, places, format!("held on: {what}")))
}
