//! How loud a sound is, measured while it is written.

use std::fmt;

use ebur128::{EbuR128, Mode};
use timebase::SampleRate;

/// Peak, true peak and loudness of a sound (ITU-R BS.1770, EBU R 128). One channel is measured as one, as every meter measures
/// the file; the two loudspeakers that play it are [`TWO_LOUDER`] louder, which is told beside.
pub(crate) struct Loudness {
    meter: EbuR128,
    channels: u32,
    /// The loudest four tenths of a second so far.
    loudest: f64,
    /// Frames until it is looked at again.
    until_look: usize,
}

/// So many times a second the last 0.4 s are looked at, from the beginning of the sound on: in every place where a meter looks that does so every
/// tenth of a second, and between them, for strokes that fall into one window more or less.
const LOOKS: u32 = 50;

/// How much louder two loudspeakers that play one channel are than the channel is measured, in LU: twice the power.
const TWO_LOUDER: f64 = 3.01;

impl Loudness {
    /// A meter for interleaved sound of one channel or two.
    pub(crate) fn new(rate: SampleRate, channels: u32) -> Result<Self, ebur128::Error> {
        let meter =
            EbuR128::new(channels, rate.hz(), Mode::I | Mode::M | Mode::SAMPLE_PEAK | Mode::TRUE_PEAK)?;
        let until_look = look(rate.hz());
        Ok(Self { meter, channels, loudest: f64::NEG_INFINITY, until_look })
    }

    /// Listens to what comes next.
    pub(crate) fn hear(&mut self, samples: &[f32]) -> Result<(), ebur128::Error> {
        // Blocks come in any size, so what is left to the next look is kept between them.
        let channels = usize::try_from(self.channels).unwrap_or(1).max(1);
        let mut left = samples;
        while !left.is_empty() {
            let (now, later) = left.split_at((self.until_look * channels).min(left.len()));
            self.meter.add_frames_f32(now)?;
            self.until_look = self.until_look.saturating_sub(now.len() / channels);
            if self.until_look == 0 {
                self.loudest = self.loudest.max(self.meter.loudness_momentary()?);
                self.until_look = look(self.meter.rate());
            }
            left = later;
        }
        Ok(())
    }

    fn greatest(&self, of: impl Fn(u32) -> Result<f64, ebur128::Error>) -> f64 {
        let peak = (0..self.channels).filter_map(|channel| of(channel).ok()).fold(0.0, f64::max);
        20.0 * peak.log10()
    }
}

/// Frames from look to look.
fn look(hz: u32) -> usize {
    usize::try_from(hz / LOOKS).unwrap_or(1).max(1)
}

/// `peak -8.1 dBFS, true peak -8.0 dBFS, loudness -25.4 LUFS, -21.9 at its loudest (0.4 s); from two loudspeakers -22.4 and -18.9`.
impl fmt::Display for Loudness {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let peak = self.greatest(|channel| self.meter.sample_peak(channel));
        if peak == f64::NEG_INFINITY {
            return write!(f, "silence");
        }
        let true_peak = self.greatest(|channel| self.meter.true_peak(channel));
        write!(f, "peak {peak:.1} dBFS, true peak {true_peak:.1} dBFS, ")?;
        match self.meter.loudness_global() {
            Ok(loudness) if loudness.is_finite() => {
                write!(f, "loudness {loudness:.1} LUFS, {:.1} at its loudest (0.4 s)", self.loudest)?;
                if self.channels > 1 {
                    return Ok(());
                }
                let [whole, loudest] = [loudness, self.loudest].map(|one| one + TWO_LOUDER);
                write!(f, "; from two loudspeakers {whole:.1} and {loudest:.1}")
            }
            _ => write!(f, "too short or too soft for a loudness in LUFS, which needs 0.4 s above -70"),
        }
    }
}

#[cfg(test)]
mod tests;
