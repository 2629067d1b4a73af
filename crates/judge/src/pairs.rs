//! A stroke that answers nothing beside a note that nothing answers: further off than a gate reaches, and still that note.

use crate::alignment::Alignment;
use crate::written::Written;

/// How far off a stroke may be and still be meant for its note, in nanoseconds, and as tenths of the way to the neighbour.
const MOST: i64 = 300_000_000;
const TENTHS: i64 = 7;

/// Lets every missed note be answered by the one stroke between its neighbours' that answers nothing, if that lies nearer to it
/// than to the neighbour. One stroke far off is likelier than a missed note with a stray beside it.
pub(crate) fn pair(written: &Written<'_>, strokes: &[i64], alignment: &mut Alignment) {
    let mut fell = vec![false; strokes.len()];
    for &stroke in alignment.strokes.iter().flatten() {
        fell[stroke] = true;
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
        let mut free = (from..end).filter(|&stroke| !fell[stroke] && !alignment.again[stroke]);
        let (Some(stroke), None) = (free.next(), free.next()) else { continue };
        let expected = |count: usize| alignment.moved[count] + alignment.course[count];
        let by = strokes[stroke] - expected(note);
        let neighbour = if by < 0 { before } else { after };
        let room = neighbour.map_or(i64::MAX, |other| (expected(other) - expected(note)).abs());
        if by.abs() <= MOST && by.abs() <= room / 10 * TENTHS {
            alignment.strokes[note] = Some(stroke);
            alignment.paired += 1;
            fell[stroke] = true;
        }
    }
}
