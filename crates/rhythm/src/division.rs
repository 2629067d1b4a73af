//! The words for the parts of a beat in the numbers system, as they are written and as they are read.
//!
//! Rhythm text is written in these words, so they live here and not with the other counting systems.
//! Words of the beat in two and in three: read in an encyclopedia article on counting in music and a
//! music teacher's survey of counting systems (2014). The sixteenths of a beat in three (`ta`) are
//! borrowed from the McHose and Tibbs system.

use timebase::Ratio;

use crate::Division;

/// A part of a beat that has a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// Where in the beat it lies, as a fraction of the beat: 0 up to, but not including, 1.
    pub at: Ratio<i64>,
    /// What is said there; empty at the beat itself, which is said by its number.
    pub word: &'static str,
}

const fn part(numerator: i64, denominator: i64, word: &'static str) -> Part {
    Part { at: Ratio::new_raw(numerator, denominator), word }
}

/// The parts of a beat that divides in two: `1 e & a`.
pub const IN_TWO: [Part; 4] = [part(0, 1, ""), part(1, 4, "e"), part(1, 2, "&"), part(3, 4, "a")];

/// The parts of a beat in three, and of a triplet in a beat that divides in two: `1 ta la ta li ta`.
pub const IN_THREE: [Part; 6] = [
    part(0, 1, ""),
    part(1, 6, "ta"),
    part(1, 3, "la"),
    part(1, 2, "ta"),
    part(2, 3, "li"),
    part(5, 6, "ta"),
];

/// The word at `part` of a beat, or `None` where there is none. Empty at the beat itself.
///
/// In a beat that divides in two, the thirds and sixths are read as a triplet.
#[must_use]
pub fn word_at(division: Division, part: Ratio<i64>) -> Option<&'static str> {
    let in_table = |table: &[Part]| table.iter().find(|p| p.at == part).map(|p| p.word);
    match division {
        Division::Two => in_table(&IN_TWO).or_else(|| in_table(&IN_THREE)),
        Division::Three => in_table(&IN_THREE),
    }
}
