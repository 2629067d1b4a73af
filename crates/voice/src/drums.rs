//! Drums and cymbals, made by arithmetic: what a pad sounds like that makes no sound of its own.

use std::f64::consts::TAU;

use timebase::SampleRate;

use crate::noise::Noise;
use crate::percussion::{Resonance, Struck, clap, finish, sampled};

/// A drum or a cymbal of the percussion map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Drum {
    /// Bass drum.
    Bass,
    /// Snare drum.
    Snare,
    /// The stick on the rim.
    SideStick,
    /// Low and floor toms.
    LowTom,
    /// Middle and high toms.
    HighTom,
    /// Hi-hat, closed or by the foot.
    ClosedHiHat,
    /// Hi-hat, open.
    OpenHiHat,
    /// Crash, ride and other cymbals.
    Cymbal,
    /// A hand clap: everything else.
    Clap,
}

/// Peak of each drum; cymbals, which sound on and lie higher, are 6 dB below (own choice).
const PEAK_DBFS: f64 = -9.0;
const CYMBAL_PEAK_DBFS: f64 = -15.0;

impl Drum {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::Bass,
        Self::Snare,
        Self::SideStick,
        Self::LowTom,
        Self::HighTom,
        Self::ClosedHiHat,
        Self::OpenHiHat,
        Self::Cymbal,
        Self::Clap,
    ];

    /// What a key of the percussion channel strikes, after General MIDI's percussion key map (General MIDI System Level 1,
    /// keys 35 to 81). Keys of instruments that are not made here, and keys beyond the map, clap.
    #[must_use]
    pub const fn of_key(key: u8) -> Self {
        match key {
            35 | 36 => Self::Bass,
            37 => Self::SideStick,
            38 | 40 => Self::Snare,
            41 | 43 | 45 => Self::LowTom,
            47 | 48 | 50 => Self::HighTom,
            42 | 44 => Self::ClosedHiHat,
            46 => Self::OpenHiHat,
            49 | 51 | 52 | 53 | 55 | 57 | 59 => Self::Cymbal,
            _ => Self::Clap,
        }
    }

    /// Its sound, struck at full strength.
    #[must_use]
    pub fn sound(self, rate: SampleRate) -> Struck {
        match self {
            Self::Bass => skin(&Skin { from_hz: 150.0, to_hz: 52.0, decay: 0.11, noise: 0.0 }, rate),
            Self::Snare => skin(&Skin { from_hz: 330.0, to_hz: 185.0, decay: 0.06, noise: 0.9 }, rate),
            Self::LowTom => skin(&Skin { from_hz: 170.0, to_hz: 95.0, decay: 0.16, noise: 0.05 }, rate),
            Self::HighTom => skin(&Skin { from_hz: 290.0, to_hz: 170.0, decay: 0.12, noise: 0.05 }, rate),
            Self::SideStick => rim(rate),
            Self::ClosedHiHat => metal(0.030, rate),
            Self::OpenHiHat => metal(0.220, rate),
            Self::Cymbal => metal(0.600, rate),
            Self::Clap => clap(rate),
        }
    }
}

/// A skin: its tone falls to its pitch as the blow spreads, and what lies on it rattles.
struct Skin {
    from_hz: f64,
    to_hz: f64,
    /// Time constant of the tone, in seconds.
    decay: f64,
    /// The share of the rattle.
    noise: f64,
}

/// How fast the pitch falls, in seconds.
const FALL: f64 = 0.018;
/// After so many time constants a sound is 60 dB down.
const CONSTANTS: f64 = 7.0;

fn skin(skin: &Skin, rate: SampleRate) -> Struck {
    let mut noise = Noise::new();
    let wave = |seconds: f64| {
        // The stick's own knock gives every drum its beginning on the first frame.
        let knock = 0.8 * (-seconds / 0.0012).exp();
        // Integral of the falling pitch.
        let turns =
            skin.to_hz * seconds + (skin.from_hz - skin.to_hz) * FALL * (1.0 - (-seconds / FALL).exp());
        let tone = (TAU * turns).sin() * (-seconds / skin.decay).exp();
        let rattle = skin.noise * noise.next() * (-seconds / (1.4 * skin.decay)).exp();
        // Bent, so that no gust of the rattle stands far above the blow.
        (1.4 * (knock + tone + rattle)).tanh()
    };
    finish(&sampled(CONSTANTS * skin.decay, rate, wave), rate, PEAK_DBFS)
}

fn rim(rate: SampleRate) -> Struck {
    let excitation = sampled(0.120, rate, |seconds| if seconds == 0.0 { 1.0 } else { 0.0 });
    let (low, high) = (Resonance::new(820.0, 6.0, rate), Resonance::new(1_780.0, 8.0, rate));
    let sum: Vec<f64> =
        low.ring(&excitation).iter().zip(high.ring(&excitation)).map(|(low, high)| low + high).collect();
    finish(&sum, rate, PEAK_DBFS)
}

/// Metal: squares of six pitches that share no measure, through a high resonance, as noise that rings.
fn metal(decay: f64, rate: SampleRate) -> Struck {
    const PITCHES_HZ: [f64; 6] = [205.3, 304.4, 369.6, 522.7, 540.0, 800.0];
    let mut noise = Noise::new();
    let half = f64::from(rate.hz()) / 2.0;
    let excitation = sampled(CONSTANTS * decay, rate, |seconds| {
        let ring: f64 = PITCHES_HZ.iter().map(|hz| (TAU * 10.0 * hz * seconds + 1.0).sin().signum()).sum();
        (ring / 6.0 + 0.7 * noise.next()) * (-seconds / decay).exp()
    });
    let rung = Resonance::new((0.6 * half).min(7_500.0), 0.9, rate).ring(&excitation);
    // The blow stands out from the ringing.
    let bent: Vec<f64> = rung.iter().map(|frame| (2.5 * frame).tanh()).collect();
    finish(&bent, rate, CYMBAL_PEAK_DBFS)
}

#[cfg(test)]
mod tests {
    use timebase::Frames;

    use super::*;

    const RATE: SampleRate = SampleRate::HZ_48000;

    #[test]
    fn every_drum_begins_at_once_and_ends_in_silence() {
        for rate in [44_100, 48_000, 96_000].map(|hz| SampleRate::new(hz).expect("in range")) {
            for drum in Drum::ALL {
                let struck = drum.sound(rate);
                let data = struck.sample.data();
                assert_eq!(struck.attack, Frames::ZERO);
                let peak = f64::from(struck.sample.peak());
                assert!((20.0 * peak.log10() - struck.peak_dbfs).abs() < 1e-3, "{drum:?}");
                // Half the peak within 5 ms: it is heard where it was struck.
                let five_ms = usize::try_from(rate.hz() / 200).expect("some hundred");
                let early = data.iter().take(five_ms).fold(0.0_f32, |early, frame| early.max(frame.abs()));
                assert!(f64::from(early) > 0.5 * peak, "{drum:?} at {} Hz: {early} of {peak}", rate.hz());
                assert!(data.last().is_some_and(|last| last.abs() < 1e-4), "{drum:?}");
            }
        }
    }

    /// How often it passes through zero a second: low for skins, high for metal.
    fn crossings(drum: Drum) -> f64 {
        let struck = drum.sound(RATE);
        let data = &struck.sample.data()[..2_400];
        let passes = data.windows(2).filter(|pair| (pair[0] < 0.0) != (pair[1] < 0.0)).count();
        f64::from(u32::try_from(passes).expect("few")) * 20.0
    }

    #[test]
    fn skins_lie_low_and_metal_high() {
        let in_order = [Drum::Bass, Drum::LowTom, Drum::HighTom, Drum::SideStick, Drum::ClosedHiHat];
        let pitches = in_order.map(crossings);
        assert!(pitches.is_sorted(), "{pitches:?}");
        assert!(pitches[0] < 300.0 && pitches[4] > 6_000.0, "{pitches:?}");
    }

    #[test]
    fn keys_are_those_of_the_percussion_map() {
        // From General MIDI System Level 1's percussion key map.
        let known = [
            (36, Drum::Bass),
            (38, Drum::Snare),
            (39, Drum::Clap),
            (42, Drum::ClosedHiHat),
            (46, Drum::OpenHiHat),
            (45, Drum::LowTom),
            (50, Drum::HighTom),
            (49, Drum::Cymbal),
            (60, Drum::Clap),
            (127, Drum::Clap),
        ];
        for (key, drum) in known {
            assert_eq!(Drum::of_key(key), drum, "{key}");
        }
    }
}
