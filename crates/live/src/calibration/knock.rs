use timebase::{SampleRate, Seconds};

use super::{CalibrationError, Typical};

/// How far from its stamp a knock is looked for.
const AROUND: Seconds = Seconds::from_millis(150);

/// Strokes closer than this to another are not used: nobody could say which knock is whose.
const APART: Seconds = Seconds::from_millis(400);

/// Strokes that are needed.
const LEAST: usize = 8;

/// What is a beginning: the first sample this much as loud as the knock's loudest...
const RISE: f32 = 0.2;

/// ...and the knock's loudest this much as loud as what went before.
const OVER_NOISE: f32 = 5.0;

/// Finds how late a pad's stamps are: each against the knock that a microphone beside the pad heard.
///
/// `stamps` are the places of the recording, in frames and rising, at which the strokes would stand by their stamps. Returned
/// is how much later the stamp is than the knock; the microphone's own lateness, which no driver tells, is in it with a minus.
///
/// # Errors
/// If fewer than eight strokes can be used.
pub fn knocks(stamps: &[f64], heard: &[f32], rate: SampleRate) -> Result<Typical, CalibrationError> {
    let hz = f64::from(rate.hz());
    let (apart, around) = (APART.as_secs_f64() * hz, AROUND.as_secs_f64() * hz);
    let alone = |index: usize| {
        let near = |other: Option<&f64>| other.is_some_and(|other| (stamps[index] - other).abs() < apart);
        !near(index.checked_sub(1).and_then(|before| stamps.get(before))) && !near(stamps.get(index + 1))
    };
    let delays: Vec<Seconds> = (0..stamps.len())
        .filter(|&index| alone(index))
        .filter_map(|index| {
            let knock = onset(heard, stamps[index] - around, stamps[index] + around)?;
            Some(Seconds::from_secs_f64((stamps[index] - knock) / hz))
        })
        .collect();
    Typical::of(&delays, LEAST).ok_or(CalibrationError::TooFew {
        found: delays.len(),
        least: LEAST,
        advice: "strike one pad a dozen times, a second apart, with the microphone beside it",
    })
}

/// Where the loudest knock between two places begins; `None` where nothing stands out.
fn onset(heard: &[f32], from: f64, to: f64) -> Option<f64> {
    let length = heard.len();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held within the recording")]
    let place = |at: f64| at.clamp(0.0, length as f64) as usize;
    let window = heard.get(place(from)..place(to)).filter(|window| window.len() > 100)?;
    let (loudest, peak) =
        window.iter().map(|sample| sample.abs()).enumerate().max_by(|(_, a), (_, b)| a.total_cmp(b))?;
    let beginning = window.iter().take(loudest + 1).position(|sample| sample.abs() >= RISE * peak)?;
    // What went before it, in this window, is the room's noise: some milliseconds at least, or it proves nothing.
    let before = &window[..beginning];
    let noise = before.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
    let stands_out = peak >= OVER_NOISE * noise && before.len() >= window.len() / 50;
    stands_out.then_some(place(from) as f64 + beginning as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: SampleRate = SampleRate::HZ_48000;

    /// Knocks at these frames: a hit that rises at once and rings, in a little noise.
    fn knocking(frames: &[usize], length: usize) -> Vec<f32> {
        let mut heard: Vec<f32> =
            (0..length).map(|n| 0.002 * ((n * 7_919 % 101) as f32 / 50.0 - 1.0)).collect();
        for &frame in frames {
            for after in 0..4_000usize {
                let seconds = after as f32 / 48_000.0;
                heard[frame + after] += 0.4 * (-seconds / 0.02).exp() * (1_400.0 * seconds).cos();
            }
        }
        heard
    }

    fn late_by(frames: &[usize], late: f64) -> Vec<f64> {
        frames.iter().map(|&frame| frame as f64 + late).collect()
    }

    #[test]
    fn a_pads_lateness_is_found() {
        let frames: Vec<usize> = (0..12).map(|n| 30_000 + n * 48_000 + n * n * 31).collect();
        let heard = knocking(&frames, 700_000);
        for late in [-240.0, 0.0, 336.0, 1_920.0] {
            let found = knocks(&late_by(&frames, late), &heard, RATE).expect("a dozen");
            let off = found.median.as_secs_f64() * 48_000.0 - late;
            assert!(off.abs() <= 2.0, "{late} frames: {off}");
            assert_eq!(found.count, 12);
        }
    }

    #[test]
    fn strokes_without_a_knock_and_rolls_are_not_used() {
        let frames: Vec<usize> = (0..12).map(|n| 30_000 + n * 48_000).collect();
        let heard = knocking(&frames[..7], 700_000);
        let stamps = late_by(&frames, 100.0);
        let few = knocks(&stamps, &heard, RATE).expect_err("seven knocks");
        assert!(matches!(few, CalibrationError::TooFew { found: 7, .. }), "{few}");
        let roll: Vec<f64> = (0..40).map(|n| 30_000.0 + f64::from(n) * 4_800.0).collect();
        assert!(knocks(&roll, &heard, RATE).is_err());
        assert!(knocks(&stamps, &[], RATE).is_err());
    }
}
