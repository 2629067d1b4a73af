//! What stands over single notes: accents, fermatas, stickings.

use kurbo::Point;
use rhythm::Deed;

use super::canvas::Canvas;
use super::notes::middle;
use crate::font::Weight;
use crate::placing::Placed;
use crate::plan::part::{HEAD_TOP, Sign};
use crate::plan::words;
use crate::{Anchor, Glyph, Ink, Item, Layout};

/// Between a stem or beam and the accent over it.
const ACCENT_GAP: f64 = 0.3;
/// Between what stands highest and the fermata over it.
const FERMATA_GAP: f64 = 0.4;

/// Accents over the stems: in print for percussion they stand over the staff whichever way stems go (common practice,
/// no source).
pub(super) fn accents(canvas: &mut Canvas, signs: &[Sign], bar: &Placed) {
    for sign in signs {
        if let Some(accent) = sign.marks.accent {
            over(canvas, Glyph::accent(accent), bar.columns[sign.column], ACCENT_GAP);
        }
    }
}

/// Fermatas over all else.
pub(super) fn fermatas(canvas: &mut Canvas, signs: &[Sign], bar: &Placed) {
    for sign in signs.iter().filter(|sign| sign.marks.fermata) {
        let x = if sign.note.whole_bar { middle(bar) } else { bar.columns[sign.column] };
        over(canvas, Glyph::Fermata, x, FERMATA_GAP);
    }
}

/// A symbol about `x` over what stands there.
fn over(canvas: &mut Canvas, glyph: Glyph, x: f64, gap: f64) {
    let bounds = glyph.bounds();
    let half = bounds.width() / 2.0;
    let top = canvas.top(x - half, x + half, -HEAD_TOP);
    canvas.glyph_about(glyph, x, top - gap - bounds.y1);
}

/// The hands' letters in one line, on base line `y`.
pub(super) fn stickings(items: &mut Vec<Item>, signs: &[Sign], bar: &Placed, y: f64, layout: &Layout) {
    for sign in signs.iter().filter(|sign| sign.note.deed == Deed::Attack) {
        if let Some(hand) = sign.marks.sticking {
            let at = Point::new(bar.columns[sign.column], y);
            let size = layout.print.sticking();
            items.push(Item::text(words::sticking(hand), at, size, Weight::Bold, Anchor::Middle, Ink::Main));
        }
    }
}
