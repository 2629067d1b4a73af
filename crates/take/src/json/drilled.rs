use serde::{Deserialize, Serialize};

use super::form::{TempoForm, moment, ms};
use crate::{Drilled, DrilledResponse, DrilledRound};

/// [`Drilled`] as it stands in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct DrilledForm {
    rhythms: Vec<String>,
    players: Vec<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    rounds: Vec<DrilledRoundForm>,
}

/// [`DrilledRound`] as it stands in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct DrilledRoundForm {
    round: usize,
    /// From 1.
    rhythm: usize,
    bars: [u32; 2],
    tempo: TempoForm,
    from_ms: f64,
    to_ms: f64,
    responses: Vec<DrilledResponseForm>,
    good: Option<bool>,
}

/// [`DrilledResponse`] as it stands in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct DrilledResponseForm {
    player: Option<String>,
    /// The first, and the first that is none of them.
    counts: [usize; 2],
    bar_one_ms: f64,
    from_ms: f64,
    to_ms: f64,
}

impl DrilledForm {
    pub(crate) fn of(drilled: &Drilled) -> Self {
        Self {
            rhythms: drilled.rhythms.clone(),
            players: drilled.players.clone(),
            rounds: drilled.rounds.iter().map(DrilledRoundForm::of).collect(),
        }
    }

    pub(crate) fn drilled(self) -> Result<Drilled, String> {
        let rhythms = self.rhythms.len();
        let rounds = self.rounds.into_iter().map(|round| round.round(rhythms)).collect::<Result<_, _>>()?;
        Ok(Drilled { rhythms: self.rhythms, players: self.players, rounds })
    }
}

impl DrilledRoundForm {
    pub(crate) fn of(round: &DrilledRound) -> Self {
        Self {
            round: round.number,
            rhythm: round.rhythm + 1,
            bars: [round.bars.0, round.bars.1],
            tempo: TempoForm::of(round.tempo),
            from_ms: ms(round.from.since_zero()),
            to_ms: ms(round.to.since_zero()),
            responses: round.responses.iter().map(DrilledResponseForm::of).collect(),
            good: round.good,
        }
    }

    /// The round again, of a drill of so many rhythms; else what is wrong with it.
    pub(crate) fn round(self, rhythms: usize) -> Result<DrilledRound, String> {
        let rhythm = self.rhythm.checked_sub(1).filter(|rhythm| *rhythm < rhythms);
        let rhythm = rhythm.ok_or_else(|| {
            format!("round {} is of rhythm {}, and there are {rhythms}", self.round, self.rhythm)
        })?;
        Ok(DrilledRound {
            number: self.round,
            rhythm,
            bars: (self.bars[0], self.bars[1]),
            tempo: self.tempo.tempo()?,
            from: moment(self.from_ms),
            to: moment(self.to_ms),
            responses: self.responses.into_iter().map(DrilledResponseForm::response).collect(),
            good: self.good,
        })
    }
}

impl DrilledResponseForm {
    fn of(response: &DrilledResponse) -> Self {
        Self {
            player: response.player.clone(),
            counts: [response.counts.start, response.counts.end],
            bar_one_ms: ms(response.bar_one.since_zero()),
            from_ms: ms(response.from.since_zero()),
            to_ms: ms(response.to.since_zero()),
        }
    }

    fn response(self) -> DrilledResponse {
        DrilledResponse {
            player: self.player,
            counts: self.counts[0]..self.counts[1].max(self.counts[0]),
            bar_one: moment(self.bar_one_ms),
            from: moment(self.from_ms),
            to: moment(self.to_ms),
        }
    }
}
