//! A whispered form of a recording, made when it is needed and never while sound runs.

use mixer::Sample;

use crate::Recording;
use crate::filter::{Filter, Order};
use crate::noise::Noise;

/// The bands a whisper is made of, each from one edge to the next, in Hz. Four are enough for speech to be understood
/// (Shannon, Zeng, Kamath, Wygonski & Ekelid, *Speech recognition with primarily temporal cues*, Science 270, 1995);
/// fourteen, of about equal width to the ear, keep vowels apart that are near each other.
const EDGES_HZ: [f64; 15] = [
    200.0, 300.0, 420.0, 570.0, 750.0, 970.0, 1_240.0, 1_560.0, 1_960.0, 2_450.0, 3_050.0, 3_780.0, 4_670.0,
    5_770.0, 7_100.0,
];

/// Below this, the weaker the lower: a whisper has little of a vowel's first formant (from memory), and noise in a narrow
/// low band would have a pitch of its own.
const WEAK_BELOW_HZ: f64 = 750.0;

/// How fast the strength of a band may change: slower than the pitch of any voice, so that none is left.
const STRENGTH_HZ: f64 = 40.0;

impl Recording {
    /// The same syllable without its pitch, as if whispered: in each of fourteen bands noise as strong as the voice is
    /// there, and as loud in all. No filter delays anything, so it keeps its length and its perceptual centre.
    #[must_use]
    pub fn whispered(&self) -> Sample {
        let rate_hz = f64::from(self.rate.hz());
        let voiced: Vec<f64> = self.sample.data().iter().map(|&frame| f64::from(frame)).collect();
        let mut random = Noise::new();
        let noise: Vec<f64> = voiced.iter().map(|_| random.next()).collect();
        let smoothing = Filter::low_pass(Order::Second, STRENGTH_HZ, rate_hz);
        let mut sum = vec![0.0; voiced.len()];
        for edges in EDGES_HZ.windows(2).filter(|edges| edges[1] < 0.45 * rate_hz) {
            let band = Filter::band(Order::Second, edges[0], edges[1], rate_hz);
            let part = |sound: &[f64]| {
                let mut part = sound.to_vec();
                band.run_both_ways(&mut part);
                part
            };
            let mut strength: Vec<f64> = part(&voiced).iter().map(|frame| frame * frame).collect();
            smoothing.run_both_ways(&mut strength);
            let carrier = part(&noise);
            // Noise in a narrow band is weak: what it lacks is made up for.
            let carried = (power(&carrier) / carrier.len().max(1) as f64).max(f64::MIN_POSITIVE);
            let weight = (edges[0] / WEAK_BELOW_HZ).min(1.0);
            for ((sum, strength), carrier) in sum.iter_mut().zip(&strength).zip(&carrier) {
                *sum += weight * carrier * (strength.max(0.0) / carried).sqrt();
            }
        }
        let peak = sum.iter().fold(f64::MIN_POSITIVE, |peak, frame| peak.max(frame.abs()));
        let as_loud = (power(&voiced) / power(&sum).max(f64::MIN_POSITIVE)).sqrt();
        let gain = as_loud.min(f64::from(PEAK_MOST) / peak);
        #[expect(
            clippy::cast_possible_truncation,
            reason = "sound is heard, and an f32 holds more of it than an ear"
        )]
        let data: Vec<f32> = sum.iter().map(|frame| (frame * gain) as f32).collect();
        Sample::new(data).expect("filters of finite sound are finite")
    }
}

/// No whispered recording is louder: −1 dBFS.
const PEAK_MOST: f32 = 0.891;

fn power(sound: &[f64]) -> f64 {
    sound.iter().map(|frame| frame * frame).sum()
}

#[cfg(test)]
mod tests {
    use timebase::{Frames, SampleRate};

    use crate::{Recording, VoicePack};

    fn recording(pack: &VoicePack, syllable: &str) -> Recording {
        let found = pack.recordings().find(|(_, r)| r.syllable() == syllable && r.speed() == "normal");
        found.map(|(_, recording)| recording.clone()).expect("shipped")
    }

    /// The strongest repetition of its vowel after 2.5 to 12 ms, 1 where it repeats exactly: pitch.
    fn pitch(recording: &Recording, data: &[f32]) -> f64 {
        let vowel = recording.vowel().expect("the manifest has it");
        let [begin, end] = [vowel.begin, vowel.end].map(|at| Frames::of(at, SampleRate::HZ_48000).count());
        let quarter = (end - begin) / 4;
        let [begin, end] = [begin + quarter, end - quarter].map(|at| usize::try_from(at).expect("inside"));
        let of = |lag: usize| -> Vec<f64> {
            data[begin - lag.min(begin)..end - lag.min(begin)].iter().map(|&frame| f64::from(frame)).collect()
        };
        let product = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
        let now = of(0);
        let alike = |lag: usize| {
            let before = of(lag);
            product(&now, &before) / (product(&now, &now) * product(&before, &before)).sqrt()
        };
        (120..576).map(alike).fold(0.0, f64::max)
    }

    #[test]
    fn a_whisper_has_no_pitch_and_the_same_length_and_loudness() {
        let mut pitches = Vec::new();
        for name in ["female", "male"] {
            let pack = VoicePack::shipped(name).expect("shipped");
            for syllable in ["one", "two", "three", "and"] {
                let said = recording(&pack, syllable);
                let whispered = said.whispered();
                assert_eq!(whispered.length(), said.length());
                assert!(whispered.peak() <= 0.892);
                let power = |data: &[f32]| data.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
                let ratio = power(whispered.data()) / power(said.sample().data());
                assert!((0.25..1.01).contains(&ratio), "{name}, {syllable}: {ratio}");
                let (voiced, left) = (pitch(&said, said.sample().data()), pitch(&said, whispered.data()));
                pitches.push((voiced, left));
            }
        }
        assert!(pitches.iter().all(|&(voiced, left)| voiced > 0.6 && left < 0.65 * voiced), "{pitches:.2?}");
    }
}
