//! Where a struck sound begins in a recording, found without any of the program's own code.

use std::path::Path;

/// A recording.
#[derive(Clone, Debug)]
pub struct Sound {
    /// Frames a second.
    pub rate: u32,
    /// The first channel, from −1 to 1.
    pub frames: Vec<f64>,
}

impl Sound {
    /// Reads a WAV file of 16-bit samples.
    ///
    /// The chunks are walked by hand: RIFF, then `fmt ` and `data`, each with its length (from memory).
    ///
    /// # Panics
    /// If it is not one.
    #[must_use]
    pub fn read(path: &Path) -> Self {
        let bytes = std::fs::read(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        assert!(bytes.starts_with(b"RIFF") && &bytes[8..12] == b"WAVE", "{} is no WAV file", path.display());
        let word = |at: usize| u16::from_le_bytes([bytes[at], bytes[at + 1]]);
        let long = |at: usize| u32::from_le_bytes([bytes[at], bytes[at + 1], bytes[at + 2], bytes[at + 3]]);
        let (mut at, mut channels, mut rate) = (12, 0, 0);
        loop {
            let (body, length) = (at + 8, long(at + 4) as usize);
            match &bytes[at..at + 4] {
                b"fmt " => {
                    assert_eq!(word(body + 14), 16, "16-bit samples");
                    (channels, rate) = (usize::from(word(body + 2)), long(body + 4));
                }
                b"data" => {
                    let samples = bytes[body..body + length].chunks_exact(2 * channels);
                    let frames =
                        samples.map(|s| f64::from(i16::from_le_bytes([s[0], s[1]])) / 32_768.0).collect();
                    return Self { rate, frames };
                }
                _ => {}
            }
            at = body + length + length % 2;
        }
    }
}

/// The frame at which a click begins within `reach` frames of `expected`, or `None` where what sounds before is
/// too restless for its edge to stand out.
///
/// A click jumps where a voice only bends: the bend (second difference) at the edge of a click is several times the
/// greatest in the 10 ms before. The first such bend is the onset. The half of the reach that lies before
/// `expected` is searched as well, so an early click is found early.
#[must_use]
pub fn onset_near(sound: &Sound, expected: f64, reach: usize) -> Option<u64> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a frame within the recording"
    )]
    let middle = expected.max(0.0).round() as usize;
    let bend = |at: usize| {
        let frame = |at: Option<usize>| at.and_then(|at| sound.frames.get(at)).copied().unwrap_or(0.0);
        (frame(Some(at)) - 2.0 * frame(at.checked_sub(1)) + frame(at.checked_sub(2))).abs()
    };
    let from = middle.saturating_sub(reach);
    let rest = (from.saturating_sub(480)..from).map(bend).fold(0.0, f64::max);
    // A click's edge bends by a hundredth of full scale and more; four times the unrest before it is clear of it.
    let threshold = (4.0 * rest).max(0.004);
    let onset = (from..middle + reach).find(|&at| bend(at) > threshold)?;
    // Too restless: the click itself would hardly pass the threshold.
    (threshold <= 0.02).then_some(onset as u64)
}
