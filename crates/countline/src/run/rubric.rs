//! `countline rubric`

use crate::failure::Failure;
use crate::flags::RubricFlags;
use crate::{output, rubric_file};

/// Prints the rubric to start from, or checks one.
pub(super) fn run(flags: &RubricFlags) -> Result<(), Failure> {
    let Some(path) = &flags.file else { return output::print(rubric_file::DEFAULT) };
    let rubric = rubric_file::read(path)?;
    let players: Vec<&str> = rubric.players().collect();
    let players = if players.is_empty() { "nobody".to_owned() } else { players.join(", ") };
    output::print(&format!("{} is a rubric; something of their own is said of {players}\n", path.display()))
}
