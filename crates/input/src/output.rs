//! MIDI out: messages handed to a device, each with the time at which it is to go out.

use std::fmt;

use midir::{MidiOutput, MidiOutputConnection};
use timebase::{HostOrigin, HostTime, Seconds};

use crate::port::CLIENT;
use crate::{Error, Port, SystemChoice};

/// The longest message that is sent: a note, or a control change.
pub type OutMessage = [u8; 3];

/// A MIDI port that takes messages. Chosen and opened with [`open_output`].
pub trait Outlet: fmt::Debug + Send {
    /// How long before its time a message is to be handed over. Zero where it goes out as soon as it is: the caller then
    /// waits for the time itself.
    fn ahead(&self) -> Seconds;

    /// Hands over a message that is to go out at `at`; times never fall. From a real-time thread: no allocation of ours, no waiting.
    ///
    /// # Errors
    /// If the device has gone, or takes no more.
    fn send(&mut self, message: OutMessage, at: HostTime) -> Result<(), Error>;

    /// Waits until what was handed over has gone out; not for a real-time thread. Returns how many messages were handed over
    /// too late for their time.
    fn drain(&mut self) -> u64 {
        0
    }
}

/// The ports that notes can be sent to; not those by which this program listens, for it would hear itself.
///
/// # Errors
/// [`Error::NoMidiOut`] where the machine has no MIDI. For JACK, that its library, its server or its place in this program
/// is missing.
pub fn output_ports(choice: SystemChoice) -> Result<Vec<Port>, Error> {
    let listed = match choice {
        SystemChoice::Native => {
            let lister = native()?;
            let listed = lister.ports();
            // A port may go between being listed and being asked for its name.
            Ok(listed
                .iter()
                .filter_map(|port| Some(Port::new(port.id(), lister.port_name(port).ok()?)))
                .collect())
        }
        #[cfg(all(target_os = "linux", feature = "jack"))]
        SystemChoice::Jack => jack_out::ports(),
        #[cfg(not(all(target_os = "linux", feature = "jack")))]
        SystemChoice::Jack => Err(Error::NoJackBuilt),
    };
    listed.map(others)
}

fn others(listed: Vec<Port>) -> Vec<Port> {
    listed.into_iter().filter(|port| !port.is_own()).collect()
}

/// Opens a port to send to. The times of messages count from `origin`.
///
/// # Errors
/// As [`output_ports`], and if the port is gone or cannot be opened.
pub fn open_output(choice: SystemChoice, port: &Port, origin: HostOrigin) -> Result<Box<dyn Outlet>, Error> {
    match choice {
        SystemChoice::Native => {
            let failed = |why: String| Error::Open { port: port.name().to_owned(), why };
            let output = native()?;
            let found = output.find_port_by_id(port.id()).ok_or_else(|| failed("it is gone".to_owned()))?;
            let connection = output.connect(&found, "click").map_err(|error| failed(error.to_string()))?;
            Ok(Box::new(Native { connection, name: port.name().to_owned() }))
        }
        #[cfg(all(target_os = "linux", feature = "jack"))]
        SystemChoice::Jack => Ok(Box::new(jack_out::Speaking::new(port, origin)?)),
        #[cfg(not(all(target_os = "linux", feature = "jack")))]
        SystemChoice::Jack => {
            let _ = origin;
            Err(Error::NoJackBuilt)
        }
    }
}

fn native() -> Result<MidiOutput, Error> {
    #[cfg(target_os = "linux")]
    crate::alsa::hush();
    MidiOutput::new(CLIENT).map_err(|_| Error::NoMidiOut)
}

/// The machine's own MIDI, through midir, which sends at once. Run by a test on a JACK server only, with midir built for it.
struct Native {
    connection: MidiOutputConnection,
    name: String,
}

impl Outlet for Native {
    fn ahead(&self) -> Seconds {
        Seconds::ZERO
    }

    fn send(&mut self, message: OutMessage, _: HostTime) -> Result<(), Error> {
        let gone = |error: midir::SendError| Error::Send { port: self.name.clone(), why: error.to_string() };
        self.connection.send(&message).map_err(gone)
    }
}

impl fmt::Debug for Native {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Native").field("name", &self.name).finish_non_exhaustive()
    }
}

/// MIDI to a JACK server: the server's cycle writes each message at the frame of its time, however late the thread that handed it
/// over was woken. Linux only; libjack is looked for at run time.
#[cfg(all(target_os = "linux", feature = "jack"))]
mod jack_out {
    use std::fmt;
    use std::sync::Arc;
    use std::sync::atomic::{AtomicU64, Ordering};
    use std::thread::sleep;
    use std::time::{Duration, Instant};

    use jack::{
        AsyncClient, Client, Control, LatencyType, MidiOut, PortFlags, ProcessHandler, ProcessScope, RawMidi,
    };
    use rtrb::{Consumer, Producer, RingBuffer};
    use timebase::{ClockOffset, HostOrigin, HostTime, Seconds};

    use super::{OutMessage, Outlet};
    use crate::jack::{client, nanos};
    use crate::{Error, Port};

    /// Messages that may wait for their cycle: a click of 40 notes a second fills a tenth of it.
    const QUEUE: usize = 1024;

    /// Handed over so long before: some cycles of the longest usual block, 1024 frames.
    const AHEAD: Seconds = Seconds::from_millis(100);

    /// A message waits for its time so long at most when the port is closed.
    const PATIENCE: Duration = Duration::from_millis(500);

    pub(super) fn ports() -> Result<Vec<Port>, Error> {
        let names = client()?.ports(None, Some("midi"), PortFlags::IS_INPUT);
        Ok(names.into_iter().map(|name| Port::new(name.clone(), name)).collect())
    }

    /// A client of its own, connected to one port.
    pub(super) struct Speaking {
        client: Option<AsyncClient<(), Mouth>>,
        queue: Producer<(OutMessage, HostTime)>,
        shared: Arc<Shared>,
        name: String,
    }

    #[derive(Debug, Default)]
    struct Shared {
        /// Grows while the server runs.
        cycles: AtomicU64,
        late: AtomicU64,
    }

    impl Speaking {
        pub(super) fn new(port: &Port, origin: HostOrigin) -> Result<Self, Error> {
            let failed =
                |error: jack::Error| Error::Open { port: port.name().to_owned(), why: error.to_string() };
            let client = client()?;
            let own = client.register_port("out", MidiOut::default()).map_err(failed)?;
            let own_name = own.name().map_err(failed)?;
            let (queue, messages) = RingBuffer::new(QUEUE);
            let shared = Arc::new(Shared::default());
            let frame_us = 1e6 / f64::from(client.sample_rate());
            let mouth = Mouth {
                port: own,
                messages,
                offset: ClockOffset::new(),
                origin,
                frame_us,
                shared: Arc::clone(&shared),
            };
            let name = port.name().to_owned();
            let client = client.activate_async((), mouth).map_err(failed)?;
            client.as_client().connect_ports_by_name(&own_name, port.id()).map_err(failed)?;
            Ok(Self { client: Some(client), queue, shared, name })
        }

        fn is_empty(&self) -> bool {
            self.queue.slots() == QUEUE
        }
    }

    impl Outlet for Speaking {
        fn ahead(&self) -> Seconds {
            AHEAD
        }

        fn send(&mut self, message: OutMessage, at: HostTime) -> Result<(), Error> {
            self.queue.push((message, at)).map_err(|_| Error::Send {
                port: self.name.clone(),
                why: "the server takes nothing any more".to_owned(),
            })
        }

        fn drain(&mut self) -> u64 {
            let begun = Instant::now();
            while !self.is_empty() && begun.elapsed() < PATIENCE {
                sleep(Duration::from_millis(1));
            }
            // What was written in a cycle is with the listener when the next one begins.
            let cycle = self.shared.cycles.load(Ordering::Relaxed);
            while self.shared.cycles.load(Ordering::Relaxed) < cycle + 2 && begun.elapsed() < PATIENCE {
                sleep(Duration::from_millis(1));
            }
            self.shared.late.load(Ordering::Relaxed)
        }
    }

    impl Drop for Speaking {
        fn drop(&mut self) {
            if let Some(client) = self.client.take() {
                drop(client.deactivate());
            }
        }
    }

    /// What JACK calls once a cycle. Real-time: no allocation, lock, I/O or panic.
    struct Mouth {
        port: jack::Port<MidiOut>,
        messages: Consumer<(OutMessage, HostTime)>,
        offset: ClockOffset,
        origin: HostOrigin,
        frame_us: f64,
        shared: Arc<Shared>,
    }

    impl ProcessHandler for Mouth {
        fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
            self.shared.cycles.fetch_add(1, Ordering::Relaxed);
            // JACK's clock may be another than Rust's, with another origin and another rate; every cycle reads both.
            let jack_us = client.time();
            let now = self.origin.time(Instant::now());
            let offset = self.offset.add(now, nanos(jack_us));
            // What is written now is at the device one latency later.
            let latency = f64::from(self.port.get_latency_range(LatencyType::Playback).1) * self.frame_us;
            let frames = scope.n_frames();
            let mut writer = self.port.writer(scope);
            let Ok(cycle) = scope.cycle_times() else { return Control::Continue };
            let begins = HostTime::from_nanos(nanos(cycle.current_usecs)) + offset;
            let frame_us =
                cycle.next_usecs.saturating_sub(cycle.current_usecs) as f64 / f64::from(frames.max(1));
            let mut reached = 0;
            while let Ok(&(message, at)) = self.messages.peek() {
                let into = ((at - begins).as_nanos() as f64 / 1e3 - latency) / frame_us;
                if into >= f64::from(frames) - 0.5 {
                    break;
                }
                // By more than a frame: two cycles may differ by less in what they make of the clocks.
                if into < -1.5 {
                    self.shared.late.fetch_add(1, Ordering::Relaxed);
                }
                let time = frame(into).max(reached);
                reached = time;
                if writer.write(&RawMidi { time, bytes: &message }).is_err() {
                    // No room in this cycle: it goes out in the next.
                    break;
                }
                self.messages.pop().ok();
            }
            Control::Continue
        }
    }

    /// The nearest frame, the first for what is late.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a float cast saturates, and before it was bounded by the cycle"
    )]
    fn frame(into: f64) -> u32 {
        into.round().max(0.0) as u32
    }

    impl fmt::Debug for Speaking {
        fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.debug_struct("Speaking")
                .field("name", &self.name)
                .field("shared", &self.shared)
                .finish_non_exhaustive()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_programs_own_inputs_are_not_offered() {
        let listed = ["countline-01:in", "Module:in", "countline:in"].map(|name| Port::new(name, name));
        let names: Vec<_> = others(listed.to_vec()).iter().map(|port| port.name().to_owned()).collect();
        assert_eq!(names, ["Module:in"]);
    }
}
