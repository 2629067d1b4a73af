//! Strokes that a written grace or roll is made of: none of them is an extra attack.

use rhythm::Roll;

use crate::Attack;
use crate::alignment::Alignment;
use crate::written::{Written, nanos};

/// How far before a note its grace strokes lie, each, in nanoseconds. The two of a flam are 40 to 50 ms apart (second-hand); a beginner's are wider.
pub(crate) const GRACE: i64 = 90_000_000;
/// How long after a note without a roll a stroke may still be a part of its grace: a grace played on the beat, the note behind it.
const BEHIND: i64 = 60_000_000;

/// Marks the strokes that belong to a grace or a roll.
pub(crate) fn ornaments(written: &Written<'_>, alignment: &Alignment, attacks: &mut [Attack]) {
    for &note in &written.notes {
        let marks = written.counts[note].marks;
        let graces = i64::from(marks.grace.strokes());
        if graces == 0 && marks.roll.is_none() {
            continue;
        }
        let id = written.counts[note].id;
        let at = alignment.strokes[note].map_or(alignment.moved[note] + alignment.course[note], |stroke| {
            nanos(attacks[stroke].played.at)
        });
        let before = at - graces * GRACE;
        let lasts = marks.roll.map(|roll| {
            let end =
                written.end_of(note).map_or(i64::MAX, |end| alignment.moved[end] + alignment.course[end]);
            (roll, end)
        });
        let after = lasts.map_or(at + if graces > 0 { BEHIND } else { 0 }, |(_, end)| end);
        let from = attacks.partition_point(|attack| nanos(attack.played.at) < before);
        let mut left = graces;
        // The nearest grace strokes first: they are taken from the note backwards.
        let until = attacks.partition_point(|attack| nanos(attack.played.at) < after).max(from);
        for attack in attacks[from..until].iter_mut().rev().filter(|attack| attack.answer.is_none()) {
            let within = nanos(attack.played.at) > at;
            let rolled =
                lasts.is_some_and(|(roll, _)| within && matches!(roll, Roll::Measured(_) | Roll::Unmeasured));
            if !rolled {
                if left == 0 {
                    continue;
                }
                left -= 1;
            }
            attack.ornament = Some(id);
            attack.fell_on = None;
        }
    }
}
