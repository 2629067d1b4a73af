//! What joins the staves of a system: the bracket, the line at their left end, the names of the parts.

use kurbo::Rect;

use crate::engraving::System;
use crate::font::{CAP_HEIGHT, Weight, text_width};
use crate::metrics::{BAR_LINE_REACH, JOINING_BRACKET, THIN_BAR};
use crate::placing::{BRACKET_LEFT, NAME_GAP, WIDEST_NAME};
use crate::{Anchor, Glyph, Ink, Item, Layout, Staff};

/// How far the bracket reaches beyond the bar lines.
const BEYOND: f64 = 0.25;

/// From where to where the bracket goes, without its curved ends, between staves at these heights.
pub(super) fn ends(upper: f64, lower: f64) -> (f64, f64) {
    (upper - BAR_LINE_REACH - BEYOND, lower + BAR_LINE_REACH + BEYOND)
}

/// Draws it around the staves of a system; nothing where there is one.
pub(super) fn bracket(items: &mut Vec<Item>, systems: &[System], staves: &[Staff<'_>], layout: &Layout) {
    let [first, .., last] = systems else { return };
    let (top, bottom) = ends(first.staff, last.staff);
    let left = first.left - BRACKET_LEFT;
    items.push(Item::block(Rect::new(left, top, left + JOINING_BRACKET, bottom), Ink::Main));
    items.push(Item::glyph(Glyph::BracketTop, (left, top), Ink::Main));
    items.push(Item::glyph(Glyph::BracketBottom, (left, bottom), Ink::Main));
    let x = first.left + THIN_BAR / 2.0;
    let (from, to) = (first.staff - BAR_LINE_REACH, last.staff + BAR_LINE_REACH);
    items.push(Item::line((x, from), (x, to), THIN_BAR, Ink::Main));
    let size = layout.print.name();
    for (system, staff) in systems.iter().zip(staves) {
        let Some(name) = staff.name else { continue };
        let at = (left - NAME_GAP, system.staff + CAP_HEIGHT * size / 2.0);
        items.push(Item::text(cut(name, size), at, size, Weight::Regular, Anchor::End, Ink::Main));
    }
}

/// As much of a name as there is room for.
fn cut(name: &str, size: f64) -> String {
    let fits = |text: &str| text_width(text, size, Weight::Regular) <= WIDEST_NAME;
    if fits(name) {
        return name.to_owned();
    }
    let mut kept = String::new();
    for character in name.chars() {
        if !fits(&format!("{kept}{character}…")) {
            break;
        }
        kept.push(character);
    }
    kept + "…"
}
