use timebase::Span;
use timebase::limits::Limit;

use crate::Meter;

/// Why a rhythm cannot be made of its parts.
///
/// Mistakes in a rhythm *text* are [`crate::text::Diagnostic`]s with a place each; these errors are for
/// rhythms made by a program.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// No such meter.
    #[error("{given} is not a meter: the upper number goes from 1 to 32, the lower is 1, 2, 4, 8, 16 or 32")]
    Meter {
        /// As it was given.
        given: String,
    },
    /// No such felt beat.
    #[error("{meter} cannot be felt in {given}: it can be felt in {allowed}")]
    FeltBeat {
        /// The meter.
        meter: String,
        /// The number of beats that was asked for.
        given: u32,
        /// The numbers that are allowed, as a list.
        allowed: String,
    },
    /// The events of a bar do not fill it.
    #[error(
        "the events of bar {bar} in {meter} do not fill it in order: something is wrong at {at} of a whole note"
    )]
    BarNotFilled {
        /// The bar's number.
        bar: u32,
        /// Its meter.
        meter: Meter,
        /// Where the first gap, overlap or end in the wrong place is.
        at: Span,
    },
    /// Bars are numbered 0 (a pickup) or 1, then upwards.
    #[error("bar {bar} is out of order: a pickup is bar 0, full bars are numbered from 1 upwards")]
    BarNumber {
        /// The first number out of order.
        bar: u32,
    },
    /// A repeat is empty, overlaps another or leaves the piece.
    #[error("the repeat of written bars {first} up to {end} is empty, overlaps another or leaves the piece")]
    Repeat {
        /// Index of its first bar.
        first: usize,
        /// Index after its last bar.
        end: usize,
    },
    /// A hold with nothing sounding before it.
    #[error(
        "bar {bar} holds a sound at {at} of a whole note (time {pass} through), but nothing sounds before it"
    )]
    HoldAfterSilence {
        /// The bar's number.
        bar: u32,
        /// The how-manieth time through.
        pass: u32,
        /// Where in the bar.
        at: Span,
    },
    /// A number outside its limit.
    #[error("{given} is not a {}: it goes from {} to {}", .limit.what, .limit.least, .limit.most)]
    OutOfRange {
        /// What was given.
        given: i64,
        /// What is allowed.
        limit: Limit,
    },
}
