use timebase::limits::Limit;

/// What can be wrong with a recording or the settings it is searched with.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// A recording too long to be searched at once.
    #[error(
        "the recording lasts {given} seconds: the {} goes from {} to {}; cut it into pieces",
        .limit.what, .limit.least, .limit.most
    )]
    TooLong {
        /// Its length in whole seconds, rounded up.
        given: i64,
        /// What is allowed.
        limit: Limit,
    },
    /// A setting outside its limit.
    #[error("{given} is not a {}: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given, in the limit's unit.
        given: String,
        /// What is allowed.
        limit: Limit,
    },
}
