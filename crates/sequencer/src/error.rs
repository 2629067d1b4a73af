use timebase::Ratio;
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
    /// A tempo that takes a change of tempo of its rhythm out of the limits.
    #[error(transparent)]
    Rhythm(#[from] rhythm::Error),
    /// A tempo that takes a change of tempo of a drill's rhythm out of the limits.
    #[error("rhythm {rhythm} of the drill: {reason}")]
    BeginningTempo {
        /// The number of the rhythm, from 1.
        rhythm: usize,
        /// Which change, and what is allowed.
        reason: rhythm::Error,
    },
    /// A voice without words for the end of the count-in; another voice does not say them for it, for it speaks another language.
    #[error(
        "the voice {voice} has no recording of {words} for the count-in: count in with numbers, or record what is missing"
    )]
    EntryWord {
        /// The voice's name.
        voice: String,
        /// What it lacks, in the order in which it is said: `"ready", "play"`.
        words: String,
    },
    /// Steps of a tempo that do not go from slow to fast, or have no size.
    #[error(
        "a tempo that steps from {least} to {most} beats a minute, by {by} from {from}, is none: the slowest is at most the first, the first at most the fastest, and a step is more than nothing, told to a thousandth"
    )]
    Steps {
        /// The slowest.
        least: Ratio<u32>,
        /// The first.
        from: Ratio<u32>,
        /// The fastest.
        most: Ratio<u32>,
        /// The step.
        by: Ratio<u32>,
    },
    /// Steps so fine over so many rounds that nobody could say how long the drill lasts.
    #[error(
        "steps of {by} beats a minute over {rounds} rounds may come to too many tempos: take larger steps, or fewer times through"
    )]
    TooManySteps {
        /// The most rounds there may be.
        rounds: u32,
        /// The step.
        by: Ratio<u32>,
    },
    /// A rhythm that the drill does not have.
    #[error("there is no rhythm {given} in the drill: it has {held}")]
    NoRhythm {
        /// Its number, from 1.
        given: usize,
        /// How many there are.
        held: usize,
    },
    /// A bar that a rhythm does not have.
    #[error("rhythm {rhythm} of the drill has no bar {bar}: it has {held}")]
    NoBar {
        /// The number of the rhythm, from 1.
        rhythm: usize,
        /// The number of the bar.
        bar: u32,
        /// Which there are: "bars 1 to 8".
        held: String,
    },
    /// A bar without the click that no rhythm has.
    #[error(
        "no rhythm of the drill has a bar {bar}, in which the click is to fall silent: the longest has {held}"
    )]
    NoSilentBar {
        /// The number of the bar.
        bar: u32,
        /// Which the longest rhythm has: "bars 1 to 8".
        held: String,
    },
    /// A voice that cannot say a word of the counting.
    #[error(transparent)]
    Voice(#[from] voice::Error),
    /// More sound than a programme holds.
    #[error(transparent)]
    Mixer(#[from] mixer::Error),
}
