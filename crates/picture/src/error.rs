use rhythm::AttackId;

use crate::options::{LEAST_SCALE, MOST_SCALE};

/// Why rows cannot be laid over an engraving.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A mark for an attack that the engraving does not have.
    #[error(
        "{what} names an attack in bar {}, time {}, at {} of a whole note, and nothing stands there: judge \
         and engrave the same rhythm", .id.bar, .id.pass, .id.at
    )]
    UnknownAttack {
        /// The row, or the spread.
        what: String,
        /// The attack that was named.
        id: AttackId,
    },
    /// An extra attack in a system that the engraving does not have.
    #[error(
        "{what} has an extra attack in system {system} of {systems}: take its place from this engraving's timeline"
    )]
    UnknownSystem {
        /// The row.
        what: String,
        /// The system that was named, from 0.
        system: usize,
        /// How many there are.
        systems: usize,
    },
    /// The rows need more room under the staff than the layout keeps free.
    #[error(
        "the rows need {needed:.1} staff spaces under the staff and {kept:.1} are kept free: engrave with `picture::layout`"
    )]
    NoRoom {
        /// What they need.
        needed: f64,
        /// What the layout keeps free.
        kept: f64,
    },
    /// A scale that shows nothing.
    #[error("{given} milliseconds a staff space is no scale: choose {LEAST_SCALE} to {MOST_SCALE}")]
    Scale {
        /// What was given.
        given: f64,
    },
}
