use std::fmt;
use std::time::Instant;

use cpal::traits::{DeviceTrait, StreamTrait};
use cpal::{Data, I24, OutputCallbackInfo, SampleFormat, Stream, StreamInstant, U24};
use mixer::Mixer;
use timebase::{Anchor, DriverStamps, Frames, HostOrigin, HostTime, SampleRate, Seconds};

use crate::callback::{Callback, Trace};
use crate::device::{Direction, Found, find};
use crate::event::{Events, events};
use crate::{DeviceSettings, Error, Event, SoundSystem};

/// A device to play through, found but not yet playing: its rate is known, so that sounds can be prepared for it.
#[derive(Debug)]
pub struct OutputDevice {
    found: Found,
}

impl OutputDevice {
    /// Finds the device the settings mean.
    ///
    /// # Errors
    /// If there is none, or none of that name, or nothing of what it offers can be used.
    pub fn find(settings: &DeviceSettings) -> Result<Self, Error> {
        Ok(Self { found: find(settings, Direction::Play)? })
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.found.name
    }

    /// The rate it will run at: what the mixer must be made for.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.found.config.rate
    }

    /// Starts playing `mixer`. Host times of the anchors count from `origin`.
    ///
    /// # Errors
    /// If the mixer is made for another rate, or the device cannot be opened.
    pub fn start(self, mixer: Mixer, origin: HostOrigin) -> Result<Output, Error> {
        let Found { device, name, config, system } = self.found;
        if mixer.rate() != config.rate {
            return Err(Error::Rate { device: name, given: mixer.rate(), runs: config.rate });
        }
        let failed = |error: cpal::Error| Error::Open { device: name.clone(), why: error.to_string() };
        let (mut callback, trace) = Callback::new(mixer, config.channels);
        let play = move |data: &mut Data, info: &OutputCallbackInfo| {
            let entered = origin.time(Instant::now());
            let stamp = info.timestamp();
            let stamps = DriverStamps { called_ns: nanos(stamp.callback), sounds_ns: nanos(stamp.playback) };
            fill(&mut callback, data, entered, stamps);
        };
        let (mut reporter, events) = events();
        let stream = device
            .build_output_stream_raw(
                config.stream(),
                config.format,
                play,
                move |error| reporter.report(error),
                None,
            )
            .map_err(failed)?;
        stream.play().map_err(failed)?;
        let block = stream.buffer_size().map_or(config.block(), |frames| Frames::new(i64::from(frames)));
        let events =
            events.with_first((block != config.block()).then_some(Event::OwnBlock { asked: config.block() }));
        let clock = StreamClock { system, origin };
        Ok(Output { stream, clock, name, rate: config.rate, block, trace, events })
    }
}

/// A device that plays. Ends when it is dropped, and with it the mixer.
///
/// Fetch its anchors and events now and then; they wait in bounded queues.
pub struct Output {
    stream: Stream,
    clock: StreamClock,
    name: String,
    rate: SampleRate,
    block: Frames,
    trace: Trace,
    events: Events,
}

impl Output {
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

    /// Frames a block, as the driver tells; some drivers change it as they go.
    #[must_use]
    pub const fn block(&self) -> Frames {
        self.block
    }

    /// The next anchor, oldest first: a frame that the mixer rendered ([`Mixer::rendered`]) and the host time at which it
    /// is at the loudspeaker, as far as the driver knows.
    pub fn next_anchor(&mut self) -> Option<Anchor> {
        self.clock.read(&self.stream, |driver_ns, host| self.trace.read_clocks(driver_ns, host));
        self.trace.next_anchor()
    }

    /// What the device has to report, oldest first.
    pub fn next_event(&mut self) -> Option<Event> {
        self.events.next()
    }

    /// From the driver's call to the sound of the block's first frame, as the driver said at the last block. What it does
    /// not know (converters, a wireless speaker) is for calibration to find.
    #[must_use]
    pub fn latency(&self) -> Seconds {
        self.trace.latency()
    }

    /// How many blocks the driver asked for.
    #[must_use]
    pub fn blocks(&self) -> u64 {
        self.trace.blocks()
    }

    /// How many anchors were dropped because nobody fetched the ones before.
    #[must_use]
    pub fn lost_anchors(&self) -> u64 {
        self.trace.lost_anchors()
    }

    /// Holds the sound where it is. The device's frames stand still meanwhile, so the map from frames to host time
    /// jumps when it goes on.
    ///
    /// # Errors
    /// If the device cannot pause.
    pub fn pause(&self) -> Result<(), Error> {
        self.stream.pause().map_err(|error| self.failed(&error))
    }

    /// Goes on after a pause.
    ///
    /// # Errors
    /// If the device does not come back.
    pub fn resume(&self) -> Result<(), Error> {
        self.stream.play().map_err(|error| self.failed(&error))
    }

    fn failed(&self, error: &cpal::Error) -> Error {
        Error::Open { device: self.name.clone(), why: error.to_string() }
    }
}

impl fmt::Debug for Output {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { name, rate, block, trace, .. } = self;
        f.debug_struct("Output")
            .field("name", name)
            .field("rate", rate)
            .field("block", block)
            .field("trace", trace)
            .finish_non_exhaustive()
    }
}

/// How the clock of a stream is found on the computer's.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StreamClock {
    pub(crate) system: SoundSystem,
    pub(crate) origin: HostOrigin,
}

impl StreamClock {
    /// Reads the stream's clock and then the computer's, on JACK, whose clock can be read at any time; four times, for
    /// one reading may be interrupted. Elsewhere the driver's calls tell more: ALSA's clock, asked in between, gives
    /// the last interrupt's time.
    pub(crate) fn read(self, stream: &Stream, mut take: impl FnMut(i64, HostTime)) {
        if self.system == SoundSystem::Jack {
            for _ in 0..4 {
                let driver_ns = nanos(stream.now());
                take(driver_ns, self.origin.time(Instant::now()));
            }
        }
    }
}

/// Real-time: no allocation, lock, I/O or panic. A format that was not asked for stays silent.
fn fill(callback: &mut Callback, data: &mut Data, entered: HostTime, stamps: DriverStamps) {
    macro_rules! fill_as {
        ($($format:ident: $sample:ty),*) => {
            match data.sample_format() {
                $(SampleFormat::$format => {
                    if let Some(out) = data.as_slice_mut::<$sample>() {
                        callback.fill(out, entered, stamps);
                    }
                })*
                _ => {}
            }
        };
    }
    fill_as!(F32: f32, F64: f64, I32: i32, I24: I24, I16: i16, I8: i8, U32: u32, U24: U24, U16: u16, U8: u8);
}

/// Real-time: no allocation, lock, I/O or panic.
pub(crate) fn nanos(instant: StreamInstant) -> i64 {
    i64::try_from(instant.as_nanos()).unwrap_or(i64::MAX)
}
