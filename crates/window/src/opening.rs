//! Choosing a file in the desktop's own dialog.

use std::path::{Path, PathBuf};

use crossbeam_channel::{Receiver, TryRecvError, bounded};
use rfd::AsyncFileDialog;

/// A dialog that is open, or may be.
#[derive(Debug, Default)]
pub(crate) struct FileChoice {
    answer: Option<Receiver<Option<PathBuf>>>,
}

/// What came of the dialog.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Chosen {
    /// This file.
    File(PathBuf),
    /// None: the dialog was closed, or this desktop has none.
    Nothing,
}

impl FileChoice {
    /// Opens the dialog, unless it is open; `wake` is called when it has been answered.
    pub(crate) fn ask(&mut self, folder: Option<&Path>, wake: impl FnOnce() + Send + 'static) {
        if self.answer.is_some() {
            return;
        }
        let mut dialog = AsyncFileDialog::new()
            .set_title("Open a rhythm or a drill plan")
            .add_filter("Rhythm text, drill plans", &["rhythm", "txt", "drill"]);
        if let Some(folder) = folder.filter(|folder| folder.is_dir()) {
            dialog = dialog.set_directory(folder);
        }
        // Made on this thread, because one system wants its dialogs on the first thread; waited for on another.
        let asked = dialog.pick_file();
        let (sender, answer) = bounded(1);
        let waiter = std::thread::Builder::new().name("file choice".to_owned()).spawn(move || {
            let file = pollster::block_on(asked);
            // The window may be gone by then.
            let _ = sender.send(file.map(|file| file.path().to_owned()));
            wake();
        });
        self.answer = waiter.is_ok().then_some(answer);
    }

    /// What was chosen, once.
    pub(crate) fn answer(&mut self) -> Option<Chosen> {
        let answer = self.answer.as_ref()?.try_recv();
        if answer == Err(TryRecvError::Empty) {
            return None;
        }
        self.answer = None;
        Some(answer.ok().flatten().map_or(Chosen::Nothing, Chosen::File))
    }
}
