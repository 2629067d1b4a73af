//! Every limit of this crate, once.

/// The most versions of a sheet: a letter each.
pub const VERSIONS_MOST: usize = 26;

/// The smallest staff space in points that is still read at arm's length: three quarters of a millimetre.
pub const SPACE_PT_LEAST: f64 = 2.0;

/// The most exercises of one sheet.
pub const EXERCISES_MOST: usize = 5_000;
