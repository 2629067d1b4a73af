use std::fmt::Debug;

use timebase::HostOrigin;

use crate::{Error, Port, Tap};

/// Something that knows MIDI ports and can listen to them. Chosen at run time with [`midi_system`].
pub trait MidiSystem: Debug + Send {
    /// What it is called in a message: "ALSA", "JACK".
    fn name(&self) -> &'static str;

    /// The ports that are there now.
    ///
    /// # Errors
    /// If the system itself has gone.
    fn ports(&mut self) -> Result<Vec<Port>, Error>;

    /// Listens to `port` until the connection is dropped.
    ///
    /// # Errors
    /// If the port is gone or cannot be opened.
    fn connect(&mut self, port: &Port, tap: Tap) -> Result<Box<dyn Connection>, Error>;

    /// Told when a connection has died, so that the next call asks the system anew.
    fn renew(&mut self) {}
}

/// A port that is listened to.
pub trait Connection: Debug + Send {
    /// Whether anything can still come; asked once a second. Where the system cannot tell, it says yes.
    fn is_alive(&mut self) -> bool {
        true
    }
}

/// Which MIDI system to use.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SystemChoice {
    /// The machine's own: ALSA on Linux, CoreMIDI on macOS, WinMM on Windows.
    #[default]
    Native,
    /// A running JACK server, whose stamps are exact to the frame. Linux only.
    Jack,
}

/// Opens a MIDI system. Its stamps count from `origin`.
///
/// # Errors
/// [`Error::NoMidiSystem`] where the machine has none: no fault of the program, which goes on with the
/// space bar. For JACK, that its library, its server or its place in this program is missing.
pub fn midi_system(choice: SystemChoice, origin: HostOrigin) -> Result<Box<dyn MidiSystem>, Error> {
    match choice {
        SystemChoice::Native => Ok(Box::new(crate::native::Native::new(origin)?)),
        #[cfg(all(target_os = "linux", feature = "jack"))]
        SystemChoice::Jack => Ok(Box::new(crate::jack::Jack::new(origin)?)),
        #[cfg(not(all(target_os = "linux", feature = "jack")))]
        SystemChoice::Jack => Err(Error::NoJackBuilt),
    }
}
