use std::path::PathBuf;

use clap::Args;

use super::CountingFlags;
use super::paper::PrintFlags;
use super::parts::PartsFlags;

/// `countline pack`
#[derive(Debug, Args)]
#[command(
    after_help = "The folder holds index.html, which any browser opens without a network and without scripts, the sheet and its \
    key as PDF, a picture of each exercise, and its sound at every tempo. A minute of sound takes about 6 MB."
)]
pub(crate) struct PackFlags {
    /// The rhythm texts, one exercise each (the parts of a piece are joined by a bracket)
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// The folder to make; it must not exist, or be empty
    #[arg(long, short, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// What stands at the top; by default the title of a single exercise
    #[arg(long)]
    pub(crate) title: Option<String>,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    #[command(flatten)]
    pub(crate) parts: PartsFlags,
    /// The tempos of the models, in percent of each rhythm's own, parted by commas
    #[arg(
        long,
        value_name = "PERCENT",
        value_delimiter = ',',
        default_values_t = [60, 80, 100],
        value_parser = clap::value_parser!(u32).range(10..=300)
    )]
    pub(crate) tempos: Vec<u32>,
    /// The voice that counts (see `countline devices` for the shipped ones)
    #[arg(long, value_name = "NAME")]
    pub(crate) voice: Option<String>,
    /// Leave the answer key out, for a pack that pupils take home
    #[arg(long)]
    pub(crate) no_key: bool,
    #[command(flatten)]
    pub(crate) print: PrintFlags,
}
