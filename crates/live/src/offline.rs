//! The whole engine without devices: the thread's work, the mixer, the input and the take, driven in a time of its own.
//!
//! [`Offline`] stands where a [`Rig`](crate::Rig) stands and uses everything that a rig uses but the drivers: blocks are asked
//! for as fast as they can be rendered, the devices' clocks run as they are told to, and devices come and go when
//! they are told to. So four hours pass in a minute, and what else would need a cable pulled is a call. Whoever measures
//! or tests the engine uses it; sound and MIDI of a real machine are another matter.
//!
//! ```
//! use live::Drill;
//! use live::offline::{Offline, Setup};
//! use timebase::Seconds;
//!
//! let rhythm = rhythm::text::read("| 1 2 3 4 |").rhythm.expect("a rhythm");
//! let plan = sequencer::Plan::of(&rhythm);
//! let mut engine = Offline::new(Setup::default())?;
//! engine.plug("Pad");
//! engine.start(Drill::new(rhythm, plan))?;
//! engine.pass(Seconds::from_millis(500));
//! engine.send("Pad", &[0x99, 38, 100]);
//! engine.pass(Seconds::from_millis(20_000));
//! let ended = engine.events().try_iter().any(|event| matches!(event, live::Event::Ended { .. }));
//! assert!(ended);
//! # Ok::<(), live::Error>(())
//! ```

use std::sync::atomic::{AtomicBool, AtomicI64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use audio::{Callback, Chunk, Recorder, Recording, Trace};
use crossbeam_channel::{Receiver, Sender, unbounded};
use input::{Connection, Input, InputSettings, MidiSystem, Port, Tap};
use sequencer::Levels;
use timebase::{Anchor, DriverStamps, Frames, HostTime, Moment, SampleRate, Seconds};

use crate::clock::Clock;
use crate::device::{Opened, Opener, SoundIn, SoundOut, idle};
use crate::rig::Heard;
use crate::sound::Sound;
use crate::worker::{Command, Pace, Parts, Worker};
use crate::{Drill, Error, Event, Measured, MeasuredLoop, SoundAt};

/// What the virtual devices are called.
const OUTPUT: &str = "virtual";
const MICROPHONE: &str = "virtual microphone";

/// What a stamp of a virtual pad is worth.
const RESOLUTION: Seconds = Seconds::from_micros(21);

/// How the virtual devices are.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// The rate of the device that plays.
    pub rate: SampleRate,
    /// Frames that it asks for at once.
    pub block: usize,
    /// From its asking for a frame to the frame at the loudspeaker, by its own word.
    pub latency: Seconds,
    /// How much faster than its nominal rate it runs by the computer's clock, in parts per million.
    pub out_ppm: f64,
    /// The rate of the microphone; `None` where there is none.
    pub microphone: Option<SampleRate>,
    /// How much faster than its nominal rate the microphone runs, in parts per million.
    pub in_ppm: f64,
    /// How much later than its reckoned moment the microphone hears what sounds, as a calibration has measured.
    pub late: Seconds,
    /// Latencies that were measured.
    pub measured: Measured,
    /// How loud a stroke sounds at once, in percent.
    pub thru_percent: u8,
    /// After how much time one player is judged anew; a rig judges as often as its computer can.
    pub judged_every: Seconds,
    /// How strokes are told apart.
    pub input: InputSettings,
}

impl Default for Setup {
    /// A device of 48 kHz with blocks of 256 frames that says it is one block late and keeps time; no microphone.
    fn default() -> Self {
        Self {
            rate: SampleRate::HZ_48000,
            block: 256,
            latency: Seconds::from_micros(5_333),
            out_ppm: 0.0,
            microphone: None,
            in_ppm: 0.0,
            late: Seconds::ZERO,
            measured: Measured::default(),
            thru_percent: 0,
            judged_every: Seconds::from_millis(50),
            input: InputSettings::default(),
        }
    }
}

/// The engine, and the time that passes for it.
#[derive(Debug)]
pub struct Offline {
    setup: Setup,
    time: Arc<VirtualTime>,
    input: Input,
    rack: Rack,
    worker: Worker,
    commands: Sender<Command>,
    events: Receiver<Event>,
    devices: Arc<Mutex<Devices>>,
    /// What the drivers call, as long as there is a device.
    callback: Option<Callback>,
    recorder: Option<Recorder>,
    callbacks: Receiver<Callback>,
    recorders: Receiver<Recorder>,
    block: Vec<f32>,
    heard: Vec<f32>,
    /// When the next block is asked for, in nanoseconds with their fraction, and the microphone's frames that are due.
    next_ns: f64,
    due: f64,
}

/// What the virtual drivers have to say.
#[derive(Debug, Default)]
struct Devices {
    is_there: bool,
    rate: Option<SampleRate>,
    events: Vec<Sender<audio::Event>>,
}

#[derive(Debug, Default)]
struct VirtualTime {
    now_ns: AtomicI64,
    slept_ns: AtomicI64,
}

impl Clock for Arc<VirtualTime> {
    fn now(&self) -> HostTime {
        HostTime::from_nanos(self.now_ns.load(Ordering::Relaxed))
    }

    fn wall(&self) -> Seconds {
        Seconds::from_nanos(self.now_ns.load(Ordering::Relaxed) + self.slept_ns.load(Ordering::Relaxed))
    }
}

impl Offline {
    /// An engine whose devices are there and play silence; no pad is plugged in.
    ///
    /// # Errors
    /// As [`Rig::open`](crate::Rig::open); none of them is to be expected.
    pub fn new(setup: Setup) -> Result<Self, Error> {
        let time = Arc::new(VirtualTime::default());
        let devices =
            Arc::new(Mutex::new(Devices { is_there: true, rate: Some(setup.rate), events: Vec::new() }));
        let (to_callbacks, callbacks) = unbounded();
        let (to_recorders, recorders) = unbounded();
        let opener =
            VirtualOpener { setup: setup.clone(), devices: Arc::clone(&devices), to_callbacks, to_recorders };
        let sound = Sound::open(Box::new(opener), time.now())?;
        let mut input = Input::new(&setup.input);
        let rack = Rack::default();
        input.attach(Box::new(rack.clone()));
        input.open_all()?;
        let (commands, received) = unbounded();
        let (sender, events) = unbounded();
        let parts = Parts {
            sound,
            measured: measured(&setup),
            clock: Box::new(Arc::clone(&time)),
            thru: f32::from(setup.thru_percent.min(100)) / 100.0,
            through: None,
            pace: Pace::Every(setup.judged_every),
            commands: received,
            events: sender,
            heard: Heard::default(),
            wake: Box::new(|| {}),
        };
        let worker = Worker::new(parts, &input);
        let callback = callbacks.try_recv().ok();
        let recorder = recorders.try_recv().ok();
        let (block, heard) = (vec![0.0; setup.block], Vec::new());
        Ok(Self {
            setup,
            time,
            input,
            rack,
            worker,
            commands,
            events,
            devices,
            callback,
            recorder,
            callbacks,
            recorders,
            block,
            heard,
            next_ns: 0.0,
            due: 0.0,
        })
    }

    /// Plays a drill; one that runs is stopped first.
    ///
    /// # Errors
    /// As [`Rig::start`](crate::Rig::start).
    pub fn start(&mut self, drill: Drill) -> Result<(), Error> {
        let now = self.worker.sound_now();
        if !now.is_there {
            return Err(Error::Gone);
        }
        let run = crate::run::Run::prepare(
            drill,
            &now,
            &measured(&self.setup),
            &self.input,
            self.setup.thru_percent > 0,
        )?;
        self.commands.send(Command::Start(Box::new(run))).map_err(|_| Error::Gone)
    }

    /// Stops the drill that runs.
    pub fn stop(&self) {
        let _ = self.commands.send(Command::Stop);
    }

    /// As [`Rig::ask_touches`](crate::Rig::ask_touches).
    pub fn ask_touches(&self, asks: bool) {
        self.input.ask_touches(asks);
    }

    /// Moves click, count and clap to other levels.
    pub fn set_levels(&self, levels: Levels) {
        let _ = self.commands.send(Command::Levels(levels));
    }

    /// What happens, in order.
    #[must_use]
    pub const fn events(&self) -> &Receiver<Event> {
        &self.events
    }

    /// Everything that can be struck.
    #[must_use]
    pub const fn input(&mut self) -> &mut Input {
        &mut self.input
    }

    /// Now.
    #[must_use]
    pub fn now(&self) -> HostTime {
        self.time.now()
    }

    /// The moment of the drill that is heard now, from count 1 of bar 1.
    #[must_use]
    pub fn drill_now(&self) -> Option<Moment> {
        self.worker.drill_now()
    }

    /// Lets so much time pass: blocks are asked for, and the thread does its work after each.
    pub fn pass(&mut self, length: Seconds) {
        let until = self.now() + length;
        while self.now() < until {
            self.step(|callback, out, entered, stamps| callback.fill(out, entered, stamps), |_| {});
        }
    }

    /// One block: `play` is the driver's call for it, so that whoever wants can watch it; `room` makes of what was played
    /// what the microphone hears.
    pub fn step(
        &mut self,
        play: impl FnOnce(&mut Callback, &mut [f32], HostTime, DriverStamps),
        room: impl FnOnce(&mut [f32]),
    ) {
        while let Ok(callback) = self.callbacks.try_recv() {
            self.callback = Some(callback);
        }
        while let Ok(recorder) = self.recorders.try_recv() {
            self.recorder = Some(recorder);
        }
        let rate = self.devices().rate.unwrap_or(self.setup.rate);
        let now = self.time.now();
        if let Some(callback) = &mut self.callback {
            let called_ns = now.as_nanos();
            let stamps = DriverStamps { called_ns, sounds_ns: called_ns + self.setup.latency.as_nanos() };
            play(callback, &mut self.block, now, stamps);
        }
        self.hear(now, room);
        let block_ns =
            self.setup.block as f64 / f64::from(rate.hz()) * 1e9 / (1.0 + self.setup.out_ppm * 1e-6);
        self.next_ns += block_ns;
        #[expect(clippy::cast_possible_truncation, reason = "nanoseconds of some hours")]
        self.time.now_ns.store(self.next_ns.round() as i64, Ordering::Relaxed);
        self.worker.step();
    }

    /// The microphone's side of a block: as many frames as its own clock has counted.
    fn hear(&mut self, now: HostTime, room: impl FnOnce(&mut [f32])) {
        let (Some(recorder), Some(rate)) = (&mut self.recorder, self.setup.microphone) else { return };
        let out_rate =
            self.devices.lock().unwrap_or_else(PoisonError::into_inner).rate.unwrap_or(self.setup.rate);
        let share = f64::from(rate.hz()) * (1.0 + self.setup.in_ppm * 1e-6)
            / (f64::from(out_rate.hz()) * (1.0 + self.setup.out_ppm * 1e-6));
        self.due += self.setup.block as f64 * share;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a block's frames")]
        let frames = self.due.floor() as usize;
        self.due -= frames as f64;
        self.heard.clear();
        self.heard.resize(frames, 0.0);
        room(&mut self.heard);
        let called_ns = now.as_nanos();
        recorder.take(&self.heard, now, DriverStamps { called_ns, sounds_ns: called_ns });
    }

    /// What was played in the last block, mono.
    #[must_use]
    pub fn played(&self) -> &[f32] {
        &self.block
    }

    /// Plugs a pad in and listens to it.
    pub fn plug(&mut self, name: &str) {
        self.rack.ports().push(Port::new(name, name));
        self.input.look().ok();
    }

    /// Unplugs a pad.
    pub fn unplug(&mut self, name: &str) {
        self.rack.ports().retain(|port| port.name() != name);
        self.input.look().ok();
    }

    /// Bytes from a pad, now. Where nobody listens they are lost, as on a cable.
    pub fn send(&mut self, name: &str, bytes: &[u8]) {
        let now = self.now();
        self.send_at(name, bytes, now);
    }

    /// Bytes that a pad sent at `stamp`.
    pub fn send_at(&mut self, name: &str, bytes: &[u8], stamp: HostTime) {
        let mut taps = self.rack.taps.lock().unwrap_or_else(PoisonError::into_inner);
        let listens =
            |listened: &&mut Listened| listened.port == name && listened.is_open.load(Ordering::Relaxed);
        for listened in taps.iter_mut().filter(listens) {
            listened.tap.feed(bytes, stamp, RESOLUTION);
        }
    }

    /// The driver of the device that plays has something to say.
    pub fn says(&mut self, event: &audio::Event) {
        self.devices().events.retain(|sender| sender.send(event.clone()).is_ok());
    }

    /// The sound devices are unplugged.
    pub fn unplug_sound(&mut self, why: &str) {
        let mut devices = self.devices();
        devices.is_there = false;
        devices.events.retain(|sender| sender.send(audio::Event::Gone { why: why.to_owned() }).is_ok());
        devices.events.clear();
        drop(devices);
        self.callback = None;
        self.recorder = None;
    }

    /// A device that plays at this rate is plugged in.
    pub fn plug_sound(&mut self, rate: SampleRate) {
        let mut devices = self.devices();
        devices.is_there = true;
        devices.rate = Some(rate);
    }

    /// The driver asks for nothing for so long, and says nothing of it, while time goes on.
    pub fn stall(&mut self, length: Seconds) {
        let until = self.now() + length;
        while self.now() < until {
            self.next_ns += 5e6;
            self.time.now_ns.fetch_add(5_000_000, Ordering::Relaxed);
            self.worker.step();
        }
    }

    /// The computer sleeps: the clock of the stamps and the devices stand still, the calendar's goes on.
    pub fn sleep(&mut self, length: Seconds) {
        self.time.slept_ns.fetch_add(length.as_nanos(), Ordering::Relaxed);
        self.worker.step();
    }

    fn devices(&self) -> MutexGuard<'_, Devices> {
        self.devices.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The microphone's lateness as it would have been measured.
fn measured(setup: &Setup) -> Measured {
    let mut measured = setup.measured.clone();
    if setup.microphone.is_some() {
        let block = Frames::new(i64::try_from(setup.block).unwrap_or(0));
        let at = SoundAt { output: OUTPUT.to_owned(), rate: setup.rate, block };
        let (input, late) = (MICROPHONE.to_owned(), setup.late);
        measured.keep_loop(MeasuredLoop { at, input, late, moved: Seconds::ZERO });
    }
    measured
}

/// Ports without devices.
#[derive(Clone, Debug, Default)]
struct Rack {
    there: Arc<Mutex<Vec<Port>>>,
    taps: Arc<Mutex<Vec<Listened>>>,
}

/// The program's end of a cable.
#[derive(Debug)]
struct Listened {
    port: String,
    tap: Tap,
    is_open: Arc<AtomicBool>,
}

#[derive(Debug)]
struct Cable(Arc<AtomicBool>);

impl Rack {
    fn ports(&self) -> MutexGuard<'_, Vec<Port>> {
        self.there.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl MidiSystem for Rack {
    fn name(&self) -> &'static str {
        "virtual"
    }

    fn ports(&mut self) -> Result<Vec<Port>, input::Error> {
        Ok(Self::ports(self).clone())
    }

    fn connect(&mut self, port: &Port, tap: Tap) -> Result<Box<dyn Connection>, input::Error> {
        let is_open = Arc::new(AtomicBool::new(true));
        let mut taps = self.taps.lock().unwrap_or_else(PoisonError::into_inner);
        taps.retain(|listened| listened.is_open.load(Ordering::Relaxed));
        taps.push(Listened { port: port.name().to_owned(), tap, is_open: Arc::clone(&is_open) });
        Ok(Box::new(Cable(is_open)))
    }
}

impl Connection for Cable {}

impl Drop for Cable {
    fn drop(&mut self) {
        self.0.store(false, Ordering::Relaxed);
    }
}

#[derive(Debug)]
struct VirtualOpener {
    setup: Setup,
    devices: Arc<Mutex<Devices>>,
    to_callbacks: Sender<Callback>,
    to_recorders: Sender<Recorder>,
}

impl Opener for VirtualOpener {
    fn play(&mut self) -> Result<Opened, Error> {
        let mut devices = self.devices.lock().unwrap_or_else(PoisonError::into_inner);
        let rate = devices.rate.filter(|_| devices.is_there).ok_or(audio::Error::NoDevice)?;
        let (sender, events) = unbounded();
        devices.events.push(sender);
        let (mixer, controller, clap) = idle(rate);
        let (callback, trace) = Callback::new(mixer, 1);
        self.to_callbacks.send(callback).map_err(|_| Error::Gone)?;
        let block = Frames::new(i64::try_from(self.setup.block).unwrap_or(0));
        Ok(Opened { out: Box::new(VirtualOut { rate, block, trace, events }), controller, clap })
    }

    fn record(&mut self) -> Option<Result<Box<dyn SoundIn>, Error>> {
        let rate = self.setup.microphone?;
        let (recorder, recording) = Recorder::new(1, 0);
        if self.to_recorders.send(recorder).is_err() {
            return Some(Err(Error::Gone));
        }
        Some(Ok(Box::new(VirtualIn { rate, recording })))
    }
}

#[derive(Debug)]
struct VirtualOut {
    rate: SampleRate,
    block: Frames,
    trace: Trace,
    events: Receiver<audio::Event>,
}

impl SoundOut for VirtualOut {
    fn name(&self) -> String {
        OUTPUT.to_owned()
    }
    fn rate(&self) -> SampleRate {
        self.rate
    }
    fn block(&self) -> Frames {
        self.block
    }
    fn next_anchor(&mut self) -> Option<Anchor> {
        self.trace.next_anchor()
    }
    fn next_event(&mut self) -> Option<audio::Event> {
        self.events.try_recv().ok()
    }
}

#[derive(Debug)]
struct VirtualIn {
    rate: SampleRate,
    recording: Recording,
}

impl SoundIn for VirtualIn {
    fn name(&self) -> String {
        MICROPHONE.to_owned()
    }
    fn rate(&self) -> SampleRate {
        self.rate
    }
    fn next_chunk(&mut self) -> Option<Chunk> {
        self.recording.next_chunk()
    }
    fn next_anchor(&mut self) -> Option<Anchor> {
        self.recording.next_anchor()
    }
    fn next_event(&mut self) -> Option<audio::Event> {
        None
    }
}
