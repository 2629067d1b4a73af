//! The exercises of a sheet or a pack: rhythm texts, each with its counting.

use std::path::{Path, PathBuf};

use counting::{CountLine, Settings, System};
use paper::Exercise;
use rhythm::Rhythm;

use crate::failure::Failure;
use crate::rhythm_file;

/// One exercise, read and counted.
#[derive(Debug)]
pub(super) struct Loaded {
    /// Its title, with the part's name where a piece has several; empty where it has none.
    pub(super) title: String,
    pub(super) rhythm: Rhythm,
    pub(super) counting: CountLine,
}

impl Loaded {
    pub(super) fn exercise(&self) -> Exercise<'_> {
        Exercise { title: &self.title, rhythm: &self.rhythm, counting: &self.counting }
    }
}

/// Reads every file; what is wrong in any of them is told before anything is written.
pub(super) fn load(files: &[PathBuf], system: &System) -> Result<Vec<Loaded>, Failure> {
    let read: Vec<Result<Vec<Loaded>, Failure>> = files.iter().map(|file| load_one(file, system)).collect();
    Ok(read.into_iter().collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect())
}

fn load_one(file: &Path, system: &System) -> Result<Vec<Loaded>, Failure> {
    let piece = rhythm_file::read_piece(file)?;
    let several = piece.parts().len() > 1;
    let loaded = (1..).zip(piece.into_parts()).map(|(number, part)| {
        let name = part.name.unwrap_or_else(|| format!("part {number}"));
        let own = part.rhythm.title().map(str::to_owned);
        let title = if several {
            own.into_iter().chain([name]).collect::<Vec<_>>().join(", ")
        } else {
            own.unwrap_or_default()
        };
        let counting = counting::count_in(&part.rhythm, system, &Settings::default());
        Loaded { title, rhythm: part.rhythm, counting }
    });
    Ok(loaded.collect())
}

/// What stands at the top: as the call says, else the title of a single exercise.
pub(super) fn title(flag: Option<&str>, loaded: &[Loaded]) -> String {
    match (flag, loaded) {
        (Some(title), _) => title.to_owned(),
        (None, [only]) => only.title.clone(),
        _ => "Rhythms".to_owned(),
    }
}

/// How it is counted, in a sentence.
pub(super) fn counted(system: &System) -> String {
    let variants: String = system.chosen().map(|variant| format!(", {variant}")).collect();
    format!("Counted in: {}{variants}.", system.title())
}
