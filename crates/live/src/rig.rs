use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Instant;

use audio::DeviceSettings;
use crossbeam_channel::{Receiver, Sender, unbounded};
use input::{Input, InputSettings, SystemChoice, find_port, midi_system, open_output, output_ports};
use sequencer::Levels;
use timebase::{Frames, HostOrigin, HostTime, Moment, SampleRate, Seconds};

use crate::clock::ComputersClock;
use crate::device::{MachinesDevices, Opener};
use crate::sound::{Sound, SoundNow};
use crate::through::Through;
use crate::worker::{Command, Pace, Parts, Worker};
use crate::{Drill, Error, Event, Latency, Measured};

/// Which devices a rig opens.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RigSettings {
    /// The sound device.
    pub sound: DeviceSettings,
    /// The MIDI system.
    pub midi: SystemChoice,
    /// The MIDI inputs to listen to, by name or a part of it; empty: all that are there.
    pub inputs: Vec<String>,
    /// How strokes are told apart.
    pub input: InputSettings,
    /// What is recorded as the players' channel of a take; nothing unless somebody asks for it, for a microphone hears
    /// everybody in the room. Else the strokes are rendered.
    pub record: Option<RecordSettings>,
    /// How loud a struck pad sounds at once through the program, in percent of the full strength: 0 where the pads sound
    /// themselves.
    pub thru_percent: u8,
    /// The MIDI output, by its name or a part of it, that what is struck is sent on to; nothing without it.
    pub through: Option<String>,
    /// The latencies that were [measured](crate::calibration).
    pub measured: Measured,
}

/// What is recorded.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RecordSettings {
    /// The device, by its name or a part of it; the system's default if none.
    pub device: Option<String>,
    /// Its channel, from 0.
    pub channel: u16,
}

/// The sound device, the inputs, and the thread that minds them. Everything ends when it is dropped; a drill that
/// runs is stopped and its take completed first.
#[derive(Debug)]
pub struct Rig {
    input: Input,
    commands: Sender<Command>,
    events: Receiver<Event>,
    heard: Heard,
    origin: HostOrigin,
    sound: Arc<Mutex<SoundNow>>,
    measured: Measured,
    /// Whether pads sound through the program.
    drums: bool,
    midi_notice: Option<String>,
    /// Who plays nothing where they are to play.
    conflicts: Vec<String>,
    thread: Option<JoinHandle<()>>,
}

/// What was heard when, as the thread reckoned last: shared with whoever draws a playhead.
pub(crate) type Heard = Arc<Mutex<Option<(HostTime, Moment)>>>;

impl Rig {
    /// Opens the devices and starts the thread. `wake` is called on that thread after every [`Event`].
    ///
    /// Without a MIDI system the rig works all the same, with the space bar; [`Rig::midi_notice`] says so.
    ///
    /// # Errors
    /// If there is no sound device, or a device that was named cannot be opened.
    pub fn open(settings: &RigSettings, wake: impl Fn() + Send + 'static) -> Result<Self, Error> {
        let origin = HostOrigin::at(Instant::now());
        let (sound, record) = (settings.sound.clone(), settings.record.clone());
        let opener: Box<dyn Opener> = Box::new(MachinesDevices { sound, record, origin });
        let clock = ComputersClock::new(origin);
        let sound = Sound::open(opener, origin.time(Instant::now()))?;

        let mut input = Input::new(&settings.input);
        let mut midi_notice = None;
        match midi_system(settings.midi, origin) {
            Ok(system) => {
                input.attach(system);
                if settings.inputs.is_empty() {
                    input.open_all()?;
                } else {
                    let ports = input.ports()?;
                    for name in &settings.inputs {
                        input.open(find_port(&ports, name)?)?;
                    }
                }
            }
            Err(error) if settings.inputs.is_empty() => midi_notice = Some(error.to_string()),
            Err(error) => return Err(error.into()),
        }

        let through = match &settings.through {
            Some(name) => {
                let ports = output_ports(settings.midi)?;
                let outlet = open_output(settings.midi, find_port(&ports, name)?, origin)?;
                Some(Through::new(outlet, origin.time(Instant::now())))
            }
            None => None,
        };

        let (commands, received) = unbounded();
        let (sender, events) = unbounded();
        let heard = Heard::default();
        let shared = sound.shared();
        let parts = Parts {
            sound,
            measured: settings.measured.clone(),
            clock: Box::new(clock),
            thru: f32::from(settings.thru_percent.min(100)) / 100.0,
            through,
            pace: Pace::OfTheComputer,
            commands: received,
            events: sender,
            heard: Arc::clone(&heard),
            wake: Box::new(wake),
        };
        let worker = Worker::new(parts, &input);
        let thread = std::thread::Builder::new()
            .name("drill".to_owned())
            .spawn(move || worker.run())
            .map_err(|_| Error::NoThread)?;
        Ok(Self {
            input,
            commands,
            events,
            heard,
            origin,
            sound: shared,
            measured: settings.measured.clone(),
            drums: settings.thru_percent > 0,
            midi_notice,
            conflicts: crate::mistaken::conflicts(&settings.input),
            thread: Some(thread),
        })
    }

    /// Plays a drill; one that runs is stopped first, its take completed.
    ///
    /// Prepares the sound on the calling thread: some tens of milliseconds.
    ///
    /// # Errors
    /// If the voice does not exist or cannot say the counting, if the take's folder cannot be made or holds a take
    /// already, or if the sound device has gone.
    pub fn start(&mut self, drill: Drill) -> Result<(), Error> {
        let now = self.sound_now();
        if !now.is_there {
            return Err(Error::Gone);
        }
        let run = crate::run::Run::prepare(drill, &now, &self.measured, &self.input, self.drums)?;
        self.commands.send(Command::Start(Box::new(run))).map_err(|_| Error::Gone)
    }

    /// Stops the drill that runs, if one does; what was played so far is judged and kept.
    pub fn stop(&self) {
        // A thread that has ended has stopped already.
        let _ = self.commands.send(Command::Stop);
    }

    /// Moves click, count and clap to other levels.
    pub fn set_levels(&self, levels: Levels) {
        let _ = self.commands.send(Command::Levels(levels));
    }

    /// The space bar was struck now. `resolution` is how late that may have become known.
    pub fn strike_key(&mut self, resolution: Seconds) {
        self.strike_key_at(Instant::now(), resolution);
    }

    /// The space bar was struck at `instant`, known to `resolution`.
    pub fn strike_key_at(&mut self, instant: Instant, resolution: Seconds) {
        self.input.strike_key(self.origin.time(instant), resolution);
    }

    /// From now on, or no longer, what is struck and trodden on is told as [`Event::Touched`] and is no stroke and no order:
    /// for learning who plays on what.
    pub fn ask_touches(&self, asks: bool) {
        self.input.ask_touches(asks);
    }

    /// What happens, in order.
    #[must_use]
    pub fn events(&self) -> &Receiver<Event> {
        &self.events
    }

    /// The moment of the drill that is heard now, from count 1 of bar 1; `None` while nothing plays.
    #[must_use]
    pub fn heard_now(&self) -> Option<Moment> {
        let now = self.origin.time(Instant::now());
        let heard = *self.heard.lock().unwrap_or_else(PoisonError::into_inner);
        heard.map(|(host, moment)| moment + (now - host))
    }

    /// The sound device's name.
    #[must_use]
    pub fn sound_name(&self) -> String {
        self.sound_now().name
    }

    /// The rate and the block size at which it runs.
    #[must_use]
    pub fn sound_runs(&self) -> (SampleRate, Frames) {
        let now = self.sound_now();
        (now.rate, Frames::new(now.block))
    }

    /// The microphone or line that is recorded, if one is.
    #[must_use]
    pub fn recorded(&self) -> Option<String> {
        self.sound_now().microphone
    }

    /// What is taken off strokes as the sound device runs now, where a drill says nothing else.
    #[must_use]
    pub fn latency(&self) -> Latency {
        self.measured.latency(&self.sound_now().at())
    }

    fn sound_now(&self) -> SoundNow {
        self.sound.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Everybody who plays, as a drill's rows will call them, and what they play on.
    #[must_use]
    pub fn players(&self) -> input::Players {
        self.input.players()
    }

    /// The MIDI inputs that are listened to and whoever else plays, as a person reads them.
    #[must_use]
    pub fn player_names(&self) -> Vec<String> {
        let named = |player: &input::Player| {
            let gone = if player.missing.is_empty() { "" } else { " (not there)" };
            format!("{}: {}{gone}", player.label(), player.name)
        };
        self.input.players().all().iter().map(named).collect()
    }

    /// What was said of players and orders and cannot be meant so, a sentence each: ports that are not there, and players whose every
    /// stroke is an order.
    #[must_use]
    pub fn mistaken(&self) -> Vec<String> {
        let unseen =
            if self.midi_notice.is_none() { crate::mistaken::unseen(&self.input) } else { Vec::new() };
        self.conflicts.iter().cloned().chain(unseen).collect()
    }

    /// The players whose every stroke is an order, a sentence each.
    #[must_use]
    pub fn conflicts(&self) -> &[String] {
        &self.conflicts
    }

    /// Why there is no MIDI, in a sentence; `None` where there is.
    #[must_use]
    pub fn midi_notice(&self) -> Option<&str> {
        self.midi_notice.as_deref()
    }
}

impl Drop for Rig {
    fn drop(&mut self) {
        let _ = self.commands.send(Command::Close);
        if let Some(thread) = self.thread.take() {
            // The thread's panic was told on standard error; there is nothing to add.
            let _ = thread.join();
        }
    }
}
