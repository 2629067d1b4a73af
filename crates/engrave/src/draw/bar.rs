//! A bar of one staff around its line, from the inside out: what is drawn later keeps clear of what is there.

use super::canvas::Canvas;
use super::{beams, marks, notes, rest, staff, tuplets};
use crate::metrics::STEM_LENGTH;
use crate::placing::Placed;
use crate::plan::Plan;
use crate::{Item, Layout};

/// A drawn bar, its staff's line at y = 0.
#[derive(Clone, Debug)]
pub(crate) struct BarInk {
    pub(crate) items: Vec<Item>,
    /// The highest y it reaches, at least that of a stem.
    pub(crate) top: f64,
}

/// Where a bar stands in its system.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Standing {
    /// Which staff from the top.
    pub(crate) staff: usize,
    /// How many staves are joined.
    pub(crate) staves: usize,
    /// Whether it is the first of its system.
    pub(crate) is_first: bool,
}

/// Draws the meter that is told at a system's end.
pub(crate) fn told(plan: &Plan, left: f64, staff: usize, layout: &Layout) -> BarInk {
    let mut canvas = Canvas::from(left);
    staff::meter(&mut canvas, plan, left, staff == 0, layout);
    let (items, top) = canvas.finish();
    BarInk { items, top }
}

/// Draws everything of a bar that stands on or over its staff, but for what stands in line over a whole system.
pub(crate) fn bar(plan: &Plan, bar: &Placed, standing: Standing, layout: &Layout) -> BarInk {
    let mut canvas = Canvas::from(bar.left);
    let signs = &plan.parts[standing.staff].signs;
    staff::signs(&mut canvas, plan, bar, standing, layout);
    if plan.joined.is_none() {
        notes::notes(&mut canvas, signs, bar);
        beams::beams(&mut canvas, signs, bar);
    } else {
        rest::joined(&mut canvas, plan, bar);
    }
    if layout.bar_numbers && standing.staff == 0 {
        staff::number(&mut canvas, plan, bar, layout);
    }
    marks::accents(&mut canvas, signs, bar);
    tuplets::tuplets(&mut canvas, signs, bar);
    marks::fermatas(&mut canvas, signs, bar);
    let (items, top) = canvas.finish();
    BarInk { items, top: top.min(-STEM_LENGTH) }
}
