//! Every limit of this crate, once, with the word that names it in a message.

use timebase::limits::Limit;

/// Bytes of a word: room for whatever can be said on one part of a beat.
pub const WORD_BYTES_MOST: usize = 15;

/// Bytes of the table of a counting system.
pub const TABLE_BYTES: Limit = Limit { what: "size of a counting system in bytes", least: 0, most: 64 << 10 };

/// Parts of a beat that one row of words is for.
pub const ROW_PARTS: Limit = Limit { what: "number of parts of a beat", least: 2, most: 16 };

/// Characters of the name of a counting system or of a variant.
pub const NAME_CHARS: Limit = Limit { what: "length of a name in characters", least: 1, most: 40 };

/// Variants of a counting system.
pub const VARIANTS: Limit = Limit { what: "number of variants", least: 0, most: 32 };

/// The lower number of a note value that has a word; a power of two.
pub const VALUE_PARTS: Limit = Limit { what: "lower number of a note value", least: 1, most: 256 };

/// Syllables of the word of a note.
pub const NOTE_SYLLABLES: Limit = Limit { what: "number of syllables of a note", least: 1, most: 16 };

/// Notes of a pattern that has words of its own, and of a tuplet that has.
pub const PATTERN_NOTES: Limit = Limit { what: "number of notes in a pattern", least: 2, most: 16 };
