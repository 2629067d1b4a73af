use timebase::{Ratio, Span};

use super::tuplet::Region;
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
        // A dot adds half, a second dot a quarter: 1, 3/2, 7/4 of the value.
        const WITH_DOTS: [(u8, i64, i64); 3] = [(0, 1, 1), (1, 3, 2), (2, 7, 4)];
        let times = |value: Value| length.in_units_of(value.span());
        WITH_DOTS.iter().filter(|(dots, ..)| *dots <= most_dots).find_map(
            |&(dots, numerator, denominator)| {
                let value =
                    Value::ALL.into_iter().find(|&v| times(v) == Ratio::new(numerator, denominator))?;
                Some(Self { value, dots, own: None })
            },
        )
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
        region: Option<(usize, &Region)>,
        spare: usize,
    ) -> Note {
        let (actual, normal) = region.map_or((1, 1), |(_, region)| (region.actual, region.normal));
        let tuplet = match self.own {
            Some((own_actual, own_normal)) => Some(Tuplet {
                actual: own_actual.saturating_mul(actual),
                normal: own_normal.saturating_mul(normal),
                index: spare,
            }),
            None => region.map(|(index, _)| Tuplet { actual, normal, index }),
        };
        let Self { value, dots, .. } = self;
        Note { at, length, deed, value, dots, tuplet, beam: None, whole_bar: false }
    }
}
