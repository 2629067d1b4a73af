//! A rhythm, a tempo and a count-in made cues at exact times.
//!
//! [`sequence`] lays a counted rhythm along a tempo: clicks on the felt beats, the spoken counts, a clap
//! on every attack ([`Cue`]), all at exact musical positions, and the counts a player is judged by
//! ([`Sequence::counts`]). [`lower`](lower()) turns the cues into the sound events of a [`mixer`] score.
//!
//! Nothing here sounds, reads a clock or knows a device.

mod cue;
mod error;
pub mod levels;
pub mod limits;
mod lower;
mod plan;
mod sequence;
mod words;

pub use cue::{Cue, Cued};
pub use error::Error;
pub use levels::Levels;
pub use lower::{Compromise, Sounding, lower};
pub use plan::Plan;
pub use sequence::{Sequence, sequence};
