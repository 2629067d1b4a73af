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

/// How far the grace strokes of a flam, drag or ruff lie before their note, and before each other: heard as two strokes
/// and as one note. The two of a flam are 40 to 50 ms apart (second-hand). They never take more than half the time from
/// the note before.
pub const GRACE_APART: Seconds = Seconds::from_millis(40);
/// How much softer they are than their note (own choice).
pub const GRACE_DB: f32 = -6.0;

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
