//! How long a beat may be when nothing but the strokes is known.

use super::heard::Heard;

/// Strokes that are looked at: as many as a minute of sixteenths has.
const LOOKED_AT: usize = 300;
/// Intervals to the next strokes that are counted: to the next one and the ones behind it.
const REACH: usize = 4;
/// Intervals whose lengths differ by less than this part are taken for the same.
const ALIKE: f64 = 0.06;
/// The tempo of a felt beat that is likeliest before anything is heard: the middle of 60 and 140 on a scale of ratios.
const MIDDLE_BPM: f64 = 91.7;
/// One standard deviation of it, in octaves: 60 and 140 lie at one.
const OCTAVES: f64 = 0.61;
/// No felt beat is shorter or longer, in beats a minute; the limits of a tempo are wider.
const SLOWEST_BPM: f64 = 30.0;
const FASTEST_BPM: f64 = 240.0;

/// Beats that the intervals between the strokes suggest, in seconds, the likeliest first, at most `most`. `usual` is the
/// length of the beat that the tempo of [`MIDDLE_BPM`] is meant for, in felt beats: 1, or 0.5 for cells of half a beat.
pub(super) fn periods(heard: &Heard, usual: f64, most: usize) -> Vec<f64> {
    let at = &heard.at[..heard.len().min(LOOKED_AT)];
    let intervals = (1..=REACH).flat_map(|reach| {
        let weight = 1.0 / reach as f64;
        at.iter().zip(at.iter().skip(reach)).map(move |(from, to)| (to - from, weight))
    });
    let mut intervals: Vec<(f64, f64)> =
        intervals.filter(|(length, _)| (0.06..8.0).contains(length)).collect();
    intervals.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut clusters: Vec<(f64, f64)> = Vec::new();
    let mut rest = intervals.as_slice();
    while let Some(first) = rest.first() {
        let many = rest.partition_point(|(length, _)| *length <= first.0 * (1.0 + 2.0 * ALIKE));
        let (alike, longer) = rest.split_at(many);
        let weight: f64 = alike.iter().map(|(_, weight)| weight).sum();
        let middle = alike.iter().map(|(length, weight)| length * weight).sum::<f64>() / weight;
        clusters.push((middle, weight));
        rest = longer;
    }
    let all: f64 = clusters.iter().map(|(_, weight)| weight).sum();
    let shares = [1.0, 2.0, 0.5, 4.0, 3.0, 1.0 / 3.0, 1.5, 2.0 / 3.0, 4.0 / 3.0, 0.75, 0.25];
    let mut found: Vec<(f64, f64)> = Vec::new();
    for (length, weight) in clusters {
        for share in shares {
            let period = length * share;
            let fits = (60.0 / FASTEST_BPM..=60.0 / SLOWEST_BPM).contains(&(period / usual));
            // A multiple of what was heard is a weaker hint than what was heard itself.
            let hint =
                (weight / all).ln() + 2.0 * preference(period / usual) - if share == 1.0 { 0.0 } else { 0.5 };
            if !fits {
                continue;
            }
            match found.iter_mut().find(|(other, _)| (other.ln() - period.ln()).abs() < ALIKE / 2.0) {
                Some(other) if other.1 < hint => *other = (period, hint),
                Some(_) => {}
                None => found.push((period, hint)),
            }
        }
    }
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    found.truncate(most);
    found.into_iter().map(|(period, _)| period).collect()
}

/// The log of how likely a felt beat of `seconds` is before anything is heard, 0 at the likeliest.
pub(super) fn preference(seconds: f64) -> f64 {
    let octaves = (60.0 / seconds / MIDDLE_BPM).log2();
    -0.5 * (octaves / OCTAVES).powi(2)
}

#[cfg(test)]
mod tests {
    use timebase::{Moment, Seconds};

    use super::super::Tap;
    use super::*;

    #[test]
    fn the_beat_is_among_the_intervals() {
        let check = |ms: &[i64], period: f64| {
            let taps: Vec<Tap> =
                ms.iter().map(|&ms| Tap::new(Moment::ZERO + Seconds::from_millis(ms))).collect();
            let heard = Heard::of(&taps, Moment::ZERO, None, true);
            let found = periods(&heard, 1.0, 12);
            assert!(found.iter().any(|p| (p / period - 1.0).abs() < 0.03), "{period} is not in {found:?}");
        };
        check(&[0, 600, 1200, 1500, 1800, 2400], 0.6);
        check(&[0, 300, 600, 900, 1200], 0.6);
        check(&[0, 900, 1200, 1800, 2400], 0.6);
        check(&[0, 250, 500, 750, 1500], 0.75);
    }

    #[test]
    fn a_walking_pace_is_preferred() {
        assert!(preference(0.65) > preference(0.325));
        assert!(preference(0.65) > preference(1.3));
        assert!((preference(60.0 / 60.0) - preference(60.0 / 140.0)).abs() < 0.05);
    }
}
