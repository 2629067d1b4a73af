//! MIDI through a JACK server: every event carries the frame of the server's own clock, so a stamp is exact to the
//! frame, however late the program gets round to reading it. Linux only; libjack is looked for at run time.

use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

use jack::{
    AsyncClient, Client, ClientOptions, Control, LatencyType, MidiIn, PortFlags, ProcessHandler, ProcessScope,
};
use rtrb::{Consumer, Producer, RingBuffer};
use timebase::{ClockOffset, HostOrigin, HostTime, Seconds};

use crate::desk::Hit;
use crate::port::CLIENT;
use crate::{Connection, DriverStamp, Error, MidiSystem, Parser, Port, Tap};

/// Notes that may wait for the carrying thread, which is woken for each block that brings some.
const QUEUE: usize = 1024;

/// The carrying thread looks by itself this often, should a wake-up be missed.
const LOOK_ANYWAY: Duration = Duration::from_millis(100);

/// A JACK server that answers.
pub(crate) struct Jack {
    /// Kept for listing, never activated. `None` while the server is gone.
    lister: Option<Client>,
    origin: HostOrigin,
}

impl Jack {
    pub(crate) fn new(origin: HostOrigin) -> Result<Self, Error> {
        Ok(Self { lister: Some(client()?), origin })
    }

    fn lister(&mut self) -> Result<&Client, Error> {
        if self.lister.is_none() {
            self.lister = Some(client()?);
        }
        self.lister.as_ref().ok_or_else(no_server)
    }
}

impl MidiSystem for Jack {
    fn name(&self) -> &'static str {
        "JACK"
    }

    fn ports(&mut self) -> Result<Vec<Port>, Error> {
        let names = self.lister()?.ports(None, Some("midi"), PortFlags::IS_OUTPUT);
        Ok(names
            .into_iter()
            .map(|name| Port::new(name.clone(), name))
            .filter(|port| !port.is_own())
            .collect())
    }

    fn connect(&mut self, port: &Port, tap: Tap) -> Result<Box<dyn Connection>, Error> {
        Ok(Box::new(Listening::new(port, tap, self.origin)?))
    }

    /// A client whose server has died still lists the ports there were.
    fn renew(&mut self) {
        self.lister = None;
    }
}

pub(crate) fn client() -> Result<Client, Error> {
    match Client::new(CLIENT, ClientOptions::NO_START_SERVER) {
        Ok((client, _)) => Ok(client),
        Err(jack::Error::LibraryError(_)) => Err(Error::NoJackLibrary),
        Err(_) => Err(no_server()),
    }
}

fn no_server() -> Error {
    let server = std::env::var("JACK_DEFAULT_SERVER").unwrap_or_else(|_| "default".to_owned());
    Error::NoJackServer { server }
}

/// One port listened to: a client of its own, and a thread that carries its notes from the real-time callback
/// to the desk.
struct Listening {
    client: Option<AsyncClient<(), Ear>>,
    carrier: Option<JoinHandle<()>>,
    shared: Arc<Shared>,
    cycles_seen: u64,
}

#[derive(Debug, Default)]
struct Shared {
    closed: AtomicBool,
    /// Grows while the server runs.
    cycles: AtomicU64,
    lost: AtomicU64,
}

impl Listening {
    fn new(port: &Port, tap: Tap, origin: HostOrigin) -> Result<Self, Error> {
        let failed =
            |error: jack::Error| Error::Open { port: port.name().to_owned(), why: error.to_string() };
        let client = client()?;
        let own = client.register_port("in", MidiIn::default()).map_err(failed)?;
        let own_name = own.name().map_err(failed)?;
        let frame_us = 1e6 / f64::from(client.sample_rate());
        let resolution = Seconds::from_secs_f64(frame_us / 1e6);
        let (queue, hits) = RingBuffer::new(QUEUE);
        let shared = Arc::new(Shared::default());
        let carried = Arc::clone(&shared);
        let carrier = thread::Builder::new()
            .name("midi from jack".to_owned())
            .spawn(move || carry(&carried, hits, &tap, resolution))
            .map_err(|error| Error::Open { port: port.name().to_owned(), why: error.to_string() })?;
        let ear = Ear {
            port: own,
            parser: Parser::new(),
            queue,
            offset: ClockOffset::new(),
            origin,
            frame_us,
            carrier: carrier.thread().clone(),
            shared: Arc::clone(&shared),
        };
        let mut listening = Self { client: None, carrier: Some(carrier), shared, cycles_seen: 0 };
        let client = listening.client.insert(client.activate_async((), ear).map_err(failed)?);
        client.as_client().connect_ports_by_name(port.id(), &own_name).map_err(failed)?;
        Ok(listening)
    }
}

impl Connection for Listening {
    /// A server that has died calls nobody any more.
    fn is_alive(&mut self) -> bool {
        let cycles = self.shared.cycles.load(Ordering::Relaxed);
        std::mem::replace(&mut self.cycles_seen, cycles) != cycles
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        // First the callback ends, then the thread it feeds.
        if let Some(client) = self.client.take() {
            drop(client.deactivate());
        }
        self.shared.closed.store(true, Ordering::Release);
        if let Some(carrier) = self.carrier.take() {
            carrier.thread().unpark();
            drop(carrier.join());
        }
    }
}

/// Carries notes to the desk until the connection is closed.
fn carry(shared: &Shared, mut hits: Consumer<Hit>, tap: &Tap, resolution: Seconds) {
    loop {
        let closed = shared.closed.load(Ordering::Acquire);
        while let Ok(hit) = hits.pop() {
            tap.receive(hit, resolution);
        }
        tap.count_lost(shared.lost.swap(0, Ordering::Relaxed));
        if closed {
            return;
        }
        thread::park_timeout(LOOK_ANYWAY);
    }
}

/// What JACK calls once a cycle. Real-time: no allocation, lock, I/O or panic.
struct Ear {
    port: jack::Port<MidiIn>,
    parser: Parser,
    queue: Producer<Hit>,
    offset: ClockOffset,
    origin: HostOrigin,
    frame_us: f64,
    carrier: Thread,
    shared: Arc<Shared>,
}

impl ProcessHandler for Ear {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        self.shared.cycles.fetch_add(1, Ordering::Relaxed);
        // JACK's clock may be another than Rust's (CLOCK_MONOTONIC_RAW against CLOCK_MONOTONIC), with another origin and
        // another rate; every cycle reads both.
        let jack_us = client.time();
        let now = self.origin.time(Instant::now());
        let offset = self.offset.add(now, nanos(jack_us));
        let Ok(cycle) = scope.cycle_times() else {
            return Control::Continue;
        };
        // What a device played one period ago arrives in this one; JACK keeps the difference as the port's capture latency.
        let latency = f64::from(self.port.get_latency_range(LatencyType::Capture).1) * self.frame_us;
        let frame_us =
            cycle.next_usecs.saturating_sub(cycle.current_usecs) as f64 / f64::from(scope.n_frames().max(1));
        let mut heard = false;
        for event in self.port.iter(scope) {
            let into_us = f64::from(event.time) * frame_us - latency;
            let stamp = HostTime::from_nanos(nanos(cycle.current_usecs))
                + offset
                + Seconds::from_secs_f64(into_us / 1e6);
            let driver =
                Some(DriverStamp::from_micros(cycle.current_usecs.saturating_add_signed(whole_us(into_us))));
            let (queue, lost) = (&mut self.queue, &self.shared.lost);
            self.parser.feed(event.bytes, |message| {
                heard = true;
                if queue.push(Hit { message, stamp, driver }).is_err() {
                    lost.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        if heard {
            // Sets a flag and wakes the thread if it sleeps; never waits.
            self.carrier.unpark();
        }
        Control::Continue
    }
}

pub(crate) fn nanos(micros: u64) -> i64 {
    i64::try_from(micros).unwrap_or(i64::MAX).saturating_mul(1_000)
}

fn whole_us(micros: f64) -> i64 {
    Seconds::from_secs_f64(micros / 1e6).as_micros()
}

impl fmt::Debug for Jack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Jack").field("answers", &self.lister.is_some()).finish_non_exhaustive()
    }
}

impl fmt::Debug for Listening {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Listening").field("shared", &self.shared).finish_non_exhaustive()
    }
}
