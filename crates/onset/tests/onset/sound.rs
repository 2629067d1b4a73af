//! Sounds made by arithmetic, the same every time.

use timebase::SampleRate;

/// A recording to be filled.
pub(crate) struct Sound {
    pub(crate) rate: SampleRate,
    pub(crate) samples: Vec<f32>,
    state: u64,
}

impl Sound {
    /// So many seconds of silence.
    pub(crate) fn silence(hz: u32, seconds: f64) -> Self {
        let rate = SampleRate::new(hz).expect("a rate in range");
        Self { rate, samples: vec![0.0; index(seconds * f64::from(hz))], state: 0x9E37_79B9_7F4A_7C15 }
    }

    /// These samples at 48 kHz.
    pub(crate) fn of(samples: Vec<f32>) -> Self {
        Self { samples, ..Self::silence(48_000, 0.0) }
    }

    /// So many seconds of noise, its standard deviation in dB below full scale.
    pub(crate) fn noise(hz: u32, seconds: f64, dbfs: f64) -> Self {
        Self::noise_of(0, hz, seconds, dbfs)
    }

    /// The same, another noise for each seed.
    pub(crate) fn noise_of(seed: u64, hz: u32, seconds: f64, dbfs: f64) -> Self {
        let mut sound = Self::silence(hz, seconds);
        sound.state ^= seed.wrapping_mul(0x2545_F491_4F6C_DD1D);
        let gain = amplitude(dbfs);
        for at in 0..sound.samples.len() {
            sound.samples[at] = narrow(gain * sound.normal());
        }
        sound
    }

    /// Adds a burst of noise: at once as strong as given, then falling by 60 dB in 60 ms.
    pub(crate) fn burst(&mut self, at: usize, peak_dbfs: f64) {
        let hz = f64::from(self.rate.hz());
        let gain = amplitude(peak_dbfs);
        for age in 0..index(0.080 * hz) {
            let fall = (-(age as f64) / (0.0087 * hz)).exp();
            let sample = if age == 0 { gain } else { gain * fall * self.uniform() };
            self.add(at + age, sample);
        }
    }

    /// Adds a click: a knock of 1,000 Hz and its octave that falls by 60 dB in 55 ms.
    pub(crate) fn click(&mut self, at: usize, peak_dbfs: f64) {
        let hz = f64::from(self.rate.hz());
        let turn = std::f64::consts::TAU * 1_000.0 / hz;
        for age in 0..index(0.060 * hz) {
            let time = (age + 1) as f64;
            let wave = (turn * time).sin() + 0.4 * (2.0 * turn * time).sin();
            self.add(at + age, amplitude(peak_dbfs) * wave * (-time / (0.008 * hz)).exp());
        }
    }

    /// Adds a vowel: 30 partials of 120 Hz that come within 40 ms and stay for 150.
    pub(crate) fn vowel(&mut self, at: usize, peak_dbfs: f64) {
        let hz = f64::from(self.rate.hz());
        for age in 0..index(0.240 * hz) {
            let time = age as f64 / hz;
            let swell = (time / 0.040).min(1.0) * ((0.240 - time) / 0.050).min(1.0);
            let partial = |k: u32| {
                let f = 120.0 * f64::from(k);
                // Formants about 600 and 1,300 Hz, and 6 dB an octave.
                let about = |centre: f64| (-((f - centre) / 150.0).powi(2)).exp();
                (0.05 + about(600.0) + 0.5 * about(1_300.0)) / f64::from(k).sqrt()
                    * (std::f64::consts::TAU * f * time).sin()
            };
            let wave: f64 = (1..30).map(partial).sum();
            self.add(at + age, 0.4 * amplitude(peak_dbfs) * swell * wave);
        }
    }

    /// Adds another sound, later and softer.
    pub(crate) fn mix(&mut self, other: &[f32], later: usize, gain_db: f64) {
        for (at, &sample) in other.iter().enumerate() {
            self.add(at + later, amplitude(gain_db) * f64::from(sample));
        }
    }

    fn add(&mut self, at: usize, sample: f64) {
        if let Some(place) = self.samples.get_mut(at) {
            *place += narrow(sample);
        }
    }

    /// From −1 to 1: Marsaglia's xorshift (Journal of Statistical Software 8:14, 2003).
    fn uniform(&mut self) -> f64 {
        self.state ^= self.state << 13;
        self.state ^= self.state >> 7;
        self.state ^= self.state << 17;
        self.state as f64 / (u64::MAX as f64) * 2.0 - 1.0
    }

    /// Near enough to the normal distribution: twelve uniform ones added.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() / 2.0
    }
}

fn amplitude(db: f64) -> f64 {
    10_f64.powf(db / 20.0)
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a frame of a short sound")]
fn index(frames: f64) -> usize {
    frames as usize
}

#[expect(clippy::cast_possible_truncation, reason = "a sample")]
fn narrow(sample: f64) -> f32 {
    sample as f32
}
