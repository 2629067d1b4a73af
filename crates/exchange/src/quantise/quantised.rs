use rhythm::{Bar, Rhythm};
use timebase::{Moment, Seconds, Tempo};

/// A rhythm made of strokes, and how sure it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantised {
    /// The likeliest rhythm.
    pub rhythm: Rhythm,
    /// For each of its written bars, how sure it is.
    pub bars: Vec<BarCertainty>,
    /// The tempo at its beginning: the click's or the file's, else as found, to a whole beat a minute.
    pub tempo: Tempo,
    /// How likely meter and count 1 are as written, 0 to 1; `None` where they were known.
    pub count_one: Option<f64>,
    /// How far the strokes lie from the click on the whole, negative if before it; `None` without a click, or for a player
    /// who left it.
    pub bias: Option<Seconds>,
    /// The standard deviation of single strokes about the player's own beat.
    pub spread: Seconds,
    /// Strokes that are not written: slips of the hand, and what fell before the bar in front of count 1.
    pub left_out: Vec<Moment>,
    /// The log density of all strokes under everything that was taught, in nats: of two ways to read the same strokes, the
    /// larger is the likelier.
    pub evidence: f64,
}

/// How sure one bar is.
#[derive(Clone, Debug, PartialEq)]
pub struct BarCertainty {
    /// How likely the bar is as it is written, 0 to 1, given the beat that was found.
    pub probability: f64,
    /// What else it may be, the likeliest first, with their probabilities.
    pub alternatives: Vec<(Bar, f64)>,
}
