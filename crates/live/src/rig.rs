use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Instant;

use audio::{DeviceSettings, OutputDevice};
use crossbeam_channel::{Receiver, Sender, unbounded};
use input::{Input, InputSettings, SystemChoice, find_port, midi_system};
use mixer::{Bank, Mixer, Programme};
use sequencer::Levels;
use timebase::{HostOrigin, HostTime, Moment, SampleRate, Seconds};

use crate::worker::{Command, Worker};
use crate::{Drill, Error, Event};

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
    rate: SampleRate,
    sound_name: String,
    midi_notice: Option<String>,
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
        let device = OutputDevice::find(&settings.sound)?;
        let (rate, sound_name) = (device.rate(), device.name().to_owned());

        let mut input = Input::new(settings.input);
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

        let (mixer, controller) = Mixer::new(&Programme::silence(Bank::new(rate))).controlled();
        let output = device.start(mixer, origin)?;
        let (commands, received) = unbounded();
        let (sender, events) = unbounded();
        let heard = Heard::default();
        let worker = Worker::new(
            output,
            controller,
            origin,
            &input,
            received,
            sender,
            Arc::clone(&heard),
            Box::new(wake),
        );
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
            rate,
            sound_name,
            midi_notice,
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
        let run = crate::run::Run::prepare(drill, self.rate, &self.sound_name, &self.input)?;
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

    /// What happens, in order. [`Event::SoundGone`] is the last.
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
    pub fn sound_name(&self) -> &str {
        &self.sound_name
    }

    /// The MIDI inputs that are listened to and whoever else plays, as a person reads them.
    #[must_use]
    pub fn player_names(&self) -> Vec<String> {
        self.input.players().all().iter().map(|player| format!("{}: {}", player.id, player.name)).collect()
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
