use clap::{Args, ValueEnum};

/// How a piece with several parts is counted on paper.
#[derive(Clone, Copy, Debug, Args)]
pub(crate) struct PartsFlags {
    /// Whether each part of a piece has its own count line, or all have one together under the last: struck where any
    /// part strikes
    #[arg(long, value_enum, value_name = "HOW", default_value_t = CountPartsFlag::Each)]
    pub(crate) count_parts: CountPartsFlag,
}

/// Whose counts are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum CountPartsFlag {
    /// A line under every part
    Each,
    /// One line for all
    Together,
}
