//! A scene cut into its systems.

use engrave::{Glyph, Item, Paint, Scene, System};
use kurbo::{Affine, Vec2};

/// What belongs to one system of a scene.
#[derive(Clone, Debug, Default)]
pub(crate) struct Strip {
    pub(crate) items: Vec<Item>,
}

/// A scene in pieces from top to bottom.
#[derive(Clone, Debug)]
pub(crate) struct Cut {
    /// One a system.
    pub(crate) strips: Vec<Strip>,
    /// What stands under the last system.
    pub(crate) below: Vec<Item>,
}

/// Cuts a scene: a mark belongs to the system in which its middle lies.
pub(crate) fn cut(scene: &Scene, systems: &[System]) -> Cut {
    let mut strips = vec![Strip::default(); systems.len()];
    let mut below = Vec::new();
    let end = systems.last().map_or(0.0, |system| system.bottom);
    for item in &scene.items {
        let middle = item.bounds().center().y;
        let after = systems.partition_point(|system| system.top <= middle);
        match strips.get_mut(after.saturating_sub(1)) {
            Some(strip) if middle <= end => strip.items.push(item.clone()),
            _ => below.push(item.clone()),
        }
    }
    Cut { strips, below }
}

/// The upper and lower edge of all marks.
pub(crate) fn reach(items: &[Item]) -> (f64, f64) {
    items.iter().map(Item::bounds).fold((f64::INFINITY, f64::NEG_INFINITY), |(top, bottom), bounds| {
        (top.min(bounds.y0), bottom.max(bounds.y1))
    })
}

/// A mark `factor` as large about the origin, then moved.
pub(crate) fn placed(item: Item, factor: f64, by: Vec2) -> Item {
    let point = |at: kurbo::Point| (at.to_vec2() * factor + by).to_point();
    match item {
        Item::Line { from, to, width, ink, dash } => Item::Line {
            from: point(from),
            to: point(to),
            width: width * factor,
            ink,
            dash: dash.map(|(on, off)| (on * factor, off * factor)),
        },
        Item::Path { mut path, paint, ink } => {
            path.apply_affine(Affine::translate(by) * Affine::scale(factor));
            let paint = match paint {
                Paint::Fill => Paint::Fill,
                Paint::Outline(width) => Paint::Outline(width * factor),
            };
            Item::Path { path, paint, ink }
        }
        Item::Glyph { glyph, at, scale, ink } => {
            Item::Glyph { glyph, at: point(at), scale: scale * factor, ink }
        }
        Item::Text { text, at, size, weight, anchor, ink } => {
            Item::Text { text, at: point(at), size: size * factor, weight, anchor, ink }
        }
    }
}

/// A note by itself, its head about `x` on the line `y`: head, stem and flags, as `engrave` sets them.
pub(crate) fn single_note(value: rhythm::spelling::Value, x: f64, y: f64) -> Vec<Item> {
    let (head, ink) = (Glyph::head(value), engrave::Ink::Main);
    let half = head.bounds().width() / 2.0;
    let mut items = vec![Item::glyph(head, (x - head.bounds().center().x, y), ink)];
    if value > rhythm::spelling::Value::Whole {
        let stem = x + half - STEM / 2.0;
        items.push(Item::line((stem, y - STEM_FROM), (stem, y - stem_length(value)), STEM, ink));
        if let Some(flag) = Glyph::flag(value) {
            items.push(Item::glyph(flag, (stem - STEM / 2.0, y - STEM_LENGTH), ink));
        }
    }
    items
}

/// How far a stem reaches above the middle of its head: longer for the third flag and the fourth.
fn stem_length(value: rhythm::spelling::Value) -> f64 {
    STEM_LENGTH + FLAG_STEP * f64::from(value.flags().saturating_sub(2))
}

/// Thickness of a stem (`engravingDefaults` of the music font).
const STEM: f64 = 0.12;
/// From the middle of a head up to where its stem leaves it (`stemUpSE` of the music font).
const STEM_FROM: f64 = 0.168;
/// How far a stem reaches above the middle of its head (from memory: an octave).
const STEM_LENGTH: f64 = 3.5;
/// From flag to flag.
const FLAG_STEP: f64 = 0.75;
