use crate::Port;

/// Something happened to a device that is, or was, listened to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Notice {
    /// It was unplugged, or its system has died. Its player stays.
    Gone {
        /// Which.
        port: Port,
        /// Its number, by which [`Players::on`](crate::Players::on) knows who plays on it.
        source: u16,
    },
    /// It is back and listened to again, for the same player.
    Back {
        /// Which, perhaps under another address.
        port: Port,
        /// Its number, the one it had.
        source: u16,
    },
    /// It was plugged in while all devices are listened to, and is listened to now.
    New(Port),
    /// It cannot be opened; it is tried again every second, and [`Notice::Back`] tells when it could.
    CannotOpen {
        /// Which.
        port: Port,
        /// What the driver said.
        why: String,
    },
    /// There is another of this name already. Told apart by a number, in the order in which they were found; once both
    /// were unplugged nobody can say which is which.
    Twice {
        /// What this one is called here: `Pad #2`.
        name: String,
    },
    /// A name in the list of players or of orders is a part of two devices' names. The first that was found is meant.
    Ambiguous {
        /// The part.
        part: String,
        /// The device that is meant.
        meant: String,
        /// The other one.
        other: String,
    },
    /// It sends more than hands can strike: one pad more than [`STROKES_OF_A_PAD`](crate::limits::STROKES_OF_A_PAD), or all together
    /// more than [`MESSAGES_A_SECOND`](crate::limits::MESSAGES_A_SECOND). That pad, or the device, is held back until it calms down;
    /// the others are heard. Told once of a device; [`View::held_back`](crate::View::held_back) tells how much it was.
    Flood {
        /// Its name, the channel and the note or pedal that it was first: `Module, channel 10, note 38`.
        name: String,
    },
}
