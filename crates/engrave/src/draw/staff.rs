use kurbo::Point;

use super::Pen;
use crate::engraving::System;
use crate::font::Weight;
use crate::metrics::{
    BAR_GAP, BAR_LINE_REACH, BRACKET, ENDING_RISE, REPEAT_DOT_GAP, SMALL_SIZE, STAFF_LINE, THICK_BAR,
    THIN_BAR,
};
use crate::placing::{Placed, meter_label, meter_width};
use crate::plan::{Closing, Plan, Print};
use crate::{Anchor, Glyph, Ink, Item};

/// Where small print stands over the bar lines.
const SMALL_PRINT: f64 = 1.75;
/// From the staff's line to the middle of a meter's digits, which are two spaces high.
const METER_DIGIT: f64 = 1.12;
/// The em of the number of times that a passage is played.
const TIMES_SIZE: f64 = 1.5;
/// From a bar line to the small print over the bar.
const PRINT_LEAD: f64 = 0.5;
/// What is kept free between a sign and the middle of a bracket over it.
const ENDING_CLEAR: f64 = 0.3;
/// How far the hooks of that bracket reach under the base line.
const ENDING_HOOK: f64 = 0.2;
/// Half the distance of a repeat's two dots.
const REPEAT_DOT: f64 = 0.5;

/// The one line.
pub(super) fn staff(pen: &mut Pen, system: &System) {
    pen.line((system.left, system.staff), (system.right, system.staff), STAFF_LINE);
}

/// Clef, meter, repeat signs and the closing bar line.
pub(super) fn signs(pen: &mut Pen, plan: &Plan, bar: &Placed, first_of_system: bool, system: &System) {
    let y = system.staff;
    if first_of_system {
        pen.glyph(Glyph::Clef, bar.left + 0.6, y);
    }
    if plan.shows_meter {
        meter(pen, plan, bar, y);
    }
    if plan.opens_repeat {
        let dots = bar.inner_left - Glyph::RepeatDot.bounds().width();
        let thin = dots - REPEAT_DOT_GAP - THIN_BAR;
        let thick = thin - BAR_GAP - THICK_BAR;
        // Right behind a bar line the thick line takes its place.
        let thick = if first_of_system || plan.shows_meter { thick } else { bar.left - THIN_BAR };
        line(pen, thick, THICK_BAR, y);
        line(pen, thin, THIN_BAR, y);
        repeat_dots(pen, dots, y);
    }
    closing(pen, plan, bar, system);
}

fn meter(pen: &mut Pen, plan: &Plan, bar: &Placed, y: f64) {
    let middle = bar.meter_at + meter_width(plan) / 2.0;
    pen.digits_about(&Glyph::meter_digits(plan.meter.beats()), middle, y - METER_DIGIT);
    pen.digits_about(&Glyph::meter_digits(plan.meter.unit()), middle, y + METER_DIGIT);
    if let Some(label) = meter_label(plan.meter) {
        small(pen, &label, (bar.meter_at, y - 2.55), Anchor::Start);
    }
}

fn closing(pen: &mut Pen, plan: &Plan, bar: &Placed, system: &System) {
    let y = system.staff;
    if plan.closes_repeat.is_none() && !plan.is_last {
        line(pen, bar.right - THIN_BAR, THIN_BAR, y);
        return;
    }
    let thick = bar.right - THICK_BAR;
    let thin = thick - BAR_GAP - THIN_BAR;
    line(pen, thick, THICK_BAR, y);
    line(pen, thin, THIN_BAR, y);
    if let Some(Closing { times }) = plan.closes_repeat {
        repeat_dots(pen, thin - REPEAT_DOT_GAP - Glyph::RepeatDot.bounds().width(), y);
        if let Some(times) = times.filter(|&times| times > 2) {
            let (at, text) = ((bar.right, system.print), format!("{times}×"));
            pen.add(Item::text(text, at, TIMES_SIZE, Weight::Bold, Anchor::End, Ink::Main));
        }
    }
}

/// A bar line whose left edge is at `x`.
fn line(pen: &mut Pen, x: f64, width: f64, y: f64) {
    let x = x + width / 2.0;
    pen.line((x, y - BAR_LINE_REACH), (x, y + BAR_LINE_REACH), width);
}

fn repeat_dots(pen: &mut Pen, x: f64, y: f64) {
    pen.glyph(Glyph::RepeatDot, x, y - REPEAT_DOT);
    pen.glyph(Glyph::RepeatDot, x, y + REPEAT_DOT);
}

/// The bar's number over its beginning.
pub(super) fn number(pen: &mut Pen, plan: &Plan, bar: &Placed, first_of_system: bool, system: &System) {
    let Some(number) = plan.number else { return };
    let (x, anchor) = if first_of_system { (bar.left, Anchor::Start) } else { (bar.left, Anchor::Middle) };
    small(pen, &number.to_string(), (x, system.staff - SMALL_PRINT), anchor);
}

/// What stands over the notes of a bar: which time it is or which times play it, signs, changes of tempo, where to go on.
pub(super) fn print(pen: &mut Pen, plan: &Plan, bar: &Placed, system: &System) {
    let y = system.print;
    let mut x = bar.left + PRINT_LEAD;
    for print in &plan.over_start {
        print_one(pen, print, x, y);
        x += print.width() + Print::GAP;
    }
    let mut x = bar.right;
    for print in &plan.over_end {
        x -= print.width();
        print_one(pen, print, x, y);
        x -= Print::GAP;
    }
    if let Some(ending) = plan.ending {
        let top = system.endings;
        let left = bar.left + if ending.begins { 0.0 } else { -BRACKET };
        pen.line((left, top), (bar.right, top), BRACKET);
        let mut hook = |x: f64| pen.line((x, top), (x, y + ENDING_HOOK), BRACKET);
        if ending.begins {
            hook(bar.left + BRACKET / 2.0);
        }
        if ending.ends && ending.is_closed {
            hook(bar.right - BRACKET / 2.0);
        }
    }
}

fn print_one(pen: &mut Pen, print: &Print, x: f64, y: f64) {
    match print {
        Print::Words(words) => small(pen, words, (x, y), Anchor::Start),
        Print::Sign(glyph) => {
            let (bounds, scale) = (glyph.bounds(), Print::SIGN_SCALE);
            let at = Point::new(x - bounds.x0 * scale, y - bounds.y1 * scale);
            pen.add(Item::Glyph { glyph: *glyph, at, scale, ink: Ink::Main });
        }
    }
}

/// From the base line of small print up to the bracket of an ending: over all that stands under it, and so much in any
/// other bar.
pub(crate) fn ending_rise(plan: &Plan) -> f64 {
    let under = plan.over_start.iter().chain(&plan.over_end).filter(|_| plan.ending.is_some());
    let heights = under.filter_map(|print| match print {
        Print::Words(_) => None,
        Print::Sign(glyph) => Some(glyph.bounds().height() * Print::SIGN_SCALE),
    });
    heights.map(|height| height + ENDING_CLEAR).fold(ENDING_RISE, f64::max)
}

/// Whether small print stands over a bar's notes.
pub(crate) fn has_print(plan: &Plan) -> bool {
    let times = plan.closes_repeat.and_then(|closing| closing.times);
    times.is_some_and(|times| times > 2)
        || plan.ending.is_some()
        || !plan.over_start.is_empty()
        || !plan.over_end.is_empty()
}

fn small(pen: &mut Pen, text: &str, at: (f64, f64), anchor: Anchor) {
    pen.add(Item::text(text, at, SMALL_SIZE, Weight::Regular, anchor, Ink::Soft));
}
