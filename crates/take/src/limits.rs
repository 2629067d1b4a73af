//! Every limit of this crate, once, with the word that names it in a message.

use timebase::limits::Limit;
use timebase::{Seconds, Span};

/// Bytes of a MIDI file that is read. A take of ten minutes with 3,000 strokes has about 20,000.
pub const MIDI_BYTES: Limit = Limit { what: "size of a MIDI file in bytes", least: 14, most: 16 << 20 };

/// Strokes and clicks of one take, all players together: five hours of thirty-two players at once.
pub const STROKES: Limit = Limit { what: "number of strokes in a take", least: 0, most: 500_000 };

/// Changes of tempo in a MIDI file: one for every beat of a day's music.
pub const TEMPO_CHANGES: Limit = Limit { what: "number of changes of tempo", least: 0, most: 200_000 };

/// Seconds of a take.
pub const TAKE_SECONDS: Limit = Limit { what: "length of a take in seconds", least: 0, most: 24 * 3_600 };

/// Characters of a player's label or another name that stands in a file.
pub const LABEL_CHARS: Limit = Limit { what: "length of a name in characters", least: 1, most: 200 };

/// Players of one take.
pub const PLAYERS: Limit = Limit { what: "number of players", least: 0, most: 1_000 };

/// Bytes of a journal that is read: several times what [`STROKES`] strokes take.
pub const JOURNAL_BYTES: Limit = Limit { what: "size of a journal in bytes", least: 0, most: 256 << 20 };

/// Bytes of a `take.json` that is read.
pub const DESCRIPTION_BYTES: Limit =
    Limit { what: "size of a take's description in bytes", least: 0, most: 256 << 20 };

/// Bytes of a `notes.json` that is read.
pub const NOTES_BYTES: Limit = Limit { what: "size of a take's notes in bytes", least: 0, most: 16 << 20 };

/// Characters of one note of a teacher's.
pub const NOTE_CHARS: Limit = Limit { what: "length of a note in characters", least: 1, most: 2_000 };

/// Bytes of sound in a WAV file: its length fields hold 32 bits, and the header in front of the sound counts too.
/// At 48 kHz, two channels of 16 bits, that is 6 hours and 12 minutes.
pub const WAV_BYTES: Limit =
    Limit { what: "size of a WAV file's sound in bytes", least: 0, most: 0xFFFF_FFFF - 64 };

/// Bytes of sound read into memory at once: an hour and a half of stereo at 48 kHz.
pub const WAV_READ_BYTES: Limit =
    Limit { what: "size of a WAV file's sound in bytes, read at once,", least: 0, most: 1 << 30 };

/// Channels of a WAV file.
pub const WAV_CHANNELS: Limit = Limit { what: "number of channels", least: 1, most: 2 };

/// Microseconds a quarter note: a MIDI file says them in 24 bits, so the slowest tempo is 3.58 quarters a minute.
pub const QUARTER_MICROS: Limit = Limit {
    what: "length of a quarter note in microseconds, as a MIDI file holds it,",
    least: 1,
    most: 0xFF_FFFF,
};

/// Ticks between two events of a MIDI file: 28 bits.
pub const DELTA_TICKS: Limit =
    Limit { what: "number of ticks between two events of a MIDI file", least: 0, most: 0x0FFF_FFFF };

/// How much sound is written before the WAV file's header is made valid again. A kill may cost a second of what was heard in all,
/// and whoever records writes the sound some way behind what is heard.
pub const SOUND_SAVED_EVERY: Seconds = Seconds::from_millis(250);

/// How often `take.mid` is written again while a take is recorded, in the take's own time …
pub const MIDI_SAVED_EVERY: Seconds = Seconds::from_millis(500);

/// … and not before the take is by this part of itself longer: it is written whole each time, and the disk has to carry it.
pub const MIDI_SAVED_PART: i64 = 64;

/// Bytes that stay free on the disk: less than that, and no more sound is written. Strokes of a lesson need a few of them, and a
/// system without any room does worse things than lose a recording.
pub const SPACE_KEPT: u64 = 64 << 20;

/// How much sound is written before it is looked again how much room there is: 2 MB at 48 kHz.
pub const SPACE_ASKED_EVERY: Seconds = Seconds::from_millis(10_000);

/// How long a stroke sounds in a MIDI file when its release is not known.
pub const UNRELEASED: Seconds = Seconds::from_millis(50);

/// How long a click sounds in a MIDI file, at most: a thirty-second note, or half the way to the next click.
pub const CLICK_LENGTH: Span = Span::new(1, 32);
