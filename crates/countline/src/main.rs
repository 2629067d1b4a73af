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
mod rhythm_file;
mod rubric_file;
mod run;
mod settings;
mod toml_words;

use std::process::ExitCode;

use clap::Parser;

fn main() -> ExitCode {
    let call = flags::Call::parse();
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
