//! The words of the counting systems, as an answer may use them.

use std::collections::BTreeSet;

use rhythm::{Division, Meter, Rhythm, division};
use timebase::Ratio;

use super::vocabulary::plain;
use crate::CountLine;

/// The words of one system for the parts of a beat.
#[derive(Debug)]
pub(super) struct BeatWords {
    two: Vec<(Ratio<i64>, String)>,
    three: Vec<(Ratio<i64>, String)>,
}

impl BeatWords {
    /// The words that the system of `line` has for a beat of `meter`.
    pub(super) fn of(_line: &CountLine, _meter: Meter) -> Self {
        let parts = |table: &[division::Part]| {
            let worded = table.iter().filter(|part| !part.word.is_empty());
            worded.map(|part| (part.at, plain(part.word))).collect()
        };
        Self { two: parts(&division::IN_TWO), three: parts(&division::IN_THREE) }
    }

    fn table(&self, division: Division) -> &[(Ratio<i64>, String)] {
        match division {
            Division::Two => &self.two,
            Division::Three => &self.three,
        }
    }

    /// Whether it is a word for a part of a beat that divides so.
    pub(super) fn is_of(&self, division: Division, word: &str) -> bool {
        self.table(division).iter().any(|(_, known)| known == word)
    }

    /// The first part behind `after` that has this word.
    pub(super) fn place(&self, division: Division, word: &str, after: Ratio<i64>) -> Option<Ratio<i64>> {
        self.table(division).iter().find(|(at, known)| *at > after && known == word).map(|(at, _)| *at)
    }
}

/// Every word of every system.
pub(super) fn all() -> BTreeSet<String> {
    let parts = division::IN_TWO.iter().chain(&division::IN_THREE);
    parts.map(|part| plain(part.word)).filter(|word| !word.is_empty()).collect()
}

/// The rhythm counted in every system but that of `line`, each with its name.
pub(super) fn other_lines(_line: &CountLine, _rhythm: &Rhythm) -> Vec<(String, CountLine)> {
    Vec::new()
}
