use timebase::limits::Limit;

/// What can be wrong with a plan, or with making sound of it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A number outside its limit.
    #[error("{given} is not a {}: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given.
        given: u32,
        /// What is allowed.
        limit: Limit,
    },
    /// A tempo outside its limit.
    #[error(transparent)]
    Tempo(#[from] timebase::Error),
    /// A voice without a word for the end of the count-in.
    #[error(
        "the voice {voice} has no recording of \"{word}\" for the count-in: count in with numbers, or record the word"
    )]
    EntryWord {
        /// The voice's name.
        voice: String,
        /// The word.
        word: &'static str,
    },
    /// A voice that cannot say a word of the counting.
    #[error(transparent)]
    Voice(#[from] voice::Error),
    /// More sound than a programme holds.
    #[error(transparent)]
    Mixer(#[from] mixer::Error),
}
