//! Every limit of this crate, once, with the word that names it in a message.

/// A closed range of whole numbers and the word for what it bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// What is bounded, as it stands in a message: "tempo".
    pub what: &'static str,
    /// The smallest value allowed.
    pub least: i64,
    /// The largest value allowed.
    pub most: i64,
}

impl Limit {
    /// Whether `value` lies inside, both ends included.
    #[must_use]
    pub const fn holds(&self, value: i64) -> bool {
        value >= self.least && value <= self.most
    }
}

/// Beats a minute, whatever the beat's note value. Below 20 nobody keeps a pulse by counting
/// beats (synchronising fails above 1800 ms between clicks: Repp 2006); above 300 nobody counts aloud.
pub const TEMPO_BPM: Limit = Limit { what: "tempo in beats a minute", least: 20, most: 300 };

/// Frames a second of a sound device or a file.
pub const SAMPLE_RATE: Limit = Limit { what: "sample rate in Hz", least: 8_000, most: 192_000 };

/// Numerator and denominator of musical time. Products of two such numbers fit an `i128`
/// with room to spare, so conversions cannot overflow.
pub const MUSICAL_TIME: Limit = Limit { what: "musical time", least: -(1 << 40), most: 1 << 40 };
