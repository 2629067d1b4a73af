use std::sync::Arc;

use counting::TimedCount;
use judge::{Attack, Judgement, Live, Played, Settings};
use timebase::{Moment, Seconds};

use crate::PlayerState;

/// How often everything is weighed anew while strokes come. A stroke's own verdict does not wait for it.
const REVISE_EVERY: Seconds = Seconds::from_millis(500);

/// Before anything is due.
const LONG_BEFORE: Seconds = Seconds::from_millis(4_000_000_000);

/// One player of a running drill.
#[derive(Debug)]
pub(crate) struct Player {
    pub(crate) id: input::PlayerId,
    pub(crate) label: String,
    pub(crate) source: String,
    /// The player's number in the take.
    pub(crate) recorded: Option<usize>,
    live: Live,
    /// Up to when everything was weighed, and of how many strokes.
    revised: Option<(Moment, usize)>,
    judgement: Arc<Judgement>,
}

impl Player {
    pub(crate) fn new(
        id: input::PlayerId,
        label: String,
        source: String,
        counts: Arc<[TimedCount]>,
        settings: Settings,
    ) -> Self {
        let mut live = Live::new(counts, settings);
        let judgement = Arc::new(live.provisional(Moment::ZERO - LONG_BEFORE));
        Self { id, label, source, recorded: None, live, revised: None, judgement }
    }

    pub(crate) fn strike(&mut self, played: Played) {
        self.live.strike(played);
    }

    /// Says at once what has been heard up to `now`.
    pub(crate) fn judge_at_once(&mut self, now: Moment) {
        self.judgement = Arc::new(self.live.provisional(now));
    }

    /// Judges what has been heard up to `now`, everything weighed from time to time; says whether that is something
    /// else than before.
    pub(crate) fn judge_so_far(&mut self, now: Moment) -> bool {
        let strokes = self.live.strokes();
        let again = self.revised.is_none_or(|(at, of)| of != strokes && now - at >= REVISE_EVERY);
        let judgement = if again && self.live.gains_by_revision() {
            self.revised = Some((now, strokes));
            self.live.revised(now)
        } else {
            self.live.provisional(now)
        };
        let changed = judgement != *self.judgement;
        if changed {
            self.judgement = Arc::new(judgement);
        }
        changed
    }

    /// Judges the whole, or what has been heard up to `now`, with everything weighed.
    pub(crate) fn judge_for_good(&mut self, now: Option<Moment>) {
        self.judgement = Arc::new(match now {
            Some(now) => self.live.revised(now),
            None => self.live.whole(),
        });
    }

    /// What is made of the stroke heard last.
    pub(crate) fn last_attack(&self) -> Option<Attack> {
        let last = self.live.strokes().checked_sub(1)?;
        self.judgement.attacks().iter().rev().find(|attack| attack.index == last).copied()
    }

    pub(crate) fn judgement(&self) -> &Judgement {
        &self.judgement
    }

    pub(crate) fn state(&self) -> PlayerState {
        PlayerState {
            label: self.label.clone(),
            source: self.source.clone(),
            judgement: Arc::clone(&self.judgement),
        }
    }
}
