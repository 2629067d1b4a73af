//! How loud click, count and clap are, and the mixer strips they are under.

use mixer::{Controller, Mixer, StripId};

/// The strip of the clicks.
pub const CLICK: StripId = StripId::new(0);
/// The strip of the spoken counts.
pub const COUNT: StripId = StripId::new(1);
/// The strip of the claps.
pub const CLAP: StripId = StripId::new(2);
/// The strip of what players strike, where the program sounds it.
pub const PLAYED: StripId = StripId::new(3);

/// How loud each kind of sound is, as a factor of its own level: 0 is silent, 1 as it was made, at most
/// [`mixer::limits::GAIN_MOST`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levels {
    /// The clicks; the accented one is 6 dB above the others.
    pub click: f32,
    /// The spoken counts.
    pub count: f32,
    /// The claps.
    pub clap: f32,
}

impl Default for Levels {
    /// Start quiet, and raise by hand: so that click, count and clap together stay below full scale.
    fn default() -> Self {
        Self { click: 0.5, count: 0.7, clap: 0.4 }
    }
}

impl Levels {
    /// Each strip and its level.
    #[must_use]
    pub const fn strips(self) -> [(StripId, f32); 3] {
        [(CLICK, self.click), (COUNT, self.count), (CLAP, self.clap)]
    }

    /// `mixer` at these levels from its first frame on.
    ///
    /// # Errors
    /// If a level is no gain.
    pub fn on(self, mixer: Mixer) -> Result<Mixer, mixer::Error> {
        self.strips().into_iter().try_fold(mixer, |mixer, (strip, level)| mixer.with_level(strip, level))
    }

    /// Moves a running mixer to these levels.
    ///
    /// # Errors
    /// If a level is no gain, or the mixer does not take commands just now.
    pub fn send(self, controller: &mut Controller) -> Result<(), mixer::Error> {
        self.strips().into_iter().try_for_each(|(strip, level)| controller.set_level(strip, level))
    }
}
