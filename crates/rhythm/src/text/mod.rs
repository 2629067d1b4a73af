//! Rhythm text in and out. The grammar stands in `grammar.md` beside this crate.

mod bar;
mod counts;
mod diagnostic;
mod header;
mod lengths;
mod read;
mod token;
mod write;

pub use diagnostic::{Diagnostic, Place, Severity};
pub use read::{Reading, read};
pub use write::write;
