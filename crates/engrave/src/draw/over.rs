//! Small print in a line over the notes of a system.

use kurbo::Point;

use crate::engraving::System;
use crate::font::Weight;
use crate::metrics::{BRACKET, ENDING_RISE, PRINT_ROOM};
use crate::placing::{Placed, closing};
use crate::plan::Plan;
use crate::plan::over::Over;
use crate::{Anchor, Ink, Item, Layout};

/// From a bar line to the small print over the bar.
const LEAD: f64 = 0.5;
/// From the small print over the end of a bar to its bar line.
const TAIL: f64 = 0.3;
/// What is kept free between small print and the middle of a bracket over it.
const ENDING_CLEAR: f64 = 0.3;
/// How far the hooks of that bracket reach under the base line.
const ENDING_HOOK: f64 = 0.2;
/// What is kept free over small print.
const PRINT_CLEAR: f64 = 0.5;

/// What stands over the notes of a bar: which time it is or which times play it, signs, changes of tempo, where to go
/// on.
pub(super) fn print(items: &mut Vec<Item>, plan: &Plan, bar: &Placed, system: &System, layout: &Layout) {
    let (y, size) = (system.print, layout.print.small());
    let mut x = bar.left + LEAD;
    for over in &plan.over_start {
        one(items, over, Point::new(x, y), size);
        x += over.width(size) + Over::GAP;
    }
    let mut x = bar.right - TAIL;
    for over in &plan.over_end {
        x -= over.width(size);
        one(items, over, Point::new(x, y), size);
        x -= Over::GAP;
    }
    if let Some(times) = plan.times() {
        // Left of the sign, so that it does not run into what stands over the next bar.
        let at = (bar.right - closing(plan), y);
        items.push(Item::text(times, at, Over::TIMES * size, Weight::Bold, Anchor::End, Ink::Main));
    }
    if let Some(ending) = plan.ending {
        let top = system.endings;
        let left = bar.left + if ending.begins { 0.0 } else { -BRACKET };
        let mut line =
            |from: (f64, f64), to: (f64, f64)| items.push(Item::line(from, to, BRACKET, Ink::Main));
        line((left, top), (bar.right, top));
        if ending.begins {
            let x = bar.left + BRACKET / 2.0;
            line((x, top), (x, y + ENDING_HOOK));
        }
        if ending.ends && ending.is_closed {
            let x = bar.right - BRACKET / 2.0;
            line((x, top), (x, y + ENDING_HOOK));
        }
    }
}

fn one(items: &mut Vec<Item>, over: &Over, at: Point, size: f64) {
    match over {
        Over::Words(words) => {
            items.push(Item::text(words.clone(), at, size, Weight::Regular, Anchor::Start, Ink::Soft));
        }
        Over::Sign(glyph) => {
            let (bounds, scale) = (glyph.bounds(), Over::SIGN_SCALE);
            let at = at - (bounds.x0 * scale, bounds.y1 * scale);
            items.push(Item::Glyph { glyph: *glyph, at, scale, ink: Ink::Main });
        }
        Over::Tempo(tempo) => items.extend(tempo.items(at, size, Ink::Main)),
    }
}

/// From the base line of small print up to the bracket of an ending: over all that stands under it, and so much in any
/// other bar.
pub(crate) fn ending_rise(plan: &Plan, layout: &Layout) -> f64 {
    let under = plan.over_start.iter().chain(&plan.over_end).filter(|_| plan.ending.is_some());
    let heights = under.map(|over| over.height(layout.print.small()) + ENDING_CLEAR);
    heights.fold(ENDING_RISE, f64::max)
}

/// What the small print over a bar takes, without a bracket; 0 where nothing stands over it.
pub(crate) fn print_room(plan: &Plan, layout: &Layout) -> f64 {
    let over = plan.over_start.iter().chain(&plan.over_end);
    let heights = over.map(|over| over.height(layout.print.small()) + PRINT_CLEAR);
    let highest = heights.fold(0.0, f64::max);
    if highest > 0.0 || plan.times().is_some() || plan.ending.is_some() {
        highest.max(PRINT_ROOM)
    } else {
        0.0
    }
}
