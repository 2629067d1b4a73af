//! Sound devices: playing a [`mixer::Mixer`], recording a microphone, and the clocks of both.
//!
//! An [`OutputDevice`] is found first, because its rate decides how sounds are prepared; then it is
//! started with a mixer and is an [`Output`]. Each block leaves a [`timebase::Anchor`]: a frame and the
//! host time at which it is heard. A [`timebase::ClockFit`] makes of them the map by which attacks,
//! stamped on the computer's clock, are set against written notes, placed in frames.
//!
//! ```no_run
//! use std::time::Instant;
//!
//! use audio::{DeviceSettings, OutputDevice};
//! use mixer::{Bank, Mixer, Programme, Sample, SoundEvent, StripId};
//! use timebase::{Anchored, ClockFit, Frame, Frames, HostOrigin};
//!
//! let origin = HostOrigin::at(Instant::now());
//! let device = OutputDevice::find(&DeviceSettings::default())?;
//! let mut bank = Bank::new(device.rate());
//! let click = bank.add(Sample::new(vec![0.5; 48])?);
//! let event = SoundEvent::new(Frame::new(24_000), click, StripId::new(0));
//! let mixer = Mixer::new(&Programme::new(bank, vec![event], Frames::new(48_000))?);
//!
//! let mut fit = ClockFit::new(device.rate());
//! let mut output = device.start(mixer, origin)?;
//! // Now and then, on an ordinary thread:
//! while let Some(anchor) = output.next_anchor() {
//!     if let Anchored::Jumped(by) = fit.add(anchor) {
//!         println!("sound was lost: {by}");
//!     }
//! }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! | type | what it is | thread |
//! |---|---|---|
//! | [`devices`], [`OutputDevice`], [`CaptureDevice`] | what there is | ordinary |
//! | [`Output`], [`Capture`] | a device that runs, its anchors and events | ordinary |
//! | [`Callback`], [`Recorder`] | what the driver calls: no allocation, lock, I/O or panic | the driver's |
//!
//! Latency is what the driver says. What it does not know (converters, the air, a wireless speaker) is
//! measured by loopback and added by whoever judges, not here. This crate knows no MIDI, no file, no
//! rhythm and no voice.
//!
//! JACK is opened only on request, on Linux, with the feature `jack` (on by default; turn it off with
//! `default-features = false`). Tested on a JACK server; ALSA, CoreAudio and WASAPI go through the same
//! code but have not been run with a sound card.

#[cfg(target_os = "linux")]
mod alsa;
mod callback;
mod capture;
mod config;
mod device;
mod error;
mod event;
#[cfg(all(target_os = "linux", feature = "jack"))]
mod jack;
mod output;
mod recorder;

pub use callback::{Callback, Trace};
pub use capture::{Capture, CaptureDevice};
pub use device::{DeviceInfo, DeviceSettings, SoundSystem, devices};
pub use error::Error;
pub use event::Event;
pub use output::{Output, OutputDevice};
pub use recorder::{Chunk, Recorder, Recording};
