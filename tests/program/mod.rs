//! The `countline` binary, built once and run as a user runs it.
//!
//! Cargo tells a test where a binary lies only inside the binary's own package, so [`path`] asks cargo to
//! build it and reads the place from the answer. Nothing is built when nothing changed. `tests/run`, which builds everything
//! beforehand, says in `COUNTLINE_PROGRAM` where it is: for itself alone cargo would build it, and all it leans on, once more,
//! with fewer features than the tests want.

use std::ffi::OsStr;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

use crate::root;

/// Where the binary lies, built from the sources as they stand now.
///
/// # Panics
/// If it does not build.
#[must_use]
pub fn path() -> PathBuf {
    static PATH: OnceLock<PathBuf> = OnceLock::new();
    PATH.get_or_init(build).clone()
}

fn build() -> PathBuf {
    if let Some(built) = std::env::var_os("COUNTLINE_PROGRAM") {
        return built.into();
    }
    // What is measured from a release build is a release build.
    let profile = if cfg!(debug_assertions) { "dev" } else { "release" };
    let output = Command::new(env!("CARGO"))
        .args(["build", "--quiet", "-p", "countline", "--bin", "countline", "--message-format=json"])
        .args(["--profile", profile])
        .current_dir(root())
        .stderr(Stdio::inherit())
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "countline does not build");
    String::from_utf8(output.stdout)
        .expect("cargo answers in UTF-8")
        .lines()
        .filter_map(|line| serde_json::from_str::<serde_json::Value>(line).ok())
        .filter(|message| message["target"]["name"] == "countline")
        .find_map(|message| message["executable"].as_str().map(PathBuf::from))
        .expect("cargo names the binary it built")
}

/// What a finished run left behind.
#[derive(Debug)]
pub struct Run {
    /// The exit status; `None` if a signal ended the program.
    pub status: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Run {
    /// Of a program that has ended.
    ///
    /// # Panics
    /// If it wrote anything but UTF-8.
    #[must_use]
    pub fn from_output(output: Output) -> Self {
        Self {
            status: output.status.code(),
            out: String::from_utf8(output.stdout).expect("countline writes UTF-8"),
            err: String::from_utf8(output.stderr).expect("countline writes UTF-8"),
        }
    }

    /// Checks that the job was done, and gives what was printed.
    ///
    /// # Panics
    /// If the status is not 0.
    pub fn done(self) -> String {
        assert_eq!(self.status, Some(0), "countline failed:\n{}{}", self.out, self.err);
        self.out
    }
}

/// A call that is not run yet: in the project's top folder, nothing on standard input, and without the settings of whoever
/// runs the tests.
pub fn call(arguments: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Command {
    let mut command = Command::new(path());
    command.args(arguments).current_dir(root()).stdin(Stdio::null());
    command.env("COUNTLINE_SETTINGS", root().join("target/no-settings"));
    command
}

/// Runs `countline` to its end.
///
/// # Panics
/// If it cannot be run.
pub fn run(arguments: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Run {
    Run::from_output(call(arguments).output().expect("countline runs"))
}

/// Runs `countline` to its end with `input` on its standard input.
///
/// # Panics
/// If it cannot be run.
pub fn run_with_input(arguments: impl IntoIterator<Item = impl AsRef<OsStr>>, input: &[u8]) -> Run {
    let mut child = call(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("countline runs");
    // A program that has read enough may close its input early.
    let _ = child.stdin.take().expect("standard input is piped").write_all(input);
    Run::from_output(child.wait_with_output().expect("countline ends"))
}
