//! Lists the files of the shipped voices, so that each is embedded as it is. A macro that turns five
//! megabytes of sound into source text takes the compiler a minute; this takes no time.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

const SHIPPED: [&str; 3] = ["female", "male", "spanish"];

fn main() -> io::Result<()> {
    let here = PathBuf::from(env::var_os("CARGO_MANIFEST_DIR").unwrap_or_default());
    let voices = here.join("../../assets/voices");
    let mut list = String::from("&[\n");
    for name in SHIPPED {
        let folder = voices.join(name);
        println!("cargo::rerun-if-changed={}", folder.display());
        let mut files = Vec::new();
        files_below(&folder, &mut files)?;
        files.sort();
        let _ = writeln!(list, "({name:?}, &[");
        for file in files {
            let inside = file.strip_prefix(&folder).unwrap_or(&file);
            let inside: Vec<_> = inside.iter().map(|part| part.to_string_lossy()).collect();
            let _ =
                writeln!(list, "({:?}, include_bytes!({:?})),", inside.join("/"), file.display().to_string());
        }
        list.push_str("]),\n");
    }
    list.push(']');
    let out = PathBuf::from(env::var_os("OUT_DIR").unwrap_or_default());
    fs::write(out.join("shipped.rs"), list)
}

fn files_below(folder: &Path, files: &mut Vec<PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            files_below(&path, files)?;
        } else {
            files.push(path);
        }
    }
    Ok(())
}
