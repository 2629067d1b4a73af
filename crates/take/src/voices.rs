//! Voice packs as folders: where a user's own are kept, reading one, and writing one whole or not at all.

use std::borrow::Cow;
use std::cell::RefCell;
use std::fs;
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use etcetera::base_strategy::choose_native_strategy;
use voice::limits::FILE_BYTES_MOST;
use voice::{Language, VoicePack};

use crate::Error;

mod sound_files;
mod writing;

pub use sound_files::{SoundFile, SoundFiles, sound_files};
use writing::put_back;
pub use writing::{add, write};

/// The manifest of a pack, inside its folder.
const MANIFEST: &str = "manifest.json";

/// The folder in which a user's voices are kept, each in one of its own: `countline/voices` where the system keeps a
/// user's data. It need not exist.
///
/// # Errors
/// If the user has no home.
pub fn folder() -> Result<PathBuf, Error> {
    let places = choose_native_strategy().map_err(|_| Error::NoHome)?;
    Ok(places.data_dir().join("countline").join("voices"))
}

/// The names of the user's voices, in the order of the alphabet. None where there is no folder of them.
#[must_use]
pub fn names() -> Vec<String> {
    let entries = folder().ok().and_then(|folder| fs::read_dir(folder).ok());
    let mut names: Vec<String> = entries
        .into_iter()
        .flatten()
        .filter_map(Result::ok)
        .filter(|entry| entry.path().join(MANIFEST).is_file())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .filter(|name| !name.starts_with('.'))
        .collect();
    names.sort();
    names
}

/// Opens a voice by the name of a shipped one, by the name of one of the user's, or by its folder. Words it has no
/// recording of are said by the shipped voice that is taken when nobody chooses: [`VoicePack::borrows`].
///
/// # Errors
/// If there is no such voice, or it cannot be read.
pub fn open(given: &str) -> Result<VoicePack, Error> {
    let pack = open_alone(given)?;
    let english = Language::built_in();
    let complete = |language: &Language| {
        language.words().keys().chain(language.joined().keys()).all(|word| pack.says(word))
    };
    if english.first().is_none_or(complete) {
        return Ok(pack);
    }
    let Some(usual) = voice::shipped_names().next() else { return Ok(pack) };
    Ok(pack.completed_by(VoicePack::shipped(usual)?)?)
}

/// The same without anybody's help: it says what it has itself.
///
/// # Errors
/// If there is no such voice, or it cannot be read.
pub fn open_alone(given: &str) -> Result<VoicePack, Error> {
    if voice::shipped_names().any(|name| name == given) {
        return Ok(VoicePack::shipped(given)?);
    }
    let dir = if is_path(given) { PathBuf::from(given) } else { folder()?.join(given) };
    if !dir.exists() && !is_path(given) {
        let known = voice::shipped_names().map(str::to_owned).chain(names()).collect();
        return Err(Error::NoVoice { given: given.to_owned(), known });
    }
    read(&dir)
}

/// Where a voice that is made is to stand: a name is one in [`folder`], a path itself.
///
/// # Errors
/// If a shipped voice has the name, the name cannot be that of a folder, or the user has no home.
pub fn place_of(given: &str) -> Result<PathBuf, Error> {
    if is_path(given) {
        return Ok(PathBuf::from(given));
    }
    let is_name = given.starts_with(char::is_alphanumeric)
        && given.ends_with(char::is_alphanumeric)
        && given.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | ' ' | '.'));
    if !is_name || voice::shipped_names().any(|name| name == given) {
        return Err(Error::VoiceName { given: given.to_owned() });
    }
    Ok(folder()?.join(given))
}

/// Whether a folder is meant and not a name.
fn is_path(given: &str) -> bool {
    given.contains(['/', '\\']) || given == "." || given == ".."
}

/// The voice that stands in the folder where one is to be made, by itself; `None` where there is none.
///
/// # Errors
/// If it cannot be read.
pub fn standing(place: &Path) -> Result<Option<VoicePack>, Error> {
    put_back(place)?;
    if place.join(MANIFEST).is_file() { read(place).map(Some) } else { Ok(None) }
}

/// The manifest of the voice in a folder.
///
/// # Errors
/// If it cannot be read.
pub fn manifest(place: &Path) -> Result<Vec<u8>, Error> {
    read_file(&place.join(MANIFEST))
}

/// Reads the pack in a folder.
fn read(dir: &Path) -> Result<VoicePack, Error> {
    let manifest = read_file(&dir.join(MANIFEST))?;
    // The pack asks for its files by name; a file that is there and cannot be read is told as that.
    let unreadable = RefCell::new(None);
    let file = |name: &str| {
        let path = dir.join(name);
        if !path.exists() {
            return None;
        }
        read_file(&path).map_err(|error| *unreadable.borrow_mut() = Some(error)).ok().map(Cow::Owned)
    };
    let pack = VoicePack::read(&manifest, file);
    if let Some(error) = unreadable.into_inner() {
        return Err(error);
    }
    pack.map_err(|reason| Error::VoiceIn { dir: dir.to_owned(), reason: Box::new(reason) })
}

fn read_file(path: &Path) -> Result<Vec<u8>, Error> {
    let failed = |e| Error::reading(path, e);
    let given = fs::metadata(path).map_err(failed)?.len();
    if given > FILE_BYTES_MOST {
        return Err(Error::SoundTooLarge { path: path.to_owned(), given });
    }
    fs::read(path).map_err(failed)
}

#[cfg(test)]
mod tests;
