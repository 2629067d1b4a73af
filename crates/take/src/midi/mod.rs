//! Standard MIDI files both ways: a sequence written out, a take written out, any take read in.
//!
//! | | [`write_sequence`] | [`write_take`] |
//! |---|---|---|
//! | zero | the first count of the count-in, or the first event | the beginning of the take |
//! | time | musical: exact ticks, tempo and meter in the file | played: 20 µs a tick |
//! | tracks | title; `click`; `rhythm`; `counts` (lyrics); `tone`, where one sounds | title; `click`; one a player |
//! | markers | every bar, the first [`BAR_ONE`] | [`BAR_ONE`] |
//!
//! [`write_sequence_played`] is the first with the second's players in it, in musical time; [`write_rounds`] is the first for the
//! rounds of a drill plan, one after the other. All are files of format 1. [`read_take`] reads what these write and what other programs export, as it
//! was played; [`read_grid`] reads the tempo, the meters and the bars that such a file says it has.

use rhythm::Accent;
use sequencer::Cued;

mod clock;
mod grid;
mod played;
mod read;
mod rounds;
mod sequence;
mod tempo;
mod track;

pub use grid::{MidiGrid, read_grid};
pub(crate) use played::write_played;
pub use played::{MidiTake, write_take};
pub use read::read_take;
pub use rounds::{MidiRound, write_rounds};
pub use sequence::{write_sequence, write_sequence_played};

/// The marker that stands where count 1 of bar 1 falls.
pub const BAR_ONE: &str = "bar 1";

/// The name of the track that holds the click and no player; read whatever its case.
pub const CLICK_TRACK: &str = "click";

/// The name of the track that holds the written rhythm's attacks.
pub const RHYTHM_TRACK: &str = "rhythm";

/// The name of the track that holds the tones, where any sound.
pub const TONE_TRACK: &str = "tone";

/// The name of the track that holds the counts as lyrics.
pub const COUNTS_TRACK: &str = "counts";

/// The click on count 1: high wood block (General MIDI level 1 percussion; the keys were computed from its list).
pub const ACCENTED_CLICK_KEY: u8 = 76;

/// The click on the other beats: low wood block (General MIDI level 1 percussion).
pub const CLICK_KEY: u8 = 77;

/// How hard the accented click is struck.
pub const ACCENT_VELOCITY: u8 = 120;

/// How hard the click on the beginning of a group is struck, on [`ACCENTED_CLICK_KEY`]: 4 dB softer than count 1, as it sounds. Such a
/// click is no count 1 when a file is read.
pub const GROUP_VELOCITY: u8 = 95;

/// How hard the other clicks are struck.
pub const CLICK_VELOCITY: u8 = 90;

/// How hard the clicks between the beats are struck; such a click of [`CLICK_KEY`] is no beat when a file is read.
pub const DIVISION_VELOCITY: u8 = 45;

/// How hard a written attack is struck where no accent and no loudness is written.
pub const CLAP_VELOCITY: u8 = 100;

/// The key and the velocity of a click; `None` for what is none.
#[must_use]
pub fn click_note(cued: &Cued) -> Option<(u8, u8)> {
    match cued {
        Cued::Click { accented: true, .. } => Some((ACCENTED_CLICK_KEY, ACCENT_VELOCITY)),
        Cued::Click { group: true, .. } => Some((ACCENTED_CLICK_KEY, GROUP_VELOCITY)),
        Cued::Click { .. } => Some((CLICK_KEY, CLICK_VELOCITY)),
        Cued::Division => Some((CLICK_KEY, DIVISION_VELOCITY)),
        Cued::Count { .. } | Cued::Clap { .. } | Cued::Tone { .. } => None,
    }
}

/// How hard a written attack is struck with this accent, in a bar that makes it so many tenths of a decibel `louder`; 1 to 127.
///
/// Synthesizers sound a velocity *v* at 40 log₁₀(*v*/127) dB (Downloadable Sounds Level 1, the default velocity curve; from
/// memory, and held against fluidsynth in `tests/files.rs`).
#[must_use]
pub fn attack_velocity(accent: Option<Accent>, louder: i32) -> u8 {
    stroke_velocity(sequencer::attack_db(accent, louder))
}

/// How hard a stroke is struck that sounds so many decibels louder than a plain attack, by the same curve; 1 to 127.
#[must_use]
pub fn stroke_velocity(db: f32) -> u8 {
    if db == 0.0 { CLAP_VELOCITY } else { louder_velocity(CLAP_VELOCITY, 10_f32.powf(db / 20.0)) }
}

/// The velocity that sounds `gain` times as loud (a factor of amplitude) as `velocity` by the same curve, as far as velocities
/// go: 1 to 127.
#[must_use]
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to a velocity before")]
pub fn louder_velocity(velocity: u8, gain: f32) -> u8 {
    (f32::from(velocity) * gain.max(0.0).sqrt()).round().clamp(1.0, 127.0) as u8
}

/// A written attack: hand clap (General MIDI level 1 percussion).
pub const CLAP_KEY: u8 = 39;

/// A tone: the A of 440 Hz, as it sounds.
pub const TONE_KEY: u8 = 69;

/// The channel of the tones, counted from 0: it is called channel 1.
pub const TONE_CHANNEL: u8 = 0;

/// The instrument of the tones, counted from 0: drawbar organ (General MIDI level 1), which holds a note as long as its key.
pub const TONE_PROGRAM: u8 = 16;

/// The channel of percussion in General MIDI, counted from 0: it is called channel 10.
pub const PERCUSSION_CHANNEL: u8 = 9;
