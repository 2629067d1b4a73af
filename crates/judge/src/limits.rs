//! Every limit of this crate, once, with the word that names it in a message.

use timebase::Seconds;
use timebase::limits::Limit;

/// How far from the player's own bias an attack may fall and still be on time, in ms. Below 5 ms no
/// displacement is heard (just noticeable: 6 ms at best, Friberg and Sundberg 1995).
pub const TOLERANCE_MS: Limit = Limit { what: "tolerance in ms", least: 5, most: 250 };

/// How far from a written note an attack may fall and still answer it, in ms.
pub const GATE_MS: Limit = Limit { what: "gate in ms", least: 5, most: 1_000 };

/// Matched attacks below which no bias and no spread is claimed: the median of three still hangs on one of them.
pub const FEWEST_FOR_BIAS: usize = 4;

/// Matched attacks below which no drift is claimed: two bars of quarters, and six degrees of freedom left beside the line.
pub const FEWEST_FOR_DRIFT: usize = 8;

/// Attacks at a place below which nothing is said of the place.
pub const FEWEST_FOR_PLACE: usize = 4;

/// How much something counts in a rubric.
pub const WEIGHT: Limit = Limit { what: "weight", least: 0, most: 100 };

/// Where a level of a rubric begins, in hundredths.
pub const LEVEL_FROM: Limit = Limit { what: "beginning of a level in hundredths", least: 0, most: 100 };

/// How many levels a rubric has.
pub const LEVELS: Limit = Limit { what: "number of levels", least: 1, most: 12 };

/// Characters of a level's name.
pub const LEVEL_CHARS: Limit = Limit { what: "length of a level's name in characters", least: 1, most: 40 };

/// Points that a rubric gives at most.
pub const POINTS: Limit = Limit { what: "number of points", least: 1, most: 1_000 };

/// Spread in tolerances, as a bound of a rubric.
pub const SPREAD_BOUND: Limit = Limit { what: "bound of the spread in tolerances", least: 0, most: 20 };

/// Drift in percent, as a bound of a rubric.
pub const DRIFT_BOUND: Limit = Limit { what: "bound of the drift in percent", least: 0, most: 100 };

/// Whether a length of time lies within a limit in milliseconds, both ends included.
pub(crate) fn holds_ms(limit: &Limit, length: Seconds) -> bool {
    length >= Seconds::from_millis(limit.least) && length <= Seconds::from_millis(limit.most)
}
