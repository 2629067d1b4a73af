use timebase::{Ratio, Span};

/// Reads a number as the standard writes it, `12`, `0.5`, `+3`; exactly, to six decimals.
pub(super) fn decimal(text: &str) -> Option<Ratio<i64>> {
    let digits = text.strip_prefix('+').unwrap_or(text);
    let all_digits = |d: &str| d.bytes().all(|byte| byte.is_ascii_digit());
    if !digits.is_empty() && digits.len() <= 15 && all_digits(digits) {
        return digits.parse().ok().map(Ratio::from_integer);
    }
    let (negative, digits) = match digits.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, digits),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    if whole.len() + part.len() == 0 || whole.len() > 12 || !all_digits(whole) || !all_digits(part) {
        return None;
    }
    let part = &part[..part.len().min(6)];
    let scale = 10_i64.pow(u32::try_from(part.len()).ok()?);
    let whole: i64 = if whole.is_empty() { 0 } else { whole.parse().ok()? };
    let part: i64 = if part.is_empty() { 0 } else { part.parse().ok()? };
    let ratio = Ratio::new(whole * scale + part, scale);
    let signed = if negative { -ratio } else { ratio };
    // A negative length is none, but minus nothing is nothing.
    (*signed.numer() >= 0).then_some(signed)
}

/// So many `divisions` of a quarter as a fraction of a whole note; `None` if that is no span.
pub(super) fn wholes(ticks: Ratio<i64>, divisions: Ratio<i64>) -> Option<Span> {
    if *ticks.denom() == 1 && *divisions.denom() == 1 {
        return Span::checked_new(*ticks.numer(), divisions.numer().checked_mul(4)?);
    }
    let wide = |number: &i64| i128::from(*number);
    let exact = Ratio::new(
        wide(ticks.numer()) * wide(divisions.denom()),
        wide(ticks.denom()) * wide(divisions.numer()) * 4,
    );
    Span::checked_new(i64::try_from(*exact.numer()).ok()?, i64::try_from(*exact.denom()).ok()?)
}

/// Reads a whole number up to a thousand.
pub(super) fn small(text: &str) -> Option<u32> {
    text.trim().parse().ok().filter(|&number| number <= 1_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_exactly() {
        let check = |text: &str, expected: Option<(i64, i64)>| {
            assert_eq!(decimal(text), expected.map(|(upper, lower)| Ratio::new(upper, lower)), "{text}");
        };
        check("12", Some((12, 1)));
        check("0.5", Some((1, 2)));
        check("+3", Some((3, 1)));
        check(".25", Some((1, 4)));
        check("7.", Some((7, 1)));
        check("-0", Some((0, 1)));
        for wrong in ["", ".", "-1", "1e3", "½", "0x1", "1 2", "9999999999999999999"] {
            check(wrong, None);
        }
    }
}
