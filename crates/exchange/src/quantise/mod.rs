//! From strokes to a rhythm: what a teacher tapped in, or what stands in a MIDI file, written with what has been taught.
//!
//! ```
//! use exchange::quantise::{Grid, Settings, Tap, Timing, quantise};
//! use rhythm::Meter;
//! use timebase::{Moment, Seconds, Span, Tempo, TempoMap};
//!
//! // Tapped with a click of 100 beats a minute whose count 1 fell at 0: quarter, two eighths, quarter, rest.
//! let ms = [12, 590, 905, 1_188];
//! let taps = ms.map(|ms| Tap::new(Moment::ZERO + Seconds::from_millis(ms)));
//! let tempo = TempoMap::constant(Tempo::new(Span::QUARTER, 100.into())?);
//! let timing = Timing::Known(Grid::new(tempo, Moment::ZERO, Meter::COMMON));
//! let quantised = quantise(&taps, &timing, &Settings::default())?;
//! let written = rhythm::text::write(&quantised.rhythm);
//! assert_eq!(written.lines().last(), Some("| 1 2 & 3 |"));
//! assert!(quantised.bars[0].probability > 0.9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! [`quantise`] weighs every way in which the strokes can lie in the beats, with what has been taught ([`Vocabulary`]) as
//! the only places, and gives the likeliest rhythm with the alternatives of each bar and their probabilities
//! ([`Quantised`]). Where no click sounded ([`Timing::Free`]) it finds tempo, count 1 and meter as well. The model, its
//! numbers and their sources stand in `quantise.md` beside this crate.
//!
//! It knows no file and no device, and judges nobody: what a player should have played is not its business.

mod cell_steps;
mod course;
mod error;
mod free;
mod heard;
mod induction;
pub mod limits;
mod measure;
mod motion;
mod notation;
mod pattern;
mod posterior;
mod quantised;
mod search;
mod timing;
mod vocabulary;
mod with_click;
mod writing;

pub use error::Error;
pub use heard::Tap;
pub use notation::Ends;
pub use quantised::{BarCertainty, Quantised};
pub use timing::{Free, Grid, Timing};
pub use vocabulary::{Taught, Vocabulary};

use self::limits::{ALTERNATIVES, STROKES};

/// How strokes are made a rhythm.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// What has been taught.
    pub vocabulary: Vocabulary,
    /// How long sounds are written.
    pub ends: Ends,
    /// How many alternatives are told for each bar, at most.
    pub alternatives: usize,
    /// The title of the rhythm.
    pub title: Option<String>,
}

impl Default for Settings {
    fn default() -> Self {
        Self { vocabulary: Vocabulary::default(), ends: Ends::AsPlayed, alternatives: 3, title: None }
    }
}

/// Makes a rhythm of `taps`, which may stand in any order.
///
/// Time and memory grow with the number of strokes and of beats. Musical time in the result is exact.
///
/// # Errors
/// If there is no stroke, a limit of [`limits`] is passed, or there are too few strokes to find a tempo in. No list of
/// strokes makes it panic.
pub fn quantise(taps: &[Tap], timing: &Timing, settings: &Settings) -> Result<Quantised, Error> {
    let many = |many: usize| i64::try_from(many).unwrap_or(i64::MAX);
    if taps.is_empty() {
        return Err(Error::NoStroke { left_out: 0 });
    }
    if !STROKES.holds(many(taps.len())) {
        return Err(Error::OutOfRange { given: many(taps.len()), limit: STROKES });
    }
    if !ALTERNATIVES.holds(many(settings.alternatives)) {
        return Err(Error::OutOfRange { given: many(settings.alternatives), limit: ALTERNATIVES });
    }
    match timing {
        Timing::Known(grid) => with_click::quantise(taps, grid, settings),
        Timing::Free(free) => free::quantise(taps, *free, settings),
    }
}
