use timebase::limits::{Limit, TEMPO_BPM};
use timebase::{Span, Tempo};

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
    /// Endings leave the passage, do not follow one another, or do not name every pass once.
    #[error(
        "the endings of the repeat of written bars {first} up to {end} do not fill its end, or do not name each of the {times} times once"
    )]
    Endings {
        /// Index of the first bar of the first ending.
        first: usize,
        /// Index after the last bar of the repeat.
        end: usize,
        /// Times through.
        times: u32,
    },
    /// A jump that cannot be taken.
    #[error("the jump after written bar {after} goes to a bar, or ends at one, that it cannot reach")]
    Jump {
        /// Index of the bar after which it stands.
        after: usize,
    },
    /// Units that do not group as given.
    #[error(
        "{meter} cannot be grouped {given}: the groups are 2 to 12 numbers from 1 to 8, and add up to the upper number or to twice it"
    )]
    Grouping {
        /// The meter.
        meter: String,
        /// The groups that were asked for, joined by plus signs.
        given: String,
    },
    /// Tuplets that overlap, leave the bar, stand too deep, or cut an event.
    #[error(
        "a tuplet of bar {bar} at {at} of a whole note leaves the bar, cuts a note or another tuplet, stands deeper than one in another, or has a number outside 1 to 64"
    )]
    Tuplets {
        /// The bar's number.
        bar: u32,
        /// Where the first wrong tuplet begins, or the event that it cuts.
        at: Span,
    },
    /// A mark on something that is not struck.
    #[error(
        "bar {bar} has a mark at {at} of a whole note that only a struck note can bear: a held or silent one takes a fermata at most"
    )]
    Marks {
        /// The bar's number.
        bar: u32,
        /// Where in the bar.
        at: Span,
    },
    /// Bars of rest written as one do not stand together.
    #[error("bar {bar} breaks bars of rest that are written as one: all of them stand together, in order")]
    BarsOfRest {
        /// The bar's number.
        bar: u32,
    },
    /// A tempo that leaves its limits.
    #[error("the tempo that begins in bar {bar} is none: a tempo goes from 20 to 300 beats a minute")]
    TempoMark {
        /// The bar's number.
        bar: u32,
    },
    /// A tempo to begin at that takes a change of tempo, which keeps its proportion, out of the limits.
    #[error(
        "at {given} to begin with, bar {bar}, written at {written}, would be played at {played} beats a minute, and a tempo goes from {} to {}: this rhythm can begin at {allowed}",
        TEMPO_BPM.least, TEMPO_BPM.most
    )]
    BeginningTempo {
        /// The tempo to begin at.
        given: Tempo,
        /// The bar with the change.
        bar: u32,
        /// What is written there.
        written: Tempo,
        /// Beats a minute it would become, to a hundredth.
        played: Box<str>,
        /// The slowest and the fastest tempo to begin at: "30 to 150".
        allowed: Box<str>,
    },
    /// A gradual change of tempo that does not come to its end.
    #[error(
        "the tempo that changes over {bars} bars from bar {bar} on never gets there: it begins with a full bar, and neither the rhythm ends nor another tempo begins before it is over"
    )]
    GradualTempo {
        /// The bar's number.
        bar: u32,
        /// How many bars it goes over.
        bars: u32,
    },
    /// Parts that do not belong together.
    #[error("part {part} does not go with the first: {differs} (bar {bar})")]
    Parts {
        /// The part's name, or its number from 1.
        part: String,
        /// What differs.
        differs: String,
        /// The number of the first bar that differs.
        bar: u32,
    },
    /// A part on a line where there is no place for it.
    #[error(
        "part {part} cannot share a line: it stands on the line of the part right before it, and a line holds two"
    )]
    SharedLine {
        /// The part's name, or its number from 1.
        part: String,
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
