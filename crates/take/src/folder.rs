use std::path::{Path, PathBuf};

/// The files of a take, all in one folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Folder {
    dir: PathBuf,
}

impl Folder {
    /// The files in `dir`; whether they are there is another question.
    #[must_use]
    pub fn new(dir: &Path) -> Self {
        Self { dir: dir.to_owned() }
    }

    /// The folder itself.
    #[must_use]
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The journal, written line by line while the take is played: `journal.jsonl`.
    #[must_use]
    pub fn journal(&self) -> PathBuf {
        self.dir.join("journal.jsonl")
    }

    /// The sound, the model in the left channel, the player in the right: `take.wav`.
    #[must_use]
    pub fn wav(&self) -> PathBuf {
        self.dir.join("take.wav")
    }

    /// The attacks: `take.mid`.
    #[must_use]
    pub fn midi(&self) -> PathBuf {
        self.dir.join("take.mid")
    }

    /// The description: `take.json`.
    #[must_use]
    pub fn description(&self) -> PathBuf {
        self.dir.join("take.json")
    }

    /// What the teacher says of it: `notes.json`.
    #[must_use]
    pub fn notes(&self) -> PathBuf {
        self.dir.join("notes.json")
    }

    /// Whether any file of a take is there.
    pub(crate) fn holds_something(&self) -> bool {
        [self.journal(), self.wav(), self.midi(), self.description()].iter().any(|path| path.exists())
    }
}
