use timebase::Span;

use super::region::Standing;
use super::{Note, Tuplet, Value};
use crate::Deed;

/// What shows a length: a value, its dots, and a ratio of its own where no dotted value is so long.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Symbol {
    value: Value,
    dots: u8,
    own: Option<(u32, u32)>,
}

impl Symbol {
    /// The value with at most so many dots that lasts `length` as written, or `None`.
    pub(super) fn of(length: Span, most_dots: u8) -> Option<Self> {
        // A dot adds half, a second dot a quarter: 1, 3/2, 7/4 of the value. So a value of so many halvings
        // of a whole note with so many dots is 1, 3 or 7 of as many halvings more.
        let dots: u8 = match length.numerator() {
            1 => 0,
            3 => 1,
            7 => 2,
            _ => return None,
        };
        if dots > most_dots || !length.denominator().is_positive() || length.denominator().count_ones() != 1 {
            return None;
        }
        let halvings = length.denominator().trailing_zeros().checked_sub(u32::from(dots))?;
        let value = *Value::ALL.get(usize::try_from(halvings).ok()?)?;
        Some(Self { value, dots, own: None })
    }

    /// The longest value that is not longer than `length`, in a ratio of its own that makes it exact. A
    /// ratio too large for the page is cut short; the note's length stays exact all the same.
    pub(super) fn exact(length: Span) -> Self {
        let value = Value::ALL.into_iter().find(|v| v.span() <= length).unwrap_or(Value::SixtyFourth);
        let ratio = length.in_units_of(value.span());
        let part = |number: i64| u32::try_from(number).unwrap_or(u32::MAX);
        Self { value, dots: 0, own: Some((part(*ratio.denom()), part(*ratio.numer()))) }
    }

    /// Whether it has a ratio of its own.
    pub(super) fn is_odd(self) -> bool {
        self.own.is_some()
    }

    /// The note of this symbol; `spare` is the tuplet index for a ratio of its own.
    pub(super) fn note(
        self,
        at: Span,
        length: Span,
        deed: Deed,
        standing: Option<Standing>,
        spare: usize,
    ) -> Note {
        let tuplet = match (self.own, standing.map(|standing| standing.tuplet)) {
            (None, tuplet) => tuplet,
            (Some((actual, normal)), None) => Some(Tuplet { actual, normal, index: spare, outer: None }),
            // No deeper than one in another: its ratio takes up that of the tuplet it stands in.
            (Some((actual, normal)), Some(around)) => Some(Tuplet {
                actual: actual.saturating_mul(around.actual),
                normal: normal.saturating_mul(around.normal),
                index: spare,
                outer: around.outer,
            }),
        };
        let Self { value, dots, .. } = self;
        Note { at, length, deed, value, dots, tuplet, beam: None, whole_bar: false }
    }
}
