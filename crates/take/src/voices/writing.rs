//! Writing a voice: whole or not at all.

use std::fs;
use std::path::{Path, PathBuf};

use super::{MANIFEST, read};
use crate::Error;
use crate::beside::sync;

/// Writes a pack's files into a folder of their own, `dir`: beside it first, and then all at once into its place. A pack
/// that stood there is replaced, with all that lies in its folder, when the new one is whole on the disk and can be read,
/// and not before.
///
/// # Errors
/// If the folder holds something that is no voice, if the pack cannot be read again, or anything cannot be written; a
/// full disk is [`Error::VoiceDiskFull`]. What stood there stands there still.
pub fn write(dir: &Path, files: &[(String, Vec<u8>)]) -> Result<(), Error> {
    put_in_place(dir, files, None)
}

/// Writes new files of the pack that stands in `dir`, as whole or not at all as [`write()`]. Everything else in its folder
/// stays, but for the files that are `gone`.
///
/// # Errors
/// As [`write()`].
pub fn add(dir: &Path, files: &[(String, Vec<u8>)], gone: &[String]) -> Result<(), Error> {
    put_in_place(dir, files, Some(gone))
}

/// Puts back what an attempt left aside that was stopped between its two renames.
pub(super) fn put_back(dir: &Path) -> Result<(), Error> {
    let old = aside(dir, "old");
    if !dir.exists() && old.exists() {
        fs::rename(&old, dir).map_err(|e| Error::writing(dir, e))?;
    }
    Ok(())
}

fn put_in_place(dir: &Path, files: &[(String, Vec<u8>)], gone: Option<&[String]>) -> Result<(), Error> {
    put_back(dir)?;
    let old = Aside::of(dir, "old");
    old.clear()?;
    let holds_something = fs::read_dir(dir).is_ok_and(|mut entries| entries.next().is_some());
    if dir.exists() && !dir.join(MANIFEST).is_file() && (holds_something || !dir.is_dir()) {
        return Err(Error::NoVoiceThere { dir: dir.to_owned() });
    }
    let new = Aside::of(dir, "part");
    new.clear()?;
    let written = write_files(&new.dir, files).and_then(|()| match gone {
        Some(gone) => keep_others(dir, &new.dir, &gone.iter().map(|name| dir.join(name)).collect::<Vec<_>>()),
        None => Ok(()),
    });
    written.map_err(|error| match error {
        Error::DiskFull { .. } => Error::VoiceDiskFull { dir: dir.to_owned() },
        error => error,
    })?;
    // What could not be opened again is never put in the place of what can.
    read(&new.dir).map_err(|error| match error {
        Error::VoiceIn { reason, .. } => Error::VoiceIn { dir: dir.to_owned(), reason },
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

/// Copies what a folder holds, without the files that are gone, beside what the new one has already.
fn keep_others(from: &Path, to: &Path, gone: &[PathBuf]) -> Result<(), Error> {
    fs::create_dir_all(to).map_err(|e| Error::writing(to, e))?;
    let failed = |e| Error::reading(from, e);
    for entry in fs::read_dir(from).map_err(failed)? {
        let old = entry.map_err(failed)?.path();
        let Some(name) = old.file_name() else { continue };
        let new = to.join(name);
        if old.is_dir() {
            keep_others(&old, &new, gone)?;
        } else if !new.exists() && !gone.contains(&old) {
            fs::copy(&old, &new).map_err(|e| Error::writing(&new, e))?;
            sync(&new)?;
        }
    }
    Ok(())
}

/// The hidden folder beside a pack's.
fn aside(dir: &Path, what: &str) -> PathBuf {
    let name = dir.file_name().map_or_else(|| "voice".into(), |name| name.to_string_lossy());
    dir.with_file_name(format!(".{name}.{what}"))
}

/// A hidden folder beside a pack's, gone when this is dropped.
struct Aside {
    dir: PathBuf,
}

impl Aside {
    fn of(dir: &Path, what: &str) -> Self {
        Self { dir: aside(dir, what) }
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
