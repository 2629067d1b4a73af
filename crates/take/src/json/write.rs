use serde::{Deserialize, Serialize};
use timebase::{Moment, Seconds};

use super::VERSION;
use super::form::{rounded, shown_ms};

/// What `write --json` prints: a rhythm made of a take, and how sure it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WriteFile {
    version: u32,
    rhythm: String,
    player: String,
    count_one_probability: Option<f64>,
    bias_ms: Option<f64>,
    spread_ms: f64,
    left_out_ms: Vec<f64>,
    bars: Vec<WrittenBarForm>,
}

/// One bar: how likely it is as written, and what else it may be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WrittenBarForm {
    bar: u32,
    probability: f64,
    alternatives: Vec<AlternativeForm>,
}

/// Another reading of a bar, as rhythm text.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AlternativeForm {
    text: String,
    probability: f64,
}

impl WriteFile {
    /// A rhythm as rhythm text, and whose strokes it is made of. Times of strokes that were left out are the take's own.
    #[must_use]
    pub fn new(rhythm: String, player: String, spread: Seconds, left_out: &[Moment]) -> Self {
        Self {
            version: VERSION,
            rhythm,
            player,
            count_one_probability: None,
            bias_ms: None,
            spread_ms: shown_ms(spread),
            left_out_ms: left_out.iter().map(|at| shown_ms(at.since_zero())).collect(),
            bars: Vec::new(),
        }
    }

    /// The same with the bias against the click, and with how likely count 1 is where it was found.
    #[must_use]
    pub fn with_beat(self, bias: Option<Seconds>, count_one: Option<f64>) -> Self {
        Self { bias_ms: bias.map(shown_ms), count_one_probability: count_one.map(rounded), ..self }
    }

    /// The same with one more bar: its number, how likely it is, and its alternatives as rhythm text.
    #[must_use]
    pub fn with_bar(mut self, bar: u32, probability: f64, alternatives: Vec<(String, f64)>) -> Self {
        let alternatives = alternatives
            .into_iter()
            .map(|(text, probability)| AlternativeForm { text, probability: rounded(probability) })
            .collect();
        self.bars.push(WrittenBarForm { bar, probability: rounded(probability), alternatives });
        self
    }
}
