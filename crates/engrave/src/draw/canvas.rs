use kurbo::{Affine, Point, Rect, Vec2};

use crate::font::Weight;
use crate::{Anchor, Glyph, Ink, Item};

/// Items on their way into a scene, and where those stand that others must keep clear of. A bar is drawn around its
/// staff's line at y = 0.
///
/// Everything is drawn as of a voice whose stems go up. For the lower of two voices the canvas turns it: what is drawn
/// over the line stands under it in the end.
#[derive(Clone, Debug)]
pub(crate) struct Canvas {
    items: Vec<Item>,
    /// How far over the staff's line the line lies around which is drawn.
    raised: f64,
    turned: bool,
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
        Self { items: Vec::new(), raised: 0.0, turned: false, left, solid: Vec::new() }
    }

    /// The same turned upside down.
    pub(crate) fn turned(self) -> Self {
        Self { turned: true, ..self }
    }

    /// From now on y = 0 is so far over the staff's line, or under it where the canvas is turned.
    pub(crate) fn raise(&mut self, by: f64) {
        self.raised = by;
    }

    /// Something that what is drawn later over the staff keeps clear of.
    pub(crate) fn solid(&mut self, item: Item) {
        self.keep_clear(item.bounds());
        let item = item.moved(Vec2::new(0.0, -self.raised));
        self.items.push(if self.turned { upside_down(item) } else { item });
    }

    /// Room that something takes which is drawn elsewhere.
    pub(crate) fn keep_clear(&mut self, rect: Rect) {
        let rect = rect - Vec2::new(0.0, self.raised);
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
        here.map(|rect| rect.y0 + self.raised).fold(floor, f64::min)
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

    /// The items, and the highest y that any of the solid ones reaches, measured from the staff's line; of a canvas that
    /// is turned the lowest, negative.
    pub(crate) fn finish(self) -> (Vec<Item>, f64) {
        let top = self.solid.iter().flatten().map(|rect| rect.y0).fold(0.0, f64::min);
        (self.items, top)
    }
}

/// A mark turned about the staff's line. Symbols and words are not turned, but stand in the box that they would stand in.
fn upside_down(item: Item) -> Item {
    let turned = |at: Point| Point::new(at.x, -at.y);
    match item {
        Item::Line { from, to, width, ink, dash } => {
            Item::Line { from: turned(from), to: turned(to), width, ink, dash }
        }
        Item::Path { mut path, paint, ink } => {
            path.apply_affine(Affine::FLIP_Y);
            Item::Path { path, paint, ink }
        }
        Item::Glyph { glyph, at, scale, ink } => {
            let below = glyph.below();
            let y = -at.y - (glyph.bounds().y1 + below.bounds().y0) * scale;
            Item::Glyph { glyph: below, at: Point::new(at.x, y), scale, ink }
        }
        Item::Text { .. } => {
            let bounds = item.bounds();
            item.moved(Vec2::new(0.0, -bounds.y0 - bounds.y1))
        }
    }
}
