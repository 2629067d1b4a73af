//! Every limit of this crate, once.

use timebase::Seconds;

/// The greatest level of a strip: +12 dB. More than that is a mistake in the caller's arithmetic, and loud.
pub const GAIN_MOST: f32 = 4.0;

/// The greatest gain of an event: +20 dB, for a strong accent where the music is loudest.
pub const EVENT_GAIN_MOST: f32 = 10.0;

/// The last frame at which anything may sound: 63 days at the highest sample rate. Sums of such
/// frames stay far inside an `i64`.
pub const FRAME_MOST: i64 = 1 << 40;

/// The longest fade before a cut: 87 s at the highest sample rate. Up to here every frame of it has a
/// number that an `f32` holds exactly.
pub const FADE_MOST: i64 = 1 << 24;

/// Sounds played at once ([`Controller::play`](crate::Controller::play)) that may overlap. Struck
/// sounds last about 0.1 s, so sixteen are 160 strokes a second.
pub const THROUGH_SOUNDS: usize = 16;

/// Commands that may wait for the audio thread, and reports that may wait for its controller.
pub const QUEUE: usize = 64;

/// How long a strip takes to reach a new level: short to the hand, long enough not to click.
pub const LEVEL_RAMP: Seconds = Seconds::from_millis(10);

/// How long a programme takes to fall silent when it is stopped or replaced.
pub const STOP_FADE: Seconds = Seconds::from_millis(20);

/// What no sample of the mixer's output exceeds, nor what a converter makes between samples (true peak, as ITU-R
/// BS.1770 measures it): −1 dBFS, the most that EBU R 128 allows. Sound that stays 0.1 dB below is given out as it is,
/// to the bit.
pub const CEILING: f32 = 0.891_250_9;

/// How long the limiter takes to bring its gain down; it looks so far ahead, and eleven frames more (23 at rates below
/// 44.1 kHz and from 96 kHz on), but nothing is late by it: the mixer runs ahead of what it gives out.
pub const LIMITER_GLIDE: Seconds = Seconds::from_micros(1_250);

/// The time in which the limiter's gain comes back by 63 % of the way: long enough that the pitch of a voice is not
/// heard in it, short enough that the next count is not softer (own choice).
pub const LIMITER_RELEASE: Seconds = Seconds::from_millis(80);

/// Frames that are mixed and limited at once. A block may be of any size; it is done in pieces of this one.
pub(crate) const CHUNK: usize = 256;
