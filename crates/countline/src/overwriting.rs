//! No call writes over what it reads, nor over what it has just written.
//!
//! Every job says which files it reads and which it writes ([`crate::flags::Job::files`]), and [`check`] looks at them
//! before anything is opened: files are compared as they lie on the disk, so that a link or another spelling of the
//! same path is no way round it.

use std::fs;
use std::path::{Path, PathBuf};

use same_file::Handle;
use take::{Beside, Folder};

use crate::failure::Failure;

/// The files that a call names.
#[derive(Debug, Default)]
pub(crate) struct Files {
    reads: Vec<Read>,
    writes: Vec<Write>,
}

#[derive(Debug)]
struct Read {
    /// What it is to whoever called: `the rhythm text`.
    what: &'static str,
    path: PathBuf,
    /// Everything in the folder, not the folder itself.
    below: bool,
}

#[derive(Debug)]
struct Write {
    /// The flag that names it.
    flag: &'static str,
    path: PathBuf,
}

/// What stands for standard input where a file is read.
const STANDARD: &str = "-";

impl Files {
    /// A file that is read; `-` is whatever standard input is.
    pub(crate) fn read(mut self, what: &'static str, path: impl AsRef<Path>) -> Self {
        self.reads.push(Read { what, path: path.as_ref().to_owned(), below: false });
        self
    }

    /// Several, or one that may not be given.
    pub(crate) fn read_all<P: AsRef<Path>>(
        self,
        what: &'static str,
        paths: impl IntoIterator<Item = P>,
    ) -> Self {
        paths.into_iter().fold(self, |files, path| files.read(what, path))
    }

    /// The rhythms that the drill plan at `plan` names, from its own folder.
    pub(crate) fn of_plan(plan: &Path, rhythms: &[PathBuf]) -> Self {
        let folder = plan.parent().unwrap_or(Path::new(""));
        Self::default().read_all("the plan's rhythm", rhythms.iter().map(|rhythm| folder.join(rhythm)))
    }

    /// A take: a file, or a folder with files of its own.
    pub(crate) fn read_take(self, take: Option<&Path>) -> Self {
        let Some(take) = take else { return self };
        if !take.is_dir() {
            return self.read("the take", take);
        }
        let folder = Folder::new(take);
        let files = [folder.journal(), folder.wav(), folder.midi(), folder.description(), folder.notes()];
        self.read_all("a file of the take", files)
    }

    /// All files in the folder of a voice, where the voice is one of the user's own.
    pub(crate) fn read_voice(mut self, voice: Option<&str>) -> Self {
        if let Some(path) = voice.and_then(|voice| take::voices::place_of(voice).ok()) {
            self.reads.push(Read { what: "a file of the voice", path, below: true });
        }
        self
    }

    /// A counting system, where it is a table in a file.
    pub(crate) fn read_counting(self, name: &str) -> Self {
        match crate::counting_file::of_its_own(name) {
            Some(path) => self.read("the counting system", path),
            None => self,
        }
    }

    /// A file that is written where the flag is given.
    pub(crate) fn write(mut self, flag: &'static str, path: Option<impl AsRef<Path>>) -> Self {
        self.writes.extend(path.map(|path| Write { flag, path: path.as_ref().to_owned() }));
        self
    }

    /// Pages: where there are several, each is a file of its own with its number behind the name. Only those numbers
    /// matter that a file which is read has.
    pub(crate) fn write_pages(mut self, flag: &'static str, out: &Path) -> Self {
        let ending = |path: &Path| path.extension().map(std::ffi::OsStr::to_owned);
        let stem = |path: &Path| path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
        let first = format!("{}-", stem(out).unwrap_or_default());
        let numbers: Vec<String> = self
            .reads
            .iter()
            .filter(|read| ending(&read.path) == ending(out))
            .filter_map(|read| stem(&read.path)?.strip_prefix(&first).map(str::to_owned))
            .filter(|number| !number.is_empty() && number.bytes().all(|digit| digit.is_ascii_digit()))
            .collect();
        for number in numbers {
            let page = crate::flags::paper::beside(out, &format!("-{number}"));
            self.writes.push(Write { flag, path: page });
        }
        self.write(flag, Some(out))
    }
}

/// Refuses a call that would write over a file it reads, write two things to one file, or write to `-`.
///
/// # Errors
/// A wrong call, which says what was given and what to do. Nothing is written by then.
pub(crate) fn check(files: &Files) -> Result<(), Failure> {
    if let Some(Write { flag, path }) = files.writes.iter().find(|write| write.path == Path::new(STANDARD)) {
        let given = path.display();
        return Err(Failure::Call(format!(
            "{flag} {given}: this is written to files only, not to standard output: give the name of one \
             (./{given} for a file that is called so)"
        )));
    }
    // Where a file is to stand, and where it stands while it is being written.
    let places = |write: &Write| -> Vec<(PathBuf, OnDisk)> {
        [write.path.clone(), Beside::part_of(&write.path)]
            .into_iter()
            .map(|path| (path.clone(), OnDisk::of(&path)))
            .collect()
    };
    let written: Vec<(&Write, Vec<(PathBuf, OnDisk)>)> =
        files.writes.iter().map(|write| (write, places(write))).collect();
    if written.is_empty() {
        return Ok(());
    }
    for read in &files.reads {
        let found = OnDisk::of(&read.path);
        for (write, places) in &written {
            let lost = |(path, place): &&(PathBuf, OnDisk)| {
                if read.below { found.holds(path) } else { found.is(place) }
            };
            if let Some((path, _)) = places.iter().find(lost) {
                return Err(over_what_is_read(read, write, path));
            }
        }
    }
    for (number, (write, places)) in written.iter().enumerate() {
        for (other, others) in &written[..number] {
            if places.iter().any(|(_, place)| others.iter().any(|(_, other)| other.is(place))) {
                return Err(Failure::Call(format!(
                    "{} {} and {} {} are one file, of which one would be lost: give each a name of its own",
                    other.flag,
                    other.path.display(),
                    write.flag,
                    write.path.display()
                )));
            }
        }
    }
    Ok(())
}

fn over_what_is_read(read: &Read, write: &Write, place: &Path) -> Failure {
    let Read { what, path, .. } = read;
    let (flag, out) = (write.flag, write.path.display());
    let while_written = if place == write.path {
        String::new()
    } else {
        format!(" (as {}, while it is written)", place.display())
    };
    let read = if path == Path::new(STANDARD) {
        format!("{what}, which is read from standard input")
    } else {
        format!("{what} {}, which is read", path.display())
    };
    Failure::Call(format!(
        "{flag} {out}{while_written} would be written over {read}: give the name of another file"
    ))
}

/// A place on the disk, comparable with others.
#[derive(Debug)]
enum OnDisk {
    /// The file that is there, whatever it is called.
    File(Handle),
    /// Where nothing is yet, or a folder: its whole path.
    Place(PathBuf),
    /// What nothing is lost in: a device, a pipe, a terminal.
    Stream,
}

impl OnDisk {
    fn of(path: &Path) -> Self {
        if path == Path::new(STANDARD) {
            let input = Handle::stdin().ok();
            let file = input.filter(|input| input.as_file().metadata().is_ok_and(|found| found.is_file()));
            return file.map_or(Self::Stream, Self::File);
        }
        match fs::metadata(path) {
            Ok(found) if found.is_file() => {
                // What may not be opened is known by its path all the same.
                Handle::from_path(path).map_or_else(|_| Self::Place(whole(path)), Self::File)
            }
            Ok(found) if !found.is_dir() => Self::Stream,
            _ => Self::Place(whole(path)),
        }
    }

    fn is(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::File(file), Self::File(other)) => file == other,
            (Self::Place(place), Self::Place(other)) => place == other,
            _ => false,
        }
    }

    /// Whether there is a file at `path`, and this is a folder that it is in.
    fn holds(&self, path: &Path) -> bool {
        matches!(self, Self::Place(folder) if path.is_file() && whole(path).starts_with(folder))
    }
}

/// A path from the root, without links as far as it exists.
fn whole(path: &Path) -> PathBuf {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let there = path.ancestors().find_map(|part| Some((part, part.canonicalize().ok()?)));
    match there {
        Some((part, canonical)) => match path.strip_prefix(part) {
            Ok(rest) if !rest.as_os_str().is_empty() => canonical.join(rest),
            _ => canonical,
        },
        None => path,
    }
}
