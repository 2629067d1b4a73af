use timebase::Span;

use super::Value;
use super::cell::Cell;
use super::symbol::Symbol;
use crate::{Deed, Meter};

/// A part of an event on its way to become one symbol.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Piece {
    pub(super) at: Span,
    pub(super) length: Span,
    pub(super) deed: Deed,
}

impl Piece {
    pub(super) fn end(self) -> Span {
        self.at + self.length
    }

    /// The piece up to `end`, and what goes on after it.
    pub(super) fn parted(self, end: Span) -> (Self, Self) {
        let deed = if self.deed == Deed::Rest { Deed::Rest } else { Deed::Hold };
        (Self { length: end - self.at, ..self }, Self { at: end, length: self.end() - end, deed })
    }
}

/// What the meter allows beyond the general rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Rules {
    /// The longest cell in which short, long (sixteenth, dotted eighth) is one symbol each.
    short_long: Span,
    /// Whether two units of a cell of three are one rest, and three of them a dotted one.
    threes_join: bool,
    /// What the grid divides in two, and in two again.
    unit: Span,
}

impl Rules {
    pub(super) fn bar(meter: Meter) -> Self {
        let unit = Span::new(1, i64::from(meter.unit()));
        if !meter.groups().is_empty() && Cell::bar(meter).is_grouped() {
            // Two units of a group are its beat where they are no longer than a quarter (7/8, 4/4 in eighths).
            let unit = meter.group_unit();
            let short_long = if unit * 2 <= Span::QUARTER { unit * 2 } else { unit };
            return Self { short_long, threes_join: unit < Span::QUARTER, unit };
        }
        let felt = meter.felt_beat();
        let beat_in_two = felt.numerator() != 3 && felt < meter.bar_length() && felt > unit;
        // A waltz felt in one is still written with a rest a quarter: no half rest in 3/4.
        let waltz = meter.beats() == 3 && meter.unit() == 4;
        Self {
            short_long: if beat_in_two { felt } else { unit },
            threes_join: felt.in_units_of(unit) == 3.into() && !waltz,
            unit,
        }
    }

    pub(super) fn tuplet(cell: Cell) -> Self {
        let unit = cell.length / cell.units.max(1);
        Self { short_long: unit, threes_join: true, unit }
    }

    /// Whether a piece is a unit or what is left of one when it is halved again and again: one symbol
    /// under any rule.
    fn is_part_of_a_unit(&self, piece: Piece) -> bool {
        let (at, length) = (piece.at.denominator(), piece.length.denominator());
        piece.length.numerator() == 1
            && length.count_ones() == 1
            && at.count_ones() == 1
            && at <= length
            && length >= self.unit.denominator()
            && self.unit.numerator() == 1
    }
}

/// Cuts what lies inside `grid` into symbols by the rules for counts.
pub(super) fn cut(grid: Cell, rules: Rules, piece: Piece) -> Vec<Piece> {
    let mut parts = Vec::with_capacity(2);
    if rules.is_part_of_a_unit(piece) {
        parts.push(piece);
    } else if piece.deed == Deed::Rest {
        cut_rest(grid, rules, piece, &mut parts);
    } else {
        cut_note(grid, rules, piece, &mut parts);
    }
    parts
}

fn cut_note(grid: Cell, rules: Rules, piece: Piece, parts: &mut Vec<Piece>) {
    let mut rest = piece;
    loop {
        if rest.length <= Value::SixtyFourth.span() {
            parts.push(rest);
            return;
        }
        let cell = grid.around(rest.at, rest.end());
        if is_one(cell, rules, rest) {
            parts.push(rest);
            return;
        }
        // Of equally strong boundaries, the last that leaves one symbol before it: as few as possible.
        let boundaries =
            || cell.children().map(|child| child.at).filter(|&at| rest.at < at && at < rest.end());
        let leaves_one = |&at: &Span| {
            let before = rest.parted(at).0;
            is_one(grid.around(before.at, before.end()), rules, before)
        };
        let Some(at) = boundaries().filter(leaves_one).last().or_else(|| boundaries().next()) else {
            // The smallest cell around a piece has a boundary inside it unless the piece is that cell.
            parts.push(rest);
            return;
        };
        let (before, after) = rest.parted(at);
        cut_note(grid, rules, before, parts);
        rest = after;
    }
}

/// Whether one symbol may stand for a piece whose smallest cell is `cell`.
fn is_one(cell: Cell, rules: Rules, piece: Piece) -> bool {
    if Symbol::of(piece.length, 1).is_none() {
        return false;
    }
    // The strongest boundaries inside the piece are those between the cell's children; it crosses none
    // stronger than its beginning if it begins at one of them. Across beats in three it lasts whole beats
    // (from memory): four eighths of 6/8 are no half note.
    if cell.children().any(|child| child.at == piece.at) {
        // Across declared groups it lasts whole groups (from memory).
        if cell.is_grouped() {
            return cell.children().any(|child| child.end() == piece.end());
        }
        let beat_in_three = cell.length / cell.units * 3;
        let across_threes = cell.units > 3 && cell.units % 3 == 0;
        return !across_threes || (piece.end() - cell.at).is_multiple_of(beat_in_three);
    }
    let from_cell = (piece.at - cell.at) * 4;
    let a_quarter_in = cell.is_in_fours() && from_cell == cell.length;
    let short_long_short = piece.length * 2 == cell.length;
    let short_long = piece.end() == cell.end() && cell.length <= rules.short_long;
    a_quarter_in && (short_long_short || short_long)
}

fn cut_rest(cell: Cell, rules: Rules, piece: Piece, parts: &mut Vec<Piece>) {
    let (at, end) = (piece.at.max(cell.at), piece.end().min(cell.end()));
    if at >= end {
        return;
    }
    let here = Piece { at, length: end - at, deed: Deed::Rest };
    let full = here.length == cell.length;
    let dotted = cell.units == 3 && rules.threes_join && !cell.is_grouped();
    // Two units are half a bar of four: the half rest on beats 1–2 and 3–4.
    let plain = matches!(cell.units, 1 | 2) && !cell.is_grouped();
    if full && (dotted || plain) && Symbol::of(here.length, 1).is_some()
        || cell.length <= Value::SixtyFourth.span()
    {
        parts.push(here);
        return;
    }
    if dotted {
        let unit = cell.length / 3;
        let covered =
            |index: i64| here.at <= cell.at + unit * index && cell.at + unit * (index + 1) <= here.end();
        let pair =
            (0..2).find(|&index| covered(index) && covered(index + 1)).map(|index| cell.at + unit * index);
        if let Some(at) = pair {
            for child in cell.children() {
                if child.at == at {
                    parts.push(Piece { at, length: unit * 2, deed: Deed::Rest });
                } else if child.at != at + unit {
                    cut_rest(child, rules, here, parts);
                }
            }
            return;
        }
    }
    for child in cell.children() {
        cut_rest(child, rules, here, parts);
    }
}
