//! Rhythm text in and out. The grammar stands in `grammar.md` beside this crate.

mod diagnostic;
mod read;
mod write;

pub use diagnostic::{Diagnostic, Place, Severity};
pub use read::{Reading, read};
pub use write::write;
