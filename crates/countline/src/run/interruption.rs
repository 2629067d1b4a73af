//! Ctrl-C, where something must still be done before the program ends.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::failure::Failure;

/// What asks a program to end: Ctrl-C, the system, and on Unix a terminal that is closed.
#[cfg(unix)]
const SIGNALS: [i32; 3] =
    [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM, signal_hook::consts::SIGHUP];
#[cfg(not(unix))]
const SIGNALS: [i32; 2] = [signal_hook::consts::SIGINT, signal_hook::consts::SIGTERM];

/// Becomes true when somebody presses Ctrl-C or asks the program to end, which from now on does not end it by itself.
pub(super) fn interruption() -> Result<Arc<AtomicBool>, Failure> {
    let interrupted = Arc::new(AtomicBool::new(false));
    for signal in SIGNALS {
        signal_hook::flag::register(signal, Arc::clone(&interrupted)).map_err(Failure::job)?;
    }
    Ok(interrupted)
}
