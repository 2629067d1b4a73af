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

/// How long a cut syllable fades, ending at the cut.
pub const CUT_FADE: Seconds = Seconds::from_millis(15);
