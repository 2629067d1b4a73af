//! Every limit of this crate, once, with the word that names it in a message.

use timebase::limits::Limit;

/// Beats (lower numbers of the meter) in a bar.
pub const METER_BEATS: Limit = Limit { what: "upper number of a meter", least: 1, most: 32 };

/// Written bars in a rhythm, or in all parts of a piece together.
pub const WRITTEN_BARS: Limit = Limit { what: "number of written bars", least: 1, most: 120_000 };

/// Times through a repeated passage.
pub const TIMES_THROUGH: Limit = Limit { what: "number of times through a passage", least: 2, most: 50 };

/// Notes and rests written in a rhythm, or in all parts of a piece together: `%` copies a bar, so a short text could name more than memory holds.
pub const WRITTEN_EVENTS: Limit =
    Limit { what: "number of written notes and rests", least: 1, most: 800_000 };

/// Bars that repeats and jumps add to the written ones: an hour and more at any tempo, and never so many
/// that a slip of the finger (`50 times` round a long passage) fills the memory.
pub const REPEATED_BARS: Limit = Limit { what: "number of bars that repeats add", least: 0, most: 10_000 };

/// Bars of rest written as one.
pub const BARS_OF_REST: Limit = Limit { what: "number of bars of rest", least: 2, most: 200 };

/// Bars that a gradual change of tempo goes over.
pub const GRADUAL_BARS: Limit =
    Limit { what: "number of bars of a gradual change of tempo", least: 1, most: 200 };

/// Groups of units in an asymmetrical bar.
pub const METER_GROUPS: Limit = Limit { what: "number of groups in a bar", least: 2, most: 12 };

/// Units in one group of a bar.
pub const GROUP_UNITS: Limit = Limit { what: "number of units in a group", least: 1, most: 8 };

/// Each number of a tuplet's ratio.
pub const TUPLET_PARTS: Limit = Limit { what: "number of a tuplet", least: 1, most: 64 };

/// How deep tuplets stand one inside another.
pub const TUPLET_DEPTH: Limit = Limit { what: "depth of tuplets in one another", least: 1, most: 2 };

/// Parts of a piece.
pub const PARTS: Limit = Limit { what: "number of parts", least: 1, most: 64 };

/// Characters of a part's name.
pub const NAME_CHARS: Limit = Limit { what: "length of a part's name in characters", least: 1, most: 60 };

/// Bytes of a rhythm text.
pub const TEXT_BYTES: Limit = Limit { what: "size of a rhythm text in bytes", least: 0, most: 4 << 20 };

/// Characters of a title.
pub const TITLE_CHARS: Limit = Limit { what: "length of a title in characters", least: 0, most: 200 };

/// Errors listed for one text; what follows is left out.
pub const ERRORS_LISTED: usize = 20;

/// The tempo of a rhythm that names none, in felt beats a minute: a walking pace a beginner can count at.
pub const DEFAULT_BPM: u32 = 80;
