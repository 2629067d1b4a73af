use clap::{Args, ValueEnum};

use super::CountingFlags;
use super::paper::PagesFlags;

/// `countline chart`
#[derive(Debug, Args)]
pub(crate) struct ChartFlags {
    /// Which page
    #[arg(value_enum)]
    pub(crate) chart: ChartFlag,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    #[command(flatten)]
    pub(crate) pages: PagesFlags,
}

/// Which page to look things up on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ChartFlag {
    /// Notes and rests: names, symbols, how long they last
    Values,
    /// What a counting system says, from beats to unequal groups
    Counting,
}
