use std::fmt;
use std::time::Instant;

use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{Data, I24, InputCallbackInfo, SampleFormat, Stream, U24};
use timebase::{Anchor, DriverStamps, Frames, HostOrigin, HostTime, SampleRate, Seconds};

use crate::device::{Direction, Found, find};
use crate::event::{Events, events};
use crate::output::{StreamClock, nanos};
use crate::recorder::{Chunk, Recorder, Recording};
use crate::{DeviceSettings, Error, Event};

/// A device to record from, found but not yet recording.
#[derive(Debug)]
pub struct CaptureDevice {
    found: Found,
    channel: u16,
}

/// A device that records one channel. Ends when it is dropped.
///
/// It has frames and anchors of its own: two devices have two clocks, and even the two sides of one
/// card need not count from the same frame.
pub struct Capture {
    stream: Stream,
    clock: StreamClock,
    name: String,
    rate: SampleRate,
    recording: Recording,
    events: Events,
}

impl CaptureDevice {
    /// Finds the device the settings mean; it will record its first channel.
    ///
    /// # Errors
    /// If there is none, or none of that name, or nothing of what it offers can be used.
    pub fn find(settings: &DeviceSettings) -> Result<Self, Error> {
        Ok(Self { found: find(settings, Direction::Record)?, channel: 0 })
    }

    /// The same device, about to record another channel, counted from 0.
    ///
    /// # Errors
    /// [`Error::NoSuchChannel`] where it has not so many.
    pub fn with_channel(self, channel: u16) -> Result<Self, Error> {
        let there = self.found.config.channels;
        if channel < there {
            Ok(Self { channel, ..self })
        } else {
            let given = u32::from(channel) + 1;
            Err(Error::NoSuchChannel { device: self.found.name, given, there })
        }
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.found.name
    }

    /// The rate it will run at.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.found.config.rate
    }

    /// Starts recording. Host times of its anchors count from `origin`.
    ///
    /// # Errors
    /// If the device cannot be opened.
    pub fn start(self, origin: HostOrigin) -> Result<Capture, Error> {
        let Found { device, name, config, system } = self.found;
        let failed = |error: cpal::Error| Error::Open { device: name.clone(), why: error.to_string() };
        let (mut recorder, recording) = Recorder::new(config.channels, self.channel);
        let record = move |data: &Data, info: &InputCallbackInfo| {
            let entered = origin.time(Instant::now());
            let stamp = info.timestamp();
            let stamps = DriverStamps { called_ns: nanos(stamp.callback), sounds_ns: nanos(stamp.capture) };
            take(&mut recorder, data, entered, stamps);
        };
        let (mut reporter, events) = events();
        let stream = device
            .build_input_stream_raw(
                config.stream(),
                config.format,
                record,
                move |error| reporter.report(error),
                None,
            )
            .map_err(failed)?;
        stream.play().map_err(failed)?;
        let clock = StreamClock { system, origin };
        Ok(Capture { stream, clock, name, rate: config.rate, recording, events })
    }
}

impl Capture {
    /// The device's name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its rate.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Frames a block, where the driver tells.
    #[must_use]
    pub fn block(&self) -> Option<Frames> {
        self.stream.buffer_size().ok().map(|frames| Frames::new(i64::from(frames)))
    }

    /// The next chunk of sound, oldest first.
    pub fn next_chunk(&mut self) -> Option<Chunk> {
        self.recording.next_chunk()
    }

    /// The next anchor, oldest first: a recorded frame and the host time at which it was at the microphone, as far as the
    /// driver knows.
    pub fn next_anchor(&mut self) -> Option<Anchor> {
        self.clock.read(&self.stream, |driver_ns, host| self.recording.read_clocks(driver_ns, host));
        self.recording.next_anchor()
    }

    /// What the device has to report, oldest first.
    pub fn next_event(&mut self) -> Option<Event> {
        self.events.next()
    }

    /// From the sound at the microphone to the driver's call, as the driver said at the last block.
    #[must_use]
    pub fn latency(&self) -> Seconds {
        self.recording.latency()
    }

    /// How many frames were lost because nobody fetched the ones before.
    #[must_use]
    pub fn lost_frames(&self) -> u64 {
        self.recording.lost_frames()
    }
}

/// Real-time: no allocation, lock, I/O or panic. A format that was not asked for is not heard.
fn take(recorder: &mut Recorder, data: &Data, entered: HostTime, stamps: DriverStamps) {
    macro_rules! take_as {
        ($($format:ident: $sample:ty),*) => {
            match data.sample_format() {
                $(SampleFormat::$format => {
                    if let Some(heard) = data.as_slice::<$sample>() {
                        recorder.take(heard, entered, stamps);
                    }
                })*
                _ => {}
            }
        };
    }
    take_as!(F32: f32, F64: f64, I32: i32, I24: I24, I16: i16, I8: i8, U32: u32, U24: U24, U16: u16, U8: u8);
}

impl fmt::Debug for Capture {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { name, rate, recording, .. } = self;
        f.debug_struct("Capture")
            .field("name", name)
            .field("rate", rate)
            .field("recording", recording)
            .finish_non_exhaustive()
    }
}
