//! MIDI through a JACK server: every event carries its frame in one of the server's blocks, in which the sound is counted too,
//! so what it fell together with is exact to the frame, however late the server was woken or the program reads it. Linux only;
//! libjack is looked for at run time.

use std::fmt;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

use jack::{
    AsyncClient, Client, ClientOptions, Control, LatencyType, MidiIn, PortFlags, ProcessHandler, ProcessScope,
};
use rtrb::{Consumer, Producer, RingBuffer};
use timebase::{BlockPlace, ClockOffset, Frames, HostOrigin, HostTime, Seconds};

use crate::desk::Hit;
use crate::port::CLIENT;
use crate::{Connection, Error, MidiSystem, Parser, Port, Tap};

/// Notes that may wait for the carrying thread, which is woken for each block that brings some.
const QUEUE: usize = 1024;

/// Ports that may be listened to at once.
const PORTS_MOST: usize = 64;

/// The carrying thread looks by itself this often, should a wake-up be missed.
const LOOK_ANYWAY: Duration = Duration::from_millis(100);

/// A server is called dead that calls nobody for so long: its longest cycles are a tenth of a second.
const CYCLE_WITHIN: Duration = Duration::from_millis(400);

/// So long the callback is given to let go of a port; it is called many times in that.
const LET_GO_WITHIN: Duration = Duration::from_millis(200);

/// A JACK server that answers: one client lists and hears all ports, so that the server wakes the program once a cycle
/// however many there are.
pub(crate) struct Jack {
    /// `None` while the server is gone.
    hub: Option<Arc<Mutex<Hub>>>,
    origin: HostOrigin,
}

impl Jack {
    pub(crate) fn new(origin: HostOrigin) -> Result<Self, Error> {
        Ok(Self { hub: Some(Hub::open(origin)?), origin })
    }

    /// The client, made anew where its server has died, whoever noticed.
    fn hub(&mut self) -> Result<Arc<Mutex<Hub>>, Error> {
        if let Some(hub) = self.hub.take().filter(|hub| !locked(hub).is_over()) {
            self.hub = Some(Arc::clone(&hub));
            return Ok(hub);
        }
        let hub = Hub::open(self.origin)?;
        self.hub = Some(Arc::clone(&hub));
        Ok(hub)
    }
}

impl MidiSystem for Jack {
    fn name(&self) -> &'static str {
        "JACK"
    }

    fn ports(&mut self) -> Result<Vec<Port>, Error> {
        let hub = self.hub()?;
        let names = locked(&hub).client()?.ports(None, Some("midi"), PortFlags::IS_OUTPUT);
        Ok(names
            .into_iter()
            .map(|name| Port::new(name.clone(), name))
            .filter(|port| !port.is_own())
            .collect())
    }

    fn connect(&mut self, port: &Port, tap: Tap) -> Result<Box<dyn Connection>, Error> {
        Ok(Box::new(Listening::new(self.hub()?, port, tap)?))
    }

    /// A client whose server has died still lists the ports there were.
    fn renew(&mut self) {
        self.hub = None;
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

fn locked(hub: &Mutex<Hub>) -> MutexGuard<'_, Hub> {
    hub.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Whether the server lives.
#[derive(Debug, Default)]
struct Life {
    /// Its end was noticed.
    over: AtomicBool,
    /// Grows while the server runs.
    cycles: AtomicU64,
}

impl Life {
    fn is_over(&self) -> bool {
        self.over.load(Ordering::Acquire)
    }

    /// Waits for the next cycle; a server from which none comes has died.
    fn goes_on(&self) -> bool {
        let (before, until) = (self.cycles.load(Ordering::Relaxed), Instant::now() + CYCLE_WITHIN);
        while self.cycles.load(Ordering::Relaxed) == before {
            if self.is_over() || Instant::now() > until {
                self.over.store(true, Ordering::Release);
                return false;
            }
            thread::sleep(Duration::from_millis(1));
        }
        true
    }
}

/// The client, and the ways to its callback and back.
struct Hub {
    client: Option<AsyncClient<(), Ears>>,
    life: Arc<Life>,
    changes: Producer<Change>,
    let_go: Consumer<Ear>,
    /// How many ports are listened to, and how many were in all.
    open: usize,
    made: u32,
    /// When the cycles were last seen to go on, and how many there were.
    seen: (Instant, u64),
}

/// What the callback is told.
enum Change {
    Listen(Ear),
    LetGo(u32),
}

impl Hub {
    fn open(origin: HostOrigin) -> Result<Arc<Mutex<Self>>, Error> {
        let client = client()?;
        let (changes, changed) = RingBuffer::new(2 * PORTS_MOST);
        let (give, let_go) = RingBuffer::new(PORTS_MOST);
        let life = Arc::new(Life::default());
        let ears = Ears {
            ears: Vec::with_capacity(PORTS_MOST),
            changed,
            give,
            offset: ClockOffset::new(),
            origin,
            life: Arc::clone(&life),
        };
        let client = client.activate_async((), ears).map_err(|_| no_server())?;
        Ok(Arc::new(Mutex::new(Self {
            client: Some(client),
            life,
            changes,
            let_go,
            open: 0,
            made: 0,
            seen: (Instant::now(), 0),
        })))
    }

    /// Whether the server has died: nothing says so but that it calls nobody any more.
    fn is_over(&mut self) -> bool {
        let cycles = self.life.cycles.load(Ordering::Relaxed);
        if cycles != self.seen.1 {
            self.seen = (Instant::now(), cycles);
        } else if self.seen.0.elapsed() > CYCLE_WITHIN && !self.life.goes_on() {
            return true;
        }
        self.life.is_over()
    }

    fn client(&self) -> Result<&Client, Error> {
        self.client.as_ref().map(AsyncClient::as_client).ok_or_else(no_server)
    }

    /// Gives back a port that is no longer listened to. Waits a few cycles for the callback.
    fn let_go(&mut self, number: u32) {
        self.open -= 1;
        if self.life.is_over() || self.changes.push(Change::LetGo(number)).is_err() {
            return;
        }
        let until = Instant::now() + LET_GO_WITHIN;
        while Instant::now() < until && !self.life.is_over() {
            // One that came back too late for its own turn is given back with this one.
            while let Ok(ear) = self.let_go.pop() {
                let is_this = ear.number == number;
                if let Some(client) = &self.client {
                    // Nothing can be done if the server is dying just now.
                    drop(client.as_client().unregister_port(ear.port));
                }
                if is_this {
                    return;
                }
            }
            thread::sleep(Duration::from_millis(1));
        }
    }
}

impl Drop for Hub {
    fn drop(&mut self) {
        let Some(client) = self.client.take() else { return };
        if !self.life.goes_on() {
            // libjack brings the whole program down when a client of a dead server is closed after another server has
            // started. What is kept is some memory for each death of a server.
            std::mem::forget(client);
        } else {
            drop(client.deactivate());
        }
    }
}

/// One port listened to, and a thread that carries its notes from the real-time callback to the desk.
struct Listening {
    hub: Arc<Mutex<Hub>>,
    life: Arc<Life>,
    number: u32,
    carrier: Option<JoinHandle<()>>,
    shared: Arc<Shared>,
    cycles_seen: u64,
}

#[derive(Debug, Default)]
struct Shared {
    closed: AtomicBool,
    lost: AtomicU64,
}

impl Listening {
    fn new(hub: Arc<Mutex<Hub>>, port: &Port, tap: Tap) -> Result<Self, Error> {
        let failed = |why: String| Error::Open { port: port.name().to_owned(), why };
        let mut open = locked(&hub);
        if open.open >= PORTS_MOST {
            return Err(failed(format!("{PORTS_MOST} ports are listened to already")));
        }
        let number = open.made;
        let (listening, ear, own_name) = {
            let client = open.client()?;
            let own = client
                .register_port(&port_name(number), MidiIn::default())
                .map_err(|e| failed(e.to_string()))?;
            let own_name = own.name().map_err(|e| failed(e.to_string()))?;
            let resolution = Seconds::from_secs_f64(1.0 / f64::from(client.sample_rate()));
            let (queue, hits) = RingBuffer::new(QUEUE);
            let shared = Arc::new(Shared::default());
            let carried = Arc::clone(&shared);
            let carrier = thread::Builder::new()
                .name("midi from jack".to_owned())
                .spawn(move || carry(&carried, hits, &tap, resolution))
                .map_err(|error| failed(error.to_string()))?;
            let ear = Ear {
                number,
                port: own,
                parser: Parser::new(),
                queue,
                carrier: carrier.thread().clone(),
                shared: Arc::clone(&shared),
            };
            let life = Arc::clone(&open.life);
            let carrier = Some(carrier);
            (Self { hub: Arc::clone(&hub), life, number, carrier, shared, cycles_seen: 0 }, ear, own_name)
        };
        open.made += 1;
        open.open += 1;
        // From here on whatever fails is undone by dropping it, which locks again.
        let heard = open
            .changes
            .push(Change::Listen(ear))
            .map_err(|_| failed("the server does not answer".to_owned()));
        let connected = heard.and_then(|()| {
            let client = open.client()?;
            client.connect_ports_by_name(port.id(), &own_name).map_err(|error| failed(error.to_string()))
        });
        drop(open);
        connected.map(|()| listening)
    }
}

/// `in`, `in_2`, `in_3`.
fn port_name(number: u32) -> String {
    if number == 0 { "in".to_owned() } else { format!("in_{}", number + 1) }
}

impl Connection for Listening {
    /// A server that has died calls nobody any more.
    fn is_alive(&mut self) -> bool {
        let cycles = self.life.cycles.load(Ordering::Relaxed);
        let runs = std::mem::replace(&mut self.cycles_seen, cycles) != cycles;
        if !runs {
            self.life.over.store(true, Ordering::Release);
        }
        runs && !self.life.is_over()
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        // First the callback lets go, then the thread it feeds ends.
        locked(&self.hub).let_go(self.number);
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

/// A port as the callback hears it.
struct Ear {
    number: u32,
    port: jack::Port<MidiIn>,
    parser: Parser,
    queue: Producer<Hit>,
    carrier: Thread,
    shared: Arc<Shared>,
}

/// What JACK calls once a cycle. Real-time: no allocation, lock, I/O or panic.
struct Ears {
    /// Room for all there may be was made at once.
    ears: Vec<Ear>,
    changed: Consumer<Change>,
    give: Producer<Ear>,
    offset: ClockOffset,
    origin: HostOrigin,
    life: Arc<Life>,
}

/// When a cycle is, on the computer's clock and on the server's.
struct Cycle {
    begins: HostTime,
    begins_ns: i64,
    frame_us: f64,
}

impl ProcessHandler for Ears {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        self.life.cycles.fetch_add(1, Ordering::Relaxed);
        self.obey();
        // JACK's clock may be another than Rust's (CLOCK_MONOTONIC_RAW against CLOCK_MONOTONIC), with another origin and
        // another rate; every cycle reads both.
        let jack_us = client.time();
        let now = self.origin.time(Instant::now());
        let offset = self.offset.add(now, nanos(jack_us));
        let Ok(cycle) = scope.cycle_times() else {
            return Control::Continue;
        };
        let begins_ns = nanos(cycle.current_usecs);
        let cycle = Cycle {
            begins: HostTime::from_nanos(begins_ns) + offset,
            begins_ns,
            frame_us: cycle.next_usecs.saturating_sub(cycle.current_usecs) as f64
                / f64::from(scope.n_frames().max(1)),
        };
        self.ears.iter_mut().for_each(|ear| ear.hear(scope, &cycle));
        Control::Continue
    }
}

impl Ears {
    /// Takes ports in and lets them go.
    fn obey(&mut self) {
        while let Ok(change) = self.changed.pop() {
            match change {
                Change::Listen(ear) if self.ears.len() < self.ears.capacity() => self.ears.push(ear),
                // There is room for as many as may be asked for.
                Change::Listen(ear) => drop(self.give.push(ear)),
                Change::LetGo(number) => {
                    if let Some(index) = self.ears.iter().position(|ear| ear.number == number) {
                        drop(self.give.push(self.ears.swap_remove(index)));
                    }
                }
            }
        }
    }
}

impl Ear {
    fn hear(&mut self, scope: &ProcessScope, cycle: &Cycle) {
        // What a device played one period ago arrives in this one; JACK keeps the difference as the port's capture latency.
        let latency = i64::from(self.port.get_latency_range(LatencyType::Capture).1);
        let mut heard = false;
        for event in self.port.iter(scope) {
            let into = i64::from(event.time) - latency;
            let stamp = cycle.begins + Seconds::from_secs_f64(into as f64 * cycle.frame_us / 1e6);
            let place = Some(BlockPlace { begins_ns: cycle.begins_ns, into: Frames::new(into) });
            let (queue, lost) = (&mut self.queue, &self.shared.lost);
            self.parser.feed(event.bytes, |message| {
                heard = true;
                if queue.push(Hit { message, stamp, place }).is_err() {
                    lost.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        if heard {
            // Sets a flag and wakes the thread if it sleeps; never waits.
            self.carrier.unpark();
        }
    }
}

pub(crate) fn nanos(micros: u64) -> i64 {
    i64::try_from(micros).unwrap_or(i64::MAX).saturating_mul(1_000)
}

impl fmt::Debug for Jack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Jack").field("answers", &self.hub.is_some()).finish_non_exhaustive()
    }
}

impl fmt::Debug for Listening {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Listening").field("shared", &self.shared).finish_non_exhaustive()
    }
}
