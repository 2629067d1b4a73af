//! Programmes that follow one another without a gap: the next begins on an exact frame of the present one, which rings on.

use timebase::Frame;

use crate::Report;
use crate::control::{Link, Retired};
use crate::deck::Deck;

/// Programmes that may ring on at once. What rings lasts a second at most and programmes that follow one another are rounds of
/// music, so more than two never do.
const RINGING: usize = 4;

/// A programme that waits for its frame.
#[derive(Debug)]
pub(crate) struct Next {
    pub(crate) deck: Box<Deck>,
    /// The frame of the present programme on which it begins.
    pub(crate) at: Frame,
}

/// What comes after the present programme and what is left of those before it.
/// Every function is real-time: no allocation, lock, I/O or panic.
#[derive(Debug, Default)]
pub(crate) struct Succession {
    next: Option<Next>,
    ringing: [Option<Box<Deck>>; RINGING],
}

impl Succession {
    pub(crate) const fn has_next(&self) -> bool {
        self.next.is_some()
    }

    /// Whether another may wait here: none does, and there is room for what it takes over from.
    pub(crate) fn is_open(&self) -> bool {
        self.next.is_none() && self.ringing.iter().any(Option::is_none)
    }

    /// Lets `next` wait for its frame; gives it back where it may not.
    pub(crate) fn wait(&mut self, next: Next) -> Option<Next> {
        if self.is_open() {
            self.next = Some(next);
            None
        } else {
            Some(next)
        }
    }

    /// How much of the next programme is still to come when the present one stands at `position`: it begins after so many frames
    /// and has so many.
    pub(crate) fn ahead(&self, position: Frame) -> Option<(usize, i64)> {
        let next = self.next.as_ref()?;
        let until = usize::try_from((next.at - position).count()).unwrap_or(0);
        Some((until, next.deck.frames_left().count()))
    }

    /// The next programme in place of `deck`, which rings on, if it is due; says whether it was. One that came too late begins in
    /// its middle and keeps its time.
    pub(crate) fn change_over(&mut self, deck: &mut Box<Deck>) -> bool {
        let position = deck.position();
        let due = self.next.take_if(|next| next.at <= position);
        let (Some(Next { deck: mut next, at }), Some(room)) =
            (due, self.ringing.iter_mut().find(|ringing| ringing.is_none()))
        else {
            return false;
        };
        next.skip(position - at);
        *room = Some(std::mem::replace(deck, next));
        true
    }

    /// Those that ring on.
    pub(crate) fn ringing(&mut self) -> impl Iterator<Item = &mut Box<Deck>> {
        self.ringing.iter_mut().flatten()
    }

    /// Frames until something of what rings on changes.
    pub(crate) fn until_change(&self) -> Option<usize> {
        self.ringing.iter().flatten().filter_map(|deck| deck.until_change()).min()
    }

    /// All that rings on falls silent in so many frames, and what waits is not to begin any more; says whether something waited.
    pub(crate) fn make_way(&mut self, frames: u32) -> bool {
        self.ringing().for_each(|deck| deck.make_way(frames));
        let Some(Next { mut deck, .. }) = self.next.take() else { return false };
        // It goes the way of those that have rung out; there is room, or it could not have waited.
        deck.make_way(0);
        if let Some(room) = self.ringing.iter_mut().find(|ringing| ringing.is_none()) {
            *room = Some(deck);
        }
        true
    }

    /// Sends what has rung out back to be dropped; keeps it while there is no room for it.
    pub(crate) fn send_back(&mut self, link: &mut Link) {
        for ringing in &mut self.ringing {
            if let Some(deck) = ringing.take_if(|deck| deck.has_rung_out()) {
                *ringing = link.give_back(Retired::new(deck));
            }
        }
    }

    /// Drops what has rung out, where nobody else would: never on an audio thread.
    pub(crate) fn drop_rung_out(&mut self) {
        for ringing in &mut self.ringing {
            ringing.take_if(|deck| deck.has_rung_out());
        }
    }
}

/// What is said when a programme begins at the mixer's frame `at`, and whether it followed another.
pub(crate) fn began(at: Frame, deck: &Deck, follows: bool) -> Report {
    Report::Began { at, from: deck.position(), follows }
}
