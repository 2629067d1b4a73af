use timebase::limits::Limit;

/// What can be wrong with the settings of a judgement.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// A setting outside its limit.
    #[error("{given} is not a {}: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given, in the limit's unit.
        given: String,
        /// What is allowed.
        limit: Limit,
    },
}
