use timebase::{BlockPlace, HostTime, Seconds};

use crate::{Pad, PlayerId};

/// Somebody struck or released something: a pad, a key of a keyboard, the space bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stroke {
    /// Who struck.
    pub player: PlayerId,
    /// What was struck: the device's number, as [`Players::source`](crate::Players::source) knows it.
    pub source: u16,
    /// Struck or released.
    pub kind: StrokeKind,
    /// The MIDI channel, 0 to 15.
    pub channel: u8,
    /// Which pad: the MIDI key number, 0 to 127.
    pub note: u8,
    /// How hard, 1 to 127; at a release 0 to 127.
    pub velocity: u8,
    /// When, on the computer's clock.
    pub stamp: HostTime,
    /// How fine the stamp is. Never report a time finer than this.
    pub resolution: Seconds,
    /// Where it fell in the blocks of the sound server that brought it, where one did: to the frame, whatever `stamp` is worth.
    pub place: Option<BlockPlace>,
    /// Whether the same pad was struck so shortly before that this is the pad's own bouncing rather than
    /// a second stroke. Such a stroke is marked and passed on: a judgement may want it, and a flam is
    /// two strokes.
    pub retrigger: bool,
    /// Whether another pad of the same module was struck so much harder just before that this is its blow, felt through
    /// the rack. Marked and passed on, too.
    pub crosstalk: bool,
}

/// Whether a note begins or ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StrokeKind {
    /// Struck: an attack.
    On,
    /// Released.
    Off,
}

impl Stroke {
    /// The key number given to strokes of the computer's keyboard: General MIDI hand clap.
    pub const KEYBOARD_NOTE: u8 = 39;

    /// The key number given to strokes of a pedal: General MIDI pedal hi-hat.
    pub const PEDAL_NOTE: u8 = 44;

    /// A stroke on the space bar or another key of the computer's keyboard, at full strength, because
    /// such a key feels none. `resolution` is what the window system's stamps are worth.
    #[must_use]
    pub const fn of_key(player: PlayerId, source: u16, stamp: HostTime, resolution: Seconds) -> Self {
        Self {
            player,
            source,
            kind: StrokeKind::On,
            channel: 0,
            note: Self::KEYBOARD_NOTE,
            velocity: 127,
            stamp,
            resolution,
            place: None,
            retrigger: false,
            crosstalk: false,
        }
    }

    /// Which pad of which device.
    #[must_use]
    pub const fn pad(&self) -> Pad {
        Pad { source: self.source, channel: self.channel, note: self.note }
    }

    /// Whether it is an attack to be judged: struck, no bouncing and no other pad's blow.
    #[must_use]
    pub fn is_attack(&self) -> bool {
        self.kind == StrokeKind::On && !self.is_marked()
    }

    /// Whether it is marked as something the pad did and no hand: bouncing, or cross-talk.
    #[must_use]
    pub const fn is_marked(&self) -> bool {
        self.retrigger || self.crosstalk
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_first_stroke_is_an_attack() {
        let stroke = Stroke::of_key(PlayerId::new(0), 0, HostTime::from_nanos(1), Seconds::from_millis(1));
        assert!(stroke.is_attack());
        assert!(!Stroke { retrigger: true, ..stroke }.is_attack());
        assert!(!Stroke { crosstalk: true, ..stroke }.is_attack());
        assert!(!Stroke { kind: StrokeKind::Off, ..stroke }.is_attack());
    }
}
