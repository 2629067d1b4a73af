use timebase::Span;

use crate::Marks;

/// What is done at a count, and during an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Deed {
    /// A note begins here: it is struck.
    Attack,
    /// The sound from before goes on.
    Hold,
    /// Silence.
    Rest,
}

/// One written note or silence of a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Event {
    /// Where it begins, from where the full bar begins (a pickup on 4 in 4/4 begins at 3/4).
    pub at: Span,
    /// How long it lasts; positive.
    pub length: Span,
    /// Whether it is struck, tied from the note before, or silent.
    pub deed: Deed,
    /// Whether the author broke the beam before it.
    pub beam_broken: bool,
    /// What stands on it.
    pub marks: Marks,
}

impl Event {
    /// An event without marks, whose beam is not broken.
    #[must_use]
    pub const fn new(at: Span, length: Span, deed: Deed) -> Self {
        Self { at, length, deed, beam_broken: false, marks: Marks::NONE }
    }

    /// The same with these marks.
    #[must_use]
    pub const fn with_marks(self, marks: Marks) -> Self {
        Self { marks, ..self }
    }

    /// Where it ends.
    #[must_use]
    pub fn end(&self) -> Span {
        self.at + self.length
    }
}
