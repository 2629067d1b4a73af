//! How loud click, count, clap and tone are and where they are heard, and the mixer strips they are under.

use mixer::{Controller, Mixer, Setting, StripId};

/// The strip of the clicks.
pub const CLICK: StripId = StripId::new(0);
/// The strip of the spoken counts.
pub const COUNT: StripId = StripId::new(1);
/// The strip of the claps.
pub const CLAP: StripId = StripId::new(2);
/// The strip of what players strike, where the program sounds it.
pub const PLAYED: StripId = StripId::new(3);
/// The strip of the tones.
pub const TONE: StripId = StripId::new(4);

/// How loud each kind of sound is, as a factor of its own level: 0 is silent, 1 as it was made, at most
/// [`mixer::limits::GAIN_MOST`]; where it is heard; and whether it is muted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Levels {
    /// The clicks; the accented one is 6 dB above the others.
    pub click: f32,
    /// The spoken counts.
    pub count: f32,
    /// The claps.
    pub clap: f32,
    /// The tones that last as long as their notes.
    pub tone: f32,
    /// Where each is heard: −1 left, 0 in the middle, 1 right.
    pub pan: Each<f32>,
    /// What does not sound, its level kept.
    pub muted: Each<bool>,
}

/// Something for each kind of sound.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Each<T> {
    /// For the clicks.
    pub click: T,
    /// For the spoken counts.
    pub count: T,
    /// For the claps.
    pub clap: T,
    /// For the tones.
    pub tone: T,
}

impl Default for Levels {
    /// Start quiet, and raise by hand. The loudest tenth of a second of click, clap and tone lies between −31 and −25
    /// LUFS, that of the counts at −27, and the accented click 6 dB above the plain one; all together seldom reach the
    /// limiter. (Of one channel; two loudspeakers add 3 LU.) The tone is muted.
    fn default() -> Self {
        Self {
            click: 0.8,
            count: 0.4,
            clap: 0.6,
            tone: 0.25,
            pan: Each::default(),
            muted: Each { tone: true, ..Each::default() },
        }
    }
}

impl Levels {
    /// Each strip and how it is set.
    #[must_use]
    pub const fn strips(self) -> [(StripId, Setting); 4] {
        let Self { click, count, clap, tone, pan, muted } = self;
        [
            (CLICK, Setting { level: click, pan: pan.click, muted: muted.click }),
            (COUNT, Setting { level: count, pan: pan.count, muted: muted.count }),
            (CLAP, Setting { level: clap, pan: pan.clap, muted: muted.clap }),
            (TONE, Setting { level: tone, pan: pan.tone, muted: muted.tone }),
        ]
    }

    /// Whether anything that sounds is heard elsewhere than in the middle.
    #[must_use]
    pub fn is_stereo(self) -> bool {
        self.strips().iter().any(|(_, setting)| !setting.muted && setting.level > 0.0 && setting.pan != 0.0)
    }

    /// `mixer` at these levels from its first frame on.
    ///
    /// # Errors
    /// If a level is no gain, or a pan beyond the sides.
    pub fn on(self, mixer: Mixer) -> Result<Mixer, mixer::Error> {
        self.strips()
            .into_iter()
            .try_fold(mixer, |mixer, (strip, setting)| mixer.with_setting(strip, setting))
    }

    /// Moves a running mixer to these levels.
    ///
    /// # Errors
    /// If a level is no gain, a pan beyond the sides, or the mixer does not take commands just now.
    pub fn send(self, controller: &mut Controller) -> Result<(), mixer::Error> {
        self.strips().into_iter().try_for_each(|(strip, setting)| controller.set(strip, setting))
    }
}
