//! Voice packs: syllables with their perceptual centres, and fitting one to its slot; and the struck sounds.
//!
//! A spoken count is heard on the beat at its *perceptual centre*, near the onset of its vowel, and not where
//! its recording begins: "two" begins a tenth of a second early. A [`VoicePack`] knows the centre of every
//! recording, chooses one that fits the time until the next word, and says where it has to begin.
//!
//! ```
//! use timebase::{Frame, Seconds};
//! use voice::{Fit, VoicePack};
//!
//! let pack = VoicePack::shipped("female")?;
//! let beat = Frame::new(48_000);
//! let two = pack.fit("2", Seconds::from_millis(500))?.expect("half a second is plenty");
//! assert_eq!(two.fit, Fit::Whole);
//!
//! let mut bank = mixer::Bank::new(pack.rate());
//! let sample = bank.add(pack.recording(two.recording).sample().clone());
//! let event = two.event(beat, sample, mixer::StripId::new(1));
//! assert_eq!(event.at + two.centre, beat);
//! # Ok::<(), voice::Error>(())
//! ```
//!
//! | item | what it is |
//! |---|---|
//! | [`VoicePack`] | a voice made from bytes: built in ([`VoicePack::shipped`]) or a user's own ([`VoicePack::read`]) |
//! | [`Fitted`], [`Fit`] | the recording for a slot, and which way out was taken where it was short |
//! | [`Estimates`], [`Vowel`], [`Stress`] | the perceptual centre, estimated from sound |
//! | [`Prepared`], [`Refusal`] | a recording found, trimmed, levelled and centred, or why it cannot be used |
//! | [`Making`], [`Language`] | a pack of such recordings, new or joined to one that stands, as the files that hold it; which syllable says which word |
//! | [`Measured`], [`Evenness`], [`Loudness`] | what a pack is like |
//! | [`percussion`] | click and clap |
//!
//! A recording can be [whispered](Recording::whispered), which takes some milliseconds and is done before sound starts.
//!
//! This crate touches no file and no sound device, stretches no sound, and does not know what a count means:
//! words come to it as they are written. `assets/voices/README.md` describes a pack and how the shipped ones
//! were made.

mod adding;
mod audible;
mod borrowed;
mod centre;
mod check;
mod decode;
mod drums;
mod error;
mod filter;
mod fit;
mod joined;
mod language;
pub mod limits;
mod loudness;
mod making;
mod manifest;
mod noise;
mod nuclei;
mod pack;
pub mod percussion;
mod prepare;
mod recording;
mod resample;
mod shipped;
mod vowel;
mod whisper;

pub use centre::{Estimates, marcus_constant};
pub use check::{Evenness, Measured};
pub use decode::samples_not_read;
pub use drums::Drum;
pub use error::Error;
pub use fit::{Fit, Fitted};
pub use language::Language;
pub use loudness::Loudness;
pub use making::{Doubt, Making, Recorded};
pub use pack::VoicePack;
pub use prepare::{LOUDNESS_LUFS, PEAK_DBFS, Prepared, Refusal, SOFT_LOUDNESS_LUFS, Wanted};
pub use recording::{Recording, RecordingId};
pub use shipped::shipped_names;
pub use vowel::{Stress, Vowel};
