//! Written rhythm, counted, clicked, played and judged: the command line, and the window behind it.
//!
//! A call goes three steps: as typed ([`flags`]) → resolved ([`flags::Call`] turned into what a job needs)
//! → run ([`run`]). `main` only maps the result to an exit status: 0 done, 1 a job that failed, 2 a bad call.

mod answer_file;
mod counting_file;
mod drill_file;
mod failure;
mod flags;
mod loudness;
mod output;
mod overwriting;
mod parts;
mod rhythm_file;
mod rubric_file;
mod run;
mod settings;
mod toml_words;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let call = flags::Call::parse();
    told_as_errors();
    match run::run(call) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            if let Some(message) = failure.message() {
                output::complain(&message);
            }
            ExitCode::from(failure.status())
        }
    }
}

/// A file that may not grow any further (`ulimit -f`) ends a program by a signal, in silence and with half a file left
/// behind, unless the signal is taken: then the write fails, and that is told as every other failure is.
fn told_as_errors() {
    #[cfg(unix)]
    {
        let taken = std::sync::Arc::default();
        // Where it cannot be taken all is as it was.
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, taken);
    }
}
