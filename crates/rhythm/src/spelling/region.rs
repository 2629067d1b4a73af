use timebase::{Ratio, Span};

use super::cell::Cell;
use super::{OuterTuplet, Tuplet};

/// A stretch of a bar that divides otherwise than its meter: `actual` in the time of `normal`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Region {
    pub(super) at: Span,
    pub(super) length: Span,
    pub(super) actual: u32,
    pub(super) normal: u32,
    /// Whether the author wrote it, so that its numbers are kept.
    pub(super) is_authors: bool,
}

impl Region {
    pub(super) fn end(&self) -> Span {
        self.at + self.length
    }

    /// How many times longer what stands in it is written than it lasts.
    fn stretch(&self) -> Ratio<i64> {
        Ratio::new(i64::from(self.actual), i64::from(self.normal))
    }

    /// What lasts `length` in it, as long as it is written.
    pub(super) fn written(&self, length: Span) -> Span {
        length.scaled(self.stretch())
    }
}

/// A region and what is around it, as a note that stands in it needs to know it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Standing {
    at: Span,
    length: Span,
    /// Of this region and the one around it.
    stretch: Ratio<i64>,
    pub(super) tuplet: Tuplet,
}

impl Standing {
    /// Where the place `at` of the bar lies in it, as it is written.
    pub(super) fn inside(&self, at: Span) -> Span {
        self.written(at - self.at)
    }

    /// The place of the bar that lies at `inside`.
    pub(super) fn outside(&self, inside: Span) -> Span {
        self.at + self.sounding(inside)
    }

    /// What lasts `length` in it, as long as it is written.
    pub(super) fn written(&self, length: Span) -> Span {
        length.scaled(self.stretch)
    }

    /// What is written `length` in it, as long as it lasts.
    pub(super) fn sounding(&self, length: Span) -> Span {
        length.scaled(self.stretch.recip())
    }

    /// The tuplet as a cell of its own, measured as it is written, beginning at 0.
    pub(super) fn cell(&self) -> Cell {
        let length = self.written(self.length);
        Cell::new(Span::ZERO, length, length.numerator())
    }
}

/// All tuplets of a bar in the order of their places, an outer before its inner: the index of a tuplet is
/// its place in this list.
#[derive(Clone, Debug, Default)]
pub(super) struct Regions {
    all: Vec<Region>,
    /// Those that no other is around, and those that stand in another; either are disjoint and in order.
    tops: Vec<usize>,
    inners: Vec<usize>,
    /// For every region the one around it.
    around: Vec<Option<usize>>,
}

impl Regions {
    /// Regions of which none overlap but those that stand one in another, the outer first.
    pub(super) fn new(mut all: Vec<Region>) -> Self {
        all.sort_by_key(|region| region.at);
        let (mut tops, mut inners) = (Vec::new(), Vec::new());
        let mut around = Vec::with_capacity(all.len());
        for (index, region) in all.iter().enumerate() {
            let outer = tops.last().copied().filter(|&top: &usize| region.at < all[top].end());
            around.push(outer);
            if outer.is_some() { inners.push(index) } else { tops.push(index) }
        }
        Self { all, tops, inners, around }
    }

    pub(super) fn len(&self) -> usize {
        self.all.len()
    }

    pub(super) fn all(&self) -> &[Region] {
        &self.all
    }

    /// The outermost tuplet that a note stands in, if it is one of these.
    pub(super) fn outermost(&self, tuplet: Option<Tuplet>) -> Option<&Region> {
        let tuplet = tuplet?;
        self.all.get(tuplet.outer.map_or(tuplet.index, |outer| outer.index))
    }

    fn standing(&self, index: usize) -> Standing {
        let region = self.all[index];
        let outer = self.around[index].map(|outer| (outer, self.all[outer]));
        let stretch = outer.map_or(Ratio::from_integer(1), |(_, outer)| outer.stretch());
        let outer =
            outer.map(|(index, outer)| OuterTuplet { actual: outer.actual, normal: outer.normal, index });
        let tuplet = Tuplet { actual: region.actual, normal: region.normal, index, outer };
        Standing { at: region.at, length: region.length, stretch: stretch * region.stretch(), tuplet }
    }
}

/// A walk through the tuplets of a bar, from left to right.
#[derive(Clone, Copy, Debug)]
pub(super) struct Walk<'a> {
    regions: &'a Regions,
    top: usize,
    inner: usize,
}

impl<'a> Walk<'a> {
    pub(super) fn new(regions: &'a Regions) -> Self {
        Self { regions, top: 0, inner: 0 }
    }

    /// The innermost tuplet at `at`, and where the next outermost tuplet begins or this one ends. `at` never
    /// goes back.
    pub(super) fn step(&mut self, at: Span) -> (Option<Standing>, Option<Span>) {
        let Regions { all, tops, inners, .. } = self.regions;
        while tops.get(self.top).is_some_and(|&top| all[top].end() <= at) {
            self.top += 1;
        }
        let Some(&top) = tops.get(self.top) else { return (None, None) };
        if at < all[top].at {
            return (None, Some(all[top].at));
        }
        while inners.get(self.inner).is_some_and(|&inner| all[inner].end() <= at) {
            self.inner += 1;
        }
        let inner = inners.get(self.inner).copied().filter(|&inner| all[inner].at <= at);
        (Some(self.regions.standing(inner.unwrap_or(top))), Some(all[top].end()))
    }
}
