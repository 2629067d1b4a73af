use std::path::PathBuf;

use clap::Args;

use super::parts::PartsFlags;
use super::{Say, Voicing};

/// `countline picture`
#[derive(Debug, Args)]
#[command(
    after_help = "The picture is an SVG file of the whole rhythm, all parts joined. Counting is given twice to compare two systems: \
    --counting numbers --counting takadimi. For large print, make the page narrower as well: --large --width 52."
)]
pub(crate) struct PictureFlags {
    /// The rhythm text; `-` reads standard input
    pub(crate) file: PathBuf,
    /// The SVG file to write
    #[arg(long, short, value_name = "OUT")]
    pub(crate) out: PathBuf,
    /// Which part of a piece with several, by its name or number; by default all of them, joined by a bracket
    #[arg(long, value_name = "PART")]
    pub(crate) part: Option<String>,
    /// How wide the page is, in staff spaces: 24 to 100000
    #[arg(long, value_name = "SPACES", default_value_t = 76.0)]
    pub(crate) width: f64,
    #[command(flatten)]
    pub(crate) counts: PictureCountFlags,
    #[command(flatten)]
    pub(crate) parts: PartsFlags,
    /// Large print: all text larger beside the notes, and the picture too
    #[arg(long)]
    pub(crate) large: bool,
    /// Write repeats out as they are played
    #[arg(long)]
    pub(crate) written_out: bool,
    /// Name the hands over the notes instead of under them
    #[arg(long)]
    pub(crate) sticking_over: bool,
    /// Leave away title and tempo
    #[arg(long)]
    pub(crate) no_head: bool,
    /// Leave away the bars' numbers
    #[arg(long)]
    pub(crate) no_numbers: bool,
}

/// What stands under the notes.
#[derive(Debug, Args)]
pub(crate) struct PictureCountFlags {
    /// The counting system: a name that `countline systems` shows, or the table of your own, a file ending in .toml.
    /// Given several times, the lines stand one under the other
    #[arg(long, value_name = "NAME|FILE.toml", default_value = "numbers")]
    pub(crate) counting: Vec<String>,
    /// A variant of a counting system; may be given several times, and goes for every system that has it
    #[arg(long, value_name = "NAME")]
    pub(crate) variant: Vec<String>,
    /// What is counted
    #[arg(long, value_enum, default_value_t = Say::Beats)]
    pub(crate) say: Say,
    /// How counts inside a held note are said; by default as the counting system has it
    #[arg(long, value_enum)]
    pub(crate) holds: Option<Voicing>,
    /// Leave the counting away; bars of rest are then drawn as one
    #[arg(long, conflicts_with_all = ["hands", "feet", "ruled", "rests_lighter", "legend"])]
    pub(crate) no_counts: bool,
    /// Rule a line to write the counting on instead
    #[arg(long, conflicts_with = "legend")]
    pub(crate) ruled: bool,
    /// Tell rests by lighter words instead of parentheses
    #[arg(long)]
    pub(crate) rests_lighter: bool,
    /// Show in a row what the hands do: strike, hold or rest
    #[arg(long)]
    pub(crate) hands: bool,
    /// Show in a row where the foot goes: down and up
    #[arg(long)]
    pub(crate) feet: bool,
    /// Explain types and marks at the foot of the page
    #[arg(long)]
    pub(crate) legend: bool,
}
