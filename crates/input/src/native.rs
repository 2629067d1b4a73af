//! The machine's own MIDI, through midir: ALSA's sequencer, CoreMIDI or WinMM.
//!
//! Run by a test on a JACK server only, with midir built for it; on ALSA, CoreMIDI and WinMM this adapter has never
//! been run.

use std::fmt;
use std::time::Instant;

use midir::{Ignore, MidiInput, MidiInputConnection};
use timebase::{HostOrigin, Seconds};

use crate::port::CLIENT;
use crate::{Connection, Error, MidiSystem, Port, Tap};

/// USB hands MIDI over once a millisecond, and a message takes one on the old cable (960 µs at 31,250 baud).
/// The time the callback's thread needs to wake up comes on top and is not known.
const RESOLUTION: Seconds = Seconds::from_millis(1);

const NAME: &str = if cfg!(feature = "midir-jack") {
    "JACK through midir"
} else if cfg!(target_os = "macos") {
    "CoreMIDI"
} else if cfg!(target_os = "windows") {
    "WinMM"
} else {
    "ALSA"
};

/// The machine's own MIDI system.
pub(crate) struct Native {
    /// Kept for listing; every connection needs one of its own.
    lister: MidiInput,
    origin: HostOrigin,
}

struct Listening {
    _connection: MidiInputConnection<Tap>,
}

impl Native {
    pub(crate) fn new(origin: HostOrigin) -> Result<Self, Error> {
        #[cfg(target_os = "linux")]
        crate::alsa::hush();
        let lister = MidiInput::new(CLIENT).map_err(|_| Error::NoMidiSystem)?;
        Ok(Self { lister, origin })
    }
}

impl MidiSystem for Native {
    fn name(&self) -> &'static str {
        NAME
    }

    fn ports(&mut self) -> Result<Vec<Port>, Error> {
        let listed = self.lister.ports();
        // A port may go between being listed and being asked for its name.
        let named =
            listed.iter().filter_map(|port| Some(Port::new(port.id(), self.lister.port_name(port).ok()?)));
        Ok(named.filter(|port| !port.is_own()).collect())
    }

    fn connect(&mut self, port: &Port, tap: Tap) -> Result<Box<dyn Connection>, Error> {
        let failed = |why: String| Error::Open { port: port.name().to_owned(), why };
        let mut input = MidiInput::new(CLIENT).map_err(|_| Error::NoMidiSystem)?;
        input.ignore(Ignore::All);
        let found = input.find_port_by_id(port.id()).ok_or_else(|| failed("it is gone".to_owned()))?;
        let origin = self.origin;
        let listen = move |_: u64, bytes: &[u8], tap: &mut Tap| {
            let stamp = origin.time(Instant::now());
            tap.feed(bytes, stamp, RESOLUTION);
        };
        let connection =
            input.connect(&found, "in", listen, tap).map_err(|error| failed(error.to_string()))?;
        Ok(Box::new(Listening { _connection: connection }))
    }
}

// midir gives no event when a device goes; the list of ports tells.
impl Connection for Listening {}

impl fmt::Debug for Native {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Native").field("origin", &self.origin).finish_non_exhaustive()
    }
}

impl fmt::Debug for Listening {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Listening").finish_non_exhaustive()
    }
}
