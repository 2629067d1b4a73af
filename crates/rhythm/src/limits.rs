//! Every limit of this crate, once, with the word that names it in a message.

use timebase::limits::Limit;

/// Beats (lower numbers of the meter) in a bar.
pub const METER_BEATS: Limit = Limit { what: "upper number of a meter", least: 1, most: 32 };

/// Written bars in a rhythm.
pub const WRITTEN_BARS: Limit = Limit { what: "number of written bars", least: 1, most: 2_000 };

/// Times through a repeated passage.
pub const TIMES_THROUGH: Limit = Limit { what: "number of times through a passage", least: 2, most: 50 };

/// Bars with all repeats played: an hour and more at any tempo, and never so many that a slip of the
/// finger (`50 times` round a long passage) fills the memory.
pub const PERFORMED_BARS: Limit =
    Limit { what: "number of bars with all repeats played", least: 1, most: 10_000 };

/// Bytes of a rhythm text.
pub const TEXT_BYTES: Limit = Limit { what: "size of a rhythm text in bytes", least: 0, most: 1 << 20 };

/// Characters of a title.
pub const TITLE_CHARS: Limit = Limit { what: "length of a title in characters", least: 0, most: 200 };

/// Errors listed for one text; what follows is counted but not listed.
pub const ERRORS_LISTED: usize = 20;

/// The tempo of a rhythm that names none, in felt beats a minute: a walking pace a beginner can count at.
pub const DEFAULT_BPM: u32 = 80;
