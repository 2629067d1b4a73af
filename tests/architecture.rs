//! The rules of the house, held against the sources as they stand.
//!
//! Each rule is a function from what it looks at to a list of offences. It runs twice: over the project, where it
//! must find nothing, and over an offence planted beside it, which it must find.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use serde_json::Value;
use tests::root;
use tests::source::{self, Source};

/// What the top level holds, beside files whose names begin with a dot.
const TOP_LEVEL: [&str; 10] = [
    "CHANGELOG.md",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "assets",
    "crates",
    "demo-data",
    "tests",
];

/// Libraries that only the named packages may depend on, for whatever purpose.
const LIBRARIES: [(&str, &[&str]); 15] = [
    ("cpal", &["audio"]),
    ("midir", &["input"]),
    ("jack", &["audio", "input", "tests"]),
    ("eframe", &["window"]),
    ("egui", &["window"]),
    ("egui_kittest", &["window"]),
    ("winit", &["window"]),
    ("midly", &["take", "tests"]),
    ("rubato", &["voice"]),
    ("realfft", &["onset"]),
    ("krilla", &["paper"]),
    // The forms of files and of the printed answer belong to the crates at the edge, never to core types; a voice, a
    // counting system and a teacher's rubric are tables, read by forms of their own.
    ("serde", &["counting", "take", "voice", "countline"]),
    ("serde_json", &["take", "voice", "countline", "tests"]),
    ("annotate-snippets", &["countline"]),
    ("clap", &["countline"]),
];

/// Words that only the named crates may use in the code they ship.
const WORDS: [(&str, &[&str]); 10] = [
    ("std::fs", &["take", "window", "countline"]),
    ("fs::read", &["take", "window", "countline"]),
    ("File::", &["take", "window", "countline"]),
    ("Instant::now", &["audio", "input", "live", "window", "countline"]),
    ("SystemTime", &["live", "countline"]),
    ("thread::spawn", &["audio", "input", "live", "window", "countline"]),
    ("thread::Builder", &["audio", "input", "live", "window", "countline"]),
    ("thread::sleep", &["input", "live", "countline"]),
    ("std::net", &[]),
    ("std::process::Command", &[]),
];

/// Crates whose musical time must not be able to become a float, because they have no floats.
const NO_FLOATS: [&str; 2] = ["rhythm", "counting"];

/// Words that no Rust file of ours may use, tests included.
const NEVER: [&str; 4] = ["todo!", "unimplemented!", "#[ignore", "dbg!"];

/// The longest a file may be, in lines.
const LINES: usize = 800;

/// Names that say nothing about what is inside.
const EMPTY_NAMES: [&str; 8] = ["utils", "util", "common", "helpers", "helper", "misc", "shared", "stuff"];

fn none(offences: Vec<String>) {
    assert!(offences.is_empty(), "{} offences:\n{}", offences.len(), offences.join("\n"));
}

fn metadata() -> Value {
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--no-deps"])
        .current_dir(root())
        .output()
        .expect("cargo runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("cargo metadata is JSON")
}

fn packages(metadata: &Value) -> &[Value] {
    metadata["packages"].as_array().expect("there are packages")
}

fn text(value: &Value) -> &str {
    value.as_str().expect("a string")
}

fn read(name: &str) -> String {
    std::fs::read_to_string(root().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// The crates, without the package of the tests.
fn crates(metadata: &Value) -> Vec<String> {
    packages(metadata).iter().map(|p| text(&p["name"]).to_owned()).filter(|name| name != "tests").collect()
}

// Edges.

/// What each crate may use, from the table under "The house" in DEVELOPERS.md.
fn rows(developers: &str) -> BTreeMap<String, BTreeSet<String>> {
    let section =
        developers.split("\n## The house\n").nth(1).expect("DEVELOPERS.md has a section on the house");
    let section = section.split("\n## ").next().expect("a section has a beginning");
    let quoted =
        |cell: &str| -> BTreeSet<String> { cell.split('`').skip(1).step_by(2).map(str::to_owned).collect() };
    let rows: Vec<(String, &str)> = section
        .lines()
        .filter(|line| line.starts_with("| `"))
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split('|').collect();
            let [name, _, uses] = cells[..] else { panic!("three cells: {line}") };
            (quoted(name).pop_first().expect("a crate has a name"), uses)
        })
        .collect();
    let all: BTreeSet<String> = rows.iter().map(|(name, _)| name.clone()).collect();
    let uses = |uses: &str| if uses.trim() == "everything" { all.clone() } else { quoted(uses) };
    rows.iter().map(|(name, row)| (name.clone(), uses(row))).collect()
}

/// What each crate of the workspace does use, apart from its tests and benchmarks.
fn edges(metadata: &Value) -> BTreeMap<String, BTreeSet<String>> {
    let names = crates(metadata);
    packages(metadata)
        .iter()
        .filter(|package| package["name"] != "tests")
        .map(|package| {
            let used = package["dependencies"]
                .as_array()
                .expect("there is a list of dependencies")
                .iter()
                .filter(|dependency| dependency["kind"] != "dev")
                .map(|dependency| text(&dependency["name"]).to_owned())
                .filter(|name| names.contains(name));
            (text(&package["name"]).to_owned(), used.collect())
        })
        .collect()
}

/// A crate may use what its row names, and what those may use.
fn edge_offences(
    rows: &BTreeMap<String, BTreeSet<String>>,
    edges: &BTreeMap<String, BTreeSet<String>>,
) -> Vec<String> {
    let mut offences = Vec::new();
    for (name, used) in edges {
        let Some(row) = rows.get(name) else {
            offences.push(format!("{name} has no row in DEVELOPERS.md"));
            continue;
        };
        let mut may = row.clone();
        loop {
            let further: BTreeSet<String> =
                may.iter().filter_map(|name| rows.get(name)).flatten().cloned().collect();
            let before = may.len();
            may.extend(further);
            if may.len() == before {
                break;
            }
        }
        for other in used.difference(&may) {
            offences.push(format!("{name} uses {other}, which its row in DEVELOPERS.md does not lead to"));
        }
    }
    for name in rows.keys().filter(|name| !edges.contains_key(*name)) {
        offences.push(format!("DEVELOPERS.md has a row for {name}, and there is no such crate"));
    }
    offences
}

#[test]
fn a_crate_uses_only_what_its_row_leads_to() {
    none(edge_offences(&rows(&read("DEVELOPERS.md")), &edges(&metadata())));

    let set = |names: &[&str]| -> BTreeSet<String> { names.iter().map(|&name| name.to_owned()).collect() };
    let table = "\n## The house\n| `a` | the ground | – |\n| `b` | | `a` |\n| `c` | | `b` |\n| `d` | | everything |\n## Next\n";
    let check = |edges: &[(&str, &[&str])], expected: usize| {
        let edges = edges.iter().map(|&(name, used)| (name.to_owned(), set(used))).collect();
        assert_eq!(edge_offences(&rows(table), &edges).len(), expected, "{edges:?}");
    };
    check(&[("a", &[]), ("b", &["a"]), ("c", &["a", "b"]), ("d", &["a", "b", "c"])], 0);
    check(&[("a", &["b"]), ("b", &[]), ("c", &[]), ("d", &[])], 1);
    check(&[("a", &[]), ("b", &["c"]), ("c", &[]), ("d", &[]), ("e", &[])], 2);
    check(&[("a", &[]), ("b", &[]), ("c", &[])], 1);
}

// Libraries.

fn library_offences(packages: &[Value]) -> Vec<String> {
    let mut offences = Vec::new();
    for package in packages {
        let name = text(&package["name"]);
        for dependency in package["dependencies"].as_array().expect("there is a list of dependencies") {
            let library = text(&dependency["name"]);
            for (_, allowed) in LIBRARIES.iter().filter(|(only, _)| *only == library) {
                if !allowed.contains(&name) {
                    offences.push(format!("{name} depends on {library}, which only {allowed:?} may know"));
                }
            }
        }
    }
    offences
}

#[test]
fn a_library_stays_in_its_crate() {
    let metadata = metadata();
    none(library_offences(packages(&metadata)));
    let planted = serde_json::json!([{ "name": "judge", "dependencies": [{ "name": "cpal" }, { "name": "proptest" }] }]);
    assert_eq!(library_offences(planted.as_array().expect("a list")).len(), 1);

    // A rule about a library that nobody depends on any more would look like a rule that is kept.
    let known: BTreeSet<&str> = packages(&metadata)
        .iter()
        .flat_map(|package| package["dependencies"].as_array().expect("a list"))
        .map(|dependency| text(&dependency["name"]))
        .collect();
    let unused: Vec<_> =
        ["cpal", "midir", "jack", "eframe"].into_iter().filter(|name| !known.contains(name)).collect();
    assert!(unused.is_empty(), "nobody depends on {unused:?}");
}

// Words in the sources.

/// Whether `word` stands in `code`, not as the end of a longer word.
fn says(code: &str, word: &str) -> bool {
    code.match_indices(word).any(|(at, _)| {
        !code[..at].chars().next_back().is_some_and(|before| before.is_alphanumeric() || before == '_')
    })
}

fn word_offences(name: &str, sources: &[Source]) -> Vec<String> {
    let mut offences = Vec::new();
    for source in sources {
        let code = source.shipped();
        for (word, allowed) in WORDS {
            if !allowed.contains(&name) && says(&code, word) {
                offences.push(format!("{}: `{word}` is for {allowed:?} only", source.path));
            }
        }
        if NO_FLOATS.contains(&name) {
            for float in ["f64", "f32"].into_iter().filter(|float| says(&code, float)) {
                offences.push(format!("{}: `{float}` in a crate of exact musical time", source.path));
            }
        }
    }
    offences
}

#[test]
fn files_clocks_and_threads_stay_in_their_crates() {
    let names = crates(&metadata());
    none(names.iter().flat_map(|name| word_offences(name, &source::shipped(&root(), name))).collect());

    let check = |name: &str, text: &str, expected: usize| {
        let source = Source { path: format!("crates/{name}/src/planted.rs"), text: text.to_owned() };
        assert_eq!(word_offences(name, &[source]).len(), expected, "{name}: {text}");
    };
    check("judge", "use std::time::Instant; fn f() { Instant::now(); }", 1);
    check("judge", "// Instant::now\n#[cfg(test)] mod tests { fn f() { Instant::now(); } }", 0);
    check("audio", "fn f() { Instant::now(); }", 0);
    check("rhythm", "use std::fs; fn f(x: f64) { fs::read(x); }", 3);
    check("take", "use std::fs; fn f(x: f64) {}", 0);
}

#[test]
fn the_window_draws_and_reckons_nothing() {
    // The judgement is made by `live` (as it is played) or `take`; the window shows it.
    let offences = |source: &Source| -> Vec<String> {
        let code = source.shipped();
        ["judge::judge(", "judge::judge_so_far(", "Span::new(", "offset_ms -", "- offset_ms"]
            .into_iter()
            .filter(|word| says(&code, word))
            .map(|word| format!("{}: `{word}` is no work for a window", source.path))
            .collect()
    };
    none(source::shipped(&root(), "window").iter().flat_map(offences).collect());
    let planted = Source { path: String::new(), text: "fn f() { let j = judge::judge(x); }".to_owned() };
    assert_eq!(offences(&planted).len(), 1);
}

fn file_offences(sources: &[Source]) -> Vec<String> {
    let mut offences = Vec::new();
    for source in sources {
        let lines = source.text.lines().count();
        if lines > LINES {
            offences.push(format!("{}: {lines} lines, {LINES} at most: make two files of it", source.path));
        }
        let code = source.code();
        offences.extend(
            NEVER.iter().filter(|word| says(&code, word)).map(|word| format!("{}: `{word}`", source.path)),
        );
        let parts = source.path.trim_end_matches(".rs").split('/');
        offences.extend(parts.filter(|part| EMPTY_NAMES.contains(part)).map(|part| {
            format!("{}: \"{part}\" does not say what is inside: name it by what it is", source.path)
        }));
    }
    offences
}

#[test]
fn a_file_is_short_finished_and_named() {
    let mut sources = source::all(&root(), "crates");
    sources.extend(source::all(&root(), "tests"));
    assert!(sources.len() > 100, "the sources were found");
    none(file_offences(&sources));

    let check = |path: &str, text: String, expected: usize| {
        assert_eq!(file_offences(&[Source { path: path.to_owned(), text }]).len(), expected, "{path}");
    };
    check("crates/a/src/lib.rs", "fn f() {}\n".repeat(LINES), 0);
    check("crates/a/src/lib.rs", "fn f() {}\n".repeat(LINES + 1), 1);
    check("crates/a/src/utils.rs", String::new(), 1);
    check(
        "crates/a/src/lib.rs",
        "fn f() { todo!() }\n#[test]\n#[ignore]\nfn g() { unimplemented!(); }".to_owned(),
        3,
    );
    check("crates/a/src/lib.rs", "// todo!()\nfn f() -> &str { \"#[ignore]\" }".to_owned(), 0);
}

// The shape of the project.

fn top_level_offences(names: impl IntoIterator<Item = String>) -> Vec<String> {
    let names: BTreeSet<String> =
        names.into_iter().filter(|name| !name.starts_with('.') && name != "target").collect();
    let expected: BTreeSet<String> = TOP_LEVEL.iter().map(|&name| name.to_owned()).collect();
    let more = names.difference(&expected).map(|name| format!("{name} does not belong on the top level"));
    let less = expected.difference(&names).map(|name| format!("{name} is missing on the top level"));
    more.chain(less).collect()
}

#[test]
fn the_top_level_is_in_order() {
    let entries = std::fs::read_dir(root()).expect("the top folder can be read");
    none(top_level_offences(
        entries.map(|entry| entry.expect("an entry can be read").file_name().to_string_lossy().into_owned()),
    ));
    let with = |more: &[&str], without: usize| {
        let names = TOP_LEVEL.iter().skip(without).chain(more).map(|&name| name.to_owned());
        top_level_offences(names).len()
    };
    assert_eq!(with(&[".ci", ".git", "target"], 0), 0);
    assert_eq!(with(&["docs"], 0), 1);
    assert_eq!(with(&[], 1), 1);
}

fn manifest_offences(folder: &str, package: &str, manifest: &str) -> Vec<String> {
    let mut offences = Vec::new();
    if folder != package {
        offences.push(format!("the folder {folder} holds the package {package}: give both one name"));
    }
    let section = |heading: &str| -> Vec<&str> {
        let mut lines = manifest.lines().map(str::trim).skip_while(|line| *line != heading);
        lines.next();
        lines.take_while(|line| !line.starts_with('[')).collect()
    };
    if !section("[lints]").contains(&"workspace = true") {
        offences.push(format!("{package} does not inherit the workspace's lints"));
    }
    for key in ["version", "edition", "rust-version", "license", "publish"] {
        if !section("[package]").contains(&format!("{key}.workspace = true").as_str()) {
            offences.push(format!("{package} does not inherit `{key}`"));
        }
    }
    for heading in ["[dependencies]", "[dev-dependencies]", "[build-dependencies]"] {
        let own = section(heading).into_iter().filter(|line| {
            !line.is_empty() && !line.starts_with('#') && !line.replace(' ', "").contains("workspace=true")
        });
        offences.extend(own.map(|line| format!("{package}: `{line}` has a version of its own: inherit it")));
    }
    offences
}

#[test]
fn every_manifest_inherits_from_the_workspace() {
    let metadata = metadata();
    let mut offences = Vec::new();
    for package in packages(&metadata) {
        let path = Path::new(text(&package["manifest_path"]));
        let folder =
            path.parent().and_then(Path::file_name).expect("a manifest stands in a folder").to_string_lossy();
        let manifest = std::fs::read_to_string(path).expect("a manifest can be read");
        offences.extend(manifest_offences(&folder, text(&package["name"]), &manifest));
    }
    none(offences);

    let good = "[package]\nname = \"a\"\nversion.workspace = true\nedition.workspace = true\n\
        rust-version.workspace = true\nlicense.workspace = true\npublish.workspace = true\n\
        [dependencies]\nb.workspace = true\nc = { workspace = true, optional = true }\n[lints]\nworkspace = true\n";
    let check = |folder: &str, manifest: &str, expected: usize| {
        assert_eq!(manifest_offences(folder, "a", manifest).len(), expected, "{manifest}");
    };
    check("a", good, 0);
    check("b", good, 1);
    check("a", &good.replace("[lints]\nworkspace = true\n", ""), 1);
    check("a", &good.replace("b.workspace = true", "b = \"1\""), 1);
    check("a", &good.replace("edition.workspace = true", "edition = \"2021\""), 1);
}

/// Every `*.rs` directly in the tests' folder must be a target, or cargo would pass it over in silence.
fn target_offences(files: &BTreeSet<String>, targets: &BTreeSet<String>) -> Vec<String> {
    files
        .difference(targets)
        .map(|file| format!("tests/{file} is never run: give it a [[test]] in tests/Cargo.toml"))
        .collect()
}

#[test]
fn every_test_of_the_whole_house_is_run() {
    let metadata = metadata();
    let package =
        packages(&metadata).iter().find(|package| package["name"] == "tests").expect("there are tests");
    let folder = root().join("tests");
    let files = std::fs::read_dir(&folder)
        .expect("the tests' folder can be read")
        .map(|entry| entry.expect("an entry can be read").file_name().to_string_lossy().into_owned())
        .filter(|name| name.ends_with(".rs"))
        .collect();
    let mut targets = BTreeSet::new();
    for target in package["targets"].as_array().expect("there are targets") {
        let path = Path::new(text(&target["src_path"]));
        assert!(target["kind"][0] == "lib" || target["test"] == true, "{path:?} has its tests switched off");
        if path.parent() == Some(&folder) {
            targets.insert(path.file_name().expect("a file has a name").to_string_lossy().into_owned());
        }
    }
    assert!(targets.contains("architecture.rs"), "this file is a target");
    none(target_offences(&files, &targets));

    let set = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect();
    assert_eq!(target_offences(&set(&["lib.rs", "sound.rs"]), &set(&["lib.rs"])).len(), 1);
}
