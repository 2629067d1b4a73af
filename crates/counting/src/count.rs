use rhythm::Deed;
use timebase::Span;

use crate::Word;

/// One count of a bar: something to say and something to do.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Count {
    /// Where it falls, from where the full bar begins.
    pub at: Span,
    /// What is said or thought; `None` where the system has no word for the place (a thirty-second), or is silent
    /// there. An attack and a beat are counts all the same.
    pub say: Option<Word>,
    /// How it is said; [`Voicing::Silent`] exactly where there is no word.
    pub voicing: Voicing,
    /// What is done.
    pub deed: Deed,
    /// Whether it is a beat of the counting system: a felt beat, or an unequal one where the system counts those.
    pub on_beat: bool,
}

impl Count {
    /// The word that is said aloud or softly; `None` where it is only thought, or there is none.
    #[must_use]
    pub fn aloud(&self) -> Option<&Word> {
        self.say.as_ref().filter(|_| matches!(self.voicing, Voicing::Said | Voicing::Softer))
    }
}

/// How a count is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Voicing {
    /// Aloud.
    Said,
    /// Softer than the others, or whispered.
    Softer,
    /// Thought, and written in parentheses.
    Parentheses,
    /// Neither said nor written.
    Silent,
}

impl Voicing {
    /// Every voicing with its word in the table of a counting system.
    pub const NAMED: [(&'static str, Self); 4] = [
        ("said", Self::Said),
        ("softer", Self::Softer),
        ("parentheses", Self::Parentheses),
        ("silent", Self::Silent),
    ];
}
