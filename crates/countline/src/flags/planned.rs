//! What is said of a drill plan that is played live.

use clap::Args;

/// What is said of a drill plan that is played live.
#[derive(Clone, Copy, Debug, Args)]
pub(crate) struct PlannedFlags {
    /// In a drill plan: a round is good when at least so many of a hundred written attacks were struck on time, and no more than
    /// the rest of the hundred beside
    #[arg(long, value_name = "PERCENT", default_value_t = live::Planned::GOOD_PERCENT)]
    #[arg(value_parser = clap::value_parser!(u8).range(1..=100))]
    pub(crate) good_percent: u8,
}
