use crate::limits::{LEAST_WIDTH, MOST_ROOM, MOST_WIDTH};

/// Why a rhythm cannot be laid out.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// The page leaves no room for a staff, or is no width at all.
    #[error(
        "a page {width} staff spaces wide with {room_left} kept free at the left cannot hold a staff: give it \
         {LEAST_WIDTH} to {MOST_WIDTH} beside what is kept free"
    )]
    Width {
        /// The width that was given.
        width: f64,
        /// What was to be kept free at the left.
        room_left: f64,
    },
    /// The room to keep free is negative or boundless.
    #[error("{room} staff spaces cannot be kept free {place} the staff: keep 0 to {MOST_ROOM}")]
    Room {
        /// What was given.
        room: f64,
        /// "left of", "below" or "between the counts under".
        place: &'static str,
    },
    /// Nothing to lay out.
    #[error("there is no staff: give at least one")]
    NoStaff,
    /// Staves that cannot be played together.
    #[error("staff {staff} has other bars, meters or repeats than the first: join parts of one piece")]
    OtherBars {
        /// Which staff, from 1.
        staff: usize,
    },
    /// A voice on a line where there is no place for it.
    #[error(
        "staff {staff} cannot share a line: it stands on the line of the staff right before it, and a line holds two voices"
    )]
    SharedLine {
        /// Which staff, from 1.
        staff: usize,
    },
    /// The counting belongs to another rhythm.
    #[error("the count line has {counted} bars and the rhythm {written}: count the rhythm that is engraved")]
    OtherRhythm {
        /// Bars of the count line.
        counted: usize,
        /// Bars of the rhythm.
        written: usize,
    },
}
