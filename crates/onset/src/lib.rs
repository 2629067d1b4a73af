//! Strokes found in a recording: claps, sticks, drum strokes.
//!
//! ```
//! use onset::{Settings, strokes};
//! use timebase::SampleRate;
//!
//! // A second of silence with one tap in it, 2 ms of falling noise.
//! let rate = SampleRate::HZ_48000;
//! let mut sound = vec![0.0_f32; 48_000];
//! let mut state = 1_u32;
//! for (age, sample) in sound[24_000..24_480].iter_mut().enumerate() {
//!     state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
//!     *sample = ((state >> 8) as f32 / 8_388_608.0 - 1.0) * (-(age as f32) / 96.0).exp();
//! }
//! let found = strokes(&sound, rate, &Settings::default())?;
//! assert_eq!(found.len(), 1);
//! assert!((found[0].at.index() - 24_000).abs() < 48);
//! # Ok::<(), onset::Error>(())
//! ```
//!
//! | item | what it is |
//! |---|---|
//! | [`strokes`] | the strokes of a recording that holds the player, a room, and perhaps the player's own counting |
//! | [`strokes_beside`] | the same where a loudspeaker is heard too, and what it played is known |
//! | [`Stroke`] | where one begins, and how strong it is |
//! | [`Settings`] | how far a stroke must stand out, how soft it may be, and how soon another may follow |
//!
//! `method.md` beside this crate tells how it is done and why. In short: a stroke rises within a few milliseconds in
//! all bands of pitch at once; a spoken syllable rises slower, or in some bands only, or is much softer up there.
//! Where the loudspeaker's part is known, what it must have left in the recording is taken out, band by band, before
//! anything is looked for.
//!
//! The time it takes grows with the length of the recording and with nothing else. This crate touches no file, no
//! clock and no device; it does not know what a beat is, and guesses no stroke because one was due.

mod bands;
mod error;
mod leak;
pub mod limits;
mod place;
mod rise;
mod settings;
mod stroke;
mod strokes;

pub use error::Error;
pub use settings::Settings;
pub use stroke::Stroke;
pub use strokes::{strokes, strokes_beside};
