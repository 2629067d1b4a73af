use std::ops::Range;

use timebase::{Moment, Seconds, Tempo};

use crate::Click;

/// What a take of a drill plan keeps beside its strokes: the rhythms, and every round as it was played. So it can be judged
/// again without the plan.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Drilled {
    /// The rhythms as rhythm text, in the order of the plan.
    pub rhythms: Vec<String>,
    /// Those who took turns, in the order of the plan; nobody where everybody answered.
    pub players: Vec<String>,
    /// The rounds in the order in which they were played.
    pub rounds: Vec<DrilledRound>,
}

/// One round as it was played.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DrilledRound {
    /// Its number, from 1.
    pub number: usize,
    /// Which of the rhythms, from 0.
    pub rhythm: usize,
    /// The written numbers of its first and last bar; a pickup is 0.
    pub bars: (u32, u32),
    /// How fast.
    pub tempo: Tempo,
    /// When it began, from the beginning of the take's sound.
    pub from: Moment,
    /// When it ended, or would have.
    pub to: Moment,
    /// What was asked of players; nothing in a model.
    pub responses: Vec<DrilledResponse>,
    /// Whether it was taken to be good; `None` where that is not known, and of a model.
    pub good: Option<bool>,
}

impl DrilledRound {
    /// Moves all its moments to so much later.
    pub fn shift(&mut self, by: Seconds) {
        self.from += by;
        self.to += by;
        for response in &mut self.responses {
            response.bar_one += by;
            response.from += by;
            response.to += by;
        }
    }
}

/// What was asked in a response.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DrilledResponse {
    /// Whose turn it was; everybody's without.
    pub player: Option<String>,
    /// Which of the counts of the whole rhythm, by their numbers in a sequence of it at the round's tempo.
    pub counts: Range<usize>,
    /// Where count 1 of the rhythm's bar 1 would have fallen, from the beginning of the take's sound: before it, where a later
    /// bar was asked early.
    pub bar_one: Moment,
    /// From when on strokes belong to it, from the beginning of the take's sound.
    pub from: Moment,
    /// Until when.
    pub to: Moment,
}

/// The felt beats of a round, in order of time, that come after those that are known already: a pickup has beats of its round
/// before.
pub(crate) fn new_clicks(known: &[Click], clicks: &[Click]) -> Vec<Click> {
    let last = known.last().map(|click| click.at);
    clicks.iter().copied().filter(|click| last.is_none_or(|last| click.at > last)).collect()
}
