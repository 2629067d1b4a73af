//! Exact seconds: sums and roots that are rounded once, at the end.

use num_bigint::BigInt;
use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedSub, Signed, ToPrimitive};

use crate::frame::nearest;

/// Seconds, or a factor of them, exactly, in 128 bits.
pub(crate) type Exact = Ratio<i128>;

/// The same in as many bits as it takes.
pub(crate) type Wide = Ratio<BigInt>;

/// The finest part of a second in which the beginning of a stretch of tempo is kept: 10⁻¹⁸ s. A sum of stretches is exact
/// while its denominator stays below; a piece with more different tempos than that is off by half of this a stretch.
const FINEST: i128 = 1_000_000_000_000_000_000;

/// Bits behind the point of a root that is no fraction.
const ROOT_BITS: usize = 160;

pub(crate) fn wide(exact: Exact) -> Wide {
    Ratio::new_raw(BigInt::from(*exact.numer()), BigInt::from(*exact.denom()))
}

/// `value` in 128 bits: itself where its denominator is no more than [`FINEST`], else the nearest multiple of that part.
pub(crate) fn kept(value: &Wide) -> Exact {
    let parts = (value.numer().to_i128(), value.denom().to_i128());
    if let (Some(numerator), Some(denominator)) = parts
        && denominator <= FINEST
    {
        return Ratio::new_raw(numerator, denominator);
    }
    let parts = nearest_wide(&(value * BigInt::from(FINEST)));
    Ratio::new(parts.to_i128().unwrap_or(if parts.is_negative() { i128::MIN } else { i128::MAX }), FINEST)
}

pub(crate) fn sum(a: Exact, b: Exact) -> Exact {
    let exact = a.checked_add(&b).filter(|sum| *sum.denom() <= FINEST);
    exact.unwrap_or_else(|| kept(&(wide(a) + wide(b))))
}

pub(crate) fn difference(a: Exact, b: Exact) -> Exact {
    let exact = a.checked_sub(&b).filter(|difference| *difference.denom() <= FINEST);
    exact.unwrap_or_else(|| kept(&(wide(a) - wide(b))))
}

/// `times · (begins + into · each)` to the nearest whole number, a half up; saturates at the ends of an `i64`.
pub(crate) fn nearest_along(begins: Exact, into: Ratio<i64>, each: Exact, times: i128) -> i64 {
    let into = Ratio::new_raw(i128::from(*into.numer()), i128::from(*into.denom()));
    let fits = || {
        let parts = into.denom().checked_mul(*each.denom())?;
        let begun = begins.numer().checked_mul(parts)?;
        let gone = into.numer().checked_mul(*each.numer())?.checked_mul(*begins.denom())?;
        let numerator = begun.checked_add(gone)?.checked_mul(times)?;
        let denominator = begins.denom().checked_mul(parts)?;
        // What `nearest` reckons with must fit too.
        numerator.checked_mul(2)?.checked_add(denominator)?;
        denominator.checked_mul(2)?;
        Some(nearest(numerator, denominator))
    };
    fits().unwrap_or_else(|| nearest_times(&(wide(begins) + wide(into) * wide(each)), times))
}

/// `times · value` to the nearest whole number, a half up; saturates at the ends of an `i64`.
pub(crate) fn nearest_times(value: &Wide, times: i128) -> i64 {
    let rounded = nearest_wide(&(value * BigInt::from(times)));
    rounded.to_i64().unwrap_or(if rounded.is_negative() { i64::MIN } else { i64::MAX })
}

/// The nearest whole number, a half up.
fn nearest_wide(value: &Wide) -> BigInt {
    let half = Ratio::new_raw(BigInt::from(1), BigInt::from(2));
    (value + half).floor().to_integer()
}

/// The root of a number that is not negative: exact where it is a fraction, else to [`ROOT_BITS`] bits behind the point,
/// rounded down.
pub(crate) fn root(square: &Wide) -> Wide {
    let (upper, lower) = (square.numer().sqrt(), square.denom().sqrt());
    if &(&upper * &upper) == square.numer() && &(&lower * &lower) == square.denom() {
        return Ratio::new_raw(upper, lower);
    }
    let scaled = (square.numer() << (2 * ROOT_BITS)) / square.denom();
    Ratio::new(scaled.sqrt(), BigInt::from(1) << ROOT_BITS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_root_is_exact_where_it_is_a_fraction() {
        let wide = |n: i64, d: i64| Ratio::new(BigInt::from(n), BigInt::from(d));
        assert_eq!(root(&wide(49, 36)), wide(7, 6));
        assert_eq!(root(&wide(0, 1)), wide(0, 1));
        let two = root(&wide(2, 1));
        let step = Ratio::new(BigInt::from(1), BigInt::from(1) << ROOT_BITS);
        assert!(&two * &two < wide(2, 1));
        let next = two + step;
        assert!(&next * &next > wide(2, 1));
    }

    #[test]
    fn sums_that_leave_128_bits_are_kept_to_the_finest_part() {
        // Denominators without a common divisor: their product would need 190 bits.
        let thirds = Ratio::new(1, 999_999_999_999_999_989);
        let others = [1_000_000_007_i128, 998_244_353, 1_000_000_009, 999_999_937];
        let mut total = thirds;
        let mut exact = wide(thirds);
        for other in others {
            total = sum(total, Ratio::new(1, other));
            exact += wide(Ratio::new(1, other));
        }
        let off = (wide(total) - exact).abs() * BigInt::from(FINEST);
        assert!(off <= Ratio::from_integer(BigInt::from(3)), "{off}");
        assert!(*total.denom() <= FINEST);
    }
}
