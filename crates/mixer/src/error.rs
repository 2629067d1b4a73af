use crate::limits::{FRAME_MOST, QUEUE};

/// What can be wrong with a sample, an event, a level, or with talking to the audio thread.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A sample holds infinity or not-a-number.
    #[error(
        "frame {frame} of the sample is {value}; every frame is a finite number: repair or leave out the sound"
    )]
    NotFinite {
        /// The first such frame.
        frame: usize,
        /// What stands there.
        value: f32,
    },
    /// An event plays a sample that its bank does not hold.
    #[error("event {event} plays sample {given}, but the bank holds {held}: add it to the bank first")]
    UnknownSample {
        /// The event's place in the list given, from 0.
        event: usize,
        /// The number of the sample asked for.
        given: usize,
        /// How many samples there are.
        held: usize,
    },
    /// An event lies before the programme or too far behind its beginning.
    #[error(
        "event {event} sounds at frame {given}; a programme goes from frame 0 to {}: move the beginning",
        FRAME_MOST
    )]
    EventFrame {
        /// The event's place in the list given, from 0.
        event: usize,
        /// The frame asked for.
        given: i64,
    },
    /// An event begins before or behind its sample, or its lengths are negative.
    #[error(
        "event {event} has {what} {given}; allowed is 0 to {most} frames: keep inside the sample and its length"
    )]
    EventLength {
        /// The event's place in the list given, from 0.
        event: usize,
        /// Which of its lengths.
        what: &'static str,
        /// What was asked for, in frames.
        given: i64,
        /// The most that is allowed, in frames.
        most: i64,
    },
    /// A gain or level that is no number, negative or too great.
    #[error("{given} is not a gain: it goes from 0 to {most} (1 leaves a sound as it is)")]
    Gain {
        /// What was given.
        given: f32,
        /// The most that is allowed.
        most: f32,
    },
    /// A pan that is no number or beyond the sides.
    #[error(
        "{given} is not a place between left and right: it goes from -1 (left) to 1 (right), 0 is the middle"
    )]
    Pan {
        /// What was given.
        given: f32,
    },
    /// A sound that plays on by itself and has no end.
    #[error("event {event} plays a sound that goes on for ever: give it a length")]
    Endless {
        /// The event's place in the list given, from 0.
        event: usize,
    },
    /// A sound whose part that is played over and over has no frame.
    #[error("the sound goes on from frame {from}, but has {frames}: let it go on from an earlier one")]
    Loop {
        /// The first frame that is played again.
        from: usize,
        /// How many frames it has.
        frames: usize,
    },
    /// A programme longer than any sound may last, or of negative length.
    #[error("{given} is not a length of a programme in frames: it goes from 0 to {}", FRAME_MOST)]
    ProgrammeLength {
        /// What was given, in frames.
        given: i64,
    },
    /// A programme at another rate than the one that is playing.
    #[error("the programme is at {given} Hz and the mixer runs at {runs} Hz: resample the bank to {runs} Hz")]
    Rate {
        /// The rate of the programme offered, in Hz.
        given: u32,
        /// The rate of the mixer, in Hz.
        runs: u32,
    },
    /// A programme is to follow another after its end.
    #[error(
        "the programme lasts {length} frames, and another is to follow at frame {given}: make the first one longer"
    )]
    FollowFrame {
        /// The frame asked for.
        given: i64,
        /// How long the first programme is, in frames.
        length: i64,
    },
    /// A programme already waits to follow the present one.
    #[error("a programme already waits to follow the one that plays: send this one when that has begun")]
    NextWaits,
    /// The sample to be played at once is not in the bank that is playing.
    #[error(
        "sample {given} is not in the bank that plays, which holds {held}: send the programme that has it first"
    )]
    UnknownThrough {
        /// The number of the sample asked for.
        given: usize,
        /// How many samples there are.
        held: usize,
    },
    /// The audio thread has not yet taken the commands sent before.
    #[error("{} commands already wait for the audio thread: send this one again after its next block", QUEUE)]
    QueueFull,
    /// The mixer no longer exists.
    #[error("the mixer is gone, and nothing plays what is sent to it: make a new pair")]
    MixerGone,
}
