use mixer::Sample;
use rubato::audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Async, FixedAsync, Resampler as _, SincInterpolationParameters};
use timebase::SampleRate;

use crate::Error;

/// Frames the resampler takes at once; any number does for sounds that are whole in memory.
const CHUNK: usize = 1_024;

/// Brings recordings from one rate to another, in phase: what lay at a time lies there still.
///
/// By interpolation with a windowed sinc, and not through a Fourier transform: the transform's library is compiled into
/// this crate for every kind of sample, which makes its build ten times as long.
pub(crate) struct Resampler {
    from: SampleRate,
    to: SampleRate,
    resampler: Async<f32>,
}

impl Resampler {
    pub(crate) fn new(from: SampleRate, to: SampleRate) -> Result<Self, Error> {
        let ratio = f64::from(to.hz()) / f64::from(from.hz());
        let quality = SincInterpolationParameters::default();
        let resampler = Async::new_sinc(ratio, 1.0, &quality, CHUNK, 1, FixedAsync::Input)
            .map_err(|reason| refused(from, to, &reason))?;
        Ok(Self { from, to, resampler })
    }

    pub(crate) fn resample(&mut self, sample: &Sample) -> Result<Sample, Error> {
        let data = sample.data();
        let input = InterleavedSlice::new(data, 1, data.len()).map_err(|reason| self.refused(&reason))?;
        let output =
            self.resampler.process_all(&input, data.len(), None).map_err(|reason| self.refused(&reason))?;
        Sample::new(output.take_data()).map_err(|reason| self.refused(&reason))
    }

    fn refused(&self, reason: &impl ToString) -> Error {
        refused(self.from, self.to, reason)
    }
}

fn refused(from: SampleRate, to: SampleRate, reason: &impl ToString) -> Error {
    Error::Resample { from: from.hz(), to: to.hz(), reason: reason.to_string() }
}
