//! The recordings of a folder that a voice is made of.

use std::fs;
use std::path::{Path, PathBuf};

use voice::limits::FILES_MOST;

use super::read_file;
use crate::Error;

/// The speeds that a folder of recordings may have folders for, the slowest first.
const SPEEDS: [&str; 3] = ["slow", "normal", "quick"];

/// A recording that is to become part of a voice.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct SoundFile {
    /// The number of its speed among those there are, the slowest first.
    pub order: usize,
    /// What its speed is called, as its folder is; `None` of a file that lies in none of these.
    pub speed: Option<String>,
    /// Its name without the ending: what is said in it.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
}

impl SoundFile {
    /// Its bytes.
    ///
    /// # Errors
    /// If it cannot be read, or is larger than any recording of a syllable.
    pub fn read(&self) -> Result<Vec<u8>, Error> {
        read_file(&self.path)
    }
}

/// What a folder has for a voice.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SoundFiles {
    /// The sound files, in the order of their speeds and names.
    pub files: Vec<SoundFile>,
    /// What else is there, as it is seen from the folder, and why it is passed over: a sentence each.
    pub passed_over: Vec<String>,
}

/// The sound files of a folder, `.wav` and `.flac`: those in it, and those in its folders `slow`, `normal` and `quick`; and
/// what else is there.
///
/// # Errors
/// If the folder cannot be read, holds none, or more than a thousand.
pub fn sound_files(dir: &Path) -> Result<SoundFiles, Error> {
    let mut found = SoundFiles::default();
    found.list(dir, dir, 0, None)?;
    for (order, speed) in SPEEDS.into_iter().enumerate() {
        let inside = dir.join(speed);
        if inside.is_dir() {
            found.list(dir, &inside, order + 1, Some(speed))?;
        }
    }
    found.files.sort();
    found.passed_over.sort();
    let given = found.files.len();
    if given == 0 || given > FILES_MOST {
        return Err(Error::SoundFiles { dir: dir.to_owned(), given, passed_over: found.passed_over });
    }
    Ok(found)
}

impl SoundFiles {
    fn list(&mut self, top: &Path, dir: &Path, order: usize, speed: Option<&str>) -> Result<(), Error> {
        let failed = |e| Error::reading(dir, e);
        for entry in fs::read_dir(dir).map_err(failed)? {
            let path = entry.map_err(failed)?.path();
            let name = path.file_stem().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            if speed.is_none() && path.is_dir() && SPEEDS.iter().any(|known| path.ends_with(known)) {
                continue;
            }
            match passed_over(&path) {
                Some(why) => {
                    let shown = path.strip_prefix(top).unwrap_or(&path).display();
                    self.passed_over.push(format!("{shown}{why}"));
                }
                None => self.files.push(SoundFile { order, speed: speed.map(str::to_owned), name, path }),
            }
        }
        Ok(())
    }
}

/// Why something in a folder of recordings is none of them, to be said behind its name; `None` of a recording.
fn passed_over(path: &Path) -> Option<&'static str> {
    let name = path.file_name().map(|name| name.to_string_lossy().to_lowercase()).unwrap_or_default();
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    if path.is_dir() {
        return Some(" is a folder, and only slow, normal and quick in the folder itself are looked into");
    }
    if name.starts_with('.') {
        return Some(" is a hidden file");
    }
    match ending.as_deref() {
        Some("wav" | "flac") if path.is_file() => None,
        Some("wav" | "flac") => Some(" is no file"),
        Some(
            "mp3" | "m4a" | "aac" | "ogg" | "oga" | "opus" | "aif" | "aiff" | "caf" | "wma" | "webm" | "mp4",
        ) => Some(" is of a kind that is not read: save it as .wav or .flac"),
        _ => Some(" is no sound file"),
    }
}
