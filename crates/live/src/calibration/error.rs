/// Why a latency could not be measured.
#[derive(Debug, thiserror::Error)]
pub enum CalibrationError {
    /// Nothing of what was played came back.
    #[error(
        "nothing of what was played came back: put the cable from the output to the input, or the microphone before the \
         loudspeaker, check that the right input is named, and raise the level by hand"
    )]
    NotHeard,
    /// It came back, and did not when the devices were opened anew.
    #[error(
        "what was played came back at first and no more when the devices were opened again: connections that were made by hand \
         in a sound server are gone then; have the server make them, or make them again while it measures"
    )]
    NotHeardAgain,
    /// It came back, but not clearly enough.
    #[error(
        "what came back is too weak beside the noise ({clarity:.1} times, at least {least:.0} are needed): bring the microphone \
         nearer to the loudspeaker, or wait until the room is quiet"
    )]
    Unclear {
        /// How much the find stands out of everything else.
        clarity: f64,
        /// How much it must.
        least: f64,
    },
    /// The delay moved while it was measured.
    #[error(
        "the delay moved by {moved_ms:.1} ms while it was measured: a radio link or a busy machine does that; use a cable, \
         close other programs, and measure again"
    )]
    Unsteady {
        /// By how much.
        moved_ms: f64,
    },
    /// It was another one each time the devices were opened.
    #[error(
        "the delay was measured {times} times and was another one each time, up to {apart_ms:.1} ms apart: a radio link or a \
         busy machine does that; use a cable, close other programs, and measure again"
    )]
    Differs {
        /// How often it was measured.
        times: usize,
        /// How far the delays lie apart.
        apart_ms: f64,
    },
    /// Output and input run at different rates.
    #[error(
        "the output runs at {out_hz} Hz and the input at {in_hz} Hz: set both to one rate in the system's sound settings"
    )]
    Rates {
        /// The output's rate.
        out_hz: u32,
        /// The input's rate.
        in_hz: u32,
    },
    /// Too few strokes.
    #[error("{found} strokes could be used and {least} are needed: {advice}")]
    TooFew {
        /// How many could be used.
        found: usize,
        /// How many are needed.
        least: usize,
        /// What to do.
        advice: &'static str,
    },
    /// Sound was lost, or a device went, while it was measured.
    #[error("sound was lost while it was measured ({why}): close other programs and measure again")]
    Lost {
        /// What happened.
        why: String,
    },
    /// A device.
    #[error(transparent)]
    Device(#[from] crate::Error),
}

impl From<audio::Error> for CalibrationError {
    fn from(error: audio::Error) -> Self {
        Self::Device(error.into())
    }
}

impl From<input::Error> for CalibrationError {
    fn from(error: input::Error) -> Self {
        Self::Device(error.into())
    }
}
