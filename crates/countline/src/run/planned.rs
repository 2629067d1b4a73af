//! Drill plans opened: the file, the rhythms that it names, the drill that comes of both.

use std::path::{Path, PathBuf};

use live::Planned;
use rhythm::Rhythm;
use sequencer::Choice;
use sequencer::drill::{Drill, DrillPlan, Material};
use timebase::Ratio;

use crate::drill_file::{self, DrillFile, StepsAsked};
use crate::failure::Failure;
use crate::flags::{PlanFlags, SoundsFlags};
use crate::rhythm_file;

/// A plan to be played.
pub(super) struct Opened {
    pub(super) planned: Planned,
    /// The voice that it names.
    pub(super) voice: Option<String>,
}

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
pub(super) fn check(plan: &PlanFlags, sounds: &SoundsFlags) -> Result<(), Failure> {
    let flags = if super::sounds::choice(sounds) != Choice::default() {
        "--click, --count, --holds, --rests and --entry are"
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
    file.rhythms.iter().map(|rhythm| rhythm_file::read(&folder.join(rhythm), None)).collect()
}

/// The drill of a plan over its rhythms; `file` is where it stands, if it stands in a file.
pub(super) fn made(
    mut plan: DrillPlan,
    steps: StepsAsked,
    rhythms: Vec<Rhythm>,
    file: Option<&(PathBuf, DrillFile)>,
) -> Result<Drill, Failure> {
    if let Some(first) = rhythms.first() {
        plan.pace = steps.pace(first.tempo()).map_err(Failure::Call)?;
    }
    let material = |rhythm: Rhythm| {
        let line = counting::count(&rhythm);
        Material::new(rhythm, &line)
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
    let (title, voice, plan) = (file.title.clone(), file.voice.clone(), file.plan.clone());
    let drill = made(plan, steps, rhythms, Some(&(path.to_owned(), file)))?;
    Ok(Opened { planned: Planned { good_percent, ..Planned::new(title, drill) }, voice })
}
