use std::path::PathBuf;

use clap::{Args, ValueEnum};
use paper::Date;

use super::CountingFlags;
use super::paper::{PagesFlags, date};
use super::parts::PartsFlags;

/// `countline sheet`
#[derive(Debug, Args)]
#[command(
    after_help = "The key is written beside the sheet: week-3.pdf and week-3-key.pdf. With versions: week-3-A.pdf, \
    week-3-A-key.pdf, week-3-B.pdf … They have the same rhythms, the first in the order given, each other in an order of \
    its own, or with --each other rhythms of the same level. The same call writes the same bytes."
)]
pub(crate) struct SheetFlags {
    /// The rhythm texts, one exercise each (the parts of a piece are joined by a bracket); `-` reads standard input
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// For the pupils with a line to write the counts on, for the teacher with the counts, or both
    #[arg(long, value_enum, default_value_t = AnswersFlag::Both)]
    pub(crate) answers: AnswersFlag,
    #[command(flatten)]
    pub(crate) counting: CountingFlags,
    #[command(flatten)]
    pub(crate) parts: PartsFlags,
    /// What stands at the top; by default the title of a single exercise
    #[arg(long)]
    pub(crate) title: Option<String>,
    /// Print this day on it, as 2026-09-14; by default there is a line for the date
    #[arg(long, value_name = "DAY", value_parser = date)]
    pub(crate) date: Option<Date>,
    /// So many versions of the sheet, each with the exercises in another order: 1 to 26
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub(crate) versions: usize,
    /// So many of the rhythms in each version, other ones in each, all of one level: give the rhythms from the easiest to the
    /// hardest, at least twice as many; every version has one of each stretch of neighbours
    #[arg(long, value_name = "NUMBER", requires = "versions")]
    pub(crate) each: Option<usize>,
    /// What the orders, or the rhythms, of the versions are drawn from; it is printed on them
    #[arg(long, value_name = "NUMBER", default_value_t = 1, requires = "versions")]
    pub(crate) seed: u64,
    #[command(flatten)]
    pub(crate) pages: PagesFlags,
}

/// Which documents are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum AnswersFlag {
    /// A line under every system to write the counts on
    Blank,
    /// The counts under the notes
    Key,
    /// The sheet as OUT, and its key beside it
    Both,
}
