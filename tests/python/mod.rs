//! The Python of the tests: readers of our files that share no code with us.
//!
//! It lives in `target/venv`; `tests/run` makes it from `tests/requirements.txt`.

use std::ffi::OsStr;
use std::path::PathBuf;
use std::process::Command;

use crate::root;

/// Where the interpreter lies.
///
/// # Panics
/// If it has not been made: a check that is passed over would look like one that is passed.
#[must_use]
pub fn path() -> PathBuf {
    let path = root().join("target/venv/bin/python");
    assert!(path.exists(), "{} is missing: `tests/run` makes it", path.display());
    path
}

/// Runs a script in the project's top folder, and gives what it printed.
///
/// # Panics
/// If it fails.
pub fn run(script: &str, arguments: impl IntoIterator<Item = impl AsRef<OsStr>>) -> String {
    let mut command = Command::new(path());
    command.arg(script).args(arguments).current_dir(root());
    let output = command.output().expect("python runs");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{script} failed:\n{}{said}", String::from_utf8_lossy(&output.stdout));
    String::from_utf8(output.stdout).expect("our scripts print UTF-8")
}
