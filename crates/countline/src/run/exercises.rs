//! The exercises of a sheet or a pack: rhythm texts, each with its counting.

use std::path::{Path, PathBuf};

use counting::{CountLine, Settings, System};
use engrave::Staff;
use paper::Exercise;
use rhythm::{Part, Rhythm};
use timebase::Tempo;

use crate::failure::Failure;
use crate::flags::parts::{CountPartsFlag, PartsFlags};
use crate::rhythm_file;

/// One exercise, read and counted.
#[derive(Debug)]
pub(super) struct Loaded {
    /// Its title; empty where it has none.
    pub(super) title: String,
    /// Its parts from the top, one at least.
    pub(super) parts: Vec<LoadedPart>,
    /// The counting of all parts as one, where they are counted together.
    together: Option<CountLine>,
}

/// One part of an exercise.
#[derive(Debug)]
pub(super) struct LoadedPart {
    /// Its name; `None` where the exercise has one part.
    pub(super) name: Option<String>,
    pub(super) rhythm: Rhythm,
    pub(super) counting: CountLine,
    shares_line: bool,
}

impl Loaded {
    /// As it stands on a sheet.
    pub(super) fn exercise(&self) -> Exercise<'_> {
        Exercise { title: &self.title, staves: self.staves() }
    }

    /// Its parts with their count lines, or with one for all under the last.
    pub(super) fn staves(&self) -> Vec<Staff<'_>> {
        let last = self.parts.len() - 1;
        self.parts
            .iter()
            .enumerate()
            .map(|(index, part)| {
                let counting = match &self.together {
                    Some(line) => (index == last).then_some(line),
                    None => Some(&part.counting),
                };
                Staff {
                    name: part.name.as_deref(),
                    rhythm: &part.rhythm,
                    countings: counting.into_iter().collect(),
                    shares_line: part.shares_line,
                }
            })
            .collect()
    }

    /// Its tempo, which all parts have alike.
    pub(super) fn tempo(&self) -> Tempo {
        self.parts[0].rhythm.tempo()
    }
}

/// Reads every file; what is wrong in any of them is told before anything is written.
pub(super) fn load(files: &[PathBuf], system: &System, how: PartsFlags) -> Result<Vec<Loaded>, Failure> {
    let read: Vec<Result<Loaded, Failure>> = files.iter().map(|file| load_one(file, system, how)).collect();
    read.into_iter().collect()
}

fn load_one(file: &Path, system: &System, how: PartsFlags) -> Result<Loaded, Failure> {
    let piece = rhythm_file::read_piece(file)?;
    let count = |rhythm: &Rhythm| counting::count_in(rhythm, system, &Settings::default());
    let together = together(piece.parts(), how)?;
    let several = piece.parts().len() > 1;
    let title = piece.parts()[0].rhythm.title().unwrap_or_default().to_owned();
    let parts = (1..).zip(piece.into_parts()).map(|(number, part)| LoadedPart {
        name: several.then(|| part.name.unwrap_or_else(|| format!("part {number}"))),
        counting: count(&part.rhythm),
        rhythm: part.rhythm,
        shares_line: part.shares_line,
    });
    Ok(Loaded { title, parts: parts.collect(), together: together.as_ref().map(count) })
}

/// All that is struck in these parts as one rhythm, where there are several and they are counted together.
pub(super) fn together(parts: &[Part], how: PartsFlags) -> Result<Option<Rhythm>, Failure> {
    if how.count_parts == CountPartsFlag::Each || parts.len() < 2 {
        return Ok(None);
    }
    let rhythms: Vec<&Rhythm> = parts.iter().map(|part| &part.rhythm).collect();
    rhythm::together(&rhythms).map(Some).map_err(Failure::job)
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
