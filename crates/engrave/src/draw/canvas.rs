use kurbo::{Point, Rect};

use crate::font::Weight;
use crate::{Anchor, Glyph, Ink, Item};

/// Items on their way into a scene, and where those stand that others must keep clear of. A bar is drawn around its
/// staff's line at y = 0.
#[derive(Clone, Debug)]
pub(crate) struct Canvas {
    items: Vec<Item>,
    /// The left edge of the first stretch.
    left: f64,
    /// What stands in each stretch of [`STRETCH`] spaces, so that a long bar is not searched as a whole.
    solid: Vec<Vec<Rect>>,
}

/// How long a stretch is.
const STRETCH: f64 = 8.0;

impl Canvas {
    /// An empty canvas for what stands from `left` on; what stands further left is searched with the first stretch.
    pub(crate) fn from(left: f64) -> Self {
        Self { items: Vec::new(), left, solid: Vec::new() }
    }

    /// Something that what is drawn later over the staff keeps clear of.
    pub(crate) fn solid(&mut self, item: Item) {
        self.keep_clear(item.bounds());
        self.items.push(item);
    }

    /// Room that something takes which is drawn elsewhere.
    pub(crate) fn keep_clear(&mut self, rect: Rect) {
        let stretches = self.stretch(rect.x0)..=self.stretch(rect.x1);
        if self.solid.len() <= *stretches.end() {
            self.solid.resize(stretches.end() + 1, Vec::new());
        }
        self.solid[stretches].iter_mut().for_each(|stretch| stretch.push(rect));
    }

    /// A solid line.
    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), width: f64) {
        self.solid(Item::line(from, to, width, Ink::Main));
    }

    /// A solid symbol.
    pub(crate) fn glyph(&mut self, glyph: Glyph, x: f64, y: f64) {
        self.solid(Item::glyph(glyph, Point::new(x, y), Ink::Main));
    }

    /// A solid symbol with the middle of its outline at `x`.
    pub(crate) fn glyph_about(&mut self, glyph: Glyph, x: f64, y: f64) {
        self.glyph(glyph, x - glyph.bounds().center().x, y);
    }

    /// A row of digits with its middle at `x`.
    pub(crate) fn digits_about(&mut self, digits: &[Glyph], x: f64, y: f64) {
        let mut at = x - digits.iter().map(|digit| digit.advance()).sum::<f64>() / 2.0;
        for digit in digits {
            self.glyph(*digit, at, y);
            at += digit.advance();
        }
    }

    /// Small print.
    pub(crate) fn small(&mut self, text: &str, at: (f64, f64), size: f64, anchor: Anchor) {
        self.solid(Item::text(text, at, size, Weight::Regular, anchor, Ink::Soft));
    }

    /// The highest y of what stands between two x, at most `floor`.
    pub(crate) fn top(&self, left: f64, right: f64, floor: f64) -> f64 {
        let stretches = self.solid.iter().take(self.stretch(right) + 1).skip(self.stretch(left));
        let here = stretches.flatten().filter(|rect| rect.x0 < right && left < rect.x1);
        here.map(|rect| rect.y0).fold(floor, f64::min)
    }

    /// Which stretch a place lies in.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a page is far narrower than the largest number, and nothing before the first stretch is told apart"
    )]
    fn stretch(&self, x: f64) -> usize {
        ((x - self.left) / STRETCH).max(0.0) as usize
    }

    /// The items, and the highest y that any of the solid ones reaches.
    pub(crate) fn finish(self) -> (Vec<Item>, f64) {
        let top = self.solid.iter().flatten().map(|rect| rect.y0).fold(0.0, f64::min);
        (self.items, top)
    }
}
