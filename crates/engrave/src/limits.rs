//! Every limit of this crate, once.

/// The narrowest page, in staff spaces: room for a clef, a meter and two quarters.
pub const LEAST_WIDTH: f64 = 24.0;

/// The widest page, in staff spaces.
pub const MOST_WIDTH: f64 = 100_000.0;

/// The most room that can be kept free left of a staff or below it, in staff spaces.
pub const MOST_ROOM: f64 = 10_000.0;
