use counting::Word;
use rhythm::{AttackId, Deed, Marks};
use timebase::{Position, Span};

use crate::Speech;

/// Something to sound at an exact place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cue {
    /// Where, from count 1 of bar 1; the count-in and a pickup stand before it.
    pub at: Position,
    /// What.
    pub cued: Cued,
}

impl Cue {
    /// Whether it is a count that is whispered.
    #[must_use]
    pub(crate) fn is_whispered(&self) -> bool {
        matches!(self.cued, Cued::Count { speech: Speech::Whispered, .. })
    }
}

/// What a cue sounds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cued {
    /// The click of a felt beat, or of the beginning of a group.
    Click {
        /// Whether it is count 1 of a bar.
        accented: bool,
        /// Whether a group of units begins there.
        group: bool,
    },
    /// The click of a part of a felt beat, between the beats.
    Division,
    /// A spoken count.
    Count {
        /// The word.
        say: Word,
        /// What is done there; during the count-in nothing is, a rest.
        deed: Deed,
        /// How it is said.
        speech: Speech,
        /// How long until the next spoken count, or the end: the room the syllable has.
        slot: Span,
    },
    /// A written attack, clapped.
    Clap {
        /// Which attack.
        id: AttackId,
        /// How long the note sounds, tied notes included.
        length: Span,
        /// What stands on it: accent, hand, grace strokes, roll.
        marks: Marks,
        /// How much louder than where nothing is written the loudness of its bar makes it, in tenths of a decibel.
        louder: i32,
        /// Whether it sounds as a tone too.
        held: bool,
    },
    /// A written attack, sounded as a tone alone.
    Tone {
        /// How long the note sounds.
        length: Span,
        /// See [`Cued::Clap`].
        marks: Marks,
        /// See [`Cued::Clap`].
        louder: i32,
    },
}
