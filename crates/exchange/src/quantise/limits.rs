//! Every limit of the quantiser, once, with the word that names it in a message.

use timebase::limits::Limit;

/// Strokes that are made a rhythm at once: an hour of sixteenths at a walking pace.
pub const STROKES: Limit = Limit { what: "number of strokes", least: 1, most: 20_000 };

/// Beats between the first stroke and the last: as many as 120,000 bars of four.
pub const BEATS: Limit =
    Limit { what: "number of beats from the first stroke to the last", least: 0, most: 480_000 };

/// Alternatives told for one bar.
pub const ALTERNATIVES: Limit = Limit { what: "number of alternatives of a bar", least: 0, most: 20 };
