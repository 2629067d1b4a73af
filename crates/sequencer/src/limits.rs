//! Every limit of this crate, once, with the word that names it in a message.

use timebase::Seconds;
use timebase::limits::Limit;

/// Bars counted before the rhythm begins.
pub const COUNT_IN_BARS: Limit = Limit { what: "number of bars counted in", least: 0, most: 8 };

/// Silence before the first cue of a sound, so that a syllable may begin before its beat. The longest
/// consonant before a perceptual centre in the shipped voices is under 150 ms.
pub const LEAD_IN: Seconds = Seconds::from_millis(250);

/// What a sound goes on for after the last bar, so that the last clap and syllable ring out.
pub const LEAD_OUT: Seconds = Seconds::from_millis(1_000);
