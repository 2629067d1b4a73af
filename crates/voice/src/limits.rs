//! Every limit of this crate, once.

use timebase::Seconds;

/// The longest recording of one syllable.
pub const RECORDING_MOST: Seconds = Seconds::from_millis(5_000);

/// The longest all recordings of a pack may be together: ten minutes are 115 MB at 48 kHz in memory.
pub const PACK_MOST: Seconds = Seconds::from_millis(600_000);

/// The largest manifest read, in bytes.
pub const MANIFEST_BYTES_MOST: usize = 4 << 20;

/// A cut syllable keeps at least so much after its perceptual centre, or it would not be recognised.
pub const KEPT_AFTER_CENTRE: Seconds = Seconds::from_millis(85);

/// A syllable that begins late, for the sake of the one before, keeps about so much before its centre: less of its
/// consonant would not be recognised. With what a cut one keeps, words are said down to 125 ms apart: sixteenths at 120.
pub const KEPT_BEFORE_CENTRE: Seconds = Seconds::from_millis(40);

/// Within so much it begins where its sound crosses zero, so that nothing clicks.
pub const CROSSING_WITHIN: Seconds = Seconds::from_millis(4);

/// How long a cut syllable fades, ending at the cut.
pub const CUT_FADE: Seconds = Seconds::from_millis(15);

/// A syllable that is recorded or imported lasts so long at most, once it is trimmed.
pub const SYLLABLE_MOST: Seconds = Seconds::from_millis(1_500);

/// A file that is imported lasts so long at most, with the silence about its syllable.
pub const IMPORT_MOST: Seconds = Seconds::from_millis(30_000);

/// The loudest 100 ms of a recording have at least this many LUFS: 26 dB more would bring its noise into hearing.
pub const QUIET_LUFS: f64 = -45.0;

/// The largest sound file read, in bytes: thirty seconds of eight channels at 192 kHz are 184 MB, of two at 96 kHz 23.
pub const FILE_BYTES_MOST: u64 = 64 << 20;

/// Files of one folder that are imported, at most.
pub const FILES_MOST: usize = 1_000;
