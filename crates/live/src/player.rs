use judge::{Attack, Judgement, Played, Settings, judge, judge_so_far};
use timebase::Moment;

use crate::PlayerState;
use counting::TimedCount;

/// One player of a running drill.
#[derive(Debug)]
pub(crate) struct Player {
    pub(crate) id: input::PlayerId,
    pub(crate) label: String,
    pub(crate) source: String,
    /// The player's number in the take.
    pub(crate) recorded: Option<usize>,
    /// Attacks in the order they were heard.
    played: Vec<Played>,
    judgement: Judgement,
}

impl Player {
    pub(crate) fn new(id: input::PlayerId, label: String, source: String, settings: &Settings) -> Self {
        Self { id, label, source, recorded: None, played: Vec::new(), judgement: judge(&[], &[], settings) }
    }

    pub(crate) fn strike(&mut self, played: Played) {
        self.played.push(played);
    }

    /// Judges what has been heard up to `now`; says whether that is something else than before.
    pub(crate) fn judge_so_far(&mut self, counts: &[TimedCount], now: Moment, settings: &Settings) -> bool {
        let judgement = judge_so_far(counts, &self.played, now, settings);
        let changed = judgement != self.judgement;
        self.judgement = judgement;
        changed
    }

    /// Judges the whole.
    pub(crate) fn judge(&mut self, counts: &[TimedCount], settings: &Settings) {
        self.judgement = judge(counts, &self.played, settings);
    }

    /// What is made of the stroke heard last.
    pub(crate) fn last_attack(&self) -> Option<Attack> {
        let last = self.played.len().checked_sub(1)?;
        self.judgement.attacks().iter().find(|attack| attack.index == last).copied()
    }

    pub(crate) fn judgement(&self) -> &Judgement {
        &self.judgement
    }

    pub(crate) fn state(&self) -> PlayerState {
        PlayerState {
            label: self.label.clone(),
            source: self.source.clone(),
            judgement: self.judgement.clone(),
        }
    }
}
