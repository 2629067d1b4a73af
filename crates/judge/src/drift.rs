use crate::estimate::student;

/// A straight line through offsets over written time, in milliseconds, and how well its slope is known.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    /// The offset at written time zero.
    intercept: f64,
    /// Milliseconds of offset a millisecond of written time; negative when the player is faster than written.
    pub(crate) slope: f64,
    /// The standard error of the slope.
    pub(crate) error: f64,
    /// Whether the slope is more than chance: 998 in 1000 players without a drift would show less.
    pub(crate) sure: bool,
}

/// Distances from the line beyond so many robust standard deviations take no part in the second fit.
const OUTLYING: f64 = 4.0;
/// No spread below this is believed: stamps come in whole milliseconds or worse.
const LEAST_SPREAD_MS: f64 = 1.0;

impl Line {
    /// The offset the line gives at a written time.
    pub(crate) fn at(&self, written_ms: f64) -> f64 {
        self.intercept + self.slope * written_ms
    }

    /// Least squares, once more without the outliers. `None` where the written times are all the same or fewer than three.
    ///
    /// The offsets of a person who keeps with a click hang together from attack to attack, and such a wander
    /// looks like a drift. So the error of the slope is widened as for a first-order autoregressive series,
    /// by (1+ρ)/(1−ρ) in the variance, ρ being the correlation of neighbouring residuals, corrected for its bias in short series.
    pub(crate) fn through(points: &[(f64, f64)]) -> Option<Self> {
        let first = least_squares(points)?;
        let mut residuals: Vec<f64> = points.iter().map(|&(t, d)| d - first.at(t)).collect();
        let limit = OUTLYING * (1.4826 * median_size(&mut residuals)).max(LEAST_SPREAD_MS);
        let kept: Vec<_> =
            points.iter().copied().filter(|&(t, d)| (d - first.at(t)).abs() <= limit).collect();
        // Where a third does not fit, there is no line with outliers but no line.
        let kept = if kept.len() * 3 < points.len() * 2 { points.to_vec() } else { kept };
        least_squares(&kept)
    }
}

fn least_squares(points: &[(f64, f64)]) -> Option<Line> {
    if points.len() < 3 {
        return None;
    }
    let count = points.len() as f64;
    let (sum_t, sum_d) = points.iter().fold((0.0, 0.0), |(t, d), point| (t + point.0, d + point.1));
    let (mean_t, mean_d) = (sum_t / count, sum_d / count);
    let (mut tt, mut td) = (0.0, 0.0);
    for (t, d) in points {
        tt += (t - mean_t) * (t - mean_t);
        td += (t - mean_t) * (d - mean_d);
    }
    if tt <= 0.0 {
        return None;
    }
    let slope = td / tt;
    let intercept = mean_d - slope * mean_t;
    let residual = |&(t, d): &(f64, f64)| d - intercept - slope * t;
    let squares: f64 = points.iter().map(|point| residual(point).powi(2)).sum();
    let neighbours: f64 = points.windows(2).map(|pair| residual(&pair[0]) * residual(&pair[1])).sum();
    let freedom = count - 2.0;
    let variance = (squares / freedom).max(LEAST_SPREAD_MS * LEAST_SPREAD_MS);
    let raw = if squares > 0.0 { neighbours / squares } else { 0.0 };
    let correlation = (raw + (1.0 + 3.0 * raw) / count).clamp(0.0, 0.9);
    let error = (variance / tt * (1.0 + correlation) / (1.0 - correlation)).sqrt();
    let sure = slope.abs() > student_quantile(freedom) * error;
    Some(Line { intercept, slope, error, sure })
}

/// The quantile of Student's t that 998 in 1000 draws do not exceed in size: 3.09 for many degrees of freedom.
fn student_quantile(freedom: f64) -> f64 {
    student(3.090_232, freedom)
}

/// The median size of these numbers; 0 of none. Reorders them.
pub(crate) fn median_size(numbers: &mut [f64]) -> f64 {
    let middle = numbers.len() / 2;
    if numbers.is_empty() {
        return 0.0;
    }
    let (_, median, _) = numbers.select_nth_unstable_by(middle, |a, b| a.abs().total_cmp(&b.abs()));
    median.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Student's t, two-sided 0.002: 5.208 at 6, 3.552 at 20, 3.174 at 100 degrees of freedom (tables, from memory).
    #[test]
    fn quantiles_are_those_of_the_tables() {
        for (freedom, expected) in [(6.0, 5.208), (20.0, 3.552), (100.0, 3.174)] {
            let quantile = student_quantile(freedom);
            assert!((quantile / expected - 1.0).abs() < 0.05, "{freedom}: {quantile}");
        }
    }

    #[test]
    fn an_exact_line_is_found_in_spite_of_an_outlier() {
        let mut points: Vec<(f64, f64)> =
            (0..32).map(|n| f64::from(n) * 500.0).map(|t| (t, 40.0 - 0.03 * t)).collect();
        points[20].1 += 300.0;
        let line = Line::through(&points).expect("a line");
        assert!((line.slope + 0.03).abs() < 1e-9 && line.sure, "{line:?}");
        assert!((line.at(0.0) - 40.0).abs() < 1e-6, "{line:?}");
    }

    #[test]
    fn one_place_in_time_has_no_line() {
        assert!(Line::through(&[(5.0, 1.0); 12]).is_none());
        assert!(Line::through(&[(0.0, 1.0), (1.0, 2.0)]).is_none());
    }
}
