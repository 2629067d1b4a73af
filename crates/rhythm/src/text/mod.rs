//! Rhythm text in and out. The grammar stands in `grammar.md` beside this crate.

mod aligned;
mod bar;
mod body;
mod counts;
mod diagnostic;
mod direction;
mod format;
mod header;
mod lengths;
mod passage;
mod read;
mod token;
mod write;

pub use diagnostic::{Diagnostic, Place, Severity};

pub(crate) use direction::tempo_mark;
pub use format::{Formatted, format};
pub use read::{PieceReading, Reading, read, read_piece};
pub use write::{can_write, write, write_piece};
