use std::path::PathBuf;
use std::sync::Arc;

use counting::System;
use live::{Recorded, RigSettings};
use sequencer::{Choice, Levels};
use timebase::{Ratio, Seconds};

use crate::Keeper;

/// What the window begins with.
#[derive(Clone, Debug)]
pub struct WindowSettings {
    /// The rhythm text to open at once.
    pub file: Option<PathBuf>,
    /// Which part of a piece with several is shown, by its name or number; the first without it.
    pub part: Option<String>,
    /// The sound device and the MIDI inputs.
    pub rig: RigSettings,
    /// What is taken off every stroke, as measured: from the loudspeaker to the ear and from the hand to the stamp.
    /// `None`: what was measured for the devices.
    pub latency: Option<Seconds>,
    /// The folder in which takes are kept, a new folder each.
    pub takes_root: PathBuf,
    /// Whether takes are kept until somebody says otherwise.
    pub keep_takes: bool,
    /// Beats a minute instead of the rhythm's own.
    pub bpm: Option<Ratio<u32>>,
    /// Bars counted before the rhythm begins.
    pub count_in_bars: u32,
    /// The voice that counts, by the name of a shipped one.
    pub voice: String,
    /// The counting system in which rhythms are counted; a drill plan has its own.
    pub system: System,
    /// What sounds of a rhythm.
    pub choice: Choice,
    /// How loud it sounds, and where.
    pub levels: Levels,
    /// How strict the judge is.
    pub judge: judge::Settings,
    /// Recorded players who play along in every drill.
    pub replay: Vec<Recorded>,
    /// Who takes turns at which pad: its label, and the codes in the order in which they are called.
    pub turns: Vec<(String, Vec<String>)>,
    /// Keeps players, orders and latencies; `None` keeps them while the window is open.
    pub keeper: Option<Arc<dyn Keeper>>,
}

impl Default for WindowSettings {
    /// No file, the machine's own devices, one bar of count-in, the usual voice and tolerance; takes are kept under `takes`.
    fn default() -> Self {
        Self {
            file: None,
            part: None,
            rig: RigSettings::default(),
            latency: None,
            takes_root: PathBuf::from("takes"),
            keep_takes: true,
            bpm: None,
            count_in_bars: 1,
            voice: live::Drill::DEFAULT_VOICE.to_owned(),
            system: System::numbers().clone(),
            choice: Choice::default(),
            levels: Levels::default(),
            judge: judge::Settings::default(),
            replay: Vec::new(),
            turns: Vec::new(),
            keeper: None,
        }
    }
}
