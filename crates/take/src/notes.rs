//! What a teacher says of a take, kept in its folder.

use std::fs::{self, File};
use std::path::Path;

use crate::json::{FindingRef, NotesFile, RemarkForm, VERSION};
use crate::limits::{NOTE_CHARS, NOTES_BYTES};
use crate::{Error, Folder, write_beside};

/// The teacher's notes of a take, in the order in which they were said. `notes.json` in the take's folder holds them; one is
/// added and none is ever taken away.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Notes {
    notes: Vec<RemarkForm>,
}

impl Notes {
    /// The notes of the take in `dir`; none where there is no `notes.json`.
    ///
    /// # Errors
    /// [`Error::NotesDamaged`], [`Error::Version`], a file that is too large or cannot be read.
    pub fn read(dir: &Path) -> Result<Self, Error> {
        let path = Folder::new(dir).notes();
        let size = match fs::metadata(&path) {
            Ok(found) => i64::try_from(found.len()).unwrap_or(i64::MAX),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(Self::default()),
            Err(e) => return Err(Error::reading(&path, e)),
        };
        if !NOTES_BYTES.holds(size) {
            return Err(Error::OutOfRange { given: size, limit: NOTES_BYTES });
        }
        let bytes = fs::read(&path).map_err(|e| Error::reading(&path, e))?;
        let damaged = |e: serde_json::Error| Error::NotesDamaged { path: path.clone(), why: e.to_string() };
        let value: serde_json::Value = serde_json::from_slice(&bytes).map_err(damaged)?;
        let version = value.get("version").and_then(serde_json::Value::as_u64);
        if let Some(given) = version.filter(|&given| given > u64::from(VERSION)) {
            let given = u32::try_from(given).unwrap_or(u32::MAX);
            return Err(Error::Version { path, given, reads: VERSION });
        }
        let file: NotesFile = serde_json::from_value(value).map_err(damaged)?;
        Ok(Self { notes: file.notes })
    }

    /// Adds a note to those of the take in `dir`, and gives all of them. The file is written beside and renamed; notes that
    /// cannot be read are never written over.
    ///
    /// # Errors
    /// As [`Notes::read`]; [`Error::NoTake`] where `dir` holds no take; a text outside [`NOTE_CHARS`]; a failure to write.
    pub fn add(dir: &Path, note: RemarkForm) -> Result<Self, Error> {
        let folder = Folder::new(dir);
        if !folder.holds_something() {
            return Err(Error::NoTake { dir: dir.to_owned() });
        }
        if let Some(text) = &note.note {
            let given = i64::try_from(text.chars().count()).unwrap_or(i64::MAX);
            if !NOTE_CHARS.holds(given) {
                return Err(Error::OutOfRange { given, limit: NOTE_CHARS });
            }
        }
        // Two who write at once wait for each other, where a folder can be held; the lock ends with this call.
        let held = File::open(dir).ok().filter(|dir| dir.lock().is_ok());
        let mut all = Self::read(dir)?;
        all.notes.push(note);
        let file = NotesFile { version: VERSION, notes: all.notes.clone() };
        write_beside(&folder.notes(), crate::json::text(&file).as_bytes())?;
        drop(held);
        Ok(all)
    }

    /// All of them, as they were said.
    #[must_use]
    pub fn all(&self) -> &[RemarkForm] {
        &self.notes
    }

    /// Whether this finding is overruled: whether the last that was said of it overruled it.
    #[must_use]
    pub fn overrules(&self, finding: &FindingRef) -> bool {
        let last = self.notes.iter().rev().find(|note| note.finding.as_ref() == Some(finding));
        last.is_some_and(|note| note.said == RemarkForm::OVERRULED)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rest() -> FindingRef {
        FindingRef {
            player: "K2".to_owned(),
            kind: "rest-struck".to_owned(),
            bar: Some(4),
            pass: Some(1),
            at: Some("3/4".to_owned()),
        }
    }

    fn folder() -> tempfile::TempDir {
        let dir = tempfile::tempdir().expect("a folder");
        fs::write(dir.path().join("take.json"), "{}").expect("written");
        dir
    }

    #[test]
    fn what_was_said_last_holds_and_all_of_it_stays() {
        let dir = folder();
        assert_eq!(Notes::read(dir.path()).expect("none yet"), Notes::default());
        let said = [
            RemarkForm::overruled("2026-01-02T10:00:00+01:00", rest(), Some("she caught a stick".to_owned())),
            RemarkForm::note("2026-01-02T10:01:00+01:00", "a new pad"),
            RemarkForm::upheld("2026-01-02T10:02:00+01:00", rest(), None),
        ];
        for (n, overruled) in [(0, true), (1, true), (2, false)] {
            let written = Notes::add(dir.path(), said[n].clone()).expect("kept");
            let read = Notes::read(dir.path()).expect("read again");
            assert_eq!((&written, read.all()), (&read, &said[..=n]));
            assert_eq!(read.overrules(&rest()), overruled, "{n}");
        }
        let other = FindingRef { bar: Some(5), ..rest() };
        assert!(!Notes::read(dir.path()).expect("read").overrules(&other));
    }

    #[test]
    fn damaged_notes_are_told_and_left_as_they_are() {
        let dir = folder();
        Notes::add(dir.path(), RemarkForm::note("2026-01-02T10:00:00+01:00", "first")).expect("kept");
        let path = dir.path().join("notes.json");
        let whole = fs::read_to_string(&path).expect("there");
        let check = |text: &str, expected: &str| {
            fs::write(&path, text).expect("written");
            let note = RemarkForm::note("2026-01-02T10:00:00+01:00", "second");
            for error in [Notes::read(dir.path()).err(), Notes::add(dir.path(), note).err()] {
                let error = error.expect("refused").to_string();
                assert!(error.contains(expected) && error.contains("notes.json"), "{error}");
            }
            assert_eq!(fs::read_to_string(&path).expect("there"), text);
        };
        check(&whole[..whole.len() / 2], "restore it from a copy");
        check("", "restore it from a copy");
        check(&whole.replace("\"noted\"", "\"thought\""), "restore it from a copy");
        check(&whole.replace("\"version\": 1", "\"version\": 2"), "of version 2");
    }

    #[test]
    fn a_note_has_a_length_and_a_take() {
        let dir = folder();
        for text in [String::new(), "x".repeat(2_001)] {
            let error = Notes::add(dir.path(), RemarkForm::note("", &text)).expect_err("refused").to_string();
            assert!(error.contains("from 1 to 2000"), "{error}");
        }
        let empty = tempfile::tempdir().expect("a folder");
        let error = Notes::add(empty.path(), RemarkForm::note("", "x")).expect_err("no take");
        assert!(matches!(error, Error::NoTake { .. }), "{error}");
    }

    #[test]
    fn two_who_write_at_once_lose_nothing() {
        let dir = folder();
        std::thread::scope(|scope| {
            for writer in 0..4 {
                let dir = dir.path();
                scope.spawn(move || {
                    for n in 0..5 {
                        Notes::add(dir, RemarkForm::note("", &format!("{writer} {n}"))).expect("kept");
                    }
                });
            }
        });
        assert_eq!(Notes::read(dir.path()).expect("read").all().len(), 20);
    }
}
