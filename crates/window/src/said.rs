//! What the window's libraries complained of, kept for the message where the window does not open.

use std::sync::{Mutex, PoisonError};

use log::{Level, LevelFilter, Log, Metadata, Record};

/// No more than these are kept.
const MOST: usize = 16;

struct Said(Mutex<Vec<String>>);

static SAID: Said = Said(Mutex::new(Vec::new()));

impl Log for Said {
    fn enabled(&self, metadata: &Metadata<'_>) -> bool {
        metadata.level() <= Level::Error
    }

    fn log(&self, record: &Record<'_>) {
        if self.enabled(record.metadata()) {
            let mut said = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            if said.len() < MOST {
                said.push(record.args().to_string());
            }
        }
    }

    fn flush(&self) {}
}

/// Listens from now on, unless the program has a listener of its own already.
pub(crate) fn listen() {
    if log::set_logger(&SAID).is_ok() {
        log::set_max_level(LevelFilter::Error);
    }
}

/// What was said so far, in one line; `otherwise` where nothing was.
pub(crate) fn so_far(otherwise: &str) -> String {
    let said = SAID.0.lock().unwrap_or_else(PoisonError::into_inner);
    if said.is_empty() { otherwise.to_owned() } else { said.join("; ") }
}
