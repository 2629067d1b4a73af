use counting::Word;
use rhythm::{AttackId, Deed};
use timebase::{Position, Span};

/// Something to sound at an exact place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cue {
    /// Where, from count 1 of bar 1; the count-in and a pickup stand before it.
    pub at: Position,
    /// What.
    pub cued: Cued,
}

/// What a cue sounds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cued {
    /// The click of a felt beat.
    Click {
        /// Whether it is count 1 of a bar.
        accented: bool,
    },
    /// A spoken count.
    Count {
        /// The word.
        say: Word,
        /// What is done there; during the count-in nothing is, a rest.
        deed: Deed,
        /// How long until the next spoken count, or the end: the room the syllable has.
        slot: Span,
    },
    /// The clap of a written attack.
    Clap {
        /// Which attack.
        id: AttackId,
        /// How long the note sounds, tied notes included.
        length: Span,
    },
}
