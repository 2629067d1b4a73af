use std::fmt::Debug;
use std::path::{Path, PathBuf};

use input::{Controls, Roster};
use live::{Measured, Planned};
use sequencer::Levels;

/// Keeps what is changed in the window beyond its closing, and opens drill plans. Whoever opens the window knows the files and
/// their forms; the window knows neither.
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

    /// Opens the drill plan of a file.
    ///
    /// # Errors
    /// If the file or a rhythm that it names cannot be read, or they make no drill.
    fn plan(&self, path: &Path) -> Result<OpenPlan, String>;
}

/// A drill plan with what it says of its sound.
#[derive(Clone, Debug)]
pub struct OpenPlan {
    /// The plan over its rhythms.
    pub planned: Planned,
    /// The voice that is to count; the usual one without.
    pub voice: Option<String>,
    /// How loud it is to be and where it is heard; as it is in the window without.
    pub levels: Option<Levels>,
}
