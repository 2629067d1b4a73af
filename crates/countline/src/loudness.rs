//! How loud a sound is, measured while it is written.

use std::fmt;

use ebur128::{EbuR128, Mode};
use timebase::SampleRate;

/// Peak, true peak and loudness of a sound (ITU-R BS.1770, EBU R 128). One channel is measured as one, as every meter measures
/// the file; the two loudspeakers that play it are [`TWO_LOUDER`] louder, which is told beside.
pub(crate) struct Loudness {
    meter: EbuR128,
    channels: u32,
    /// The loudest three seconds, and four tenths of a second, so far.
    loudest: f64,
}

/// How much louder two loudspeakers that play one channel are than the channel is measured, in LU: twice the power.
const TWO_LOUDER: f64 = 3.01;

impl Loudness {
    /// A meter for interleaved sound of one channel or two.
    pub(crate) fn new(rate: SampleRate, channels: u32) -> Result<Self, ebur128::Error> {
        let meter =
            EbuR128::new(channels, rate.hz(), Mode::I | Mode::M | Mode::SAMPLE_PEAK | Mode::TRUE_PEAK)?;
        Ok(Self { meter, channels, loudest: f64::NEG_INFINITY })
    }

    /// Listens to what comes next.
    pub(crate) fn hear(&mut self, samples: &[f32]) -> Result<(), ebur128::Error> {
        // A momentary loudness is that of the last 0.4 s; it is looked at every tenth of a second.
        let channels = usize::try_from(self.channels).unwrap_or(1).max(1);
        let tenth = usize::try_from(self.meter.rate() / 10).unwrap_or(4_800).max(1);
        for samples in samples.chunks(tenth * channels) {
            self.meter.add_frames_f32(samples)?;
            self.loudest = self.loudest.max(self.meter.loudness_momentary()?);
        }
        Ok(())
    }

    fn greatest(&self, of: impl Fn(u32) -> Result<f64, ebur128::Error>) -> f64 {
        let peak = (0..self.channels).filter_map(|channel| of(channel).ok()).fold(0.0, f64::max);
        20.0 * peak.log10()
    }
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
