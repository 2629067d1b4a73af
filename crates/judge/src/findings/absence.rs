//! Where nothing is asked, because the player's device was not there or could not be heard.

use super::Evidence;
use crate::{Fate, Finding, FindingKind};

impl Evidence<'_> {
    /// The stretches of notes that nobody could have heard, one finding each.
    pub(super) fn not_there(&self, found: &mut Vec<Finding>) {
        let unheard = |note: &usize| {
            self.notes[*note].fate == Fate::Pending && self.alignment.unheard[self.written.notes[*note]]
        };
        let notes: Vec<usize> = (0..self.notes.len()).filter(unheard).collect();
        if !notes.is_empty() && notes.len() == self.notes.len() {
            found.push(Finding::of_all(FindingKind::NotThere, "not there: nothing is judged".to_owned()));
            return;
        }
        for run in notes.chunk_by(|before, after| before + 1 == *after) {
            let (first, last) = (run[0], run[run.len() - 1]);
            let (from, from_bar, from_place) = self.place_of(first);
            let (_, to_bar, to_place) = self.place_of(last);
            let says = if first == last {
                format!("not heard at {from_bar}, {from_place}: nothing is asked there")
            } else {
                format!(
                    "not heard from {from_bar}, {from_place} to {to_bar}, {to_place}: nothing is asked there"
                )
            };
            let notes = run.iter().map(|&note| self.notes[note].id).collect();
            found.push(Finding { notes, ..Finding::at(FindingKind::NotThere, from, says) });
        }
    }

    /// How many of the first so many notes went unheard.
    pub(super) fn unheard_before(&self, last: usize) -> usize {
        let pairs = self.notes[..last].iter().zip(&self.written.notes);
        pairs.filter(|(note, count)| note.fate == Fate::Pending && self.alignment.unheard[**count]).count()
    }
}
