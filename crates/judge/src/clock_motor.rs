use timebase::Seconds;

/// A player's intervals split into a timekeeper's and a hand's share, as Wing and Kristofferson (1973) have it: every interval is what the clock
/// gives, longer or shorter by the difference of two motor delays, so var(I) = σC² + 2σM² and γ(1) = −σM².
///
/// It is meant for takes without a click, or with the click silent. A player who hears the click corrects part of each asynchrony
/// at the next attack, and what stands here as the clock's is then the clock's and the correction's: with the linear
/// phase correction A' = (1−α)A + T + ΔM neighbouring intervals depend on each other by α as well.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockMotor {
    /// The standard deviation of the clock.
    pub clock: Seconds,
    /// The standard deviation of the motor delay; what the stamps' rounding adds (their resolution/√12) is in it.
    pub motor: Seconds,
    /// The variance of the intervals, in ms².
    pub variance: f64,
    /// The covariance of each interval with the next, in ms².
    pub covariance: f64,
    /// How many intervals of one written length it rests on.
    pub intervals: usize,
    /// That length.
    pub interval: Seconds,
}

/// Why the split does not apply to a take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NotApplicable {
    /// There are not so many intervals of one written length one after the other.
    TooFewIntervals {
        /// How many there are.
        given: usize,
    },
    /// All intervals are the same to the microsecond, as a machine plays.
    NoVariation,
    /// The correlation of neighbouring intervals lies outside −½ to 0, where one of the variances would be negative.
    Correlation {
        /// What it is.
        correlation: f64,
    },
}

impl NotApplicable {
    /// Its stable name, as it stands in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::TooFewIntervals { .. } => "too-few-intervals",
            Self::NoVariation => "no-variation",
            Self::Correlation { .. } => "correlation",
        }
    }
}

/// Intervals below which no variance is split: the correlation's standard error is 1/√n, nearly half the range it may lie in.
pub(crate) const FEWEST_INTERVALS: usize = 20;

/// The split of played intervals in ms, in runs of one written length.
pub(crate) fn clock_motor(interval: Seconds, runs: &[Vec<f64>]) -> Result<ClockMotor, NotApplicable> {
    let intervals: usize = runs.iter().map(Vec::len).sum();
    if intervals < FEWEST_INTERVALS {
        return Err(NotApplicable::TooFewIntervals { given: intervals });
    }
    let count = intervals as f64;
    let mean = runs.iter().flatten().sum::<f64>() / count;
    let from = |played: &f64| played - mean;
    let squares = runs.iter().flatten().map(|played| from(played).powi(2)).sum::<f64>() / count;
    if squares < 1e-6 {
        return Err(NotApplicable::NoVariation);
    }
    let pairs: usize = runs.iter().map(|run| run.len().saturating_sub(1)).sum();
    let products = runs.iter().flat_map(|run| run.windows(2)).map(|pair| from(&pair[0]) * from(&pair[1]));
    let products = products.sum::<f64>() / pairs.max(1) as f64;
    // About the mean of the sample both come out too low, by the variance of that mean, which is σC²/n (the motor delays cancel).
    let clock = (squares + 2.0 * products) / (1.0 - 3.0 / count);
    let (variance, covariance) = (squares + clock / count, products + clock / count);
    if clock < 0.0 || covariance > 0.0 {
        return Err(NotApplicable::Correlation { correlation: covariance / variance });
    }
    let deviation = |variance: f64| Seconds::from_millis_f64(variance.max(0.0).sqrt());
    let (clock, motor) = (deviation(variance + 2.0 * covariance), deviation(-covariance));
    Ok(ClockMotor { clock, motor, variance, covariance, intervals, interval })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Normal numbers from a linear congruential generator with Knuth's constants.
    fn normals(seed: u64) -> impl FnMut() -> f64 {
        let mut state = seed;
        let mut even = move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            ((state >> 33) as f64 + 0.5) / (1_u64 << 31) as f64
        };
        move || (-2.0 * even().ln()).sqrt() * (std::f64::consts::TAU * even()).cos()
    }

    fn series(clock: f64, motor: f64, count: usize, seed: u64) -> Vec<f64> {
        let mut normal = normals(seed);
        let mut before = motor * normal();
        let interval = |_| {
            let after = motor * normal();
            let played = 500.0 + clock * normal() + after - before;
            before = after;
            played
        };
        (0..count).map(interval).collect()
    }

    const WRITTEN: Seconds = Seconds::from_millis(500);

    /// Closed forms: var(I) = σC² + 2σM², γ(1) = −σM² (Wing and Kristofferson 1973): (20, 10) gives 600 and −100, (15, 5) 275 and −25,
    /// (10, 10) 300 and −100.
    #[test]
    fn simulated_series_have_the_closed_forms() {
        for (clock, motor, variance, covariance) in
            [(20.0, 10.0, 600.0, -100.0), (15.0, 5.0, 275.0, -25.0), (10.0, 10.0, 300.0, -100.0)]
        {
            let split = clock_motor(WRITTEN, &[series(clock, motor, 200_000, 5)]).expect("the model holds");
            assert!((split.variance / variance - 1.0).abs() < 0.02, "{split:?}");
            assert!((split.covariance - covariance).abs() < 0.012 * variance, "{split:?}");
            assert!((split.clock.as_millis_f64() - clock).abs() < 0.5, "{split:?}");
            assert!((split.motor.as_millis_f64() - motor).abs() < 0.7, "{split:?}");
        }
    }

    /// In runs of 8 the correction for the mean matters, and what stands between runs does not.
    #[test]
    fn short_runs_have_the_same_on_the_average() {
        let (mut variance, mut covariance, mut takes) = (0.0, 0.0, 0.0);
        for seed in 0..2_000 {
            let runs: Vec<_> = (0..4).map(|run| series(15.0, 12.0, 8, seed * 10 + run)).collect();
            if let Ok(split) = clock_motor(WRITTEN, &runs) {
                variance += split.variance;
                covariance += split.covariance;
                takes += 1.0;
            }
        }
        // ρ(1) is −.28, eleven standard errors of a take's are not needed on either side: some takes are refused.
        assert!(takes > 1_600.0, "{takes}");
        assert!((variance / takes / 513.0 - 1.0).abs() < 0.05, "{}", variance / takes);
        assert!((covariance / takes / -144.0 - 1.0).abs() < 0.15, "{}", covariance / takes);
    }

    #[test]
    fn outside_the_model_nothing_is_split() {
        let check = |runs: &[Vec<f64>], expected: &str| {
            let result = clock_motor(WRITTEN, runs);
            assert_eq!(result.map_err(NotApplicable::name), Err(expected));
        };
        check(&[], "too-few-intervals");
        check(&[series(20.0, 10.0, 19, 1)], "too-few-intervals");
        check(&[vec![500.0; 40]], "no-variation");
        // A tempo that wanders: neighbours are alike.
        check(&[(0..60).map(|n| 500.0 + f64::from(n)).collect()], "correlation");
        // Long and short by turns: a correlation of −1.
        check(&[(0..60).map(|n| 500.0 + 20.0 * f64::from(n % 2)).collect()], "correlation");
    }
}
