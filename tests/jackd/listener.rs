use std::fmt;

use jack::{AsyncClient, Client, ClientOptions, Control, MidiIn, ProcessHandler, ProcessScope};
use rtrb::{Consumer, Producer, RingBuffer};

/// A message that came in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Received {
    /// The server's frame at which it came in.
    pub frame: u64,
    /// Its bytes.
    pub message: [u8; 3],
}

/// A device made of a JACK client: one MIDI input `in`, which writes down what comes and when. What is no message of
/// three bytes is written down as zeros.
pub struct Listener {
    client: AsyncClient<(), Ear>,
    received: Consumer<Received>,
}

impl Listener {
    /// Joins the server that JACK_DEFAULT_SERVER names, under this name.
    ///
    /// # Panics
    /// If there is no server.
    #[must_use]
    pub fn start(name: &str) -> Self {
        let (client, _) = Client::new(name, ClientOptions::NO_START_SERVER).expect("a JACK server answers");
        let port = client.register_port("in", MidiIn::default()).expect("a port");
        let (queue, received) = RingBuffer::new(65_536);
        let client = client.activate_async((), Ear { port, queue }).expect("the server takes it in");
        Self { client, received }
    }

    /// Its client.
    #[must_use]
    pub fn client(&self) -> &Client {
        self.client.as_client()
    }

    /// The next message that came.
    pub fn next_received(&mut self) -> Option<Received> {
        self.received.pop().ok()
    }
}

impl fmt::Debug for Listener {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Listener").finish_non_exhaustive()
    }
}

/// What JACK calls once a cycle.
struct Ear {
    port: jack::Port<MidiIn>,
    queue: Producer<Received>,
}

impl ProcessHandler for Ear {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let begins = u64::from(scope.last_frame_time());
        for event in self.port.iter(scope) {
            let message = event.bytes.try_into().unwrap_or_default();
            self.queue.push(Received { frame: begins + u64::from(event.time), message }).ok();
        }
        Control::Continue
    }
}
