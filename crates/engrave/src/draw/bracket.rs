//! What joins the staves of a system: the bracket, the line at their left end, the names of the parts.

use kurbo::Rect;

use crate::engraving::System;
use crate::font::{CAP_HEIGHT, Weight, text_width};
use crate::metrics::{BAR_LINE_REACH, JOINING_BRACKET, THIN_BAR};
use crate::placing::{BRACKET_LEFT, NAME_GAP, widest_name};
use crate::voice::Voice;
use crate::{Anchor, CountsShown, Glyph, Ink, Item, Layout, Staff};

/// From the line of two voices to the middles of their names, of the names' em.
const VOICE_NAME: f64 = 0.7;
/// How far down the room for writing the name of a voice stands.
const RULED_NAME: f64 = 0.8;
/// How far the bracket reaches beyond the bar lines.
const BEYOND: f64 = 0.25;

/// From where to where the bracket goes, without its curved ends, between staves at these heights.
pub(super) fn ends(upper: f64, lower: f64) -> (f64, f64) {
    (upper - BAR_LINE_REACH - BEYOND, lower + BAR_LINE_REACH + BEYOND)
}

/// Draws it around the staves of a system, if there are several, and the names of the parts before them.
pub(super) fn bracket(items: &mut Vec<Item>, systems: &[System], staves: &[Staff<'_>], layout: &Layout) {
    let [first, .., last] = systems else { return };
    if staves.iter().skip(1).any(|staff| !staff.shares_line) {
        join(items, first, last);
    }
    names(items, systems, staves, layout);
}

fn join(items: &mut Vec<Item>, first: &System, last: &System) {
    let (top, bottom) = ends(first.staff, last.staff);
    let left = first.left - BRACKET_LEFT;
    items.push(Item::block(Rect::new(left, top, left + JOINING_BRACKET, bottom), Ink::Main));
    items.push(Item::glyph(Glyph::BracketTop, (left, top), Ink::Main));
    items.push(Item::glyph(Glyph::BracketBottom, (left, bottom), Ink::Main));
    let x = first.left + THIN_BAR / 2.0;
    let (from, to) = (first.staff - BAR_LINE_REACH, last.staff + BAR_LINE_REACH);
    items.push(Item::line((x, from), (x, to), THIN_BAR, Ink::Main));
}

/// The names before the staves: of two voices on a line one over the other, and once more before their count lines where
/// each has its own.
fn names(items: &mut Vec<Item>, systems: &[System], staves: &[Staff<'_>], layout: &Layout) {
    let (size, widest) = (layout.print.name(), widest_name(layout));
    let voices = Voice::all(staves);
    for (index, (system, staff)) in systems.iter().zip(staves).enumerate() {
        let Some(name) = staff.name else { continue };
        let x = system.left - BRACKET_LEFT - NAME_GAP;
        let middle = match voices[index] {
            Voice::Alone => 0.0,
            Voice::Upper => -VOICE_NAME * size,
            Voice::Lower => VOICE_NAME * size,
        };
        let at = (x, system.staff + middle + CAP_HEIGHT * size / 2.0);
        items.push(Item::text(cut(name, size, widest), at, size, Weight::Regular, Anchor::End, Ink::Main));
        let other = match voices[index] {
            Voice::Alone => None,
            Voice::Upper => systems.get(index + 1),
            Voice::Lower => systems.get(index - 1),
        };
        let small = layout.print.small();
        if let (Some(&y), Some(_)) =
            (system.count_lines.first(), other.filter(|other| !other.count_lines.is_empty()))
        {
            // Where counts are to be written, beside the hand rather than beside the notes.
            let ruled = layout.count_style.shown == CountsShown::Ruled;
            let y = if ruled { y + RULED_NAME * layout.writing.below } else { y };
            items.push(Item::text(
                cut(name, small, widest),
                (x, y),
                small,
                Weight::Regular,
                Anchor::End,
                Ink::Soft,
            ));
        }
    }
}

/// As much of a name as there is room for.
fn cut(name: &str, size: f64, room: f64) -> String {
    let fits = |text: &str| text_width(text, size, Weight::Regular) <= room;
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
