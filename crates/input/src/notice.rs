use crate::Port;

/// Something happened to a device that is, or was, listened to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Notice {
    /// It was unplugged, or its system has died. Its player stays.
    Gone(Port),
    /// It is back and listened to again, for the same player.
    Back(Port),
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
    /// It sends more than hands can strike ([`MESSAGES_A_SECOND`](crate::limits::MESSAGES_A_SECOND)). What is too much
    /// is held back and counted; told once until it calms down.
    Flood {
        /// Its name.
        name: String,
    },
}
