//! Every limit of this crate, once, with the word that names it in a message.

use timebase::limits::Limit;

/// Seconds of a recording that is searched at once: an hour is more than a lesson. It needs some 100 MB
/// beside the recording, and as much as two recordings more beside a loudspeaker's part.
pub const RECORDING_SECONDS: Limit =
    Limit { what: "length of a recording in seconds", least: 0, most: 3_600 };

/// Milliseconds in which a stroke cannot be followed by another. A stick bounces and a clap's hands meet more than
/// once within 5 to 25 ms; flams are wider apart (own choice).
pub const RETRIGGER_MS: Limit =
    Limit { what: "time in ms in which no second stroke is taken", least: 5, most: 200 };

/// Decibels by which a stroke rises out of what sounded before, on average over the bands of pitch.
pub const RISE_DB: Limit = Limit { what: "rise of a stroke in dB", least: 1, most: 40 };

/// Decibels by which the softest stroke may lie below the loud ones.
pub const RANGE_DB: Limit =
    Limit { what: "distance in dB from loud strokes to the softest", least: 3, most: 80 };
