//! Every limit of this crate, once, with the word that names it in a message.

use timebase::limits::Limit;

/// Bytes of a MusicXML file, packed and unpacked.
pub const XML_BYTES: Limit = Limit { what: "size of a MusicXML file in bytes", least: 1, most: 48 << 20 };

/// How deep elements stand one inside another. The standard needs fewer than 20.
pub const XML_DEPTH: Limit = Limit { what: "depth of elements in one another", least: 1, most: 64 };

/// Elements of a file.
pub const XML_ELEMENTS: Limit = Limit { what: "number of elements in a file", least: 1, most: 6_000_000 };

/// Notes and rests in a file, all parts together: a long symphony's.
pub const NOTES: Limit = Limit { what: "number of notes in a file", least: 0, most: 200_000 };

/// Bars in a file, those of all parts together: forty parts of three thousand bars, and as
/// many as a piece may have.
pub const SCORE_BARS: Limit = Limit { what: "number of bars of all parts together", least: 0, most: 120_000 };

/// Signs in a file that are no notes: tempos, dynamics, words, repeats, endings.
pub const SIGNS: Limit = Limit { what: "number of signs beside the notes", least: 0, most: 200_000 };

/// Parts in a file. Those of one piece have a limit of their own, [`rhythm::limits::PARTS`].
pub const SCORE_PARTS: Limit = Limit { what: "number of parts in a file", least: 1, most: 500 };

/// Voices in a part of a file.
pub const VOICES: Limit = Limit { what: "number of voices in a part", least: 1, most: 64 };

/// Parts of a quarter that a file measures its lengths in.
pub const DIVISIONS: Limit = Limit { what: "number of divisions of a quarter", least: 1, most: 1 << 20 };

/// A length in divisions.
pub const DURATION: Limit = Limit { what: "duration in divisions", least: 0, most: 1 << 30 };

/// The lower number of a place in a bar or of a length: finer than any rhythm that is written, and coarse enough
/// that sums of such numbers stay inside the limit of musical time.
pub const FINENESS: Limit =
    Limit { what: "lower number of a length as a fraction of a whole note", least: 1, most: 1 << 20 };

/// Bytes of a packed MusicXML file.
pub const MXL_BYTES: Limit =
    Limit { what: "size of a packed MusicXML file in bytes", least: 1, most: 32 << 20 };

/// Files in a packed MusicXML file.
pub const MXL_FILES: Limit =
    Limit { what: "number of files in a packed MusicXML file", least: 1, most: 2_000 };
