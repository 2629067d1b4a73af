//! A rhythm, a tempo and a count-in made cues at exact times.
//!
//! [`sequence`] lays a counted rhythm along a tempo: clicks on the felt beats, the spoken counts, a clap
//! on every attack ([`Cue`]), all at exact musical positions, and the counts a player is judged by
//! ([`Sequence::counts`]). [`Choice`] chooses what of it sounds and how. [`lower`](lower()) turns the cues into the
//! sound events of a [`mixer`] programme, and [`Levels`] says how loud each kind is and where it is heard.
//!
//! A [`drill`] is many of these: heard, called, answered and repeated, round by round. [`Sounds`] makes each of them sound from
//! one bank of samples.
//!
//! Nothing here sounds, reads a clock or knows a device.

mod choice;
mod clicks;
mod count_in;
mod cue;
pub mod drill;
mod dynamics;
mod error;
pub mod levels;
pub mod limits;
mod lower;
mod plan;
mod sequence;
mod strokes;
mod tone;
mod words;

pub use choice::{Aside, Choice, ClickOn, CountOn, Entry, Speech};
pub use cue::{Cue, Cued};
pub use error::Error;
pub use levels::{Each, Levels};
pub use lower::{Compromise, Pads, Sounding, Sounds, lower};
pub use plan::Plan;
pub use sequence::{Sequence, sequence};
pub use strokes::{Struck, attack_db, struck};
