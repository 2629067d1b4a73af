use sequencer::drill::RoundBar;
use serde::Serialize;
use timebase::Tempo;

use super::{JudgeFile, PlayedForm, VERSION};

/// What `judge --json` prints of a take of a drill plan, and `listen --json` at the end of one: the judgement of every response.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DrillJudgeFile {
    version: u32,
    title: Option<String>,
    rounds: Vec<JudgedRoundForm>,
}

/// One round and what it became.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JudgedRoundForm {
    round: usize,
    /// From 1.
    rhythm: usize,
    bars: [u32; 2],
    /// Every bar in the order it was played.
    played: Vec<PlayedForm>,
    tempo: String,
    entry_tempo: String,
    good: Option<bool>,
    responses: Vec<JudgedResponseForm>,
}

/// One response.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JudgedResponseForm {
    /// Whose turn it was; null for everybody.
    pub player: Option<String>,
    /// As of any take.
    pub judgement: JudgeFile,
}

impl DrillJudgeFile {
    /// The form of these rounds.
    #[must_use]
    pub fn of(title: Option<&str>, rounds: Vec<JudgedRoundForm>) -> Self {
        Self { version: VERSION, title: title.map(str::to_owned), rounds }
    }
}

impl JudgedRoundForm {
    /// The form of a round of this number, from 1, of a rhythm, from 0, with the tempo of the rhythm's beginning and that at which the
    /// round began.
    #[must_use]
    pub fn of(
        number: usize,
        rhythm: usize,
        played: &[RoundBar],
        (tempo, entry_tempo): (Tempo, Tempo),
        good: Option<bool>,
        responses: Vec<JudgedResponseForm>,
    ) -> Self {
        let number_of = |bar: Option<&RoundBar>| bar.map_or(0, |bar| bar.number);
        Self {
            round: number,
            rhythm: rhythm + 1,
            bars: [number_of(played.first()), number_of(played.last())],
            played: played.iter().map(PlayedForm::of).collect(),
            tempo: tempo.to_string(),
            entry_tempo: entry_tempo.to_string(),
            good,
            responses,
        }
    }
}
