//! Voice packs as folders: where a user's own are kept, reading one, and writing one whole or not at all.

use std::borrow::Cow;
use std::cell::RefCell;
use std::fs;
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy;
use etcetera::base_strategy::choose_native_strategy;
use voice::limits::{FILE_BYTES_MOST, FILES_MOST};
use voice::{Language, VoicePack};

use crate::Error;
use crate::beside::sync;

/// The manifest of a pack, inside its folder.
const MANIFEST: &str = "manifest.json";

/// The speeds that a folder of recordings may have folders for, the slowest first.
const SPEEDS: [&str; 3] = ["slow", "normal", "quick"];

/// What the one speed is called of recordings that are not in folders.
const ONE_SPEED: &str = "own";

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
    let is_name = !given.is_empty()
        && !given.starts_with('.')
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

/// A recording that is to become part of a voice.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct SoundFile {
    /// The number of its speed among those there are, the slowest first.
    pub order: usize,
    /// What its speed is called.
    pub speed: String,
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

/// The sound files of a folder, `.wav` and `.flac`: those in it, and those in its folders `slow`, `normal` and `quick`.
///
/// # Errors
/// If the folder cannot be read, holds none, or more than a thousand.
pub fn sound_files(dir: &Path) -> Result<Vec<SoundFile>, Error> {
    let mut files = Vec::new();
    list(dir, 0, ONE_SPEED, &mut files)?;
    for (order, speed) in SPEEDS.into_iter().enumerate() {
        let inside = dir.join(speed);
        if inside.is_dir() {
            list(&inside, order + 1, speed, &mut files)?;
        }
    }
    files.sort();
    if files.is_empty() || files.len() > FILES_MOST {
        return Err(Error::SoundFiles { dir: dir.to_owned(), given: files.len() });
    }
    Ok(files)
}

fn list(dir: &Path, order: usize, speed: &str, files: &mut Vec<SoundFile>) -> Result<(), Error> {
    let failed = |e| Error::reading(dir, e);
    for entry in fs::read_dir(dir).map_err(failed)? {
        let path = entry.map_err(failed)?.path();
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        let is_sound = matches!(ending.as_deref(), Some("wav" | "flac"));
        let name = path.file_stem().map(|name| name.to_string_lossy().into_owned());
        if let Some(name) = name.filter(|_| is_sound && path.is_file()) {
            files.push(SoundFile { order, speed: speed.to_owned(), name, path });
        }
    }
    Ok(())
}

/// Writes a pack's files into a folder of their own, `dir`: beside it first, and then all at once into its place. A pack
/// that stood there is replaced when the new one is whole on the disk, and not before.
///
/// # Errors
/// If the folder holds something that is no voice, or anything cannot be written; a full disk is
/// [`Error::VoiceDiskFull`]. What stood there stands there still.
pub fn write(dir: &Path, files: &[(String, Vec<u8>)]) -> Result<(), Error> {
    let old = Aside::of(dir, "old");
    if !dir.exists() && old.dir.exists() {
        // An earlier attempt was stopped between its two renames.
        fs::rename(&old.dir, dir).map_err(|e| Error::writing(dir, e))?;
    }
    old.clear()?;
    let holds_something = fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some());
    if dir.exists() && !dir.join(MANIFEST).is_file() && (holds_something || !dir.is_dir()) {
        return Err(Error::NoVoiceThere { dir: dir.to_owned() });
    }
    let new = Aside::of(dir, "part");
    new.clear()?;
    write_files(&new.dir, files).map_err(|error| match error {
        Error::DiskFull { .. } => Error::VoiceDiskFull { dir: dir.to_owned() },
        error => error,
    })?;
    let failed = |e| Error::writing(dir, e);
    if dir.exists() {
        fs::rename(dir, &old.dir).map_err(failed)?;
    }
    if let Err(error) = fs::rename(&new.dir, dir) {
        if old.dir.exists() && fs::rename(&old.dir, dir).is_err() {
            // It is still whole, beside its place, and is put back the next time.
            std::mem::forget(old);
        }
        return Err(failed(error));
    }
    Ok(())
}

fn write_files(dir: &Path, files: &[(String, Vec<u8>)]) -> Result<(), Error> {
    for (name, bytes) in files {
        let path = dir.join(name);
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent).map_err(|e| Error::writing(parent, e))?;
        }
        fs::write(&path, bytes).map_err(|e| Error::writing(&path, e))?;
        sync(&path)?;
    }
    Ok(())
}

/// A hidden folder beside a pack's, gone when this is dropped.
struct Aside {
    dir: PathBuf,
}

impl Aside {
    fn of(dir: &Path, what: &str) -> Self {
        let name = dir.file_name().map_or_else(|| "voice".into(), |name| name.to_string_lossy());
        Self { dir: dir.with_file_name(format!(".{name}.{what}")) }
    }

    /// Takes away what an earlier, interrupted attempt left.
    fn clear(&self) -> Result<(), Error> {
        if self.dir.exists() {
            fs::remove_dir_all(&self.dir).map_err(|e| Error::writing(&self.dir, e))?;
        }
        Ok(())
    }
}

impl Drop for Aside {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.dir);
    }
}

#[cfg(test)]
mod tests;
