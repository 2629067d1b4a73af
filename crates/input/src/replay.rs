use timebase::{HostTime, Seconds};

use crate::Tap;

/// Plays recorded MIDI bytes into the program as if a pad had sent them: the same parser, the same
/// players, the same queue.
///
/// It does not wait: whoever replays a take in its own time sends each message when its time has come;
/// a test sends them all at once.
#[derive(Debug)]
pub struct Replay {
    tap: Tap,
}

impl Replay {
    pub(crate) const fn new(tap: Tap) -> Self {
        Self { tap }
    }

    /// Sends MIDI bytes that were struck at `stamp`; `resolution` is what the stamp is worth.
    pub fn send(&mut self, bytes: &[u8], stamp: HostTime, resolution: Seconds) {
        self.tap.feed(bytes, stamp, resolution);
    }
}
