//! Rhythms from elsewhere, and for elsewhere: MusicXML in and out, and strokes made notation.
//!
//! ```
//! let rhythm = rhythm::text::read("meter: 3/4\n| 1 2 & 3 |").rhythm.expect("no errors");
//! let file = exchange::musicxml::write(&rhythm.into())?;
//! let import = exchange::musicxml::read(file.as_bytes(), &exchange::musicxml::Choice::default())?;
//! assert_eq!(import.piece.parts()[0].rhythm.bars()[0].events().len(), 4);
//! assert!(import.unkept.is_empty());
//! # Ok::<(), exchange::Error>(())
//! ```
//!
//! - [`musicxml::read`] makes a [`Piece`](rhythm::Piece) of a file's bytes and tells what could not be kept;
//!   [`musicxml::contents`] lists its parts and voices; [`musicxml::write`] and [`musicxml::write_mxl`] write one.
//!
//! - [`quantise`] makes a rhythm of strokes, played to a click or freely, with what has been taught.
//!
//! This crate opens no file: bytes come in and go out. It keeps nothing that is not rhythm: no pitch, no words, no
//! layout. What is read and written in full stands in `musicxml.md` beside it.

mod error;
pub mod limits;
pub mod musicxml;
pub mod quantise;

pub use error::{Error, Place};
