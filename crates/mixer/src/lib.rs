//! Sound events and a bank of samples, rendered in real time or offline by the same code.
//!
//! A [`Programme`] is everything that will sound: a [`Bank`] of samples and the [`SoundEvent`]s that
//! play them at exact frames. A [`Mixer`] renders it, block by block, into `f32` frames, mono or stereo, and keeps
//! their true peak below −1 dBFS. A block is split at every event, so the result is the same to the bit whatever the block sizes: 1, 512, or
//! what a sound device happens to ask for.
//!
//! ```
//! use mixer::{Bank, Mixer, Programme, Sample, SoundEvent, StripId};
//! use timebase::{Frame, Frames, SampleRate};
//!
//! let mut bank = Bank::new(SampleRate::HZ_48000);
//! let tick = bank.add(Sample::new(vec![0.5, 0.25])?);
//! let event = SoundEvent::new(Frame::new(3), tick, StripId::new(0));
//! let programme = Programme::new(bank, vec![event], Frames::new(6))?;
//!
//! let mut out = [0.0; 6];
//! let mut mixer = Mixer::new(&programme);
//! mixer.render(&mut out);
//! assert_eq!(out, [0.0, 0.0, 0.0, 0.5, 0.25, 0.0]);
//! assert!(mixer.is_finished());
//! # Ok::<(), mixer::Error>(())
//! ```
//!
//! | type | what it is | thread |
//! |---|---|---|
//! | [`Sample`], [`Bank`], [`SoundEvent`], [`Programme`] | what is to sound, checked when it is made | any; made before sound starts |
//! | [`Mixer`] | the engine; [`Mixer::render`] never allocates, locks, waits or panics | the audio thread |
//! | [`Controller`] | levels, places and mutes, stop, another programme at once or without a gap, a sound at once | one other thread |
//! | [`render_offline`] | the whole programme in blocks, for files and tests | any |
//!
//! Levels, pans and mutes belong to numbered strips ([`StripId`], [`Setting`]). What a strip is for (click, count, clap) is known
//! to whoever writes the events, not here. This crate knows no sound device, no file, no tempo and no
//! voice; every sample must already be at the bank's rate.

mod between;
mod bus;
mod control;
mod deck;
mod error;
mod limiter;
pub mod limits;
mod mixer;
mod offline;
mod programme;
mod ramp;
mod sample;
mod strip;
mod succession;

pub use control::{Controller, Report, Retired};
pub use error::Error;
pub use mixer::Mixer;
pub use offline::{render_offline, render_offline_stereo};
pub use programme::{Programme, SoundEvent};
pub use sample::{Bank, Sample, SampleId};
pub use strip::{Setting, StripId};
