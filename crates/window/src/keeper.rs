use std::fmt::Debug;
use std::path::PathBuf;

use input::{Controls, Roster};
use live::Measured;

/// Keeps what is changed in the window beyond its closing. Whoever opens the window knows the files and their forms; the
/// window knows neither.
///
/// Called on the window's thread, so it is quick; an error says what was tried, why it failed and what to do.
pub trait Keeper: Debug + Send + Sync {
    /// Keeps who plays on what, and which pads and pedals are orders; returns where.
    ///
    /// # Errors
    /// If they cannot be written.
    fn keep_players(&self, roster: &Roster, controls: &Controls) -> Result<PathBuf, String>;

    /// What is kept of players and orders.
    ///
    /// # Errors
    /// If they cannot be read.
    fn players(&self) -> Result<(Roster, Controls), String>;

    /// Keeps the latencies that were measured; returns where.
    ///
    /// # Errors
    /// If they cannot be written.
    fn keep_measured(&self, measured: &Measured) -> Result<PathBuf, String>;
}
