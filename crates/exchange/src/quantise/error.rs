use timebase::limits::Limit;

/// Why strokes cannot be made a rhythm.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// Nothing was struck.
    #[error("there is no stroke to write down{}: tap at least one", if *.left_out == 0 { String::new() } else { format!(" ({left_out} fell before the bar in front of count 1)") })]
    NoStroke {
        /// Strokes that fell long before count 1.
        left_out: usize,
    },
    /// A word that names nothing that can be taught.
    #[error("\"{given}\" is nothing that can be taught here: allowed are {allowed}, parted by commas")]
    NotTaught {
        /// The word.
        given: String,
        /// The words that are allowed.
        allowed: String,
    },
    /// Without a click the tempo needs more to go by.
    #[error(
        "{given} strokes are too few to find a tempo in: tap at least {needed}, tap with the click, or give the tempo"
    )]
    NoTempo {
        /// How many strokes there are.
        given: usize,
        /// How many are needed.
        needed: usize,
    },
    /// Meters that are not in order.
    #[error(
        "the meters are out of order at bar {bar}: the first holds from bar 1 or before, the others later and rising"
    )]
    MeterOrder {
        /// The first bar out of order.
        bar: i64,
    },
    /// A number outside its limit.
    #[error("{given} is not a {} that is allowed: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given.
        given: i64,
        /// What is allowed.
        limit: Limit,
    },
    /// A rhythm that cannot be made of what was found.
    #[error(transparent)]
    Rhythm(#[from] rhythm::Error),
    /// A tempo that cannot be.
    #[error(transparent)]
    Time(#[from] timebase::Error),
}
