//! Files of one call that come into their places together.

use std::fs;
use std::path::{Path, PathBuf};

use take::Beside;

use crate::failure::Failure;

/// Files that are written beside their places, and folders made for them. Dropped before [`Parts::commit`], nothing is left of them, and
/// every place holds what it held before.
#[derive(Debug, Default)]
pub(crate) struct Parts {
    files: Vec<Beside>,
    /// The innermost first.
    folders: Vec<PathBuf>,
}

impl Parts {
    /// Makes a folder where there is none.
    ///
    /// # Errors
    /// If it cannot be made.
    pub(crate) fn folder(&mut self, folder: &Path) -> Result<(), Failure> {
        let missing = |path: &&Path| !path.as_os_str().is_empty() && !path.exists();
        let missing: Vec<PathBuf> = folder.ancestors().take_while(missing).map(Path::to_owned).collect();
        self.folders.extend(missing);
        fs::create_dir_all(folder).map_err(|error| Failure::file("make the folder", folder, &error))
    }

    /// Adds a file whose part is written.
    pub(crate) fn add(&mut self, file: Beside) {
        self.files.push(file);
    }

    /// Brings all files into their places.
    ///
    /// # Errors
    /// If one of them cannot be.
    pub(crate) fn commit(mut self) -> Result<(), Failure> {
        Beside::commit_all(std::mem::take(&mut self.files)).map_err(Failure::job)?;
        self.folders.clear();
        Ok(())
    }
}

impl Drop for Parts {
    fn drop(&mut self) {
        self.files.clear();
        for folder in &self.folders {
            // One that holds something else by now stays; that is no failure.
            let _ = fs::remove_dir(folder);
        }
    }
}
