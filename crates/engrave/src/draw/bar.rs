//! A bar of one staff around its line, from the inside out: what is drawn later keeps clear of what is there.

use super::canvas::Canvas;
use super::{beams, marks, notes, rest, staff, ties, tuplets};
use crate::metrics::{BAR_LINE_REACH, STEM_LENGTH, UNDER};
use crate::placing::Placed;
use crate::plan::Plan;
use crate::voice::Voice;
use crate::{Item, Layout};

/// A drawn bar, its staff's line at y = 0.
#[derive(Clone, Debug)]
pub(crate) struct BarInk {
    pub(crate) items: Vec<Item>,
    /// The highest y it reaches, at least that of a stem.
    pub(crate) top: f64,
    /// The lowest y that notes, rests and ties reach.
    pub(crate) bottom: f64,
}

/// Where a bar stands in its system.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Standing {
    /// Which staff from the top.
    pub(crate) staff: usize,
    /// How many lines are joined.
    pub(crate) lines: usize,
    /// Whether it is the first of its system.
    pub(crate) is_first: bool,
}

/// Draws the meter that is told at a system's end.
pub(crate) fn told(plan: &Plan, left: f64, staff: usize, layout: &Layout) -> BarInk {
    let mut canvas = Canvas::from(left);
    if plan.parts[staff].voice != Voice::Lower {
        staff::meter(&mut canvas, plan, left, staff == 0, layout);
    }
    let (items, top) = canvas.finish();
    BarInk { items, top, bottom: UNDER }
}

/// Draws everything of a bar that stands on or over its staff, but for what stands in line over a whole system. Of the
/// lower of two voices on a line that is what stands under it.
pub(crate) fn bar(plan: &Plan, bar: &Placed, standing: Standing, layout: &Layout) -> BarInk {
    let part = &plan.parts[standing.staff];
    let (signs, off_line) = (&part.signs, part.voice.off_line());
    let stem = STEM_LENGTH + off_line;
    let mut canvas = Canvas::from(bar.left);
    if part.voice == Voice::Lower {
        canvas = canvas.turned();
        canvas.raise(off_line);
        if plan.joined.is_none() {
            notes::notes(&mut canvas, signs, bar);
            beams::beams(&mut canvas, signs, bar);
        }
        marks::accents(&mut canvas, signs, bar);
        tuplets::tuplets(&mut canvas, signs, bar);
        marks::fermatas(&mut canvas, signs, bar);
        let (items, reached) = canvas.finish();
        return BarInk { items, top: 0.0, bottom: stem.max(-reached) };
    }
    staff::signs(&mut canvas, plan, bar, standing, layout);
    if plan.joined.is_none() {
        canvas.raise(off_line);
        notes::notes(&mut canvas, signs, bar);
        beams::beams(&mut canvas, signs, bar);
        canvas.raise(0.0);
    } else {
        rest::joined(&mut canvas, plan, bar);
    }
    if layout.bar_numbers && standing.staff == 0 {
        // Ties of the upper of two voices lead over the bar line.
        let floor = if part.voice == Voice::Upper { ties::highest() } else { -BAR_LINE_REACH };
        staff::number(&mut canvas, plan, bar, floor, layout);
    }
    canvas.raise(off_line);
    marks::accents(&mut canvas, signs, bar);
    tuplets::tuplets(&mut canvas, signs, bar);
    marks::fermatas(&mut canvas, signs, bar);
    let (items, top) = canvas.finish();
    BarInk { items, top: top.min(-stem), bottom: UNDER }
}
