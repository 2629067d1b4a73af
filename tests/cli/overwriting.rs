//! No command writes over what it reads, whatever the file is called there, nor two things to one file; and none writes a file
//! called `-`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use tests::program::{call, run};

const RHYTHM: &str = "meter: 2/4\ntempo: quarter = 120\n| 1 & 2 |\n";

/// A folder with one of everything that is read.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).expect("it takes files");
    write("r.rhythm", RHYTHM);
    write("answers.txt", "K07: 1 & 2\n");
    write("counting.txt", "| ta ta-di |\n");
    write("lesson.drill", "rhythms = [\"r.rhythm\"]\n");
    // What is refused is not read.
    write("own.toml", "name = \"own\"\n");
    write("rubric.toml", &run(["rubric"]).done());
    let at = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    run(["export", &at("r.rhythm"), "-o", &at("r.musicxml")]).done();
    run(["sound", &at("r.rhythm"), "--midi", &at("take.mid")]).done();
    folder
}

/// Every file and link below a folder and what is in it.
fn all(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder).expect("it can be listed") {
        let entry = entry.expect("an entry");
        let (path, kind) = (entry.path(), entry.file_type().expect("a kind"));
        if kind.is_dir() {
            files.extend(all(&path));
        }
        let holds = if kind.is_symlink() {
            fs::read_link(&path).expect("a link").to_string_lossy().into_owned().into_bytes()
        } else if kind.is_dir() {
            Vec::new()
        } else {
            fs::read(&path).expect("it can be read")
        };
        files.insert(path, holds);
    }
    files
}

/// The call is wrong, says these words, and not a byte of the folder is another.
#[track_caller]
fn refused(folder: &Path, arguments: &[&str], words: &[&str]) {
    let before = all(folder);
    let output = call(arguments).current_dir(folder).output().expect("countline runs");
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(
        output.status.code(),
        Some(2),
        "{arguments:?}: {err}{}",
        String::from_utf8_lossy(&output.stdout)
    );
    for word in words {
        assert!(err.contains(word), "{arguments:?}: \"{word}\" is not in {err}");
    }
    assert!(all(folder) == before, "{arguments:?} wrote something");
}

const OVER: &str = "would be written over";
const ANOTHER: &str = "give the name of another file";

/// A command, the flag that it writes with, the file that it reads, and the rest.
const CALLS: [(&[&str], &str, &str); 24] = [
    (&["sound", "r.rhythm"], "--wav", "r.rhythm"),
    (&["sound", "r.rhythm"], "--midi", "r.rhythm"),
    (&["sound", "r.rhythm", "--counting", "own.toml"], "--wav", "own.toml"),
    (&["sound", "r.rhythm", "--take", "take.mid"], "--midi", "take.mid"),
    (&["drill", "r.rhythm"], "--out", "r.rhythm"),
    (&["drill", "lesson.drill"], "--out", "lesson.drill"),
    (&["drill", "lesson.drill"], "--out", "r.rhythm"),
    (&["picture", "r.rhythm"], "--out", "r.rhythm"),
    (&["picture", "r.rhythm", "--counting", "numbers", "--counting", "own.toml"], "--out", "own.toml"),
    (&["sheet", "r.rhythm", "--pdf"], "--out", "r.rhythm"),
    (&["sheet", "r.rhythm", "--pdf", "--counting", "own.toml"], "--out", "own.toml"),
    (&["pack", "r.rhythm"], "--out", "r.rhythm"),
    (&["chart", "counting", "--pdf", "--counting", "own.toml"], "--out", "own.toml"),
    (&["import", "r.musicxml"], "--out", "r.musicxml"),
    (&["write", "--from-take", "take.mid"], "--out", "take.mid"),
    (&["write", "--from-counting", "counting.txt", "--counting", "takadimi"], "--out", "counting.txt"),
    (&["judge", "r.rhythm", "take.mid"], "--svg", "r.rhythm"),
    (&["judge", "r.rhythm", "take.mid"], "--svg", "take.mid"),
    (&["judge", "r.rhythm", "take.mid"], "--pdf", "take.mid"),
    (&["judge", "r.rhythm", "take.mid", "--rubric", "rubric.toml"], "--pdf", "rubric.toml"),
    (&["check-counts", "r.rhythm", "answers.txt"], "--table", "answers.txt"),
    (&["check-counts", "r.rhythm", "answers.txt"], "--table", "r.rhythm"),
    (&["listen", "r.rhythm", "--replay", "take.mid"], "--take", "take.mid"),
    (&["listen", "r.rhythm"], "--take", "r.rhythm"),
];

#[test]
fn no_command_writes_over_what_it_reads() {
    let folder = folder();
    let at = folder.path();
    for (arguments, flag, file) in CALLS {
        refused(at, &[arguments, &[flag, file]].concat(), &[flag, file, OVER, ANOTHER]);
        refused(at, &[arguments, &[flag, "-"]].concat(), &[flag, "standard output", "give the name of one"]);
    }
    // What is named by its ending needs an ending of its own to be the same file.
    fs::copy(at.join("r.rhythm"), at.join("r.mxl")).expect("it takes files");
    refused(at, &["export", "r.mxl", "--out", "r.mxl"], &["--out", "r.mxl", OVER]);
}

#[cfg(unix)]
#[test]
fn a_link_or_another_spelling_is_no_way_round_it() {
    let folder = folder();
    let at = folder.path();
    fs::create_dir(at.join("inside")).expect("it takes folders");
    std::os::unix::fs::symlink("r.rhythm", at.join("link.wav")).expect("it takes links");
    std::os::unix::fs::symlink(".", at.join("here")).expect("it takes links");
    fs::hard_link(at.join("r.rhythm"), at.join("hard.wav")).expect("it takes links");
    let whole = at.join("r.rhythm").to_string_lossy().into_owned();
    for spelt in ["link.wav", "hard.wav", "here/r.rhythm", "inside/../r.rhythm", "./r.rhythm", &whole] {
        refused(at, &["sound", "r.rhythm", "--wav", spelt], &["--wav", spelt, OVER]);
        refused(at, &["sound", spelt, "--midi", "r.rhythm"], &["--midi", "r.rhythm", OVER]);
    }
    // A file on standard input is one too, and a file is written as `.part` first.
    let output = call(["sound", "-", "--midi", "r.rhythm"])
        .current_dir(at)
        .stdin(fs::File::open(at.join("r.rhythm")).expect("it is there"))
        .output()
        .expect("countline runs");
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && err.contains("read from standard input"), "{err}");
    assert_eq!(fs::read(at.join("r.rhythm")).expect("it is there"), RHYTHM.as_bytes());
    fs::copy(at.join("r.rhythm"), at.join("o.wav.part")).expect("it takes files");
    refused(at, &["sound", "o.wav.part", "--wav", "o.wav"], &["--wav o.wav", "as o.wav.part", OVER]);
}

/// What is written beside the file that is named: keys, versions, pages, tracks, files of a take.
#[test]
fn what_is_written_beside_is_no_way_round_it() {
    let folder = folder();
    let at = folder.path();
    let copy = |name: &str| fs::copy(at.join("r.rhythm"), at.join(name)).expect("it takes files");
    for name in ["w-key.txt", "w-B.txt", "w-B-key-3.txt", "w-2.txt"] {
        copy(name);
    }
    refused(at, &["sheet", "w-key.txt", "--pdf", "-o", "w.txt"], &["w-key.txt", OVER]);
    refused(at, &["sheet", "w-B.txt", "--pdf", "--versions", "2", "-o", "w.txt"], &["w-B.txt", OVER]);
    refused(
        at,
        &["sheet", "w-B-key-3.txt", "--svg", "--versions", "2", "-o", "w.txt"],
        &["w-B-key-3.txt", OVER],
    );
    refused(at, &["sheet", "w-2.txt", "--svg", "-o", "w.txt"], &["w-2.txt", OVER]);
    fs::create_dir(at.join("tracks")).expect("it takes folders");
    copy("tracks/clap.wav");
    refused(at, &["sound", "tracks/clap.wav", "--tracks", "tracks"], &["--tracks", "clap.wav", OVER]);
    // A take folder is what is in it.
    fs::create_dir(at.join("take")).expect("it takes folders");
    for name in ["take.mid", "take.json"] {
        fs::copy(at.join("take.mid"), at.join("take").join(name)).expect("it takes files");
    }
    refused(at, &["judge", "r.rhythm", "take", "--svg", "take/take.json"], &["a file of the take", OVER]);
}

#[test]
fn two_things_are_not_written_to_one_file() {
    let folder = folder();
    let at = folder.path();
    let lost = ["are one file, of which one would be lost", "give each a name of its own"];
    let check = |arguments: &[&str]| refused(at, &[&["sound", "r.rhythm"], arguments].concat(), &lost);
    check(&["--wav", "o", "--midi", "o"]);
    check(&["--wav", "o", "--midi", "./o"]);
    check(&["--wav", "o", "--midi", "o.part"]);
    check(&["--wav", "new/click.wav", "--tracks", "new"]);
    check(&["--midi", "new/player-rhythm.wav", "--tracks", "new", "--take", "take.mid"]);
    refused(at, &["judge", "r.rhythm", "take.mid", "--svg", "o", "--pdf", "o"], &lost);
    // Nothing is lost in what keeps nothing.
    #[cfg(unix)]
    {
        let output =
            call(["sound", "r.rhythm", "--wav", "/dev/null", "--midi", "/dev/null"]).current_dir(at).output();
        assert!(output.expect("countline runs").status.success());
    }
}
