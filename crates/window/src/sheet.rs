//! The rhythm text that lies open.

use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use counting::{CountLine, Settings, System};
use rhythm::Rhythm;
use rhythm::limits::TEXT_BYTES;
use rhythm::text::{Diagnostic, Place, Severity};

use crate::Error;

/// A rhythm text as it was read.
#[derive(Clone, Debug)]
pub(crate) struct Sheet {
    path: PathBuf,
    /// The part that was asked for.
    part: Option<String>,
    /// In which it is counted.
    system: System,
    text: String,
    rhythm: Option<(Rhythm, CountLine)>,
    diagnostics: Vec<Diagnostic>,
}

/// One thing to say about the text, with the line it is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Remark {
    /// Whether it stands in the way.
    pub(crate) is_error: bool,
    /// Where, from 1.
    pub(crate) place: Place,
    /// The line of the text, tabs as blanks.
    pub(crate) line: String,
    /// How many characters are pointed at: at least one.
    pub(crate) length: usize,
    /// What was read.
    pub(crate) message: String,
    /// What is allowed there and what to do.
    pub(crate) help: String,
}

impl Sheet {
    /// Reads a file. Mistakes in the text are no failure: they are shown.
    ///
    /// Of several parts the one named or numbered `part` is shown, or else the first; counted in `system`.
    pub(crate) fn open(path: &Path, part: Option<&str>, system: &System) -> Result<Self, Error> {
        Ok(Self::of(path, text_of(path)?, part, system))
    }

    /// A text as it would be read from a file.
    pub(crate) fn of(path: &Path, text: String, part: Option<&str>, system: &System) -> Self {
        let reading = rhythm::text::read_piece(&text);
        let rhythm = reading.piece.map(|piece| {
            let chosen = part.and_then(|part| piece.part(part)).unwrap_or(&piece.parts()[0]);
            let rhythm = chosen.rhythm.clone();
            let counting = counting::count_in(&rhythm, system, &Settings::default());
            (rhythm, counting)
        });
        let part = part.map(str::to_owned);
        let (path, system) = (path.to_owned(), system.clone());
        Self { path, part, system, text, rhythm, diagnostics: reading.diagnostics }
    }

    /// The sheet as the file is now, if it is another one than was read.
    pub(crate) fn reread(&self) -> Result<Option<Self>, Error> {
        let text = text_of(&self.path)?;
        Ok((text != self.text).then(|| Self::of(&self.path, text, self.part.as_deref(), &self.system)))
    }

    /// The rhythm text that comes after this one in its folder, by name; none after the last.
    pub(crate) fn next_in_folder(&self) -> Result<Option<PathBuf>, Error> {
        let folder = self.path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        let failed = |why| Error::Read { path: folder.to_owned(), why };
        let mut next: Option<std::ffi::OsString> = None;
        for entry in std::fs::read_dir(folder).map_err(failed)? {
            let name = entry.map_err(failed)?.file_name();
            let is_rhythm = Path::new(&name).extension().is_some_and(|end| end == "rhythm");
            let is_after = self.path.file_name().is_some_and(|own| name.as_os_str() > own);
            if is_rhythm && is_after && next.as_ref().is_none_or(|next| name < *next) {
                next = Some(name);
            }
        }
        Ok(next.map(|name| self.path.with_file_name(name)))
    }

    /// Where it was read from.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// The rhythm and its counting, unless a mistake stands in the way.
    pub(crate) fn rhythm(&self) -> Option<&(Rhythm, CountLine)> {
        self.rhythm.as_ref()
    }

    /// What it is called: its title, else its file's name.
    pub(crate) fn title(&self) -> String {
        let title = self.rhythm.as_ref().and_then(|(rhythm, _)| rhythm.title());
        let name = || self.path.file_name().map(|name| name.to_string_lossy().into_owned());
        title.map(str::to_owned).or_else(name).unwrap_or_default()
    }

    /// Mistakes and hints, in the order of the text.
    pub(crate) fn remarks(&self) -> impl Iterator<Item = Remark> {
        self.diagnostics.iter().map(|diagnostic| {
            let place = Place::of(&self.text, diagnostic.span.start);
            let line = self.text.lines().nth(place.line - 1).unwrap_or_default().replace('\t', " ");
            let pointed = self.text.get(diagnostic.span.clone()).unwrap_or_default();
            let length = pointed.lines().next().unwrap_or_default().chars().count();
            Remark {
                is_error: diagnostic.severity == Severity::Error,
                place,
                line,
                length: length.max(1),
                message: diagnostic.message.clone(),
                help: diagnostic.help.clone(),
            }
        })
    }
}

fn text_of(path: &Path) -> Result<String, Error> {
    // One byte more than allowed, so that a text that is too long is seen to be; of a file of another kind no more is read.
    let most = u64::try_from(TEXT_BYTES.most).unwrap_or(u64::MAX).saturating_add(1);
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(most).read_to_end(&mut bytes))
        .map_err(|why| Error::Read { path: path.to_owned(), why })?;
    String::from_utf8(bytes)
        .map_err(|error| Error::NoText { path: path.to_owned(), at: error.utf8_error().valid_up_to() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(text: &str) -> Sheet {
        Sheet::of(Path::new("some/Tin Roof.rhythm"), text.to_owned(), None, System::numbers())
    }

    #[test]
    fn a_sheet_has_a_name_and_its_remarks_a_place() {
        let good = sheet("title: Tin Roof\nmeter: 4/4\n| 1 2 & 3 (4) |");
        assert_eq!(good.title(), "Tin Roof");
        assert!(good.rhythm().is_some());
        let bad = sheet("meter: 4/4\n| 1 2 & 5 |");
        assert_eq!(bad.title(), "Tin Roof.rhythm");
        assert!(bad.rhythm().is_none());
        let remark = bad.remarks().next().expect("an error");
        assert!(remark.is_error);
        assert_eq!((remark.place.line, remark.place.column), (2, 9));
        assert_eq!((remark.line.as_str(), remark.length), ("| 1 2 & 5 |", 1));
        assert!(!remark.message.is_empty() && !remark.help.is_empty());
    }

    #[test]
    fn a_file_is_read_again_when_it_has_changed() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.rhythm");
        std::fs::write(&path, "| 1 2 3 4 |").expect("written");
        let sheet = Sheet::open(&path, None, System::numbers()).expect("read");
        assert!(sheet.reread().expect("read").is_none());
        std::fs::write(&path, "| 1 2 3 & 4 |").expect("written");
        assert!(sheet.reread().expect("read").is_some_and(|sheet| sheet.rhythm().is_some()));
    }

    #[test]
    fn the_next_rhythm_of_a_folder_is_found_by_name() {
        let folder = tempfile::tempdir().expect("a folder");
        for name in ["3.rhythm", "1.rhythm", "2.txt", "2.rhythm", "4.mid"] {
            std::fs::write(folder.path().join(name), "| 1 2 3 4 |").expect("written");
        }
        let mut path = folder.path().join("1.rhythm");
        for expected in ["2.rhythm", "3.rhythm"] {
            let sheet = Sheet::open(&path, None, System::numbers()).expect("read");
            path = sheet.next_in_folder().expect("listed").expect("another");
            assert_eq!(path, folder.path().join(expected));
        }
        assert_eq!(
            Sheet::open(&path, None, System::numbers()).expect("read").next_in_folder().expect("listed"),
            None
        );
    }

    #[test]
    fn what_cannot_be_read_says_why() {
        let folder = tempfile::tempdir().expect("a folder");
        let missing = Sheet::open(&folder.path().join("none.rhythm"), None, System::numbers())
            .expect_err("not there")
            .to_string();
        assert!(missing.contains("none.rhythm") && missing.contains("check the path"), "{missing}");
        let path = folder.path().join("take.mid");
        std::fs::write(&path, [b'M', b'T', 0xff, 0xfe]).expect("written");
        let binary = Sheet::open(&path, None, System::numbers()).expect_err("no text").to_string();
        assert!(binary.contains("byte 2") && binary.contains("UTF-8"), "{binary}");
    }
}
