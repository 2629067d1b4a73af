use std::path::PathBuf;

use clap::Args;
use paper::Date;

use super::paper::{PrintFlags, date};

/// The judged take as pages.
#[derive(Debug, Args)]
pub(crate) struct JudgePaperFlags {
    /// Also write the take under its rhythm, with what is told of each player, to this PDF file
    #[arg(long, value_name = "OUT")]
    pub(crate) pdf: Option<PathBuf>,
    /// Print this day on it, as 2026-09-14
    #[arg(long, value_name = "DAY", value_parser = date, requires = "pdf")]
    pub(crate) date: Option<Date>,
    #[command(flatten)]
    pub(crate) print: PrintFlags,
}
