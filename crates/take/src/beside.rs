use std::ffi::OsString;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::{Error, json};

/// A file written beside its place and then renamed into it, so that whoever opens the place finds the old file or
/// the whole new one, never a part.
///
/// It is written at [`Beside::part`], which is the place's name with `.part` after it, in the same folder. What is
/// no regular file (a pipe, `/dev/null`) is written in its place, for nothing may be renamed over it. Dropped
/// without [`Beside::commit`], the part is removed.
#[derive(Debug)]
pub struct Beside {
    place: PathBuf,
    part: PathBuf,
    committed: bool,
}

impl Beside {
    /// A file that is to stand at `place` in the end.
    #[must_use]
    pub fn new(place: &Path) -> Self {
        Self { place: place.to_owned(), part: Self::part_of(place), committed: false }
    }

    /// Where a file that is to stand at `place` is written; nothing is begun by asking.
    #[must_use]
    pub fn part_of(place: &Path) -> PathBuf {
        let special = fs::metadata(place).is_ok_and(|found| !found.is_file() && !found.is_dir());
        if special {
            return place.to_owned();
        }
        let mut name = OsString::from(place.as_os_str());
        name.push(".part");
        PathBuf::from(name)
    }

    /// Where to write it.
    #[must_use]
    pub fn part(&self) -> &Path {
        &self.part
    }

    /// `bytes`, written where a file that is to stand at `place` is written.
    ///
    /// # Errors
    /// If they cannot be written; a full disk is [`Error::DiskFull`].
    pub fn written(place: &Path, bytes: &[u8]) -> Result<Self, Error> {
        let beside = Self::new(place);
        write(&beside, bytes)?;
        Ok(beside)
    }

    /// Brings several files to the disk, and only when all of them are there renames each into its place: where one cannot be
    /// written, every place holds what it held before.
    ///
    /// # Errors
    /// If a part cannot be opened, kept or renamed.
    pub fn commit_all(files: Vec<Self>) -> Result<(), Error> {
        for file in files.iter().filter(|file| file.part != file.place) {
            sync(&file.part)?;
        }
        files.into_iter().try_for_each(Self::commit)
    }

    /// Brings what was written to the disk and renames it into its place.
    ///
    /// # Errors
    /// If the part cannot be opened, kept or renamed.
    pub fn commit(self) -> Result<(), Error> {
        if self.part != self.place {
            sync(&self.part)?;
        }
        let folder = self.place.parent().map(Path::to_owned);
        self.rename()?;
        // The new name is on the disk when the folder is. Where a folder cannot be opened as a file (Windows), the system
        // sees to that itself.
        if let Some(folder) = folder.and_then(|folder| File::open(folder).ok()) {
            let _ = folder.sync_all();
        }
        Ok(())
    }

    /// Renames without waiting for the disk: enough against a killed program, not against a power cut.
    pub(crate) fn rename(mut self) -> Result<(), Error> {
        if self.part != self.place {
            fs::rename(&self.part, &self.place).map_err(|e| Error::writing(&self.place, e))?;
        }
        self.committed = true;
        Ok(())
    }
}

impl Drop for Beside {
    fn drop(&mut self) {
        if !self.committed && self.part != self.place {
            // It may never have been made; that is no failure.
            let _ = fs::remove_file(&self.part);
        }
    }
}

/// Waits until the disk has what was written to a file, through whichever handle.
pub(crate) fn sync(path: &Path) -> Result<(), Error> {
    let failed = |e| Error::writing(path, e);
    OpenOptions::new().write(true).open(path).map_err(failed)?.sync_all().map_err(failed)
}

/// Writes `bytes` beside `place` and renames them into it.
///
/// # Errors
/// If the file cannot be written; a full disk is [`Error::DiskFull`]. The place then holds what it held before.
pub fn write_beside(place: &Path, bytes: &[u8]) -> Result<(), Error> {
    Beside::written(place, bytes)?.commit()
}

/// The same without waiting for the disk.
pub(crate) fn write_beside_quickly(place: &Path, bytes: &[u8]) -> Result<(), Error> {
    let beside = Beside::new(place);
    write(&beside, bytes)?;
    beside.rename()
}

/// Writes a form beside `place`, as its text comes, and renames it into it.
///
/// # Errors
/// As [`write_beside`].
pub(crate) fn write_json_beside<T: Serialize>(place: &Path, form: &T) -> Result<(), Error> {
    let beside = Beside::new(place);
    write_json(&beside, form)?;
    beside.commit()
}

/// The same without waiting for the disk.
pub(crate) fn write_json_beside_quickly<T: Serialize>(place: &Path, form: &T) -> Result<(), Error> {
    let beside = Beside::new(place);
    write_json(&beside, form)?;
    beside.rename()
}

fn write_json<T: Serialize>(beside: &Beside, form: &T) -> Result<(), Error> {
    write_with(beside, |file| {
        let mut out = BufWriter::new(file);
        json::write(form, &mut out)?;
        out.flush()
    })
}

/// Writes the part.
fn write(beside: &Beside, bytes: &[u8]) -> Result<(), Error> {
    write_with(beside, |mut file| file.write_all(bytes))
}

/// Writes the part; what fails is told of the place, or of its folder where there is none.
fn write_with(beside: &Beside, write: impl FnOnce(File) -> io::Result<()>) -> Result<(), Error> {
    let folder = beside.place.parent().filter(|folder| !folder.as_os_str().is_empty() && !folder.exists());
    let failed = |e| Error::writing(folder.unwrap_or(&beside.place), e);
    write(File::create(&beside.part).map_err(failed)?).map_err(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_place_holds_the_old_file_or_the_new_one() {
        let dir = tempfile::tempdir().expect("a folder");
        let place = dir.path().join("take.mid");
        write_beside(&place, b"old").expect("written");
        let beside = Beside::new(&place);
        write(&beside, b"ne").expect("written");
        assert_eq!(fs::read(&place).expect("read"), b"old");
        drop(beside);
        assert!(!dir.path().join("take.mid.part").exists(), "an abandoned part is removed");
        write_beside(&place, b"new").expect("written");
        assert_eq!(fs::read(&place).expect("read"), b"new");
    }

    #[test]
    fn several_files_come_into_their_places_together() {
        let dir = tempfile::tempdir().expect("a folder");
        let places = ["click.wav", "clap.wav"].map(|name| dir.path().join(name));
        let parts = || {
            places
                .each_ref()
                .map(|place| Beside::written(place, b"new").expect("written"))
                .into_iter()
                .collect::<Vec<_>>()
        };
        Beside::commit_all(parts()).expect("renamed");
        assert!(places.iter().all(|place| fs::read(place).expect("read") == b"new"));
        fs::write(&places[0], b"old").expect("written");
        let parts = parts();
        fs::remove_file(parts[1].part()).expect("lost");
        Beside::commit_all(parts).expect_err("one is lost");
        assert_eq!(fs::read(&places[0]).expect("read"), b"old");
    }

    #[test]
    fn a_folder_that_is_not_there_is_named() {
        let dir = tempfile::tempdir().expect("a folder");
        let folder = dir.path().join("nobody made it");
        let error = write_beside(&folder.join("sheet.pdf"), b"new").expect_err("no folder").to_string();
        assert!(error.starts_with(&folder.display().to_string()), "{error}");
        assert!(!error.contains(".p"), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn what_is_no_regular_file_is_never_renamed_over() {
        use std::os::unix::fs::FileTypeExt;
        write_beside(Path::new("/dev/null"), b"gone").expect("written");
        let kind = fs::metadata("/dev/null").expect("there").file_type();
        assert!(kind.is_char_device());
        assert!(!Path::new("/dev/null.part").exists());
    }

    #[test]
    fn a_missing_folder_is_said_plainly() {
        let error = write_beside(Path::new("/no/such/folder/take.mid"), b"x").expect_err("no folder");
        assert!(error.to_string().contains("/no/such/folder"), "{error}");
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_told_apart() {
        let error = write_beside(Path::new("/dev/full"), b"x").expect_err("always full");
        assert!(matches!(error, Error::DiskFull { .. }), "{error}");
    }
}
