//! A scene's items as shapes of the painter. The same items that become SVG elsewhere; nothing is laid out here.

use eframe::egui::epaint::{Mesh, PathShape, PathStroke, TextShape, Vertex, WHITE_UV};
use eframe::egui::{Color32, FontFamily, FontId, Painter, Pos2, Shape, Stroke, Vec2};
use engrave::{Anchor, Item, Paint, Theme};
use kurbo::{BezPath, Point};

use crate::{style, triangles};

/// How a scene lies on the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct View {
    /// Where the scene's origin lies.
    pub(crate) origin: Pos2,
    /// Points a staff space.
    pub(crate) scale: f32,
}

impl View {
    /// A point of the scene on the screen.
    pub(crate) fn point(&self, at: Point) -> Pos2 {
        self.origin + Vec2::new(px(at.x), px(at.y)) * self.scale
    }

    fn length(&self, spaces: f64) -> f32 {
        px(spaces) * self.scale
    }
}

/// Paints one item.
pub(crate) fn paint(painter: &Painter, item: &Item, view: &View, theme: &Theme) {
    let colour = style::colour(theme.colour(item.ink()));
    match item {
        Item::Line { from, to, width, dash, .. } => {
            let (ends, stroke) =
                ([view.point(*from), view.point(*to)], Stroke::new(view.length(*width), colour));
            match dash {
                None => {
                    painter.line_segment(ends, stroke);
                }
                Some((on, off)) => {
                    painter.extend(Shape::dashed_line(&ends, stroke, view.length(*on), view.length(*off)));
                }
            }
        }
        Item::Path { path, paint, .. } => match paint {
            Paint::Fill => fill(painter, path, view, colour),
            Paint::Outline(width) => {
                for part in triangles::outlines(path, f64::from(view.scale)) {
                    let points = part.iter().map(|&at| view.point(at)).collect();
                    painter.add(PathShape::closed_line(points, PathStroke::new(view.length(*width), colour)));
                }
            }
        },
        // One em of a music font is four staff spaces (SMuFL specification, "Scaling factor").
        Item::Glyph { glyph, at, scale, .. } => {
            let font = FontId::new(view.length(4.0 * scale), FontFamily::Name(style::MUSIC.into()));
            text(painter, glyph.character().to_string(), font, view.point(*at), Anchor::Start, colour);
        }
        Item::Text { text: words, at, size, weight, anchor, .. } => {
            let font = FontId::new(view.length(*size), style::family(*weight));
            text(painter, words.clone(), font, view.point(*at), *anchor, colour);
        }
    }
}

/// A line of text whose base line stands at `at`.
fn text(painter: &Painter, words: String, font: FontId, at: Pos2, anchor: Anchor, colour: Color32) {
    let galley = painter.layout_no_wrap(words, font, colour);
    let Some(row) = galley.rows.first() else { return };
    let Some(glyph) = row.glyphs.first() else { return };
    let left = match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => galley.size().x / 2.0,
        Anchor::End => galley.size().x,
    };
    let base = Vec2::new(left, row.pos.y + glyph.pos.y);
    painter.add(TextShape::new(at - base, galley, colour));
}

/// Shapes that turn one way only are the painter's own; others are cut into triangles and given a soft edge of
/// a pixel, as the painter gives its own.
fn fill(painter: &Painter, path: &BezPath, view: &View, colour: Color32) {
    for part in triangles::outlines(path, f64::from(view.scale)) {
        let points: Vec<Pos2> = part.iter().map(|&at| view.point(at)).collect();
        if triangles::is_convex(&part) {
            painter.add(PathShape::convex_polygon(points, colour, PathStroke::NONE));
            continue;
        }
        let mut mesh = Mesh::default();
        for &pos in &points {
            mesh.vertices.push(Vertex { pos, uv: WHITE_UV, color: colour });
        }
        for corners in triangles::triangles(&part) {
            mesh.indices.extend(corners.map(|corner| u32::try_from(corner).unwrap_or(0)));
        }
        painter.add(mesh);
        painter
            .add(PathShape::closed_line(points, PathStroke::new(0.5 / painter.pixels_per_point(), colour)));
    }
}

/// Screen coordinates are single precision.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a place on a screen has far fewer digits than a single has"
)]
pub(crate) fn px(value: f64) -> f32 {
    value as f32
}
