use timebase::Seconds;

/// A figure and the interval about it that holds the true one in 95 of 100 takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate<T> {
    /// The figure.
    pub value: T,
    /// The lower end of its interval.
    pub low: T,
    /// The upper end.
    pub high: T,
}

impl Estimate<Seconds> {
    /// As it may be shown: the figure in whole steps of the stamps' resolution, the interval widened outwards to whole ones.
    /// A resolution of zero or less changes nothing.
    #[must_use]
    pub fn shown(self, resolution: Seconds) -> Self {
        let step = resolution.as_nanos();
        if step <= 0 {
            return self;
        }
        let whole = |length: Seconds, up: i64| {
            Seconds::from_nanos((length.as_nanos().saturating_add(up)).div_euclid(step).saturating_mul(step))
        };
        Self { value: whole(self.value, step / 2), low: whole(self.low, 0), high: whole(self.high, step - 1) }
    }

    /// Whether the interval lies wholly to one side of nothing.
    #[must_use]
    pub fn is_sure(self) -> bool {
        self.low > Seconds::ZERO || self.high < Seconds::ZERO
    }

    pub(crate) fn of_ms(value: f64, low: f64, high: f64) -> Self {
        let [value, low, high] = [value, low, high].map(Seconds::from_millis_f64);
        Self { value, low, high }
    }

    /// The figure with so many standard errors to either side, all in ms.
    pub(crate) fn about(value: f64, error: f64, freedom: f64) -> Self {
        let width = student(Z, freedom) * error;
        Self::of_ms(value, value - width, value + width)
    }
}

/// The normal quantile that 95 draws in 100 do not exceed in size.
pub(crate) const Z: f64 = 1.959_964;

/// The quantile of Student's t that belongs to a normal one, by the expansion of Abramowitz and Stegun 26.7.5 (from memory).
pub(crate) fn student(z: f64, freedom: f64) -> f64 {
    let terms = [
        (z.powi(3) + z) / 4.0,
        (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0,
        (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0,
        (79.0 * z.powi(9) + 776.0 * z.powi(7) + 1_482.0 * z.powi(5) - 1_920.0 * z.powi(3) - 945.0 * z)
            / 92_160.0,
    ];
    terms.iter().rev().fold(0.0, |sum, term| (sum + term) / freedom.max(1.0)) + z
}

/// The chi-square quantile of the probability that belongs to a normal quantile `z`: the cube of Wilson and Hilferty, and
/// for few degrees of freedom, where that is coarse, halving on the distribution itself.
fn chi_square(z: f64, freedom: f64) -> f64 {
    let ninth = 2.0 / (9.0 * freedom);
    let about = freedom * (1.0 - ninth + z * ninth.sqrt()).max(0.0).powi(3);
    if freedom > 60.0 {
        return about;
    }
    let wanted = if z < 0.0 { 0.025 } else { 0.975 };
    let (mut low, mut high) = (0.0, 2.0 * about + 10.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if chi_square_below(middle, freedom) < wanted { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}

/// The probability of a chi-square below `x`: the series of the incomplete gamma function (Abramowitz and Stegun 6.5.29,
/// from memory).
pub(crate) fn chi_square_below(x: f64, freedom: f64) -> f64 {
    let (a, half) = (freedom / 2.0, x / 2.0);
    if half <= 0.0 {
        return 0.0;
    }
    // Far out the series would need more terms than are summed.
    if half > 200.0 {
        return 1.0;
    }
    let (mut term, mut sum) = (1.0, 1.0);
    for step in 1..500 {
        term *= half / (a + f64::from(step));
        sum += term;
        if term < 1e-12 * sum {
            break;
        }
    }
    (a * half.ln() - half - ln_gamma(a + 1.0)).exp() * sum
}

/// The logarithm of the gamma function: Stirling's series, from 10 on good to 1e-10, and down to there by recurrence.
fn ln_gamma(mut x: f64) -> f64 {
    let mut product = 1.0;
    while x < 10.0 {
        product *= x;
        x += 1.0;
    }
    let series = 1.0 / (12.0 * x) - 1.0 / (360.0 * x.powi(3)) + 1.0 / (1_260.0 * x.powi(5));
    (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series - f64::ln(product)
}

/// A standard deviation with the interval of its chi-square distribution, in ms.
pub(crate) fn deviation(deviation_ms: f64, freedom: f64) -> Estimate<Seconds> {
    let freedom = freedom.max(1.0);
    let end = |z: f64| deviation_ms * (freedom / chi_square(z, freedom)).sqrt();
    Estimate::of_ms(deviation_ms, end(Z), end(-Z))
}

/// How much neighbouring distances hang together: the correlation of each with the next, corrected for its bias in short
/// series; never below 0, for an interval is not to be narrowed by what may be chance.
pub(crate) fn hang_together(distances: &[f64]) -> f64 {
    let squares: f64 = distances.iter().map(|distance| distance * distance).sum();
    if squares <= 0.0 {
        return 0.0;
    }
    let count = distances.len() as f64;
    let raw = distances.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>() / squares;
    (raw + (1.0 + 3.0 * raw) / count).clamp(0.0, 0.9)
}

/// The median of these numbers and its interval between order statistics, the ranks (n+1)/2 ± z√n/2 and between them on a straight
/// line; further apart where the numbers hang together by `correlation`, as √((1+ρ)/(1−ρ)). `None` where
/// the ranks lie beyond the outermost number: too few to say. With five, least to greatest holds the median in 94 of 100 at best.
pub(crate) fn median(numbers: &[f64], correlation: f64) -> Option<Estimate<Seconds>> {
    let count = numbers.len();
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let at = |rank: f64| {
        let below = rank.floor();
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a rank between 1 and the count, as is seen below"
        )]
        let index = below as usize - 1;
        let next = sorted[(index + 1).min(count - 1)];
        sorted[index] + (rank - below) * (next - sorted[index])
    };
    let middle = (count as f64 + 1.0) / 2.0;
    let wide = Z * (count as f64 * (1.0 + correlation) / (1.0 - correlation)).sqrt() / 2.0;
    (count > 0 && middle - wide >= 1.0)
        .then(|| Estimate::of_ms(at(middle), at(middle - wide), at(middle + wide)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Tables of Student's t and of chi-square at 95 % (from memory).
    #[test]
    fn quantiles_are_those_of_the_tables() {
        for (freedom, expected) in [(3.0, 3.182), (6.0, 2.447), (20.0, 2.086), (120.0, 1.980)] {
            let quantile = student(Z, freedom);
            assert!((quantile / expected - 1.0).abs() < 0.01, "{freedom}: {quantile}");
        }
        for (freedom, low, high) in
            [(3.0, 0.2158, 9.348), (7.0, 1.690, 16.013), (20.0, 9.591, 34.170), (100.0, 74.222, 129.561)]
        {
            assert!(
                (chi_square(-Z, freedom) / low - 1.0).abs() < 0.002,
                "{freedom}: {}",
                chi_square(-Z, freedom)
            );
            assert!(
                (chi_square(Z, freedom) / high - 1.0).abs() < 0.002,
                "{freedom}: {}",
                chi_square(Z, freedom)
            );
        }
    }

    #[test]
    fn what_is_shown_is_no_finer_than_the_stamps() {
        let estimate = Estimate::of_ms(-12.4, -15.2, 3.3);
        assert_eq!(estimate.shown(Seconds::from_millis(1)), Estimate::of_ms(-12.0, -16.0, 4.0));
        assert_eq!(estimate.shown(Seconds::from_millis(17)), Estimate::of_ms(-17.0, -17.0, 17.0));
        assert_eq!(estimate.shown(Seconds::ZERO), estimate);
    }

    #[test]
    fn five_are_too_few_for_an_interval() {
        assert_eq!(median(&[1.0, 2.0, 3.0, 4.0, 5.0], 0.0), None);
        assert_eq!(median(&[], 0.0), None);
        let six = median(&[6.0, 1.0, 2.0, 3.0, 4.0, 5.0], 0.0).expect("enough");
        assert_eq!(six.value, Seconds::from_micros(3_500));
        // Ranks 3.5 ± 2.4.
        assert!(
            (six.low.as_millis_f64() - 1.1).abs() < 0.01 && (six.high.as_millis_f64() - 5.9).abs() < 0.01
        );
        assert_eq!(median(&[6.0, 1.0, 2.0, 3.0, 4.0, 5.0], 0.3), None);
    }
}
