use timebase::{Moment, Seconds};

use super::{CalibrationError, Typical};

/// The first taps find the beat and are left out.
const FINDING: usize = 4;

/// Taps that are needed after them.
const LEAST: usize = 12;

/// Finds how late taps are known, by a person who taps along with an even click: each tap against the nearest click, the
/// median of all.
///
/// It is a fallback. What comes out is the lateness of speaker and pad together less the person's own lead: people tap
/// ahead of a click, by some tens of milliseconds, without knowing it (Repp 2005, "Sensorimotor synchronization", from
/// memory). Nothing can tell the two apart but a microphone.
///
/// # Errors
/// If too few taps fall near a click.
pub fn taps(taps: &[Moment], clicks: &[Moment]) -> Result<Typical, CalibrationError> {
    let delays: Vec<Seconds> = taps
        .iter()
        .skip(FINDING)
        .filter_map(|&tap| {
            let after = clicks.partition_point(|&click| click <= tap);
            let nearest = [after.checked_sub(1), Some(after)]
                .into_iter()
                .flatten()
                .filter_map(|index| clicks.get(index))
                .min_by_key(|&&click| (tap - click).abs())?;
            Some(tap - *nearest)
        })
        .collect();
    Typical::of(&delays, LEAST).ok_or(CalibrationError::TooFew {
        found: delays.len(),
        least: LEAST,
        advice: "tap along with the click until it ends",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: i64) -> Moment {
        Moment::ZERO + Seconds::from_millis(ms)
    }

    #[test]
    fn the_median_lateness_is_found_and_the_first_taps_left_out() {
        let clicks: Vec<Moment> = (0..24).map(|n| at(n * 600)).collect();
        // Four wild ones, then 90 ms late and evenly 10 ms about it, one click left out, one tap far off.
        let mut tapped: Vec<Moment> = [310, 900, 1_000, 1_950].map(at).to_vec();
        tapped.extend(
            (4..24)
                .filter(|&n| n != 9)
                .map(|n| at(n * 600 + 90 + [-10, 10, 0][usize::try_from(n).expect("small") % 3])),
        );
        tapped.push(at(23 * 600 + 250));
        let found = taps(&tapped, &clicks).expect("enough");
        assert_eq!(found.median, Seconds::from_millis(90));
        assert!(found.uncertainty < Seconds::from_millis(6), "{found:?}");
    }

    #[test]
    fn early_taps_are_negative_and_few_are_refused() {
        let clicks: Vec<Moment> = (0..20).map(|n| at(n * 600)).collect();
        let early: Vec<Moment> = (0..20).map(|n| at(n * 600 - 35)).collect();
        assert_eq!(taps(&early, &clicks).expect("enough").median, Seconds::from_millis(-35));
        assert!(matches!(taps(&early[..10], &clicks), Err(CalibrationError::TooFew { found: 6, .. })));
        assert!(taps(&early, &[]).is_err());
    }
}
