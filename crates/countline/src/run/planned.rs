//! Drill plans opened: the file, the rhythms that it names, the drill that comes of both.

use std::path::{Path, PathBuf};

use counting::System;
use live::Planned;
use rhythm::{Piece, Rhythm};
use sequencer::drill::{Drill, DrillPlan, Material, TurnOrder};
use sequencer::{Choice, Levels};
use timebase::Ratio;

use crate::drill_file::{self, DrillFile, StepsAsked};
use crate::failure::Failure;
use crate::flags::{CountingFlags, PlanFlags, SoundsFlags};
use crate::{counting_file, rhythm_file};

/// A plan to be played.
pub(super) struct Opened {
    pub(super) planned: Planned,
    /// The voice that it names.
    pub(super) voice: Option<String>,
    /// How loud it is to be, and where it is heard.
    pub(super) levels: Levels,
}

/// How a plan's rhythms are counted, and what sounds of them.
pub(super) struct Counted {
    pub(super) system: System,
    pub(super) choice: Choice,
}

impl Counted {
    /// What the file says; numbers and the usual choice without one.
    pub(super) fn of(file: Option<&DrillFile>) -> Result<Self, Failure> {
        let Some(file) = file else {
            return Ok(Self { system: System::numbers().clone(), choice: Choice::default() });
        };
        let name = file.counting.as_deref().unwrap_or(NUMBERS);
        Ok(Self { system: counting_file::system_in(name, &file.variants)?, choice: file.choice })
    }
}

/// The counting system where none is named.
pub(super) const NUMBERS: &str = "numbers";

/// Whether this is the file of a drill plan, by its name.
pub(super) fn is_plan(path: &Path) -> bool {
    path.extension().is_some_and(|end| end.eq_ignore_ascii_case("drill"))
}

/// The plan's file, where one is given instead of rhythms.
pub(super) fn file(files: &[PathBuf]) -> Result<Option<(PathBuf, DrillFile)>, Failure> {
    match files {
        [path] if is_plan(path) => Ok(Some((path.clone(), drill_file::read(path)?))),
        files if files.iter().any(|path| is_plan(path)) => Err(Failure::Call(
            "a drill plan names its rhythms itself: give one .drill, or rhythm texts".to_owned(),
        )),
        _ => Ok(None),
    }
}

/// Refuses flags of one rhythm's sound, which a plan says itself: nothing that is given is passed over in silence.
pub(super) fn check(plan: &PlanFlags, sounds: &SoundsFlags, counting: &CountingFlags) -> Result<(), Failure> {
    let flags = if super::sounds::choice(sounds) != Choice::default() {
        "--click, --count, --holds, --rests and --entry are"
    } else if counting.counting != NUMBERS || !counting.variant.is_empty() {
        "--counting and --variant are"
    } else if plan.count_in != 1 {
        "--count-in is"
    } else {
        return Ok(());
    };
    Err(Failure::Call(format!(
        "{flags} not for a drill plan: its file says what is heard and counted in, as `countline drill --template` shows"
    )))
}

/// The rhythms that a plan names, from its own folder.
pub(super) fn rhythms(path: &Path, file: &DrillFile) -> Result<Vec<Rhythm>, Failure> {
    let folder = path.parent().unwrap_or(Path::new(""));
    let paths: Vec<PathBuf> = file.rhythms.iter().map(|rhythm| folder.join(rhythm)).collect();
    chosen_parts(&paths, file.part.as_deref())
}

/// The rhythms of a drill: of each its one part, or the part of this name or number; of a rhythm with one part that part, whatever
/// it is called, as long as another has the part that is asked for.
pub(super) fn chosen_parts(paths: &[PathBuf], part: Option<&str>) -> Result<Vec<Rhythm>, Failure> {
    let named = || "`part = \"NAME\"` in the plan, or --part of `countline drill`".to_owned();
    let pieces = paths.iter().map(|path| rhythm_file::read_piece(path)).collect::<Result<Vec<_>, _>>()?;
    let has_parts = pieces.iter().any(|piece| piece.parts().len() > 1);
    let chosen = |(path, piece): (&PathBuf, &Piece)| {
        let part = part.filter(|_| piece.parts().len() > 1 || !has_parts);
        rhythm_file::chosen(piece, path, part, &named).cloned()
    };
    paths.iter().zip(&pieces).map(chosen).collect()
}

/// The drill of a plan over its rhythms; `file` is where it stands, if it stands in a file.
pub(super) fn made(
    mut plan: DrillPlan,
    steps: StepsAsked,
    rhythms: Vec<Rhythm>,
    counted: &Counted,
    file: Option<&(PathBuf, DrillFile)>,
) -> Result<Drill, Failure> {
    if let Some(first) = rhythms.first() {
        plan.pace = steps.pace(first.tempo()).map_err(Failure::Call)?;
    }
    if plan.turns.players.len() < 2 && plan.turns.order != TurnOrder::default() {
        return Err(Failure::Call(
            "turns within a round are for two players or more: name them (players = [\"K1\", \"K2\"], or --players K1,K2), or \
             leave out turns"
                .to_owned(),
        ));
    }
    let material = |rhythm: Rhythm| {
        let line = counting::count_in(&rhythm, &counted.system, &counting::Settings::default());
        Material::chosen(rhythm, &line, counted.choice)
    };
    let rhythms = rhythms.into_iter().map(material).collect();
    Drill::new(plan, rhythms).map_err(|error| match file {
        Some((path, file)) => file.tell(path, &error),
        None => super::call(error),
    })
}

/// The plan at `path`, at another tempo where one is asked for; a round is good with at least so many of a hundred attacks on time.
pub(super) fn open(path: &Path, bpm: Option<Ratio<u32>>, good_percent: u8) -> Result<Opened, Failure> {
    let file = drill_file::read(path)?;
    let rhythms = rhythms(path, &file)?;
    let steps = StepsAsked { at: bpm.or(file.steps.at), ..file.steps };
    let counted = Counted::of(Some(&file))?;
    let (title, voice, levels) = (file.title.clone(), file.voice.clone(), file.levels);
    let drill = made(file.plan.clone(), steps, rhythms, &counted, Some(&(path.to_owned(), file)))?;
    let planned = Planned { good_percent, system: counted.system, ..Planned::new(title, drill) };
    Ok(Opened { planned, voice, levels })
}
