//! What a counting system says, made ready for counting.

mod form;
mod lengths;
mod read;
mod rows;
mod words;

pub(crate) use self::lengths::{Lengths, Spoken};
pub(crate) use self::read::Document;
pub(crate) use self::rows::{Kind, Row, Rows, gcd};
use crate::{Voicing, Word};

/// All that a counting system says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Table {
    pub(crate) by: By,
    pub(crate) holds: Voicing,
    pub(crate) rests: Voicing,
    pub(crate) asymmetrical: Asymmetrical,
    pub(crate) compound: Compound,
    /// Other writings of a word, which are read for it.
    pub(crate) also: Vec<(String, Word)>,
}

/// What decides about a word.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum By {
    /// Where in the beat it falls.
    Place(Places),
    /// How long the note lasts.
    Length(Lengths),
}

/// The words of a system that goes by the place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Places {
    pub(crate) simple: Rows,
    pub(crate) compound: Rows,
    pub(crate) two: Rows,
    pub(crate) three: Rows,
    /// What is said wherever no row has a word.
    pub(crate) elsewhere: Option<Word>,
}

impl Places {
    pub(crate) fn rows(&self, kind: Kind) -> &Rows {
        match kind {
            Kind::Simple => &self.simple,
            Kind::Compound => &self.compound,
            Kind::Two => &self.two,
            Kind::Three => &self.three,
        }
    }
}

/// How a bar whose groups are unequal is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Asymmetrical {
    /// Its units, numbered through the bar; from 1 in each group where the meter says so.
    Units,
    /// Its units, numbered from 1 in each group.
    Group,
    /// Its groups, as beats of unequal length.
    Beats,
}

impl Asymmetrical {
    pub(crate) const NAMED: [(&'static str, Self); 3] =
        [("units", Self::Units), ("group", Self::Group), ("beats", Self::Beats)];
}

/// What a compound meter is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Compound {
    /// Its felt beats.
    Beats,
    /// Its units: the slow six.
    Units,
}

impl Compound {
    pub(crate) const NAMED: [(&'static str, Self); 2] = [("beats", Self::Beats), ("units", Self::Units)];
}
