//! Sizes of the page in staff spaces. Those of the music font are its published `engravingDefaults`
//! and anchors (Bravura 1.392); the rest is ours, tried on the page.

/// Thickness of the staff's line.
pub(crate) const STAFF_LINE: f64 = 0.13;
/// Thickness of a stem.
pub(crate) const STEM: f64 = 0.12;
/// Thickness of a beam.
pub(crate) const BEAM: f64 = 0.5;
/// From the top of one beam to the top of the next: its thickness and the gap of 0.25.
pub(crate) const BEAM_STEP: f64 = 0.75;
/// Thickness of a bar line.
pub(crate) const THIN_BAR: f64 = 0.16;
/// Thickness of the thick line at the end of a piece or of a repeat.
pub(crate) const THICK_BAR: f64 = 0.5;
/// Gap between the lines of a double bar line.
pub(crate) const BAR_GAP: f64 = 0.4;
/// Gap between a repeat's dots and its line.
pub(crate) const REPEAT_DOT_GAP: f64 = 0.16;
/// Thickness of a tuplet's bracket, and of that over an ending.
pub(crate) const BRACKET: f64 = 0.16;
/// Thickness of the bracket that joins parts.
pub(crate) const JOINING_BRACKET: f64 = 0.5;
/// Thickness of the lines of a hairpin.
pub(crate) const HAIRPIN: f64 = 0.16;
/// Thickness of a tie in its middle.
pub(crate) const TIE_MIDDLE: f64 = 0.22;
/// Thickness of a tie at its ends.
pub(crate) const TIE_END: f64 = 0.1;

/// Where a stem leaves a black or half notehead: `stemUpSE`, y downwards from the middle of the head.
pub(crate) const STEM_FROM: f64 = -0.168;
/// How far a stem reaches above its line (from memory: an octave).
pub(crate) const STEM_LENGTH: f64 = 3.5;
/// Half the width of a black or half notehead.
pub(crate) const HALF_HEAD: f64 = 0.59;
/// How far a bar line reaches above and below the one line of the staff.
pub(crate) const BAR_LINE_REACH: f64 = 1.0;

/// Room for a quarter. Each doubling of length multiplies it by [`SPACING_RATIO`].
pub(crate) const QUARTER_WIDTH: f64 = 4.0;
/// Read: spacing grows by about 1.4 to 1.5 for each doubling of length.
pub(crate) const SPACING_RATIO: f64 = 1.45;
/// Least gap between two symbols.
pub(crate) const SYMBOL_GAP: f64 = 0.45;
/// Least gap between two counts: about a blank.
pub(crate) const COUNT_GAP: f64 = 0.6;
/// Least length of a tie between two heads.
pub(crate) const LEAST_TIE: f64 = 1.3;
/// From a bar line, or what stands at the beginning of a bar, to the first symbol.
pub(crate) const BAR_LEAD: f64 = 1.2;
/// Room of several bars of rest that are drawn as one.
pub(crate) const JOINED_REST: f64 = 13.0;

/// How far down notes, rests and ties reach from the staff's line.
pub(crate) const UNDER: f64 = 2.12;
/// Between the rows under a staff.
pub(crate) const ROW_GAP: f64 = 0.45;
/// From the base line of the counts to the line under what is held, of their em.
pub(crate) const HELD_DROP: f64 = 0.325;
/// Thickness of the line under what is held.
pub(crate) const HELD_LINE: f64 = 0.16;
/// From the lowest base line, or what hangs under it, to the end of the system.
pub(crate) const BELOW: f64 = 0.75;

/// From the highest sign of a system to its top: room for the playhead's mark.
pub(crate) const MARK_ROOM: f64 = 1.7;
/// From what stands highest over the staff to the base line of small print.
pub(crate) const PRINT_GAP: f64 = 0.4;
/// From the base line of small print up to the bracket of an ending with words under it.
pub(crate) const ENDING_RISE: f64 = 1.3;
/// What a line of small print over the notes takes.
pub(crate) const PRINT_ROOM: f64 = 1.6;
/// Between two systems.
pub(crate) const SYSTEM_GAP: f64 = 1.6;
/// Between two parts of a system.
pub(crate) const PART_GAP: f64 = 1.4;
