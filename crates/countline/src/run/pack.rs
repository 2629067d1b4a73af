//! `countline pack`: a folder that any browser opens.

use std::fs;
use std::path::{Path, PathBuf};

use counting::System;
use engrave::svg::{SvgOptions, write as write_svg};
use engrave::{Layout, PrintSize, engrave_staves};
use paper::{Answers, Exercise, SheetOptions, pdf, sheet, staves_in_words};
use sequencer::{Levels, Plan, Sequence, Sounding, lower, sequence};
use timebase::{Ratio, Tempo};
use voice::VoicePack;

use super::exercises::{self, Loaded, LoadedPart};
use super::pack_page::{self, Model, Shown};
use super::sound_files::write_model;
use crate::failure::Failure;
use crate::flags::PackFlags;
use crate::{counting_file, output};

/// The slowest and the fastest tempo that a model may have.
const BPM: std::ops::RangeInclusive<u32> = 20..=300;

/// How wide the pictures are in large print, in staff spaces.
const LARGE_WIDTH: f64 = 54.0;
/// Pixels a staff space there.
const LARGE_SCALE: f64 = 14.0;

pub(crate) fn run(flags: &PackFlags) -> Result<(), Failure> {
    let system = counting_file::chosen(&flags.counting)?;
    let loaded = exercises::load(&flags.files, &system, flags.parts)?;
    let voice = flags.voice.as_deref().unwrap_or(live::Drill::DEFAULT_VOICE);
    let pack = take::voices::open(voice).map_err(super::voice_failure)?;
    let folder = NewFolder::beside(&flags.out)?;
    let title = exercises::title(flags.title.as_deref(), &loaded);
    let sheets = write_sheets(&folder.part, flags, &system, &title, &loaded)?;
    let mut shown = Vec::with_capacity(loaded.len());
    for (number, exercise) in (1..).zip(&loaded) {
        let name = format!("{number:02}{}", slug(&exercise.title));
        let (picture, key) = write_pictures(&folder.part, &name, exercise, flags)?;
        let models = write_models(&folder.part, &name, exercise, &flags.tempos, &pack)?;
        shown.push(Shown {
            title: if exercise.title.is_empty() {
                "Without a title".to_owned()
            } else {
                exercise.title.clone()
            },
            tempo: exercise.tempo(),
            picture,
            notes: staves_in_words(&exercise.staves(), false),
            key,
            models,
        });
    }
    let counted = exercises::counted(&system);
    let page = pack_page::Page { title: &title, counted: &counted, sheets: &sheets, exercises: &shown };
    write(&folder.part.join("index.html"), page.html().as_bytes())?;
    folder.commit()?;
    output::print(&format!("wrote {}: open index.html in a browser\n", flags.out.display()))
}

/// A folder that is filled under another name, and stands in its place when all of it is there.
struct NewFolder {
    place: PathBuf,
    part: PathBuf,
}

impl NewFolder {
    fn beside(place: &Path) -> Result<Self, Failure> {
        let is_empty = match fs::read_dir(place) {
            Ok(mut entries) => entries.next().is_none(),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => true,
            Err(error) => return Err(Failure::file("make the folder", place, &error)),
        };
        if !is_empty {
            return Err(Failure::Call(format!(
                "{} is not empty: give --out a new folder, or empty this one",
                place.display()
            )));
        }
        let name = place.file_name().ok_or_else(|| {
            Failure::Call(format!("{} is no name for a new folder: give --out another", place.display()))
        })?;
        let mut part = name.to_owned();
        part.push(".part");
        let part = place.with_file_name(part);
        match fs::create_dir(&part) {
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => Err(Failure::Job(format!(
                "{} is there already, from a call that is running or was stopped: remove it if none is running",
                part.display()
            ))),
            made => made
                .map(|()| Self { place: place.to_owned(), part: part.clone() })
                .map_err(|error| Failure::file("make", &part, &error)),
        }
    }

    fn commit(self) -> Result<(), Failure> {
        // Where the place is an empty folder, it has to make way: not every system renames over one.
        match fs::remove_dir(&self.place) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(Failure::file("replace", &self.place, &error));
            }
            _ => {}
        }
        fs::rename(&self.part, &self.place).map_err(|error| Failure::file("make", &self.place, &error))
    }
}

/// What was begun and not finished is removed again.
impl Drop for NewFolder {
    fn drop(&mut self) {
        // After a commit it is gone; a failure to remove it is told by whoever finds it there the next time.
        let _ = fs::remove_dir_all(&self.part);
    }
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    fs::write(path, bytes).map_err(|error| Failure::file("write", path, &error))
}

/// The sheet and its key; of each its name in the folder and what it is.
fn write_sheets(
    folder: &Path,
    flags: &PackFlags,
    system: &System,
    title: &str,
    loaded: &[Loaded],
) -> Result<Vec<(&'static str, String)>, Failure> {
    let all: Vec<Exercise<'_>> = loaded.iter().map(Loaded::exercise).collect();
    let mut kinds = vec![("sheet.pdf", Answers::Blank, "Sheet to write the counting on")];
    if !flags.no_key {
        kinds.push(("key.pdf", Answers::Key, "Answer key"));
    }
    kinds
        .into_iter()
        .map(|(name, answers, what)| {
            let options = SheetOptions {
                title: title.to_owned(),
                counting: exercises::counted(system),
                ..SheetOptions::new(flags.print.print(), answers)
            };
            let document = sheet(&all, &options).map_err(Failure::job)?;
            write(&folder.join(name), &pdf(&document).map_err(Failure::job)?)?;
            let pages = document.pages.len();
            let pages = if pages == 1 { "1 page".to_owned() } else { format!("{pages} pages") };
            Ok((name, format!("{what} (PDF, {pages})")))
        })
        .collect()
}

/// The exercise as a picture without and, if it is wanted, with its counts: the files' names, and the counting in words.
fn write_pictures(
    folder: &Path,
    name: &str,
    exercise: &Loaded,
    flags: &PackFlags,
) -> Result<(String, Option<(String, String)>), Failure> {
    let print = flags.print.print().print_size();
    let (width, scale) = match print {
        PrintSize::Usual => (Layout::default().width, SvgOptions::default().scale),
        PrintSize::Large => (LARGE_WIDTH, LARGE_SCALE),
    };
    let picture = |counts: bool| {
        let layout = Layout { head: false, counts, print, width, ..Layout::default() };
        engrave_staves(&exercise.staves(), &layout).map_err(Failure::job)
    };
    let in_words = |counted: bool| staves_in_words(&exercise.staves(), counted);
    let save = |behind: &str, engraving: &engrave::Engraving, description: String| {
        let file = format!("{name}{behind}.svg");
        let options = SvgOptions { title: exercise.title.clone(), description, theme: paper::THEME, scale };
        write(&folder.join(&file), write_svg(engraving.scene(), &options).as_bytes())?;
        Ok::<_, Failure>(file)
    };
    let blank = save("", &picture(false)?, in_words(false))?;
    if flags.no_key {
        return Ok((blank, None));
    }
    let key = save("-key", &picture(true)?, in_words(true))?;
    Ok((blank, Some((key, in_words(true)))))
}

/// Every part of the exercise sounding at each tempo, the slowest first.
fn write_models(
    folder: &Path,
    name: &str,
    exercise: &Loaded,
    percents: &[u32],
    pack: &VoicePack,
) -> Result<Vec<Model>, Failure> {
    let mut tempos: Vec<u32> = percents.iter().map(|percent| whole_bpm(exercise.tempo(), *percent)).collect();
    tempos.sort_unstable();
    tempos.dedup();
    let mut models = Vec::with_capacity(tempos.len() * exercise.parts.len());
    for (number, part) in (1..).zip(&exercise.parts) {
        for &bpm in &tempos {
            let plan = Plan::of(&part.rhythm)
                .beginning_at(Ratio::from_integer(bpm), &part.rhythm)
                .map_err(Failure::job)?;
            let (sequence, sounding, is_counted) = sounding(part, &plan, pack)?;
            let mut levels = Levels::default();
            levels.muted.count = !is_counted;
            let behind = part.name.as_ref().map_or_else(String::new, |_| format!("-part-{number}"));
            let file = format!("{name}{behind}-{bpm}.wav");
            write_model(&folder.join(&file), &sequence, &sounding, levels)?;
            models.push(Model { file, part: part.name.clone(), tempo: plan.tempo(), is_counted });
        }
    }
    Ok(models)
}

/// So many percent of a tempo, in whole beats a minute, so that people can set a metronome to it.
fn whole_bpm(tempo: Tempo, percent: u32) -> u32 {
    let bpm = tempo.bpm() * Ratio::new(percent, 100);
    bpm.round().to_integer().clamp(*BPM.start(), *BPM.end())
}

/// A part as sound, and whether its counts are said: a voice that lacks a system's words only claps and clicks.
fn sounding(part: &LoadedPart, plan: &Plan, pack: &VoicePack) -> Result<(Sequence, Sounding, bool), Failure> {
    let counted = sequence(&part.rhythm, &part.counting, plan);
    if let Ok(sounding) = lower(&counted, pack) {
        return Ok((counted, sounding, true));
    }
    let numbered = sequence(&part.rhythm, &counting::count(&part.rhythm), plan);
    let sounding = lower(&numbered, pack).map_err(Failure::job)?;
    Ok((numbered, sounding, false))
}

/// A title as it may stand in a file's name and a link: `-nine-doorsteps`; nothing where no letter of it may.
fn slug(title: &str) -> String {
    let mut slug = String::new();
    let mut gap = true;
    for character in title.chars().take(60) {
        if character.is_ascii_alphanumeric() {
            if gap {
                slug.push('-');
            }
            slug.push(character.to_ascii_lowercase());
        }
        gap = !character.is_ascii_alphanumeric();
    }
    slug
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_files_are_plain() {
        let check = |title: &str, expected: &str| assert_eq!(slug(title), expected);
        check("Nine Doorsteps", "-nine-doorsteps");
        check("../etc/passwd", "-etc-passwd");
        check("Über die Brücke!", "-ber-die-br-cke");
        check("", "");
        check("中", "");
    }

    #[test]
    fn tempos_are_whole_and_within_what_sounds() {
        let check = |bpm: u32, percent: u32, expected: u32| {
            let tempo = Tempo::new(timebase::Span::QUARTER, Ratio::from_integer(bpm)).expect("a tempo");
            assert_eq!(whole_bpm(tempo, percent), expected);
        };
        check(84, 60, 50);
        check(84, 100, 84);
        check(30, 50, 20);
        check(200, 300, 300);
    }
}
