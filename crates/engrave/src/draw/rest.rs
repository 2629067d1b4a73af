use kurbo::Rect;

use super::canvas::Canvas;
use crate::placing::Placed;
use crate::plan::Plan;
use crate::{Glyph, Ink, Item};

/// Half the thickness of the bar of several bars of rest.
const HALF_THICK: f64 = 0.35;
/// How far the strokes at its ends reach over and under the line.
const END_REACH: f64 = 1.0;
/// Thickness of those strokes.
const END_WIDTH: f64 = 0.2;
/// What is kept free at both of its ends.
const CLEAR: f64 = 1.0;
/// From the staff's line to the middle of the number over it.
const NUMBER: f64 = 2.5;

/// Several bars of rest drawn as one, with their number: all of it in the first of them.
pub(super) fn joined(canvas: &mut Canvas, plan: &Plan, bar: &Placed) {
    let Some(joined) = plan.joined.filter(|joined| joined.index == 1) else { return };
    // The bars that are joined stand close together, each as wide as the others but for the closing line.
    let each = bar.right - bar.inner_left;
    let width = each * f64::from(joined.of);
    let (left, right) = (bar.inner_left + CLEAR, bar.inner_left + width - CLEAR);
    canvas.solid(Item::block(Rect::new(left, -HALF_THICK, right, HALF_THICK), Ink::Main));
    for x in [left, right] {
        canvas.line((x, -END_REACH), (x, END_REACH), END_WIDTH);
    }
    canvas.digits_about(&Glyph::meter_digits(joined.of), f64::midpoint(left, right), -NUMBER);
}
