//! The strokes of written graces and rolls, put to what a player means to do. They answer no written attack and are no mistake.

use rhythm::Roll;
use timebase::Span;

use super::chance::Chance;
use super::mistakes::Planted;
use super::player::Stroke;
use super::rhythms::{PARTS, Written};

/// The two strokes of a flam are 40 to 50 ms apart (second-hand); a beginner's come wider and closer too.
const GRACE_MS: (f64, f64) = (35.0, 55.0);
/// The strokes of an unmeasured roll, in ms from one to the next (own guess, no source).
const ROLL_MS: (f64, f64) = (55.0, 85.0);

/// Puts the strokes of every ornament to the stroke that answers its note.
pub(crate) fn dressed(planted: Planted, written: &Written, chance: &mut Chance) -> Planted {
    let mut strokes = Vec::with_capacity(planted.strokes.len());
    let mut or_answers = planted.or_answers.as_ref().map(|_| Vec::new());
    for (index, main) in planted.strokes.iter().enumerate() {
        let or_answer = planted.or_answers.as_ref().and_then(|answers| answers[index]);
        let before =
            index.checked_sub(1).map_or(f64::INFINITY, |last| main.at_ms - planted.strokes[last].at_ms);
        let after = planted.strokes.get(index + 1).map_or(f64::INFINITY, |next| next.at_ms - main.at_ms);
        let room = Room { before, after };
        let ornament =
            main.answers.map_or_else(Vec::new, |note| strokes_of(main, note, room, written, chance));
        let strokes_here = if ornament.is_empty() { vec![*main] } else { ornament };
        for stroke in strokes_here {
            if let Some(or_answers) = &mut or_answers {
                or_answers.push(or_answer.filter(|_| stroke.answers == main.answers));
            }
            strokes.push(stroke);
        }
    }
    Planted { strokes, or_answers, ..planted }
}

/// The time to the strokes before and after, in ms.
#[derive(Clone, Copy)]
struct Room {
    before: f64,
    after: f64,
}

/// Grace strokes are left out where the stroke before is nearer than so many ms.
const LEAST_ROOM_MS: f64 = 150.0;

/// All strokes of an ornament, the main one among them; none where none is written, or a mistake has left no room for it.
fn strokes_of(main: &Stroke, note: usize, room: Room, written: &Written, chance: &mut Chance) -> Vec<Stroke> {
    let note = &written.notes[note];
    let small = Stroke { answers: None, accent: false, hand: None, held_ms: 20.0, ..*main };
    let graces = u32::from(note.marks.grace.strokes());
    if graces > 0 && room.before < LEAST_ROOM_MS {
        return Vec::new();
    }
    if graces > 0 {
        let apart = chance.between(GRACE_MS.0, GRACE_MS.1);
        let first = Stroke { at_ms: main.at_ms - apart * f64::from(graces), ..small };
        let next = Stroke { bounce_ms: Some(apart), at_ms: main.at_ms - apart, ..small };
        let before = std::iter::once(first).chain((1..graces).map(|_| next));
        return before.chain([Stroke { bounce_ms: Some(apart), ..*main }]).collect();
    }
    let length = written.ms(note.length).min(room.after);
    let apart = match note.marks.roll {
        None => return Vec::new(),
        // Each slash halves the value of the strokes, from the eighth; one is all that is written here.
        Some(Roll::Measured(_)) => {
            let beat = written.rhythm.bars()[0].meter().felt_beat();
            written.ms(*(Span::EIGHTH * PARTS).in_units_of(beat).numer())
        }
        Some(Roll::Unmeasured) => chance.between(ROLL_MS.0, ROLL_MS.1),
    };
    let mut strokes = vec![*main];
    let mut after = apart;
    while after < 0.9 * length - apart / 2.0 {
        let bounce_ms = Some(apart * (1.0 + 0.05 * chance.normal()));
        strokes.push(Stroke { at_ms: main.at_ms + after, bounce_ms, ..small });
        after += apart;
    }
    strokes
}
