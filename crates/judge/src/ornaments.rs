//! Strokes that a written grace or roll is made of: none of them is an extra attack.

use rhythm::Roll;

use crate::alignment::Alignment;
use crate::written::{Written, nanos};
use crate::{Attack, Played};

/// How far before a note its grace strokes lie, each, in nanoseconds. The two of a flam are 40 to 50 ms apart (second-hand); a beginner's are wider.
pub(crate) const GRACE: i64 = 90_000_000;
/// How long after a note without a roll a stroke may still be a part of its grace: a grace played on the beat, the note behind it.
const BEHIND: i64 = 60_000_000;

/// A stroke so much harder than another is plainly the harder one: of two that are nearer the later one is the main stroke.
const PLAINLY_HARDER: f64 = 1.25;

/// Lets every note with a grace be answered by its main stroke: the last and hardest of those that stand close together there. What lies
/// nearest to the note may be its grace, where the player is ahead or the grace is wide.
pub(crate) fn settle_mains(written: &Written<'_>, played: &[Played], alignment: &mut Alignment) {
    let graced = |note: &&usize| {
        written.counts[**note].marks.grace.strokes() > 0 && alignment.strokes[**note].is_some()
    };
    let notes: Vec<usize> = written.notes.iter().filter(graced).copied().collect();
    if notes.is_empty() {
        return;
    }
    let mut taken = vec![false; played.len()];
    alignment.strokes.iter().flatten().for_each(|&stroke| taken[stroke] = true);
    for note in notes {
        let Some(answer) = alignment.strokes[note] else { continue };
        let graces = usize::from(written.counts[note].marks.grace.strokes());
        let is_close = |a: usize, b: usize| nanos(played[b].at) - nanos(played[a].at) <= GRACE;
        let free = |stroke: &usize| !taken[*stroke] && !alignment.again[*stroke];
        // The graces that stand before it already: with all of them, what follows is a stroke too many.
        let before =
            (0..answer).rev().take(graces).take_while(|stroke| free(stroke) && is_close(*stroke, stroke + 1));
        let left = graces - before.count();
        let behind =
            (answer + 1..played.len()).take_while(|stroke| free(stroke) && is_close(stroke - 1, *stroke));
        let main = behind.zip(1..).fold(answer, |main, (stroke, number)| {
            let needs = if number > left { PLAINLY_HARDER } else { 1.0 / PLAINLY_HARDER };
            if harder(&played[stroke], &played[main], left > 0).is_some_and(|by| by >= needs) {
                stroke
            } else {
                main
            }
        });
        if main != answer {
            (taken[answer], taken[main]) = (false, true);
            alignment.strokes[note] = Some(main);
        }
    }
}

/// How many times as hard the one is as the other; as hard where that is not known and there is a grace to be had, else not to say.
fn harder(one: &Played, other: &Played, graces_left: bool) -> Option<f64> {
    match (one.velocity, other.velocity) {
        (Some(one), Some(other)) => Some(f64::from(one) / f64::from(other.max(1))),
        _ => graces_left.then_some(1.0),
    }
}

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
