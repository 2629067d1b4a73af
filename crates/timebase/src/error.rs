use crate::limits::Limit;

/// What can be wrong with a time given from outside.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// A value outside its limit.
    #[error("{given} is not a {}: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given, as it was given.
        given: String,
        /// What is allowed.
        limit: Limit,
    },
    /// A text that is no fraction of a whole note.
    #[error(
        "\"{0}\" is not a fraction of a whole note: write a whole number or two with a slash, such as 3/8"
    )]
    NotAFraction(String),
    /// A beat that has no length.
    #[error("a beat lasts longer than nothing; {0} of a whole note was given")]
    EmptyBeat(String),
    /// Tempo changes that do not begin at the beginning, or do not rise.
    #[error("tempo changes stand in rising order and the first stands at position 0; {0} is out of place")]
    TempoOrder(String),
}
