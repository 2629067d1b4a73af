use crate::limits::{EXERCISES_MOST, SPACE_PT_LEAST, VERSIONS_MOST};

/// Why there is no page.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A rhythm could not be engraved.
    #[error("{title}: {why}")]
    Engraving {
        /// Which.
        title: String,
        /// Why.
        why: engrave::Error,
    },
    /// There is nothing to print.
    #[error("a sheet of no exercises is no sheet: give it one or more")]
    NoExercise,
    /// More exercises than a sheet holds.
    #[error("{given} exercises are too many for one sheet: give it {EXERCISES_MOST} at most")]
    TooManyExercises {
        /// How many were given.
        given: usize,
    },
    /// What must stay together is higher than a page, however small it is printed.
    #[error(
        "{what} is higher than a page, even with staff spaces of {SPACE_PT_LEAST} points: print fewer players or \
         parts at a time"
    )]
    TooHigh {
        /// What it is.
        what: String,
    },
    /// More versions than there are letters, or orders of so few exercises.
    #[error(
        "{given} versions cannot be made of so many exercises: {exercises}. Versions differ by the order of their exercises, and are 1 \
         to {VERSIONS_MOST}; ask for {most} at most"
    )]
    Versions {
        /// How many were asked for.
        given: usize,
        /// Of how many exercises.
        exercises: usize,
        /// How many there can be.
        most: usize,
    },
    /// Versions that cannot differ by their rhythms.
    #[error(
        "{versions} versions with {each} of {exercises} rhythms each cannot be made: versions are 1 to {VERSIONS_MOST}, each has \
         at least 1 rhythm, and there are at least {} to choose from: give more rhythms, or ask for fewer in each",
        2 * (*each).max(1)
    )]
    Dealt {
        /// How many versions were asked for.
        versions: usize,
        /// Of how many rhythms.
        exercises: usize,
        /// How many each was to have.
        each: usize,
    },
    /// A character that the embedded text font does not have.
    #[error(
        "\"{text}\" has the character {character:?}, which the printed font lacks: write it in other letters"
    )]
    NoLetter {
        /// The character.
        character: char,
        /// Where it stands.
        text: String,
    },
    /// The chart's rhythm cannot be read: the program itself is at fault.
    #[error("the chart's own rhythm \"{text}\" is wrong: please report it")]
    Chart {
        /// The rhythm text.
        text: String,
    },
    /// The PDF could not be written.
    #[error("the pages could not be written as PDF: {why}")]
    Pdf {
        /// Why.
        why: String,
    },
}
