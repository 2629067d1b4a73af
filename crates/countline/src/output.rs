//! The only place that prints.

use std::io::{self, BufWriter, IsTerminal, Write};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use serde::Serialize;

use crate::failure::Failure;

/// Prints to standard output.
pub(crate) fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    Ok(out.flush()?)
}

/// Prints a form as JSON, piece by piece.
pub(crate) fn print_json<T: Serialize>(form: &T) -> Result<(), Failure> {
    let mut out = BufWriter::new(io::stdout().lock());
    take::json::write(form, &mut out)?;
    Ok(out.flush()?)
}

/// Says on standard error that something failed.
pub(crate) fn complain(message: &str) {
    note(&format!("countline: {message}"));
}

/// Says something on standard error. Nobody is left to tell if that fails.
pub(crate) fn note(message: &str) {
    let _ = writeln!(io::stderr().lock(), "{message}");
}

/// Whether standard error is a person's terminal, where colours and progress are of use.
pub(crate) fn is_watched() -> bool {
    io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none()
}

/// A bar that fills while long work is done, on a terminal only.
pub(crate) fn progress(work: &'static str, steps: u64) -> ProgressBar {
    let target =
        if io::stderr().is_terminal() { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
    let bar = ProgressBar::with_draw_target(Some(steps), target).with_message(work);
    if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {percent} %") {
        bar.set_style(style);
    }
    bar
}
