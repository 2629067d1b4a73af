use std::ops::Range;

use rhythm::Deed;
use timebase::Span;

use super::Misunderstanding;
use super::naming::sentence;
use crate::Word;

/// What became of one count of the key, or of one word that answers none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// The word and the deed are those of the key.
    Right,
    /// The word is right, but a struck, held or silent count is written as another of the three.
    WrongDeed,
    /// Another word stands at this count.
    WrongWord,
    /// The word is written, but before or behind another count than in the key.
    WrongPlace,
    /// Nothing is written for this count.
    Missing,
    /// A word stands where the key has no count.
    NothingBegins,
}

impl Verdict {
    /// Every verdict.
    pub const ALL: [Self; 6] =
        [Self::Right, Self::WrongDeed, Self::WrongWord, Self::WrongPlace, Self::Missing, Self::NothingBegins];

    /// Its stable name, as it stands in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Right => "right",
            Self::WrongDeed => "wrong-deed",
            Self::WrongWord => "wrong-word",
            Self::WrongPlace => "wrong-place",
            Self::Missing => "missing",
            Self::NothingBegins => "nothing-begins",
        }
    }
}

/// A count of the key.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct KeyCount {
    /// Where in its bar, from where the full bar begins.
    pub at: Span,
    /// What is said.
    pub say: Word,
    /// What is done.
    pub deed: Deed,
}

/// A word of the answer.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct WrittenCount {
    /// The bytes it stands on, a `_` before it included; on character boundaries, never empty.
    pub span: Range<usize>,
    /// As it is typed, a `_` before it included.
    pub typed: String,
    /// As it was understood: `+` is `&`, `TWO` is `2`; empty where only a hold or a silence is marked (`-`, `rest`).
    pub word: String,
    /// `(3)` is a rest, `_3` a hold, anything else an attack.
    pub deed: Deed,
}

impl WrittenCount {
    /// As rhythm text writes it, `_2` and `(3)`; a mark without a word as it is typed: `-`, `sh`.
    #[must_use]
    pub fn shown(&self) -> String {
        sentence::written(&self.word, &self.typed, self.deed)
    }
}

/// One count of the key, one word of the answer, or both, and how they go together.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct CheckedCount {
    /// The written bar, as an index into [`Rhythm::bars`](rhythm::Rhythm::bars): the key's where there is a key, else
    /// the one the word stands in.
    pub bar: usize,
    /// The count of the key; `None` exactly where nothing begins.
    pub key: Option<KeyCount>,
    /// The word of the answer; `None` exactly where it is missing.
    pub written: Option<WrittenCount>,
    /// How they go together.
    pub verdict: Verdict,
}

/// How one bar was counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct BarResult {
    /// The written bar, as an index into [`Rhythm::bars`](rhythm::Rhythm::bars).
    pub bar: usize,
    /// Its number: full bars from 1, a pickup is 0.
    pub number: u32,
    /// Counts that are right.
    pub right: usize,
    /// Counts that the key has.
    pub of: usize,
    /// Words that stand where nothing begins.
    pub extra: usize,
}

impl BarResult {
    /// The share that is right, as [`Answer::percent`] has it.
    #[must_use]
    pub fn percent(&self) -> Option<usize> {
        percent(self.right, self.of, self.extra)
    }
}

/// What is right, in whole percent, of all that should stand there and all that stands there beside it.
fn percent(right: usize, of: usize, extra: usize) -> Option<usize> {
    (right * 100).checked_div(of + extra)
}

/// An answer, checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    pub(super) counts: Vec<CheckedCount>,
    pub(super) bars: Vec<BarResult>,
    pub(super) misunderstandings: Vec<Misunderstanding>,
}

impl Answer {
    /// Every count of the key in order, and between them the words that answer none, where they stand.
    #[must_use]
    pub fn counts(&self) -> &[CheckedCount] {
        &self.counts
    }

    /// One entry a written bar, in the order of [`Rhythm::bars`](rhythm::Rhythm::bars).
    #[must_use]
    pub fn bars(&self) -> &[BarResult] {
        &self.bars
    }

    /// The mistakes that have a name, the most useful first: what explains the most counts.
    #[must_use]
    pub fn misunderstandings(&self) -> &[Misunderstanding] {
        &self.misunderstandings
    }

    /// How many counts of the key are right.
    #[must_use]
    pub fn right(&self) -> usize {
        self.bars.iter().map(|bar| bar.right).sum()
    }

    /// How many counts the key has.
    #[must_use]
    pub fn of(&self) -> usize {
        self.bars.iter().map(|bar| bar.of).sum()
    }

    /// How many words stand where nothing begins.
    #[must_use]
    pub fn extra(&self) -> usize {
        self.bars.iter().map(|bar| bar.extra).sum()
    }

    /// The share that is right in whole percent, rounded down: the right counts, of the counts of the key and the words
    /// where nothing begins together. A needless word weighs as much as a missing one, so that 100 is an answer with
    /// nothing to mend. `None` where there is neither a count nor a word.
    #[must_use]
    pub fn percent(&self) -> Option<usize> {
        percent(self.right(), self.of(), self.extra())
    }
}
