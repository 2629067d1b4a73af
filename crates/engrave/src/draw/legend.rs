//! What types and marks mean, in a line at the foot of the page; in several where the page is narrow.

use kurbo::Point;
use rhythm::Deed;

use super::hands::{MARK, mark, thread};
use crate::font::{Weight, text_width};
use crate::metrics::{HELD_DROP, HELD_LINE};
use crate::{Anchor, CountsShown, Ink, Item, Layout, RestWords};

/// Between two signs.
const GAP: f64 = 2.2;
/// Between a sign and its word.
const WORD_GAP: f64 = 0.7;
/// How long the thread is that is shown.
const THREAD: f64 = 1.8;
/// From line to line, of the counts' em.
const LINE: f64 = 1.7;

/// A sign and what it means.
struct Entry {
    width: f64,
    word: &'static str,
    sign: Sign,
}

enum Sign {
    /// As it stands in the count line.
    Count(&'static str, Deed),
    /// As it stands in the row of the hands.
    Hands(Deed),
}

/// Draws it from `top` on; returns where it ends, or `top` where there is nothing to explain.
pub(crate) fn legend(items: &mut Vec<Item>, layout: &Layout, top: f64) -> f64 {
    let entries = entries(layout);
    if entries.is_empty() {
        return top;
    }
    let (size, small) = (layout.print.count(), layout.print.small());
    let (left, right) = (layout.staff_left(), layout.staff_right());
    let (mut x, mut y) = (left, top + size);
    for entry in entries {
        let word = text_width(entry.word, small, Weight::Regular);
        if x > left && x + entry.width + WORD_GAP + word > right {
            (x, y) = (left, y + LINE * size);
        }
        draw(items, &entry, Point::new(x, y), layout);
        let at = (x + entry.width + WORD_GAP, y);
        items.push(Item::text(entry.word, at, small, Weight::Regular, Anchor::Start, Ink::Soft));
        x = at.0 + word + GAP;
    }
    y + size * 0.5
}

fn entries(layout: &Layout) -> Vec<Entry> {
    let mut entries = Vec::new();
    if !layout.counts || !layout.count_style.legend || layout.count_style.shown == CountsShown::Ruled {
        return entries;
    }
    let silent = match layout.count_style.rests {
        RestWords::Parentheses => "(3)",
        RestWords::Lighter => "3",
    };
    for (text, deed, word) in
        [("1", Deed::Attack, "struck"), ("2", Deed::Hold, "held"), (silent, Deed::Rest, "silent")]
    {
        let weight = if deed == Deed::Attack { Weight::Bold } else { Weight::Regular };
        let width = text_width(text, layout.print.count(), weight);
        entries.push(Entry { width, word, sign: Sign::Count(text, deed) });
    }
    if layout.count_style.hands {
        for (deed, word) in [(Deed::Attack, "strike"), (Deed::Hold, "hold"), (Deed::Rest, "rest")] {
            let width = if deed == Deed::Hold { 2.0 * MARK + THREAD } else { 2.0 * MARK };
            entries.push(Entry { width, word, sign: Sign::Hands(deed) });
        }
    }
    entries
}

fn draw(items: &mut Vec<Item>, entry: &Entry, at: Point, layout: &Layout) {
    let size = layout.print.count();
    match entry.sign {
        Sign::Count(text, deed) => {
            let (weight, ink) = match deed {
                Deed::Attack => (Weight::Bold, Ink::Main),
                Deed::Hold | Deed::Rest => (Weight::Regular, Ink::Soft),
            };
            items.push(Item::text(text, at, size, weight, Anchor::Start, ink));
            if deed == Deed::Hold {
                let y = at.y + HELD_DROP * size;
                items.push(Item::line((at.x, y), (at.x + entry.width, y), HELD_LINE, Ink::Soft));
            }
        }
        Sign::Hands(deed) => {
            let middle = Point::new(at.x + MARK, at.y - MARK);
            if deed == Deed::Hold {
                mark(items, Deed::Attack, middle);
                let knot = middle + (MARK + THREAD, 0.0);
                thread(items, middle.x + MARK, knot.x, middle.y);
                mark(items, Deed::Hold, knot);
            } else {
                mark(items, deed, middle);
            }
        }
    }
}
