use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use jack::{
    AsyncClient, Client, ClientOptions, Control, MidiIn, NotificationHandler, ProcessHandler, ProcessScope,
};
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
    client: AsyncClient<Late, Ear>,
    received: Consumer<Received>,
    lost: Arc<AtomicU64>,
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
        let lost = Arc::new(AtomicU64::new(0));
        let (late, ear) = (Late(Arc::clone(&lost)), Ear { port, queue });
        let client = client.activate_async(late, ear).expect("the server takes it in");
        Self { client, received, lost }
    }

    /// Its client.
    #[must_use]
    pub fn client(&self) -> &Client {
        self.client.as_client()
    }

    /// How often the server was late with a cycle: from then on its frames stand otherwise to the time of day.
    #[must_use]
    pub fn lost(&self) -> u64 {
        self.lost.load(Ordering::Relaxed)
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

/// What JACK calls when it was late.
struct Late(Arc<AtomicU64>);

impl NotificationHandler for Late {
    fn xrun(&mut self, _: &Client) -> Control {
        self.0.fetch_add(1, Ordering::Relaxed);
        Control::Continue
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
