//! What the whole-house tests share.
//!
//! - [`source`]: the project's own source text with comments, strings and unit tests blanked out, so that
//!   `architecture.rs` can hold it against the rules.
//! - [`program`]: the `countline` binary, built once and run as a user runs it.
//! - [`python`]: scripts that read our files without sharing code with us.
//! - [`onset`]: where a click begins in a recording.
//! - `jackd`: a JACK server without a sound card, and a robot that plays on it. Linux only.
//!
//! Each module is a folder: every `*.rs` directly in `tests/` except this one is a test of its own.

#[cfg(target_os = "linux")]
pub mod jackd;
pub mod onset;
pub mod program;
pub mod python;
pub mod source;

use std::path::{Path, PathBuf};

/// The top folder of the project.
#[must_use]
pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("the tests stand in a folder of the project")
        .to_owned()
}
