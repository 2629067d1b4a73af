//! Where nothing was played: before the player came in, after he stopped, and from where he lost his place to where he was in again.

use rhythm::Deed;

use super::Evidence;
use crate::{Fate, Finding, FindingKind, Verdict, wording};

/// So many missed in a row are told as one: nobody wants sixteen sentences on four bars that were not played.
pub(super) const RUN: usize = 4;
/// A bar that was not played is one thing to tell, and not so many missed attacks; of one attack it is a missed attack.
const FEWEST_IN_BAR: usize = 2;

impl Evidence<'_> {
    /// What is said of these notes, all missed and one behind the other, if nothing at all was struck in their time.
    pub(super) fn not_played(&self, first: usize, last: usize) -> Option<Finding> {
        let at_an_end = first == 0 || last + 1 == self.notes.len();
        let long = self.holds_a_bar(first, last) || self.lasts_over_a_bar(first, last);
        if !(long || at_an_end && last - first + 1 >= RUN) || !self.is_silent(first, last) {
            return None;
        }
        let (begins, ends) =
            (self.begins_bar(first), last + 1 == self.notes.len() || self.begins_bar(last + 1));
        let ((id, from_bar, from), (to_id, to_bar, to)) = (self.named(first), self.named(last));
        let alike = (id.bar, id.pass) == (to_id.bar, to_id.pass);
        let bars = match (alike, id.pass) {
            (true, 0 | 1) => format!("{from_bar} was not played"),
            (true, pass) => format!("bar {} was not played the {}", id.bar, wording::time(pass)),
            _ => format!("{from_bar} to {to_bar} were not played"),
        };
        let stretch = match (begins, ends) {
            (true, true) => bars.clone(),
            (_, true) => format!("from {from} in {from_bar} to the end of {to_bar} nothing was played"),
            (_, false) => format!("from {from} in {from_bar} to {to} in {to_bar} nothing was played"),
        };
        let says = match (first.checked_sub(1), self.notes.get(last + 1)) {
            (None, Some(next)) => {
                let (_, bar, on) = self.named(last + 1);
                if ends {
                    format!("came in at {}: {bars}", wording::the_bar(next.id))
                } else {
                    format!("came in on {on} in {bar}: nothing was played before")
                }
            }
            (Some(before), None) => {
                let (_, bar, on) = self.named(before);
                if begins {
                    format!("stopped after {bar}: nothing was played from {from_bar} on")
                } else {
                    format!("stopped after {on} in {bar}: nothing more was played")
                }
            }
            _ => format!("{stretch}{}", self.in_again(last + 1)),
        };
        let notes = self.notes[first..=last].iter().map(|note| note.id).collect();
        let confidence = (first..=last).map(|note| self.unanswered(note)).fold(0.999, f64::min);
        Some(Finding { notes, confidence, ..Finding::at(FindingKind::AttackMissed, id, says) })
    }

    /// Where the player was in again with this note, and whether that was in time.
    fn in_again(&self, note: usize) -> String {
        if note >= self.notes.len() {
            return String::new();
        }
        let (_, bar, on) = self.named(note);
        let count = self.written.notes[note];
        // Whoever is elsewhere in the music from there on is told so by itself.
        let moves = self.alignment.moves.iter().any(|made| made.to == count || made.from == count);
        let in_time = self.answer(note).is_some_and(|answer| answer.verdict == Verdict::OnTime) && !moves;
        format!("; in again on {on} of {bar}{}", if in_time { ", in time" } else { "" })
    }

    /// A note's name, its bar in running text, and its count.
    fn named(&self, note: usize) -> (rhythm::AttackId, String, String) {
        let (id, _, on) = self.place_of(note);
        (id, wording::the_bar(id), on)
    }

    fn begins_bar(&self, note: usize) -> bool {
        let bar = |note: usize| (self.notes[note].id.bar, self.notes[note].id.pass);
        note == 0 || bar(note - 1) != bar(note)
    }

    /// Whether the next note lies more than a bar behind the first of these.
    fn lasts_over_a_bar(&self, first: usize, last: usize) -> bool {
        let bar = &self.written.bars[self.written.bar_of(self.written.notes[first])];
        let next_bar = self.written.at.get(bar.end).map(|next| next - self.written.at[bar.start]);
        let until = self.notes.get(last + 1).map(|next| (next.at - self.notes[first].at).as_nanos());
        next_bar.zip(until).is_some_and(|(bar, until)| until > bar)
    }

    /// Whether all notes of some bar are among these.
    fn holds_a_bar(&self, first: usize, last: usize) -> bool {
        let mut bars =
            self.notes[first..=last].chunk_by(|a, b| (a.id.bar, a.id.pass) == (b.id.bar, b.id.pass));
        let mut from = first;
        bars.any(|bar| {
            let (begins, ends) = (from, from + bar.len());
            from = ends;
            // A bar into which a note is held was begun.
            let opens = self.written.bars[self.written.bar_of(self.written.notes[begins])].start;
            bar.len() >= FEWEST_IN_BAR
                && self.written.deed(opens) != Deed::Hold
                && self.begins_bar(begins)
                && (ends == self.notes.len() || self.begins_bar(ends))
        })
    }

    /// Whether nothing was struck between what the notes before these and behind them were answered by. What may still be struck, or
    /// could not be heard, is no silence of the player's.
    fn is_silent(&self, first: usize, last: usize) -> bool {
        let struck = |note: usize| match self.notes[note].fate {
            Fate::Struck(stroke) => Some(stroke),
            Fate::Missed | Fate::Pending => None,
        };
        let from = match first.checked_sub(1) {
            None => Some(0),
            Some(before) => struck(before).map(|stroke| stroke + 1),
        };
        let to = match last + 1 {
            next if next < self.notes.len() => struck(next),
            _ => Some(self.attacks.len()).filter(|_| self.complete),
        };
        let (Some(from), Some(to)) = (from, to) else { return false };
        from <= to && self.attacks[from..to].iter().all(|attack| attack.ornament.is_some())
    }
}
