use super::Pen;
use crate::engraving::System;
use crate::font::Weight;
use crate::metrics::{BAR_GAP, BAR_LINE_REACH, REPEAT_DOT_GAP, SMALL_SIZE, STAFF_LINE, THICK_BAR, THIN_BAR};
use crate::placing::{Placed, meter_width};
use crate::plan::Plan;
use crate::{Anchor, Glyph, Ink, Item};

/// Where small print stands over the bar lines.
const SMALL_PRINT: f64 = 1.75;
/// From the staff's line to the middle of a meter's digits, which are two spaces high.
const METER_DIGIT: f64 = 1.12;
/// The em of the number of times that a passage is played.
const TIMES_SIZE: f64 = 1.5;
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
    if !plan.meter.is_felt_as_usual() {
        let felt = format!("in {}", plan.meter.felt_beats());
        small(pen, &felt, (bar.meter_at, y - 2.55), Anchor::Start);
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
    if let Some(times) = plan.closes_repeat {
        repeat_dots(pen, thin - REPEAT_DOT_GAP - Glyph::RepeatDot.bounds().width(), y);
        if times > 2 {
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

/// The bar's number over its beginning, and over the stems which time it is where repeats are written out.
pub(super) fn number(pen: &mut Pen, plan: &Plan, bar: &Placed, first_of_system: bool, system: &System) {
    let Some(played) = plan.played.first().filter(|played| played.number > 0) else { return };
    let (x, anchor) = if first_of_system { (bar.left, Anchor::Start) } else { (bar.left, Anchor::Middle) };
    small(pen, &played.number.to_string(), (x, system.staff - SMALL_PRINT), anchor);
    if let Some(mark) = pass_mark(plan) {
        small(pen, &mark, (x, system.print), Anchor::Start);
    }
}

/// `2nd time` over the first bar of a passage that is written out again.
fn pass_mark(plan: &Plan) -> Option<String> {
    let [played] = plan.played.as_slice() else { return None };
    (plan.begins_pass && played.pass > 1).then(|| format!("{} time", ordinal(played.pass)))
}

/// Whether small print stands over a bar's notes.
pub(crate) fn has_print(plan: &Plan) -> bool {
    plan.closes_repeat.is_some_and(|times| times > 2) || pass_mark(plan).is_some()
}

fn ordinal(number: u32) -> String {
    let ending = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

fn small(pen: &mut Pen, text: &str, at: (f64, f64), anchor: Anchor) {
    pen.add(Item::text(text, at, SMALL_SIZE, Weight::Regular, anchor, Ink::Soft));
}
