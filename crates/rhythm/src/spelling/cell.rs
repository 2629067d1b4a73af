use timebase::Span;

use crate::Meter;

/// A stretch of a bar that the meter makes one: the bar, half of it, a beat, half a beat.
///
/// Cells form a tree. Where two children of a cell meet there is a boundary; the higher the cell, the
/// stronger the boundary.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) at: Span,
    pub(super) length: Span,
    /// How many units of the meter it holds; a unit and its parts hold one, and divide in two.
    pub(super) units: i64,
}

impl Cell {
    /// The whole bar.
    pub(super) fn bar(meter: Meter) -> Self {
        Self { at: Span::ZERO, length: meter.bar_length(), units: i64::from(meter.beats()) }
    }

    /// Into how many equal children it divides first.
    ///
    /// Twos, then threes; nine in threes; what is neither (five, seven) into its units.
    pub(super) fn parts(self) -> i64 {
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
        let (length, units) = (self.length / self.parts(), (self.units / self.parts()).max(1));
        (0..self.parts()).map(move |index| Self { at: self.at + length * index, length, units })
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
        self.units.count_ones() == 1
    }
}
