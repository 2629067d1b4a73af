//! What the drill's thread wants of a sound device, whether it is a real one or a harness's.

use std::fmt::Debug;

use audio::{Capture, CaptureDevice, Chunk, DeviceSettings, Event, Output, OutputDevice};
use mixer::{Bank, Controller, Mixer, Programme, SampleId};
use timebase::{Anchor, Frames, HostOrigin, SampleRate};
use voice::percussion;

use crate::{Error, RecordSettings};

/// A device that plays.
pub(crate) trait SoundOut: Debug + Send {
    fn name(&self) -> String;
    fn rate(&self) -> SampleRate;
    fn block(&self) -> Frames;
    fn next_anchor(&mut self) -> Option<Anchor>;
    fn next_event(&mut self) -> Option<Event>;
}

/// A device that records.
pub(crate) trait SoundIn: Debug + Send {
    fn name(&self) -> String;
    fn rate(&self) -> SampleRate;
    fn next_chunk(&mut self) -> Option<Chunk>;
    fn next_anchor(&mut self) -> Option<Anchor>;
    fn next_event(&mut self) -> Option<Event>;
}

/// Opens the devices, as often as they have to be.
pub(crate) trait Opener: Debug + Send {
    /// The device to play through, playing silence.
    fn play(&mut self) -> Result<Opened, Error>;

    /// The device to record from; `None` where nothing is to be recorded.
    fn record(&mut self) -> Option<Result<Box<dyn SoundIn>, Error>>;
}

/// A device that plays, what commands it, and the clap that can be played on it at once.
#[derive(Debug)]
pub(crate) struct Opened {
    pub(crate) out: Box<dyn SoundOut>,
    pub(crate) controller: Controller,
    pub(crate) clap: SampleId,
}

/// A mixer that plays nothing but what is struck.
pub(crate) fn idle(rate: SampleRate) -> (Mixer, Controller, SampleId) {
    let mut bank = Bank::new(rate);
    let clap = bank.add(percussion::clap(rate).sample);
    let (mixer, controller) = Mixer::new(&Programme::silence(bank)).controlled();
    (mixer, controller, clap)
}

/// Opens the machine's devices.
#[derive(Debug)]
pub(crate) struct MachinesDevices {
    pub(crate) sound: DeviceSettings,
    pub(crate) record: Option<RecordSettings>,
    pub(crate) origin: HostOrigin,
}

impl Opener for MachinesDevices {
    fn play(&mut self) -> Result<Opened, Error> {
        let device = OutputDevice::find(&self.sound)?;
        let (mixer, controller, clap) = idle(device.rate());
        let out = Box::new(device.start(mixer, self.origin)?);
        Ok(Opened { out, controller, clap })
    }

    fn record(&mut self) -> Option<Result<Box<dyn SoundIn>, Error>> {
        let record = self.record.as_ref()?;
        let settings = DeviceSettings { device: record.device.clone(), ..self.sound.clone() };
        let started = CaptureDevice::find(&settings)
            .and_then(|device| device.with_channel(record.channel))
            .and_then(|device| device.start(self.origin));
        Some(started.map(|capture| -> Box<dyn SoundIn> { Box::new(capture) }).map_err(Error::from))
    }
}

impl SoundOut for Output {
    fn name(&self) -> String {
        Self::name(self).to_owned()
    }
    fn rate(&self) -> SampleRate {
        Self::rate(self)
    }
    fn block(&self) -> Frames {
        Self::block(self)
    }
    fn next_anchor(&mut self) -> Option<Anchor> {
        Self::next_anchor(self)
    }
    fn next_event(&mut self) -> Option<Event> {
        Self::next_event(self)
    }
}

impl SoundIn for Capture {
    fn name(&self) -> String {
        Self::name(self).to_owned()
    }
    fn rate(&self) -> SampleRate {
        Self::rate(self)
    }
    fn next_chunk(&mut self) -> Option<Chunk> {
        Self::next_chunk(self)
    }
    fn next_anchor(&mut self) -> Option<Anchor> {
        Self::next_anchor(self)
    }
    fn next_event(&mut self) -> Option<Event> {
        Self::next_event(self)
    }
}
