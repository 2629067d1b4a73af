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

/// How much louder an accent is than its neighbours, `>` and `^`; the clicks' own accent is 6 dB. Common practice has
/// no figure; what is heard as clearly louder and does not frighten (own choice).
pub const ACCENT_DB: f32 = 4.0;
/// See [`ACCENT_DB`].
pub const STRONG_ACCENT_DB: f32 = 7.0;

/// How much louder or softer each written step of loudness makes clap and tone, in tenths of a decibel: from the softest to the
/// loudest are 21 dB. Common practice has no figure; the steps are heard and the softest still beside the click (own choice).
pub const LOUDNESS_STEP: i32 = 30;

/// How far the grace strokes of a flam, drag or ruff lie before their note, and before each other: heard as two strokes
/// and as one note. The two of a flam are 40 to 50 ms apart (second-hand). They never take more than half the time from
/// the note before.
pub const GRACE_APART: Seconds = Seconds::from_millis(40);
/// How much softer they are than their note (own choice).
pub const GRACE_DB: f32 = -6.0;

/// How much softer each hand strikes where both do: together they are at most 3 dB louder than one hand alone, which is less
/// than an accent (own choice).
pub const BOTH_DB: f32 = -3.0;

/// How far the strokes of an unmeasured roll lie apart: too near to be counted (own choice).
pub const BUZZ: Seconds = Seconds::from_millis(55);
/// How much softer the strokes of a roll are than its first (own choice).
pub const ROLL_DB: f32 = -4.0;

/// How much softer than the others a softer or whispered count is: clearly behind them, and still understood (own
/// choice).
pub const SOFTER_DB: f32 = -8.0;

/// How much softer the click of a group is than that of count 1: 2 dB above a plain one, and higher.
pub const GROUP_DB: f32 = -4.0;
/// How much softer the click of a division is than that of a beat.
pub const DIVISION_DB: f32 = -6.0;

/// The pitch of the tone.
pub const TONE_HZ: f64 = 440.0;
/// How long the tone takes to rise: smooth, and heard to begin with the clap.
pub const TONE_RISE: Seconds = Seconds::from_millis(6);
/// How long the tone takes to fall silent, ending where its note does.
pub const TONE_RELEASE: Seconds = Seconds::from_millis(30);

/// Bars called at once in a drill.
pub const PHRASE_BARS: Limit = Limit { what: "number of bars called at once", least: 1, most: 64 };

/// Felt beats between a call and its response.
pub const BREATH_BEATS: Limit = Limit { what: "number of beats to breathe", least: 0, most: 32 };

/// Felt beats between a round and the next.
pub const REST_BEATS: Limit = Limit { what: "number of beats to rest", least: 0, most: 32 };

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
