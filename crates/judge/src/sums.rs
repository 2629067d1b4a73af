use timebase::Seconds;

use crate::drift::{Line, median_size};
use crate::limits::{FEWEST_FOR_BIAS, FEWEST_FOR_DRIFT};

/// A take in three numbers that stand apart: where the player's pulse lies, how closely the attacks keep to it, and
/// where it is going. Each is `None` where there are too few matched attacks to say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sums {
    /// How many attacks answered a note.
    pub matched: usize,
    /// The median of the offsets (played minus written): negative is ahead of the click. From
    /// [`FEWEST_FOR_BIAS`] attacks on.
    ///
    /// People lead a click by 30 to 50 ms on average (Aschersleben and Prinz 1995), so a steady bias is no fault in itself.
    pub bias: Option<Seconds>,
    /// The standard deviation of the offsets about the bias or, where a drift is [sure](Drift::sure), about the
    /// drifting pulse, so that an even player who rushes is not called loose. From [`FEWEST_FOR_BIAS`] attacks on.
    ///
    /// The sum of squares is divided by n − 1 (by n − 2 about a drifting pulse): the attacks are a sample of how
    /// the player plays, and dividing by n would make short takes look steadier than long ones.
    pub spread: Option<Seconds>,
    /// How much faster or slower than written; where it is told that the pulse runs from a bar on or up to some note, there. From
    /// [`FEWEST_FOR_DRIFT`] attacks on.
    pub drift: Option<Drift>,
}

/// A tempo that is not the written one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// Percent of the written tempo; positive is faster.
    pub percent: f64,
    /// Its standard error in percent, the wander of a player who corrects himself allowed for.
    pub error_percent: f64,
    /// Whether it is more than chance: of players without a drift, 2 in 1000 would show as much.
    pub sure: bool,
    /// How far it moved the pulse from the first matched attack to the last; negative is ahead.
    pub carried: Seconds,
}

/// The pulse of a whole take, against which single attacks and their scatter are seen.
#[derive(Clone, Copy, Debug)]
pub(crate) enum TakePulse {
    /// At a constant distance from the click, in ms.
    Steady(f64),
    /// Rushing or dragging.
    Drifting(Line),
}

impl TakePulse {
    /// How far the pulse lies from the click at a written time, in ms.
    pub(crate) fn at(&self, written: i64) -> f64 {
        match self {
            Self::Steady(bias) => *bias,
            Self::Drifting(line) => line.at(ms(written)),
        }
    }
}

/// The standard deviation of distances from a pulse without the outliers, in ms: what lies beyond four times the robust one
/// (1.4826 times the median distance) takes no part.
pub(crate) fn scatter(mut distances: Vec<f64>) -> f64 {
    let limit = 4.0 * 1.4826 * median_size(&mut distances);
    distances.retain(|distance| distance.abs() <= limit);
    let squares: f64 = distances.iter().map(|distance| distance * distance).sum();
    (squares / (distances.len() as f64 - 1.0).max(1.0)).sqrt()
}

impl Sums {
    /// The sums of these matches: written time and offset in nanoseconds, in order of time.
    pub(crate) fn of(matches: &[(i64, i64)]) -> (Self, TakePulse) {
        let matched = matches.len();
        let bias = (matched >= FEWEST_FOR_BIAS).then(|| median(matches));
        let line = (matched >= FEWEST_FOR_DRIFT).then(|| line(matches)).flatten();
        let drift = line.and_then(|line| drift(&line, matches));
        let pulse = match (line, drift) {
            (Some(line), Some(drift)) if drift.sure => TakePulse::Drifting(line),
            _ => TakePulse::Steady(bias.map_or(0.0, Seconds::as_millis_f64)),
        };
        let fitted = match pulse {
            TakePulse::Steady(_) => 1.0,
            TakePulse::Drifting(_) => 2.0,
        };
        let squares: f64 = matches.iter().map(|&(at, offset)| (ms(offset) - pulse.at(at)).powi(2)).sum();
        let spread = bias.map(|_| Seconds::from_millis_f64((squares / (matched as f64 - fitted)).sqrt()));
        (Self { matched, bias, spread, drift }, pulse)
    }
}

fn ms(nanos: i64) -> f64 {
    Seconds::from_nanos(nanos).as_millis_f64()
}

/// The middle offset, or half-way between the two middle ones.
fn median(matches: &[(i64, i64)]) -> Seconds {
    let mut offsets: Vec<i64> = matches.iter().map(|&(_, offset)| offset).collect();
    offsets.sort_unstable();
    let middle = offsets.len() / 2;
    let median = if offsets.len() % 2 == 1 {
        offsets[middle]
    } else {
        // Rounded down, so that a take shifted by any time has its bias shifted by that time.
        offsets[middle - 1] + offsets[middle].saturating_sub(offsets[middle - 1]) / 2
    };
    Seconds::from_nanos(median)
}

fn line(matches: &[(i64, i64)]) -> Option<Line> {
    let points: Vec<_> = matches.iter().map(|&(at, offset)| (ms(at), ms(offset))).collect();
    Line::through(&points)
}

/// A slope in offset as a share of tempo: written intervals are played 1 + slope times as long.
fn drift(line: &Line, matches: &[(i64, i64)]) -> Option<Drift> {
    let (first, last) = (matches.first()?.0, matches.last()?.0);
    let stretch = 1.0 + line.slope;
    (stretch > 0.0).then(|| Drift {
        percent: (1.0 / stretch - 1.0) * 100.0,
        error_percent: line.error / (stretch * stretch) * 100.0,
        sure: line.sure,
        carried: Seconds::from_millis_f64(line.slope * (ms(last) - ms(first))),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Attacks every 500 ms with these offsets in ms.
    fn matches(offsets_ms: impl IntoIterator<Item = i64>) -> Vec<(i64, i64)> {
        (0..).zip(offsets_ms).map(|(n, offset)| (n * 500_000_000, offset * 1_000_000)).collect()
    }

    fn check(offsets_ms: &[i64], bias_ms: Option<f64>, spread_ms: Option<f64>) {
        let (sums, _) = Sums::of(&matches(offsets_ms.iter().copied()));
        assert_eq!(sums.bias.map(Seconds::as_millis_f64), bias_ms, "{offsets_ms:?}");
        let spread = sums.spread.map(|spread| (spread.as_millis_f64() * 100.0).round() / 100.0);
        assert_eq!(spread, spread_ms, "{offsets_ms:?}");
    }

    #[test]
    fn bias_is_the_median_and_spread_is_about_it() {
        check(&[], None, None);
        check(&[-80, -80, -80], None, None);
        check(&[-80, -80, -80, -80], Some(-80.0), Some(0.0));
        check(&[20, -20, 20, -20], Some(0.0), Some(23.09));
        check(&[10, 0, -10, 0, 200], Some(0.0), Some(100.25));
    }

    #[test]
    fn a_steady_rush_is_drift_and_not_spread() {
        // 3 % faster: every 500 ms are played in 500 / 1.03.
        let rushed = (0..32).map(|n| (n * 500_000_000, n * 500_000_000 * 100 / 103 - n * 500_000_000));
        let (sums, _) = Sums::of(&rushed.collect::<Vec<_>>());
        let drift = sums.drift.expect("enough attacks");
        assert!((drift.percent - 3.0).abs() < 1e-6 && drift.sure, "{drift:?}");
        assert!(sums.spread.expect("enough attacks") < Seconds::from_micros(1), "{sums:?}");
        assert!((drift.carried.as_millis_f64() + 451.456).abs() < 0.01, "{drift:?}");
    }

    #[test]
    fn seven_attacks_claim_no_drift() {
        assert_eq!(Sums::of(&matches((0..7).map(|n| -15 * n))).0.drift, None);
        assert!(Sums::of(&matches((0..8).map(|n| -15 * n))).0.drift.is_some());
    }
}
