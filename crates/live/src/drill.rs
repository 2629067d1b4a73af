use std::path::PathBuf;

use counting::System;
use judge::Settings;
use rhythm::Rhythm;
use sequencer::{Levels, Plan};
use timebase::{Moment, Seconds};

use crate::Planned;

/// One rhythm to be played once through, or a plan of many rounds.
#[derive(Clone, Debug)]
pub struct Drill {
    /// The rhythm.
    pub rhythm: Rhythm,
    /// The counting system in which the voice counts it.
    pub system: System,
    /// Tempo and count-in.
    pub plan: Plan,
    /// The voice that counts, as [`take::voices::open`] takes it: the name of a shipped one, that of one of the
    /// user's, or a folder.
    pub voice: String,
    /// How loud click, count and clap are.
    pub levels: Levels,
    /// How strict the judge is.
    pub settings: Settings,
    /// What is taken off every stroke: from the loudspeaker's reckoned moment to the ear and from the hand to the stamp.
    /// `None`: what was measured for the sound device as it runs, or nothing where nothing was.
    pub latency: Option<Seconds>,
    /// The new folder that the take is written to; `None` keeps no take.
    pub take: Option<PathBuf>,
    /// What players are called in this drill, by their usual labels: whose turn it is at a pad.
    pub names: Vec<(String, String)>,
    /// Recorded players who play along, each through the same way as a pad.
    pub replay: Vec<Recorded>,
    /// A drill plan to be played instead: rhythm, system and plan above then say nothing.
    pub planned: Option<Planned>,
}

/// The strokes of a recorded player, to be played again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recorded {
    /// What the player is called.
    pub label: String,
    /// When, from count 1 of bar 1, and the MIDI message struck then; in order of time.
    pub messages: Vec<(Moment, [u8; 3])>,
}

impl Drill {
    /// The voice used unless another is chosen.
    pub const DEFAULT_VOICE: &'static str = "female";

    /// A drill with the usual voice, levels and tolerance, no latency, no take and nobody played again.
    #[must_use]
    pub fn new(rhythm: Rhythm, plan: Plan) -> Self {
        Self {
            rhythm,
            system: System::numbers().clone(),
            plan,
            voice: Self::DEFAULT_VOICE.to_owned(),
            levels: Levels::default(),
            settings: Settings::default(),
            latency: None,
            take: None,
            names: Vec::new(),
            replay: Vec::new(),
            planned: None,
        }
    }

    /// A drill plan, the rest as usual.
    #[must_use]
    pub fn of_plan(planned: Planned) -> Self {
        // A plan has a rhythm: that was checked when it was made.
        let rhythm = planned.drill.rhythms()[0].rhythm().clone();
        let plan = Plan::of(&rhythm);
        Self { planned: Some(planned), ..Self::new(rhythm, plan) }
    }
}
