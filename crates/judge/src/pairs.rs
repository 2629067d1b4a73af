//! A stroke that answers nothing beside a note that nothing answers: further off than a gate reaches, and still that note.

use rhythm::Deed;

use crate::alignment::Alignment;
use crate::written::Written;

/// How far off a stroke may be and still be meant for its note, in nanoseconds, and as tenths of the way to the neighbour.
const MOST: i64 = 300_000_000;
const TENTHS: i64 = 7;
/// So many times as near to a count of a silence as to the note a stroke must lie to have fallen there without a doubt.
const CLEAR: i64 = 3;

/// Lets every missed note be answered by the one stroke between its neighbours' that answers nothing, if that lies nearer to it
/// than to the neighbour. One stroke far off is likelier than a missed note with a stray beside it.
pub(crate) fn pair(written: &Written<'_>, strokes: &[i64], alignment: &mut Alignment) {
    // What every stroke fell on.
    let mut fell: Vec<Option<usize>> = vec![None; strokes.len()];
    for (count, stroke) in alignment.strokes.iter().enumerate() {
        if let Some(stroke) = *stroke {
            fell[stroke] = Some(count);
        }
    }
    for place in 0..written.notes.len() {
        let note = written.notes[place];
        if alignment.strokes[note].is_some() || alignment.skipped[note] || !alignment.due[note] {
            continue;
        }
        let before = place.checked_sub(1).map(|before| written.notes[before]);
        let after = written.notes.get(place + 1).copied();
        // Strokes of a roll or a grace are nobody's.
        let ornamented = |count: Option<usize>| {
            count.is_some_and(|count| {
                let marks = written.counts[count].marks;
                marks.roll.is_some() || marks.grace.strokes() > 0
            })
        };
        if ornamented(before) || ornamented(Some(note)) || ornamented(after) {
            continue;
        }
        let answer = |count: Option<usize>| count.map(|count| alignment.strokes[count]);
        // Where a neighbour is missed too, nobody knows which of the two it was.
        let (from, end) = match (answer(before), answer(after)) {
            (Some(None), _) | (_, Some(None)) => continue,
            (Some(Some(before)), Some(Some(after))) => (before + 1, after),
            (None, Some(Some(after))) => (0, after),
            (Some(Some(before)), None) => (before + 1, strokes.len()),
            (None, None) => (0, strokes.len()),
        };
        let expected = |count: usize| alignment.moved[count] + alignment.course[count];
        // A stroke on a count of a silence is free too, if it is not clear that it fell there.
        let is_free = |stroke: usize| {
            let off = |count: usize| (strokes[stroke] - expected(count)).abs();
            fell[stroke].is_none_or(|on| written.deed(on) != Deed::Attack && off(on) * CLEAR > off(note))
        };
        let mut free = (from..end).filter(|&stroke| is_free(stroke) && !alignment.again[stroke]);
        let (Some(stroke), None) = (free.next(), free.next()) else { continue };
        let by = strokes[stroke] - expected(note);
        let neighbour = if by < 0 { before } else { after };
        let room = neighbour.map_or(i64::MAX, |other| (expected(other) - expected(note)).abs());
        if by.abs() <= MOST && by.abs() <= room / 10 * TENTHS {
            if let Some(on) = fell[stroke].replace(note) {
                alignment.strokes[on] = None;
            }
            alignment.strokes[note] = Some(stroke);
            alignment.paired += 1;
        }
    }
}
