use mixer::{Bank, Programme, Sample, SoundEvent};
use sequencer::levels::CLICK;
use timebase::{Frame, Frames, SampleRate, Seconds};

use super::CalibrationError;
use crate::Error;

/// Bursts that are played; twelve go by in some six seconds, and a door that slams in one of them does no harm.
const BURSTS: usize = 12;

/// Before the first burst: for the clocks to be known.
const BEFORE: Seconds = Seconds::from_millis(1_000);

/// After the last: the longest delay that is looked for, and some more.
const AFTER: Seconds = Seconds::from_millis(1_200);

/// How long a burst lasts: noise of 20 ms is found to the sample.
const BURST: Seconds = Seconds::from_millis(20);

/// How loud: −18 dBFS, for nobody knows how far the loudspeaker is turned up.
const PEAK: f32 = 0.126;

/// How much earlier and later than reckoned the sound is looked for. A driver may tell too much of its latency as well as too
/// little; a radio link may add a third of a second.
const EARLIEST: Seconds = Seconds::from_millis(-150);
const LATEST: Seconds = Seconds::from_millis(900);

/// An echo may be louder than what comes straight: of all peaks this much as high as the highest, the first is the sound's.
const FIRST_OF: f64 = 0.6;

/// How long before the highest peak the straight sound can have come: 5 m of detour.
const DETOUR: Seconds = Seconds::from_millis(15);

/// How much the find must stand out of everything else. Of noise alone, the highest of fifty thousand places is about 4.3
/// times the scatter.
const CLEAR: f64 = 8.0;

/// How far the bursts' own delays may lie apart.
const STEADY: Seconds = Seconds::from_millis(2);

/// Noise bursts at uneven distances: what is played to find the delay of a loop.
#[derive(Clone, Debug)]
pub struct Probe {
    rate: SampleRate,
    burst: Vec<f32>,
    starts: Vec<Frame>,
    length: Frames,
}

/// A delay that was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delay {
    /// How much later than reckoned the sound came; negative if earlier.
    pub late: Seconds,
    /// How far the single bursts' delays lie apart.
    pub moved: Seconds,
    /// How much the find stands out of everything else.
    pub clarity: f64,
    /// How much of its strength came back: 1 through a plain cable; negative where the loop turns the wave over.
    pub gain: f64,
}

impl Probe {
    /// The probe at this rate.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        let frames = usize::try_from(Frames::of(BURST, rate).count()).unwrap_or(1).max(2);
        let burst = burst(frames);
        let mut at = BEFORE;
        let mut starts = Vec::new();
        for number in 0..BURSTS {
            starts.push(Frame::ZERO + Frames::of(at, rate));
            // Uneven, so that no burst can be taken for its neighbour: 371 to 575 ms.
            let step = i64::try_from((number * number * 37 + number * 53) % 205).unwrap_or(0);
            at += Seconds::from_millis(371 + step);
        }
        Self { rate, burst, starts, length: Frames::of(at + AFTER, rate) }
    }

    /// What a mixer plays.
    ///
    /// # Errors
    /// None is to be expected; the mixer checks what it is given.
    pub fn programme(&self) -> Result<Programme, Error> {
        let mut bank = Bank::new(self.rate);
        let sample = bank.add(Sample::new(self.burst.clone())?);
        let events = self.starts.iter().map(|&at| SoundEvent::new(at, sample, CLICK)).collect();
        Ok(Programme::new(bank, events, self.length)?)
    }

    /// The frames at which bursts begin.
    #[must_use]
    pub fn starts(&self) -> &[Frame] {
        &self.starts
    }

    /// How long it lasts.
    #[must_use]
    pub const fn length(&self) -> Frames {
        self.length
    }

    /// One burst.
    #[must_use]
    pub fn burst(&self) -> &[f32] {
        &self.burst
    }
}

/// Noise that is the same every time, faded in and out.
fn burst(frames: usize) -> Vec<f32> {
    // Marsaglia's xorshift (Journal of Statistical Software 8:14, 2003).
    let mut state = 0x2545_F491_4F6C_DD1Du64;
    (0..frames)
        .map(|frame| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            let sign = if state >> 63 == 0 { 1.0 } else { -1.0 };
            let phase = std::f64::consts::PI * (frame as f64 + 0.5) / frames as f64;
            #[expect(
                clippy::cast_possible_truncation,
                reason = "sound is heard, and an f32 holds more of it than an ear"
            )]
            let window = phase.sin().powf(0.5) as f32;
            PEAK * sign * window
        })
        .collect()
}

/// Finds how much later than reckoned the bursts of `probe` stand in `recorded`. `reckoned` are the places of the recording
/// at which they would begin without delay, in frames, one a burst.
///
/// The stretches after all reckoned places are laid over one another, so that the bursts add up and the room's noise does
/// not, and the burst is looked for in the sum (a matched filter). Each burst by itself then tells whether the delay stood
/// still.
///
/// # Errors
/// If nothing came back, not clearly, or the delay moved.
pub fn delay(
    probe: &Probe,
    reckoned: &[f64],
    recorded: &[f32],
    rate: SampleRate,
) -> Result<Delay, CalibrationError> {
    let from = Frames::of(EARLIEST, rate).count();
    let span = usize::try_from(Frames::of(LATEST, rate).count() - from).unwrap_or(0);
    let burst = &probe.burst;
    // Each place is rounded to the frame, and what was rounded away is put back at the end, on the average.
    let whole: Vec<i64> = reckoned.iter().map(|&place| nearest(place)).collect();
    let rounded: f64 = reckoned.iter().zip(&whole).map(|(place, whole)| *whole as f64 - place).sum::<f64>()
        / reckoned.len().max(1) as f64;

    let mut sum = vec![0.0f64; span + burst.len()];
    for &place in &whole {
        for (index, total) in (0i64..).zip(sum.iter_mut()) {
            *total += f64::from(sample(recorded, place + from + index));
        }
    }
    let energy: f64 = burst.iter().map(|sample| f64::from(*sample).powi(2)).sum();
    let scale = 1.0 / (energy * reckoned.len().max(1) as f64);
    let filtered: Vec<f64> = (0..span)
        .map(|lag| scale * burst.iter().zip(&sum[lag..]).map(|(b, s)| f64::from(*b) * s).sum::<f64>())
        .collect();

    let (lag, clarity) = first_peak(&filtered, burst.len(), rate)?;
    let fine = lag as f64 + apex(&filtered, lag);
    let steady = moved(burst, &whole, recorded, from + i64::try_from(lag).unwrap_or(0), rate)?;
    let late = (fine + from as f64 + rounded) / f64::from(rate.hz());
    Ok(Delay { late: Seconds::from_secs_f64(late), moved: steady, clarity, gain: filtered[lag] })
}

/// The first high peak, and how much the highest stands out of the rest.
fn first_peak(filtered: &[f64], burst: usize, rate: SampleRate) -> Result<(usize, f64), CalibrationError> {
    let highest = (0..filtered.len()).max_by(|&a, &b| filtered[a].abs().total_cmp(&filtered[b].abs()));
    let Some(highest) = highest.filter(|&at| filtered[at].abs() > 1e-6) else {
        return Err(CalibrationError::NotHeard);
    };
    let rest: Vec<f64> = filtered
        .iter()
        .enumerate()
        .filter(|(at, _)| at.abs_diff(highest) > burst)
        .map(|(_, value)| value.powi(2))
        .collect();
    let scatter = (rest.iter().sum::<f64>() / rest.len().max(1) as f64).sqrt();
    let clarity = filtered[highest].abs() / scatter.max(f64::MIN_POSITIVE);
    if clarity < CLEAR {
        return Err(CalibrationError::Unclear { clarity, least: CLEAR });
    }
    let detour = usize::try_from(Frames::of(DETOUR, rate).count()).unwrap_or(0);
    let level = FIRST_OF * filtered[highest].abs();
    let is_peak = |at: usize| {
        let here = filtered[at].abs();
        here >= level
            && at.checked_sub(1).is_none_or(|before| filtered[before].abs() <= here)
            && filtered.get(at + 1).is_none_or(|after| after.abs() <= here)
    };
    let first = (highest.saturating_sub(detour)..highest).find(|&at| is_peak(at)).unwrap_or(highest);
    Ok((first, clarity.min(1e6)))
}

/// Where the parabola through a peak and its neighbours has its top, in frames from the peak.
fn apex(filtered: &[f64], at: usize) -> f64 {
    let (Some(before), Some(after)) =
        (at.checked_sub(1).map(|before| filtered[before]), filtered.get(at + 1))
    else {
        return 0.0;
    };
    let bend = before - 2.0 * filtered[at] + after;
    if bend.abs() < f64::MIN_POSITIVE { 0.0 } else { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) }
}

/// How far the single bursts' delays lie apart, the two furthest left out.
fn moved(
    burst: &[f32],
    places: &[i64],
    recorded: &[f32],
    lag: i64,
    rate: SampleRate,
) -> Result<Seconds, CalibrationError> {
    let around = Frames::of(Seconds::from_millis(5), rate).count();
    let own = |place: i64| {
        (-around..=around).max_by(|&a, &b| {
            let fit = |off: i64| {
                let first = place + lag + off;
                (0i64..)
                    .zip(burst)
                    .map(|(index, b)| f64::from(*b) * f64::from(sample(recorded, first + index)))
                    .sum::<f64>()
                    .abs()
            };
            fit(a).total_cmp(&fit(b))
        })
    };
    let mut offs: Vec<i64> = places.iter().filter_map(|&place| own(place)).collect();
    offs.sort_unstable();
    let inner = offs.get(1..offs.len().saturating_sub(1)).unwrap_or(&[]);
    let (least, most) = (inner.first().copied().unwrap_or(0), inner.last().copied().unwrap_or(0));
    let moved = Frames::new(most - least).seconds(rate);
    if moved > STEADY {
        return Err(CalibrationError::Unsteady { moved_ms: moved.as_millis_f64() });
    }
    Ok(moved)
}

fn sample(recorded: &[f32], at: i64) -> f32 {
    usize::try_from(at).ok().and_then(|at| recorded.get(at)).copied().unwrap_or(0.0)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a float cast saturates, and then lies outside the recording"
)]
fn nearest(place: f64) -> i64 {
    place.round() as i64
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const RATE: SampleRate = SampleRate::HZ_48000;

    /// Noise of another kind than the burst's own: a linear congruential generator (Knuth's constants).
    fn noise(seed: u64, level: f32) -> impl FnMut() -> f32 {
        let mut state = seed;
        move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let unit = ((state >> 40) as f32) / ((1u64 << 24) as f32);
            level * (2.0 * unit - 1.0)
        }
    }

    /// The probe as a room gives it back: so many frames late, so strong, with echoes, in noise.
    fn room(probe: &Probe, late: i64, gain: f32, echoes: &[(i64, f32)], level: f32) -> Vec<f32> {
        let frames = usize::try_from(probe.length().count()).expect("positive");
        let mut noise = noise(7, level);
        let mut recorded: Vec<f32> = (0..frames).map(|_| noise()).collect();
        for start in probe.starts() {
            for &(after, share) in std::iter::once(&(0, 1.0)).chain(echoes) {
                for (index, sample) in (0i64..).zip(probe.burst()) {
                    let at = start.index() + late + after + index;
                    if let Some(place) = usize::try_from(at).ok().and_then(|at| recorded.get_mut(at)) {
                        *place += gain * share * sample;
                    }
                }
            }
        }
        recorded
    }

    fn reckoned(probe: &Probe) -> Vec<f64> {
        probe.starts().iter().map(|start| start.index() as f64).collect()
    }

    fn found(recorded: &[f32], probe: &Probe) -> Result<Delay, CalibrationError> {
        delay(probe, &reckoned(probe), recorded, RATE)
    }

    #[test]
    fn a_cable_is_found_to_the_sample() {
        let probe = Probe::new(RATE);
        for late in [0, 1, 480, 12_000, -256] {
            let delay = found(&room(&probe, late, 1.0, &[], 0.0), &probe).expect("it came back");
            let off = delay.late.as_secs_f64() * 48_000.0 - late as f64;
            assert!(off.abs() < 0.05, "{late} frames: {off}");
            assert!((delay.gain - 1.0).abs() < 1e-3 && delay.moved == Seconds::ZERO, "{delay:?}");
        }
    }

    /// A microphone at some metres: weak, turned over, noise as loud as the sound, and an echo louder than the straight sound.
    #[test]
    fn the_straight_sound_is_found_in_a_room() {
        let probe = Probe::new(RATE);
        let recorded = room(&probe, 700, -0.1, &[(300, 1.3), (411, 0.7)], 0.012);
        let delay = found(&recorded, &probe).expect("it came back");
        let off = delay.late.as_secs_f64() * 48_000.0 - 700.0;
        assert!(off.abs() <= 1.0 && delay.gain < 0.0, "{off} {delay:?}");
    }

    #[test]
    fn places_between_frames_are_put_back() {
        let probe = Probe::new(RATE);
        let recorded = room(&probe, 100, 1.0, &[], 0.0);
        let reckoned: Vec<f64> = reckoned(&probe).iter().map(|place| place - 0.25).collect();
        let delay = delay(&probe, &reckoned, &recorded, RATE).expect("it came back");
        assert!((delay.late.as_secs_f64() * 48_000.0 - 100.25).abs() < 0.05, "{delay:?}");
    }

    #[test]
    fn silence_noise_and_a_moving_delay_are_refused() {
        let probe = Probe::new(RATE);
        let silence = vec![0.0; usize::try_from(probe.length().count()).expect("positive")];
        assert!(matches!(found(&silence, &probe), Err(CalibrationError::NotHeard)));
        assert!(matches!(found(&[], &probe), Err(CalibrationError::NotHeard)));
        let noise = room(&probe, 0, 0.0, &[], 0.5);
        assert!(matches!(found(&noise, &probe), Err(CalibrationError::Unclear { .. })));
        // Half of the bursts 4 ms later than the others.
        let (early, late) = (room(&probe, 1_000, 1.0, &[], 0.0), room(&probe, 1_192, 1.0, &[], 0.0));
        let middle = usize::try_from(probe.starts()[6].index()).expect("positive");
        let moved: Vec<f32> = early[..middle].iter().chain(&late[middle..]).copied().collect();
        assert!(matches!(found(&moved, &probe), Err(CalibrationError::Unsteady { .. })));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(3))]

        /// Whatever the delay and the strength, in noise a quarter as strong as the sound.
        #[test]
        fn any_delay_is_found(late in -7_000i64..40_000, gain in 0.05f32..1.0, over in any::<bool>()) {
            let probe = Probe::new(RATE);
            let gain = if over { -gain } else { gain };
            let recorded = room(&probe, late, gain, &[], 0.25 * gain.abs() * PEAK);
            let delay = found(&recorded, &probe).expect("it came back");
            let off = delay.late.as_secs_f64() * 48_000.0 - late as f64;
            prop_assert!(off.abs() <= 0.5, "{} frames off, {:?}", off, delay);
        }
    }
}
