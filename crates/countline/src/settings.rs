//! countline's settings folder: who plays on what, and what was measured.
//!
//! `COUNTLINE_SETTINGS` names another folder than the system's usual one.

mod latency_file;
mod place_text;
mod players_file;

use std::io::{ErrorKind, Read as _};
use std::path::{Path, PathBuf};

use etcetera::BaseStrategy as _;

use crate::failure::Failure;

pub(crate) use latency_file::{keep_measured, measured};
pub(crate) use place_text::{control, player};
pub(crate) use players_file::{PlayersFile, keep_players, players};

/// Bytes of a settings file: thousands of players.
const SETTINGS_BYTES: u64 = 1 << 20;

/// The folder, which may not be there yet.
fn folder() -> Result<PathBuf, Failure> {
    if let Some(own) = std::env::var_os("COUNTLINE_SETTINGS").filter(|own| !own.is_empty()) {
        return Ok(PathBuf::from(own));
    }
    let usual = etcetera::choose_base_strategy().map_err(|error| {
        Failure::Job(format!(
            "there is no home folder for settings ({error}): name a folder in COUNTLINE_SETTINGS"
        ))
    })?;
    Ok(usual.config_dir().join("countline"))
}

/// The text of a settings file; `None` if there is none.
fn read(path: &Path) -> Result<Option<String>, Failure> {
    let failed = |error: &std::io::Error| Failure::file("read", path, error);
    let file = match std::fs::File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(failed(&error)),
    };
    let mut bytes = Vec::new();
    file.take(SETTINGS_BYTES + 1).read_to_end(&mut bytes).map_err(|error| failed(&error))?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > SETTINGS_BYTES {
        return Err(Failure::Job(format!(
            "{} has more than {SETTINGS_BYTES} bytes: is this the right file?",
            path.display()
        )));
    }
    let text = String::from_utf8(bytes).map_err(|_| {
        Failure::Job(format!("{} is not UTF-8 text: save it as UTF-8, or delete it", path.display()))
    })?;
    Ok(Some(text))
}

/// Writes a settings file whole or not at all.
fn write(path: &Path, text: &str) -> Result<(), Failure> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|error| Failure::file("make", folder, &error))?;
    }
    take::write_beside(path, text.as_bytes()).map_err(Failure::job)
}

/// A settings file that cannot be understood, with its place.
fn wrong(path: &Path, text: &str, error: &toml::de::Error) -> Failure {
    let line = error.span().map(|span| text[..span.start.min(text.len())].matches('\n').count() + 1);
    let line = line.map_or_else(String::new, |line| format!(", line {line}"));
    let message = crate::toml_words::plainly(error.message());
    Failure::Job(format!("{}{line}: {message}: mend it, or delete the file and begin anew", path.display()))
}
