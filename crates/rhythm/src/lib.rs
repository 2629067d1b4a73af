//! The written rhythm: what stands on the page, before it is counted or sounded.
//!
//! A [`Rhythm`] is a list of [`Bar`]s with a [`Meter`] each; a bar is a list of [`Event`]s, and every
//! event is an attack, a hold or a rest ([`Deed`]) with an exact place and length, and may bear [`Marks`]. A
//! [`Piece`] is one rhythm or several that are played together. Teachers type it as
//! *rhythm text* (see `grammar.md` beside this crate): [`text::read`] and [`text::write`] are each
//! other's inverse. [`Performance`] plays the repeats out and gives every attack its [`AttackId`];
//! [`spelling`] turns lengths into note values, dots, ties, tuplets and beams.
//!
//! ```
//! let reading = rhythm::text::read("meter: 4/4\n| 1 2 & 3 (4) |");
//! let rhythm = reading.rhythm.expect("no errors");
//! assert_eq!(rhythm.bars()[0].events().len(), 5);
//! assert_eq!(rhythm.bars()[0].events()[2].at.to_string(), "3/8");
//! ```
//!
//! This crate says nothing aloud (that is `counting`), knows no seconds beyond the tempo written at the
//! head of a piece, and touches no file.

mod bar;
pub mod division;
mod error;
mod event;
pub mod limits;
mod marks;
mod meter;
mod performance;
mod piece;
mod rhythm;
mod route;
mod size;
pub mod spelling;
mod tempo_mark;
pub mod text;
mod together;
mod tuplet;
mod written_tempo;

pub use bar::{Bar, BarsOfRest, Form};
pub use error::Error;
pub use event::{Deed, Event};
pub use marks::{Accent, Dynamics, Grace, Loudness, Marks, Roll, Sticking, Swell};
pub use meter::{Division, Meter};
pub use performance::{AttackId, Performance, PerformedBar};
pub use piece::{Part, Piece};
pub use rhythm::Rhythm;
pub use route::{Ending, Jump, Repeat, Until};
pub use tempo_mark::TempoMark;
pub use together::together;
pub use tuplet::Tuplet;
