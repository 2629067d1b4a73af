//! The demo scenario: its rhythms are read without a word of complaint, and its takes are what the script makes.

use tests::{python, root};

fn rhythms() -> Vec<(String, String)> {
    let folder = root().join("demo-data/rhythms");
    let mut rhythms: Vec<(String, String)> = std::fs::read_dir(&folder)
        .expect("the demo's rhythms can be listed")
        .map(|entry| {
            let path = entry.expect("an entry can be read").path();
            let name = path.file_name().expect("a file has a name").to_string_lossy().into_owned();
            (name, std::fs::read_to_string(&path).expect("a rhythm is UTF-8"))
        })
        .collect();
    rhythms.sort();
    rhythms
}

#[test]
fn six_rhythms_are_read_without_errors_or_hints_and_written_again() {
    let rhythms = rhythms();
    assert_eq!(rhythms.len(), 6);
    for (name, text) in rhythms {
        let reading = rhythm::text::read(&text);
        assert_eq!(reading.diagnostics, [], "{name}");
        let rhythm = reading.rhythm.expect("a rhythm without errors");
        let again = rhythm::text::write(&rhythm);
        assert_eq!(rhythm::text::read(&again).rhythm, Some(rhythm), "{name} written again:\n{again}");
    }
}

#[test]
fn the_takes_are_what_the_script_makes() {
    assert_eq!(python::run("demo-data/make-takes.py", ["--check"]), "");
}
