//! Figures read for others: what is struck within a figure moves, and nothing else.

use judge::FindingKind;

use super::super::rhythms::{PARTS, Written};
use super::{Chance, Ground, Planted, faultless, told};

/// A figure from a beat on, in twelfths of a beat: where it is struck as written, and where instead.
struct Reading {
    written: &'static [i64],
    length: i64,
    played: &'static [i64],
}

const fn reading(written: &'static [i64], length: i64, played: &'static [i64]) -> Reading {
    Reading { written, length, played }
}

/// What is read for what. In a beat of three only the readings for it apply, elsewhere only the others.
fn readings(kind: FindingKind, compound: bool) -> Vec<Reading> {
    match (kind, compound) {
        (FindingKind::DottedEven, false) => {
            vec![reading(&[0, 18], 24, &[0, 12]), reading(&[0, 9], 12, &[0, 6])]
        }
        (FindingKind::DottedAsTriplet, false) => {
            vec![reading(&[0, 9], 12, &[0, 8]), reading(&[0, 18], 24, &[0, 16])]
        }
        (FindingKind::TripletAsSixteenths, false) => {
            vec![reading(&[0, 4, 8], 12, &[0, 3, 6]), reading(&[0, 4, 8], 12, &[0, 6, 9])]
        }
        (FindingKind::SixteenthsAsTriplet, false) => {
            vec![reading(&[0, 3, 6], 12, &[0, 4, 8]), reading(&[0, 6, 9], 12, &[0, 4, 8])]
        }
        (FindingKind::EAndForAndA, false) => vec![reading(&[0, 6, 9], 12, &[0, 3, 6])],
        (FindingKind::AndAForEAnd, false) => vec![reading(&[0, 3, 6], 12, &[0, 6, 9])],
        (FindingKind::SyncopationEvened, false) => {
            vec![reading(&[0, 6, 18], 24, &[0, 8, 16]), reading(&[0, 3, 9], 12, &[0, 4, 8])]
        }
        (FindingKind::SyncopationOnBeat, false) => vec![reading(&[0, 6, 18], 24, &[0, 12, 18])],
        (FindingKind::LongShortEvened, true) => vec![reading(&[0, 8], 12, &[0, 6])],
        (FindingKind::ValuesConfused, false) => {
            vec![reading(&[0, 6, 12], 24, &[0, 12, 18]), reading(&[0, 12, 18], 24, &[0, 6, 12])]
        }
        (FindingKind::ValuesConfused, true) => {
            vec![reading(&[0, 8], 12, &[0, 4]), reading(&[0, 4], 12, &[0, 8])]
        }
        _ => vec![],
    }
}

/// The first notes of all places where a figure stands: it begins on a beat, is struck just so, and sounds without silence to
/// its end.
fn places(written: &Written, reading: &Reading) -> Vec<usize> {
    let notes = &written.notes;
    let stands = |first: &usize| {
        let at = notes[*first].at;
        let end = at + reading.length;
        let figure = notes[*first..].iter().take_while(|note| note.at < end);
        let struck: Vec<i64> = figure.clone().map(|note| note.at - at).collect();
        let sounds = figure.clone().all(|note| note.silence == 0 || note.at + note.length >= end);
        // A figure of two beats lies in one bar.
        let one_bar = end <= written.bars[notes[*first].bar].end;
        at.rem_euclid(PARTS) == 0 && struck == reading.written && sounds && one_bar
    };
    (0..notes.len()).filter(stands).collect()
}

/// Every place of the figure, as a pupil who reads it so does; one place of it, where values are confused by accident.
pub(super) fn figure(kind: FindingKind, ground: &Ground<'_>, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    let all = readings(kind, written.compound);
    let reading = chance.pick(&all)?;
    let mut firsts = places(written, reading);
    let once = kind == FindingKind::ValuesConfused || chance.percent(25);
    if once {
        firsts = vec![*chance.pick(&firsts)?];
    }
    let moves = reading.written.iter().zip(reading.played).map(|(written, played)| played - written);
    let most = written.ms(moves.map(i64::abs).max()?);
    if !ground.tellable(most, firsts.len()) {
        return None;
    }
    let mut strokes = faultless(written);
    for &first in &firsts {
        for (index, (as_written, played)) in reading.written.iter().zip(reading.played).enumerate() {
            strokes[first + index].at_ms += written.ms(played - as_written);
        }
    }
    let place = |first: &usize| {
        let at = written.notes[*first].at;
        (written.ms(at), written.ms(at + reading.length))
    };
    let at: Vec<String> = firsts.iter().map(|first| told(written, written.notes[*first].at)).collect();
    let what = format!("{:?} read as {:?} at {}", reading.written, reading.played, at.join(", "));
    Some(Planted::new(strokes, firsts.iter().map(place).collect(), what))
}

/// All attacks half-way between the beats late, by up to where a triplet has them, or early.
pub(super) fn ands(ground: &Ground<'_>, swung: bool, chance: &mut Chance) -> Option<Planted> {
    let written = ground.written;
    if written.compound {
        return None;
    }
    let is_and = |index: &usize| written.notes[*index].at.rem_euclid(PARTS) == PARTS / 2;
    let ands: Vec<usize> = (0..written.notes.len()).filter(is_and).collect();
    let parts = if swung { chance.between(1.2, 2.0) } else { -chance.between(1.0, 1.7) };
    let by_ms = parts * written.beat_ms / PARTS as f64;
    let mut strokes = faultless(written);
    let mut moved = 0;
    for &index in &ands {
        // Where sixteenths stand beside it they keep it in its place.
        if written.room_ms(index) > 0.4 * written.beat_ms {
            strokes[index].at_ms += by_ms;
            moved += 1;
        }
    }
    let tells = moved >= 5 && moved * 4 >= ands.len() * 3 && ground.tellable(by_ms, moved);
    let what = format!("{moved} attacks on the half of the beat {by_ms:.0} ms off");
    tells.then(|| Planted::new(strokes, vec![], what))
}
