use std::cmp::Ordering;
use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};
use std::str::FromStr;

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedMul};

use crate::Error;
use crate::limits::MUSICAL_TIME;

/// A length of musical time, as an exact fraction of a whole note. May be negative (a distance backwards).
///
/// The operators panic when a result leaves [`MUSICAL_TIME`]; the `checked_` forms return `None`
/// instead and are the ones to use on numbers from outside.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Span(Ratio<i64>);

/// A point of musical time, as an exact fraction of a whole note from count 1 of the first full bar
/// as it is performed. A pickup stands before it and is negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Position(Ratio<i64>);

fn within(ratio: Ratio<i64>) -> Option<Ratio<i64>> {
    (MUSICAL_TIME.holds(*ratio.numer()) && *ratio.denom() <= MUSICAL_TIME.most).then_some(ratio)
}

/// The sum in lowest terms. Nearly all denominators of written music are powers of two, whose sums need no common
/// divisor to be searched for.
fn sum(a: Ratio<i64>, b: Ratio<i64>) -> Option<Ratio<i64>> {
    let denominator = (*a.denom()).max(*b.denom());
    if a.denom().count_ones() != 1 || b.denom().count_ones() != 1 {
        return a.checked_add(&b);
    }
    let whole = |ratio: Ratio<i64>| (*ratio.numer()).checked_mul(denominator / *ratio.denom());
    let numerator = whole(a)?.checked_add(whole(b)?)?;
    let halves = numerator.trailing_zeros().min(denominator.trailing_zeros());
    Some(Ratio::new_raw(numerator >> halves, denominator >> halves))
}

/// The product in lowest terms, as quickly as [`sum`] where both denominators are powers of two.
fn product(a: Ratio<i64>, b: Ratio<i64>) -> Option<Ratio<i64>> {
    if a.denom().count_ones() != 1 || b.denom().count_ones() != 1 {
        return a.checked_mul(&b);
    }
    let numerator = (*a.numer()).checked_mul(*b.numer())?;
    let denominator = (*a.denom()).checked_mul(*b.denom())?;
    let halves = numerator.trailing_zeros().min(denominator.trailing_zeros());
    Some(Ratio::new_raw(numerator >> halves, denominator >> halves))
}

/// How often `b` goes into `a`, in lowest terms.
fn quotient(a: Ratio<i64>, b: Ratio<i64>) -> Ratio<i64> {
    if *b.numer() == 1
        && a.denom().count_ones() == 1
        && let Some(numerator) = (*a.numer()).checked_mul(*b.denom())
        && b.denom().count_ones() == 1
    {
        let denominator = *a.denom();
        let halves = numerator.trailing_zeros().min(denominator.trailing_zeros());
        return Ratio::new_raw(numerator >> halves, denominator >> halves);
    }
    a / b
}

/// Which is more: exactly, for products of two `i64` fit an `i128`.
fn order(a: Ratio<i64>, b: Ratio<i64>) -> Ordering {
    if a.denom() == b.denom() {
        return a.numer().cmp(b.numer());
    }
    let product = |x: i64, y: i64| i128::from(x) * i128::from(y);
    product(*a.numer(), *b.denom()).cmp(&product(*b.numer(), *a.denom()))
}

impl Ord for Span {
    fn cmp(&self, other: &Self) -> Ordering {
        order(self.0, other.0)
    }
}

impl PartialOrd for Span {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Position {
    fn cmp(&self, other: &Self) -> Ordering {
        order(self.0, other.0)
    }
}

impl PartialOrd for Position {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Span {
    /// No length.
    pub const ZERO: Self = Self(Ratio::new_raw(0, 1));
    /// A whole note.
    pub const WHOLE: Self = Self(Ratio::new_raw(1, 1));
    /// A half note.
    pub const HALF: Self = Self(Ratio::new_raw(1, 2));
    /// A quarter note.
    pub const QUARTER: Self = Self(Ratio::new_raw(1, 4));
    /// An eighth note.
    pub const EIGHTH: Self = Self(Ratio::new_raw(1, 8));
    /// A sixteenth note.
    pub const SIXTEENTH: Self = Self(Ratio::new_raw(1, 16));

    /// `numerator` over `denominator` of a whole note, in lowest terms.
    ///
    /// # Panics
    /// If the denominator is zero or a number leaves [`MUSICAL_TIME`]. For numbers from outside use [`Span::checked_new`].
    #[must_use]
    pub const fn new(numerator: i64, denominator: i64) -> Self {
        assert!(denominator > 0, "the denominator of a span is positive");
        let (mut a, mut b) = (numerator.unsigned_abs(), denominator.unsigned_abs());
        while b != 0 {
            (a, b) = (b, a % b);
        }
        assert!(a <= MUSICAL_TIME.most.unsigned_abs());
        #[expect(
            clippy::cast_possible_wrap,
            reason = "a divisor of two i64 numbers of bounded size fits an i64"
        )]
        let divisor = a as i64;
        assert!(MUSICAL_TIME.holds(numerator) && denominator <= MUSICAL_TIME.most);
        Self(Ratio::new_raw(numerator / divisor, denominator / divisor))
    }

    /// `numerator` over `denominator` of a whole note, or `None` if that is no fraction within [`MUSICAL_TIME`].
    #[must_use]
    pub fn checked_new(numerator: i64, denominator: i64) -> Option<Self> {
        let bounded = MUSICAL_TIME.holds(numerator) && (1..=MUSICAL_TIME.most).contains(&denominator);
        bounded.then(|| Self(Ratio::new(numerator, denominator)))
    }

    /// The numerator in lowest terms; carries the sign.
    #[must_use]
    pub fn numerator(self) -> i64 {
        *self.0.numer()
    }

    /// The denominator in lowest terms; always positive.
    #[must_use]
    pub fn denominator(self) -> i64 {
        *self.0.denom()
    }

    /// The sum, or `None` if it leaves [`MUSICAL_TIME`].
    #[must_use]
    pub fn checked_add(self, other: Self) -> Option<Self> {
        sum(self.0, other.0).and_then(within).map(Self)
    }

    /// The difference, or `None` if it leaves [`MUSICAL_TIME`].
    #[must_use]
    pub fn checked_sub(self, other: Self) -> Option<Self> {
        sum(self.0, -other.0).and_then(within).map(Self)
    }

    /// `times` this length, or `None` if that leaves [`MUSICAL_TIME`].
    #[must_use]
    pub fn checked_mul(self, times: i64) -> Option<Self> {
        product(self.0, Ratio::from_integer(times)).and_then(within).map(Self)
    }

    /// This length as a multiple of `unit`, exactly: a dotted quarter in eighths is 3.
    ///
    /// # Panics
    /// If `unit` is zero or the result leaves an `i64`.
    #[must_use]
    pub fn in_units_of(self, unit: Self) -> Ratio<i64> {
        quotient(self.0, unit.0)
    }

    /// `ratio` times this length.
    ///
    /// # Panics
    /// If the result leaves [`MUSICAL_TIME`].
    #[must_use]
    pub fn scaled(self, ratio: Ratio<i64>) -> Self {
        product(self.0, ratio).and_then(within).map(Self).expect(OVERFLOW)
    }

    /// What remains of this length after as many whole `unit`s as fit; never negative.
    ///
    /// # Panics
    /// If `unit` is not positive.
    #[must_use]
    pub fn modulo(self, unit: Self) -> Self {
        assert!(unit > Self::ZERO, "a unit of musical time is positive");
        let whole = quotient(self.0, unit.0).floor();
        Self(self.0 - unit.0 * whole)
    }

    /// Whether this length is a whole number of `unit`s.
    ///
    /// # Panics
    /// If `unit` is zero.
    #[must_use]
    pub fn is_multiple_of(self, unit: Self) -> bool {
        quotient(self.0, unit.0).is_integer()
    }

    /// Whether this is longer than nothing.
    #[must_use]
    pub fn is_positive(self) -> bool {
        *self.0.numer() > 0
    }

    pub(crate) fn ratio(self) -> Ratio<i64> {
        self.0
    }
}

impl Position {
    /// Count 1 of the first full bar.
    pub const ZERO: Self = Self(Ratio::new_raw(0, 1));

    /// The distance from [`Position::ZERO`]; negative before it.
    #[must_use]
    pub fn since_zero(self) -> Span {
        Span(self.0)
    }

    /// The point `span` later, or `None` if it leaves [`MUSICAL_TIME`].
    #[must_use]
    pub fn checked_add(self, span: Span) -> Option<Self> {
        sum(self.0, span.0).and_then(within).map(Self)
    }
}

const OVERFLOW: &str = "musical time stays within its limit";

impl Add for Span {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        self.checked_add(other).expect(OVERFLOW)
    }
}

impl AddAssign for Span {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Span {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self.checked_sub(other).expect(OVERFLOW)
    }
}

impl SubAssign for Span {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Neg for Span {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Mul<i64> for Span {
    type Output = Self;
    fn mul(self, times: i64) -> Self {
        self.checked_mul(times).expect(OVERFLOW)
    }
}

impl Div<i64> for Span {
    type Output = Self;
    fn div(self, parts: i64) -> Self {
        within(self.0 / Ratio::from_integer(parts)).map(Self).expect(OVERFLOW)
    }
}

impl std::iter::Sum for Span {
    fn sum<I: Iterator<Item = Self>>(spans: I) -> Self {
        spans.fold(Self::ZERO, Add::add)
    }
}

impl Add<Span> for Position {
    type Output = Self;
    fn add(self, span: Span) -> Self {
        self.checked_add(span).expect(OVERFLOW)
    }
}

impl AddAssign<Span> for Position {
    fn add_assign(&mut self, span: Span) {
        *self = *self + span;
    }
}

impl Sub<Span> for Position {
    type Output = Self;
    fn sub(self, span: Span) -> Self {
        self + -span
    }
}

impl Sub for Position {
    type Output = Span;
    fn sub(self, other: Self) -> Span {
        Span(self.0) - Span(other.0)
    }
}

/// A fraction of a whole note in lowest terms: `0`, `1`, `3/8`, `-1/4`.
impl fmt::Display for Span {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A fraction of a whole note from count 1 of the first full bar: `0`, `3/8`, `-1/4`.
impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl FromStr for Span {
    type Err = Error;

    /// Reads what [`Span`]'s `Display` writes; `6/16` is read as `3/8`.
    fn from_str(text: &str) -> Result<Self, Error> {
        let wrong = || Error::NotAFraction(text.to_owned());
        let (numerator, denominator) = text.split_once('/').unwrap_or((text, "1"));
        let number = |digits: &str| digits.trim().parse::<i64>().map_err(|_| wrong());
        Self::checked_new(number(numerator)?, number(denominator)?).ok_or_else(wrong)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn span() -> impl Strategy<Value = Span> {
        (-10_000i64..10_000, 1i64..400).prop_map(|(n, d)| Span::new(n, d))
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_again(span in span()) {
            prop_assert_eq!(span.to_string().parse::<Span>(), Ok(span));
        }

        #[test]
        fn a_position_moved_and_moved_back_is_itself(a in span(), b in span()) {
            let at = Position::ZERO + a;
            prop_assert_eq!((at + b) - b, at);
            prop_assert_eq!((at + b) - at, b);
        }

        #[test]
        fn modulo_is_what_whole_units_leave(span in span(), unit in 1i64..64) {
            let unit = Span::new(1, unit);
            let rest = span.modulo(unit);
            prop_assert!(rest >= Span::ZERO && rest < unit);
            prop_assert!((span - rest).is_multiple_of(unit));
        }

        #[test]
        fn no_text_panics(text in ".{0,24}") {
            let _ = text.parse::<Span>();
        }
    }

    #[test]
    fn fractions_are_in_lowest_terms() {
        assert_eq!(Span::new(6, 16), Span::new(3, 8));
        assert_eq!("6/16".parse::<Span>(), Ok(Span::new(3, 8)));
    }

    #[test]
    fn overflow_is_none_and_not_a_wrong_number() {
        let large = Span::new(1 << 40, 1);
        assert_eq!(large.checked_add(Span::WHOLE), None);
        assert_eq!(large.checked_mul(2), None);
        assert_eq!(Span::checked_new(1, 0), None);
        assert_eq!(Span::checked_new(i64::MIN, 3), None);
    }

    /// Common practice, no source: two eighths fill a quarter, four quarters a whole; a dot adds half.
    #[test]
    fn note_values_add_up() {
        assert_eq!(Span::EIGHTH + Span::EIGHTH, Span::QUARTER);
        assert_eq!(Span::QUARTER * 4, Span::WHOLE);
        assert_eq!(Span::QUARTER + Span::QUARTER / 2, Span::new(3, 8));
    }
}
