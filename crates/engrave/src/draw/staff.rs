//! What belongs to the staff itself: clef, meter, repeat dots, bar lines, the bar's number.

use super::bar::Standing;
use super::canvas::Canvas;
use crate::engraving::System;
use crate::font::{DESCENT, Weight, text_width};
use crate::metrics::{BAR_GAP, BAR_LINE_REACH, REPEAT_DOT_GAP, STAFF_LINE, THICK_BAR, THIN_BAR};
use crate::placing::{BRACKET_LEFT, Placed, meter_label, meter_width};
use crate::plan::Plan;
use crate::{Anchor, Glyph, Ink, Item, Layout};

/// From the staff's line to the middle of a meter's digits, which are two spaces high.
const METER_DIGIT: f64 = 1.12;
/// From the top of a meter's digits to what stands over them.
const LABEL_GAP: f64 = 0.2;
/// Between a bar's number and what stands under it.
const NUMBER_GAP: f64 = 0.25;
/// Half the distance of a repeat's two dots.
const REPEAT_DOT: f64 = 0.5;

/// The one line.
pub(super) fn line(items: &mut Vec<Item>, system: &System) {
    items.push(Item::line((system.left, system.staff), (system.right, system.staff), STAFF_LINE, Ink::Main));
}

/// Clef, meter and the dots of repeats, which every staff has for itself.
pub(super) fn signs(canvas: &mut Canvas, plan: &Plan, bar: &Placed, standing: Standing, layout: &Layout) {
    if standing.is_first {
        canvas.glyph(Glyph::Clef, bar.left + 0.6, 0.0);
        if standing.lines > 1 && standing.staff == 0 {
            // The bracket's upper end reaches over the beginning of the first staff.
            let (top, _) = super::bracket::ends(0.0, 0.0);
            canvas.keep_clear(Glyph::BracketTop.bounds() + kurbo::Vec2::new(bar.left - BRACKET_LEFT, top));
        }
    }
    if plan.shows_meter {
        meter(canvas, plan, bar.meter_at, standing.staff == 0, layout);
    }
    if plan.opens_repeat {
        dots(canvas, bar.inner_left - Glyph::RepeatDot.bounds().width());
    }
    if plan.closes_repeat.is_some() {
        let thin = bar.right - THICK_BAR - BAR_GAP - THIN_BAR;
        dots(canvas, thin - REPEAT_DOT_GAP - Glyph::RepeatDot.bounds().width());
    }
    let reach = kurbo::Rect::new(bar.left - THICK_BAR, -BAR_LINE_REACH, bar.left, BAR_LINE_REACH);
    canvas.keep_clear(reach);
}

/// A bar's meter from `left` on, its groups and felt beat over it if that is to be told.
pub(super) fn meter(canvas: &mut Canvas, plan: &Plan, left: f64, with_label: bool, layout: &Layout) {
    let middle = left + meter_width(plan, layout) / 2.0;
    canvas.digits_about(&Glyph::meter_digits(plan.meter.beats()), middle, -METER_DIGIT);
    canvas.digits_about(&Glyph::meter_digits(plan.meter.unit()), middle, METER_DIGIT);
    if let Some(label) = meter_label(plan.meter).filter(|_| with_label) {
        let size = layout.print.small();
        let y = -METER_DIGIT - 1.0 - LABEL_GAP - DESCENT * size;
        canvas.small(&label, (left, y), size, Anchor::Start);
    }
}

fn dots(canvas: &mut Canvas, x: f64) {
    canvas.glyph(Glyph::RepeatDot, x, -REPEAT_DOT);
    canvas.glyph(Glyph::RepeatDot, x, REPEAT_DOT);
}

/// The bar lines of a bar, from the upper to the lower staff: of its opening repeat, and at its end.
pub(super) fn bar_lines(
    items: &mut Vec<Item>,
    plan: &Plan,
    bar: &Placed,
    first_of_system: bool,
    (upper, lower): (f64, f64),
) {
    let mut line = |x: f64, width: f64| {
        let x = x + width / 2.0;
        let (from, to) = ((x, upper - BAR_LINE_REACH), (x, lower + BAR_LINE_REACH));
        items.push(Item::line(from, to, width, Ink::Main));
    };
    if plan.opens_repeat {
        let thin = bar.inner_left - Glyph::RepeatDot.bounds().width() - REPEAT_DOT_GAP - THIN_BAR;
        // Right behind a bar line the thick line takes its place.
        let own = thin - BAR_GAP - THICK_BAR;
        let thick = if first_of_system || plan.shows_meter { own } else { bar.left - THIN_BAR };
        line(thick, THICK_BAR);
        line(thin, THIN_BAR);
    }
    if plan.closes_repeat.is_some() || plan.is_last {
        let thick = bar.right - THICK_BAR;
        line(thick, THICK_BAR);
        line(thick - BAR_GAP - THIN_BAR, THIN_BAR);
    } else if plan.joined.is_none_or(crate::plan::Joined::is_last) {
        line(bar.right - THIN_BAR, THIN_BAR);
    }
}

/// How wide a bar's number is.
pub(crate) fn number_width(number: u32, layout: &Layout) -> f64 {
    text_width(&number.to_string(), layout.print.small(), Weight::Regular)
}

/// The bar's number over its beginning, and over what stands there, at least over `floor`.
pub(super) fn number(canvas: &mut Canvas, plan: &Plan, bar: &Placed, floor: f64, layout: &Layout) {
    let Some(number) = plan.number else { return };
    let size = layout.print.small();
    let top = canvas.top(bar.left, bar.left + number_width(number, layout), floor);
    let y = top - NUMBER_GAP - DESCENT * size;
    canvas.small(&number.to_string(), (bar.left, y), size, Anchor::Start);
}
