use timebase::Span;

use crate::Meter;

/// A stretch of a bar that the meter makes one: the bar, half of it, a group, a beat, half a beat.
///
/// Cells form a tree. Where two children of a cell meet there is a boundary; the higher the cell, the
/// stronger the boundary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) at: Span,
    pub(super) length: Span,
    /// How many units of the meter it holds; a unit and its parts hold one, and divide in two.
    pub(super) units: i64,
    /// The meter of a bar that divides into its declared groups.
    groups: Option<Meter>,
}

impl Cell {
    /// A stretch without declared groups.
    pub(super) fn new(at: Span, length: Span, units: i64) -> Self {
        Self { at, length, units, groups: None }
    }

    /// The whole bar. Declared groups that the meter has by itself (4/4 in 2+2+2+2 eighths) take nothing
    /// from its middle; others are its only division (7/8 in 2+2+3, 4/4 in 3+3+2).
    pub(super) fn bar(meter: Meter) -> Self {
        let plain = Self::new(Span::ZERO, meter.bar_length(), i64::from(meter.beats()));
        let own = |(at, length): (Span, Span)| {
            let cell = plain.around(at, at + length);
            (cell.at, cell.length) == (at, length)
        };
        let groups = if meter.group_spans().all(own) { None } else { Some(meter) };
        Self { groups, ..plain }
    }

    /// Whether it is a bar whose division is the groups that were declared.
    pub(super) fn is_grouped(self) -> bool {
        self.groups.is_some()
    }

    /// Into how many children it divides first.
    ///
    /// Groups; else twos, then threes; nine in threes; what is neither (five, seven) into its units.
    pub(super) fn parts(self) -> i64 {
        if let Some(meter) = self.groups {
            return i64::try_from(meter.groups().len()).unwrap_or(1);
        }
        let twos_of_three = self.units % 3 == 0 && (self.units / 3).count_ones() == 1;
        match self.units {
            1 => 2,
            3 => 3,
            units if units.count_ones() == 1 || twos_of_three => 2,
            units if units % 3 == 0 => units / 3,
            units => units,
        }
    }

    /// Its children in order.
    pub(super) fn children(self) -> impl Iterator<Item = Self> {
        let parts = self.parts();
        let (length, units) = match self.groups {
            Some(meter) => (meter.group_unit(), 1),
            None => (self.length / parts, (self.units / parts).max(1)),
        };
        let mut at = self.at;
        (0..parts).map(move |index| {
            let group = self.groups.and_then(|meter| {
                usize::try_from(index).ok().and_then(|index| meter.groups().get(index).copied())
            });
            let child = match group {
                Some(group) => Self::new(at, length * i64::from(group), i64::from(group)),
                None => Self::new(at, length, units),
            };
            at = child.end();
            child
        })
    }

    pub(super) fn end(self) -> Span {
        self.at + self.length
    }

    pub(super) fn holds(self, at: Span, end: Span) -> bool {
        self.at <= at && end <= self.end()
    }

    /// The smallest cell of this one that holds everything from `at` to `end`.
    pub(super) fn around(self, at: Span, end: Span) -> Self {
        let mut cell = self;
        while let Some(child) = cell.children().find(|child| child.holds(at, end)) {
            cell = child;
        }
        cell
    }

    /// Whether it and its parts divide in two and in two again: short, long, short fits it.
    pub(super) fn is_in_fours(self) -> bool {
        !self.is_grouped() && self.units.count_ones() == 1
    }
}
