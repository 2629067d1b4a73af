//! The sound device and the MIDI inputs: opened, listed and chosen, each on a thread of its own, for a driver may
//! take its time.

use std::time::Instant;

use audio::{DeviceInfo, SoundSystem};
use crossbeam_channel::{Receiver, bounded};
use input::{SystemChoice, midi_system, output_ports};
use live::{Rig, RigSettings};
use timebase::HostOrigin;

/// Whether there is sound.
#[derive(Debug)]
pub(crate) enum Sound {
    /// It is being opened.
    Opening,
    /// There is.
    Open(Box<Rig>),
    /// A latency is measured with the devices.
    Lent,
    /// There is none, for this reason.
    Missing(String),
}

/// The devices of this window.
#[derive(Debug)]
pub(crate) struct Devices {
    pub(crate) settings: RigSettings,
    pub(crate) sound: Sound,
    /// Why the open sound device does not play just now: it has gone, and is looked for.
    pub(crate) gone: Option<String>,
    pub(crate) list: Option<List>,
    opened: Option<Receiver<Result<Rig, String>>>,
    listed: Option<Receiver<List>>,
}

/// What could be chosen.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct List {
    /// Sound devices to play through, or why there is none.
    pub(crate) sound: Vec<DeviceInfo>,
    pub(crate) no_sound: Option<String>,
    /// Sound devices to record from.
    pub(crate) records: Vec<DeviceInfo>,
    /// The names of MIDI inputs, or why there is none.
    pub(crate) midi: Vec<String>,
    pub(crate) no_midi: Option<String>,
    /// The names of MIDI outputs.
    pub(crate) midi_out: Vec<String>,
}

impl Devices {
    /// Nothing is opened yet.
    pub(crate) fn new(settings: RigSettings) -> Self {
        let sound = Sound::Missing("sound is not opened yet".to_owned());
        Self { settings, sound, gone: None, list: None, opened: None, listed: None }
    }

    /// Opens the devices of the settings; those that are open are closed first.
    pub(crate) fn open(&mut self, wake: impl Fn() + Clone + Send + 'static) {
        let before = std::mem::replace(&mut self.sound, Sound::Opening);
        self.gone = None;
        let (settings, (sender, opened)) = (self.settings.clone(), bounded(1));
        let opener = std::thread::Builder::new().name("devices".to_owned()).spawn(move || {
            drop(before);
            let rig = Rig::open(&settings, wake.clone()).map_err(|error| error.to_string());
            // The window may be gone by then; the rig then ends with the message.
            let _ = sender.send(rig);
            wake();
        });
        match opener {
            Ok(_) => self.opened = Some(opened),
            Err(why) => {
                self.sound = Sound::Missing(format!("the system gives no thread for the sound: {why}"));
            }
        }
    }

    /// Closes the devices for somebody else, who drops what is returned before they open them; [`Self::open`] takes them back.
    pub(crate) fn lend(&mut self) -> impl Send + 'static + use<> {
        (self.opened, self.gone) = (None, None);
        std::mem::replace(&mut self.sound, Sound::Lent)
    }

    /// Asks what there is to choose from.
    pub(crate) fn ask(&mut self, wake: impl FnOnce() + Send + 'static) {
        let ((sender, listed), (sound, midi)) =
            (bounded(1), (self.settings.sound.system, self.settings.midi));
        let asker = std::thread::Builder::new().name("device list".to_owned()).spawn(move || {
            let _ = sender.send(List::of(sound, midi));
            wake();
        });
        self.listed = asker.is_ok().then_some(listed);
    }

    /// Whether it is being asked.
    #[cfg(test)]
    pub(crate) fn is_asking(&self) -> bool {
        self.listed.is_some()
    }

    /// Takes what the threads have found. Says whether the sound was opened, or failed to.
    pub(crate) fn mind(&mut self) -> bool {
        if let Some(list) = self.listed.as_ref().and_then(|listed| listed.try_recv().ok()) {
            self.list = Some(list);
            self.listed = None;
        }
        let Some(rig) = self.opened.as_ref().and_then(|opened| opened.try_recv().ok()) else { return false };
        self.opened = None;
        self.sound = match rig {
            Ok(rig) => Sound::Open(Box::new(rig)),
            Err(why) => Sound::Missing(why),
        };
        true
    }

    /// The devices, where they are open.
    pub(crate) fn rig(&self) -> Option<&Rig> {
        if let Sound::Open(rig) = &self.sound { Some(rig) } else { None }
    }

    /// The devices, where they are open.
    pub(crate) fn rig_mut(&mut self) -> Option<&mut Rig> {
        if let Sound::Open(rig) = &mut self.sound { Some(rig) } else { None }
    }

    /// The sound device in a few words.
    pub(crate) fn sound_line(&self) -> String {
        match &self.sound {
            Sound::Opening => "Sound: opening".to_owned(),
            Sound::Open(_) if self.gone.is_some() => "No sound".to_owned(),
            Sound::Open(rig) => format!("Sound: {}", rig.sound_name()),
            Sound::Lent => "Sound: a latency is measured".to_owned(),
            Sound::Missing(_) => "No sound".to_owned(),
        }
    }

    /// Who plays on what in a few words.
    pub(crate) fn players_line(&self) -> String {
        let names = self.rig().map(Rig::player_names).unwrap_or_default();
        if names.is_empty() {
            "Players: space bar".to_owned()
        } else {
            format!("Players: {}", names.join(", "))
        }
    }
}

impl List {
    fn of(sound: SoundSystem, midi: SystemChoice) -> Self {
        let mut list = Self::default();
        match audio::devices(sound) {
            Ok(devices) => {
                list.records = devices.iter().filter(|device| device.records).cloned().collect();
                list.sound = devices.into_iter().filter(|device| device.plays).collect();
            }
            Err(why) => list.no_sound = Some(why.to_string()),
        }
        let ports = midi_system(midi, HostOrigin::at(Instant::now())).and_then(|mut system| system.ports());
        match ports {
            Ok(ports) => list.midi = ports.iter().map(|port| port.lasting_name().to_owned()).collect(),
            Err(why) => list.no_midi = Some(why.to_string()),
        }
        // Where there is no MIDI at all the inputs say so.
        let outputs = output_ports(midi).unwrap_or_default();
        list.midi_out = outputs.iter().map(|port| port.lasting_name().to_owned()).collect();
        list
    }
}
