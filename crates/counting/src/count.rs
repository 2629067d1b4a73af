use std::borrow::Cow;
use std::fmt;

use rhythm::Deed;
use timebase::Span;

/// What is said at a count, as it is written under the notes: `1`, `&`, `la`. Never empty.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Word(Cow<'static, str>);

impl Word {
    /// A beat's number.
    #[must_use]
    pub fn number(number: u32) -> Self {
        Self(Cow::Owned(number.to_string()))
    }

    /// A syllable of the counting system.
    pub(crate) const fn syllable(word: &'static str) -> Self {
        Self(Cow::Borrowed(word))
    }

    /// As it is written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Word {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// One count of a bar: something to say and something to do.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Count {
    /// Where it falls, from where the full bar begins.
    pub at: Span,
    /// What is said; `None` where the system has no word for the place (a thirty-second). An attack is a count all the same.
    pub say: Option<Word>,
    /// What is done.
    pub deed: Deed,
    /// Whether it is a felt beat, said by its number.
    pub on_beat: bool,
}
