use ebur128::{EbuR128, Mode};
use timebase::SampleRate;

/// How loud a sound is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loudness {
    /// Of its loudest 100 ms, weighted as ITU-R BS.1770 says, in LUFS; minus infinity in silence.
    ///
    /// The integrated loudness of EBU R 128 is not defined for a sound shorter than 400 ms.
    pub lufs: f64,
    /// Its true peak, in dBFS; minus infinity in silence.
    pub peak_dbfs: f64,
}

/// The window that is moved over the sound, in milliseconds.
const WINDOW_MS: u32 = 100;
/// How far it is moved at once: the loudest place of all may be 2 ms off, which is less than a tenth of a decibel.
const HOP_MS: u32 = 4;

impl Loudness {
    /// Measures a mono sound.
    #[must_use]
    pub fn of(frames: &[f32], rate: SampleRate) -> Self {
        let silent = Self { lufs: f64::NEG_INFINITY, peak_dbfs: f64::NEG_INFINITY };
        let Ok(mut meter) = EbuR128::new(1, rate.hz(), Mode::M | Mode::TRUE_PEAK) else {
            return silent;
        };
        let hop = usize::try_from(rate.hz() / 1_000 * HOP_MS).unwrap_or(48).max(1);
        let settle = usize::try_from(rate.hz() / 1_000 * WINDOW_MS).unwrap_or(4_800);
        // Silence follows, so that a sound shorter than the window fills one, and the true peak's filter runs out.
        let after = vec![0.0; settle];
        let mut lufs = f64::NEG_INFINITY;
        for part in frames.chunks(hop).chain(after.chunks(hop)) {
            if meter.add_frames_f32(part).is_err() {
                return silent;
            }
            lufs = lufs.max(meter.loudness_window(WINDOW_MS).unwrap_or(f64::NEG_INFINITY));
        }
        let peak = meter.true_peak(0).unwrap_or(0.0);
        Self { lufs, peak_dbfs: 20.0 * peak.log10() }
    }

    /// The factor that brings the sound to this loudness, or less where its peak would otherwise pass the highest.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "a factor needs no more than seven digits")]
    pub(crate) fn gain_to(self, lufs: f64, peak_most_dbfs: f64) -> f32 {
        let gain_db = (lufs - self.lufs).min(peak_most_dbfs - self.peak_dbfs);
        10.0_f64.powf(gain_db / 20.0) as f32
    }
}
