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

/// Bars called at once in a drill.
pub const PHRASE_BARS: Limit = Limit { what: "number of bars called at once", least: 1, most: 64 };

/// Felt beats between a call and its response, or between two rounds.
pub const BREATH_BEATS: Limit = Limit { what: "number of beats to breathe", least: 0, most: 32 };

/// How often the list of a drill is gone through: with one bar at 300 beats a minute still most of an hour.
pub const TIMES: Limit = Limit { what: "number of times through a drill", least: 1, most: 1_000 };

/// How often a hard bar is practised by itself.
pub const HARD_TIMES: Limit = Limit { what: "number of times a hard bar is practised", least: 1, most: 100 };

/// How often a bad round is played again before the next.
pub const AGAIN: Limit = Limit { what: "number of times a bad round is played again", least: 0, most: 20 };

/// Bars with or without the click, by turns.
pub const SILENT_BARS: Limit = Limit { what: "number of bars with or without the click", least: 1, most: 64 };

/// Rounds in a row after which the tempo takes a step.
pub const STEP_AFTER: Limit = Limit { what: "number of rounds before a step", least: 1, most: 50 };

/// Players who take turns: as many as a section has at most.
pub const PLAYERS: Limit = Limit { what: "number of players who take turns", least: 0, most: 64 };

/// Rhythms in a drill.
pub const RHYTHMS: Limit = Limit { what: "number of rhythms in a drill", least: 1, most: 200 };

/// Rounds in a drill: hours of them.
pub const DRILL_ROUNDS: Limit = Limit { what: "number of rounds in a drill", least: 1, most: 10_000 };

/// Rounds times tempos times runs of good and bad rounds that are looked at to tell how long a drill may last.
pub const STEP_PLACES: u64 = 1_000_000;
