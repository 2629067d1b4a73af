use kurbo::{BezPath, Circle, Point, Rect, Shape, Vec2};

use crate::font::{self, Weight};
use crate::{Glyph, Ink};

/// A page or a window's content: items in the order they are painted, in staff spaces, the origin at the
/// top left, y downwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// How wide the page is, in staff spaces.
    pub width: f64,
    /// How high the page is, in staff spaces.
    pub height: f64,
    /// What is painted, from the bottom up.
    pub items: Vec<Item>,
}

/// One mark of a scene. All lengths are in staff spaces.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A straight line with flat ends.
    Line {
        /// Where it begins.
        from: Point,
        /// Where it ends.
        to: Point,
        /// How thick it is.
        width: f64,
        /// Its ink.
        ink: Ink,
        /// The length of a dash and of the gap after it, or `None` for a solid line.
        dash: Option<(f64, f64)>,
    },
    /// A closed shape, filled or outlined.
    Path {
        /// The shape.
        path: BezPath,
        /// How it is painted.
        paint: Paint,
        /// Its ink.
        ink: Ink,
    },
    /// A symbol of the music font.
    Glyph {
        /// Which.
        glyph: Glyph,
        /// Its origin: left, on the line it stands on.
        at: Point,
        /// 1 is the size of a full note.
        scale: f64,
        /// Its ink.
        ink: Ink,
    },
    /// A line of text.
    Text {
        /// What it says.
        text: String,
        /// The end, middle or beginning of its base line, by `anchor`.
        at: Point,
        /// The height of its em.
        size: f64,
        /// Regular or bold.
        weight: Weight,
        /// Which point of it stands at `at`.
        anchor: Anchor,
        /// Its ink.
        ink: Ink,
    },
}

/// How a shape is painted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Paint {
    /// Filled.
    Fill,
    /// A line of this width along its edge, the inside left as it is.
    Outline(f64),
}

/// Which point of a text stands where it is put.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

impl Item {
    /// A solid line.
    #[must_use]
    pub fn line(from: impl Into<Point>, to: impl Into<Point>, width: f64, ink: Ink) -> Self {
        Self::Line { from: from.into(), to: to.into(), width, ink, dash: None }
    }

    /// A filled rectangle.
    #[must_use]
    pub fn block(rect: Rect, ink: Ink) -> Self {
        Self::Path { path: rect.to_path(TOLERANCE), paint: Paint::Fill, ink }
    }

    /// A round dot.
    #[must_use]
    pub fn disc(centre: impl Into<Point>, radius: f64, paint: Paint, ink: Ink) -> Self {
        Self::Path { path: Circle::new(centre, radius).to_path(TOLERANCE), paint, ink }
    }

    /// A closed shape with these corners.
    #[must_use]
    pub fn polygon(corners: &[Point], paint: Paint, ink: Ink) -> Self {
        let mut path = BezPath::new();
        for (index, corner) in corners.iter().enumerate() {
            if index == 0 { path.move_to(*corner) } else { path.line_to(*corner) }
        }
        path.close_path();
        Self::Path { path, paint, ink }
    }

    /// A symbol at full size.
    #[must_use]
    pub fn glyph(glyph: Glyph, at: impl Into<Point>, ink: Ink) -> Self {
        Self::Glyph { glyph, at: at.into(), scale: 1.0, ink }
    }

    /// A line of text.
    #[must_use]
    pub fn text(
        text: impl Into<String>,
        at: impl Into<Point>,
        size: f64,
        weight: Weight,
        anchor: Anchor,
        ink: Ink,
    ) -> Self {
        Self::Text { text: text.into(), at: at.into(), size, weight, anchor, ink }
    }

    /// The box around it: of a text its width and the height of its capitals and descenders.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        match self {
            Self::Line { from, to, width, .. } => {
                Rect::from_points(*from, *to).inflate(width / 2.0, width / 2.0)
            }
            Self::Path { path, paint, .. } => {
                let rect = path.bounding_box();
                match paint {
                    Paint::Fill => rect,
                    Paint::Outline(width) => rect.inflate(width / 2.0, width / 2.0),
                }
            }
            Self::Glyph { glyph, at, scale, .. } => {
                let rect = glyph.bounds();
                Rect::new(rect.x0 * scale, rect.y0 * scale, rect.x1 * scale, rect.y1 * scale) + at.to_vec2()
            }
            Self::Text { text, at, size, weight, anchor, .. } => {
                let width = font::text_width(text, *size, *weight);
                let left = match anchor {
                    Anchor::Start => at.x,
                    Anchor::Middle => at.x - width / 2.0,
                    Anchor::End => at.x - width,
                };
                let (ascent, descent) = (size * font::CAP_HEIGHT, size * font::DESCENT);
                Rect::new(left, at.y - ascent, left + width, at.y + descent)
            }
        }
    }

    /// Its ink.
    #[must_use]
    pub fn ink(&self) -> Ink {
        match self {
            Self::Line { ink, .. }
            | Self::Path { ink, .. }
            | Self::Glyph { ink, .. }
            | Self::Text { ink, .. } => *ink,
        }
    }

    /// The same mark elsewhere.
    #[must_use]
    pub fn moved(mut self, by: Vec2) -> Self {
        match &mut self {
            Self::Line { from, to, .. } => {
                *from += by;
                *to += by;
            }
            Self::Path { path, .. } => path.apply_affine(kurbo::Affine::translate(by)),
            Self::Glyph { at, .. } | Self::Text { at, .. } => *at += by,
        }
        self
    }
}

/// How far a curve may lie from the circle it stands for: far less than a pixel at any size in use.
const TOLERANCE: f64 = 0.001;
