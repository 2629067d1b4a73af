use timebase::Span;

use crate::limits::{TUPLET_DEPTH, TUPLET_PARTS};

/// A stretch of a bar that its author divided otherwise than its meter: `actual` in the time of `normal`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Tuplet {
    /// Where it begins, from where the full bar begins.
    pub at: Span,
    /// How long it lasts; positive.
    pub length: Span,
    /// How many are played.
    pub actual: u32,
    /// In the time of how many.
    pub normal: u32,
}

impl Tuplet {
    /// Where it ends.
    #[must_use]
    pub fn end(&self) -> Span {
        self.at + self.length
    }

    /// Whether the whole of `at` to `end` lies in it.
    #[must_use]
    pub fn holds(&self, at: Span, end: Span) -> bool {
        self.at <= at && end <= self.end()
    }

    /// What lasts `length` in it, as long as it is written there.
    #[must_use]
    pub fn written(&self, length: Span) -> Span {
        length * i64::from(self.actual) / i64::from(self.normal)
    }

    /// What is written `length` in it, as long as it lasts.
    #[must_use]
    pub fn sounding(&self, length: Span) -> Span {
        length * i64::from(self.normal) / i64::from(self.actual)
    }
}

/// Whether tuplets in the order of their places, an outer before its inner, stand side by side or one inside
/// another, at most [`TUPLET_DEPTH`] deep, with numbers that are allowed, each as long as `actual` of one note
/// value. The first that does not is told.
pub(crate) fn first_wrong(tuplets: &[Tuplet]) -> Option<Tuplet> {
    let mut open: Vec<Tuplet> = Vec::new();
    tuplets.iter().copied().find(|tuplet| {
        while open.last().is_some_and(|outer| outer.end() <= tuplet.at) {
            open.pop();
        }
        let inside = open.last().is_none_or(|outer| outer.holds(tuplet.at, tuplet.end()));
        let numbers = [tuplet.actual, tuplet.normal].iter().all(|&n| TUPLET_PARTS.holds(i64::from(n)));
        open.push(*tuplet);
        let deep = i64::try_from(open.len()).unwrap_or(i64::MAX) <= TUPLET_DEPTH.most;
        if !(inside && numbers && deep && tuplet.length.is_positive()) {
            return true;
        }
        let written = open.iter().fold(tuplet.length, |length, tuplet| tuplet.written(length));
        let one = written / i64::from(tuplet.actual);
        one.numerator().count_ones() != 1 || one.denominator().count_ones() != 1
    })
}
