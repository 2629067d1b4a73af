//! A scene written as SVG 1.1.
//!
//! Symbols are outlines in `<defs>`, used where they stand, so a reader needs no music font. Text stays
//! text: it can be selected, searched and read aloud.

use std::collections::BTreeSet;
use std::fmt::{self, Write};

use crate::font::{TEXT_FAMILIES, Weight, text_width};
use crate::{Anchor, Glyph, Ink, Item, Paint, Scene, Theme};

/// How a scene is written.
#[derive(Clone, Debug, PartialEq)]
pub struct SvgOptions {
    /// Pixels a staff space.
    pub scale: f64,
    /// The colours.
    pub theme: Theme,
    /// What the picture is called, for a screen reader; empty for none.
    pub title: String,
    /// What it shows, for a screen reader; empty for none.
    pub description: String,
}

impl Default for SvgOptions {
    /// Ten pixels a staff space on warm white.
    fn default() -> Self {
        Self { scale: 10.0, theme: Theme::default(), title: String::new(), description: String::new() }
    }
}

/// The scene as a whole SVG document.
#[must_use]
pub fn write(scene: &Scene, options: &SvgOptions) -> String {
    let mut text = String::with_capacity(256 * scene.items.len() + 4096);
    compose(&mut text, scene, options).expect("writing to a String does not fail");
    text
}

fn compose(out: &mut String, scene: &Scene, options: &SvgOptions) -> fmt::Result {
    let (width, height) = (Number(scene.width), Number(scene.height));
    let (wide, high) = (Number(scene.width * options.scale), Number(scene.height * options.scale));
    writeln!(
        out,
        r#"<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" role="img" width="{wide}" height="{high}" viewBox="0 0 {width} {height}" font-family="{TEXT_FAMILIES}">"#,
    )?;
    if !options.title.is_empty() {
        writeln!(out, "<title>{}</title>", Escaped(&options.title))?;
    }
    if !options.description.is_empty() {
        writeln!(out, "<desc>{}</desc>", Escaped(&options.description))?;
    }
    definitions(out, scene)?;
    writeln!(out, r#"<rect width="{width}" height="{height}" fill="{}"/>"#, options.theme.paper)?;
    for item in &scene.items {
        write_item(out, item, &options.theme)?;
    }
    writeln!(out, "</svg>")
}

fn definitions(out: &mut String, scene: &Scene) -> fmt::Result {
    let used: BTreeSet<Glyph> = scene
        .items
        .iter()
        .filter_map(|item| if let Item::Glyph { glyph, .. } = item { Some(*glyph) } else { None })
        .collect();
    if used.is_empty() {
        return Ok(());
    }
    writeln!(out, "<defs>")?;
    for glyph in used {
        writeln!(out, r#"<path id="{}" d="{}"/>"#, glyph.name(), Outline(glyph.outline()))?;
    }
    writeln!(out, "</defs>")
}

fn write_item(out: &mut String, item: &Item, theme: &Theme) -> fmt::Result {
    let colour = |ink: Ink| theme.colour(ink);
    match item {
        Item::Line { from, to, width, ink, dash } => {
            let (x1, y1, x2, y2) = (Number(from.x), Number(from.y), Number(to.x), Number(to.y));
            let (colour, width) = (colour(*ink), Number(*width));
            write!(
                out,
                r#"<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{colour}" stroke-width="{width}""#
            )?;
            if let Some((on, off)) = dash {
                write!(out, r#" stroke-dasharray="{} {}""#, Number(*on), Number(*off))?;
            }
            writeln!(out, "/>")
        }
        Item::Path { path, paint, ink } => {
            let (outline, colour) = (Outline(path), colour(*ink));
            match paint {
                Paint::Fill => writeln!(out, r#"<path d="{outline}" fill="{colour}"/>"#),
                Paint::Outline(width) => {
                    let width = Number(*width);
                    writeln!(
                        out,
                        r#"<path d="{outline}" fill="none" stroke="{colour}" stroke-width="{width}"/>"#
                    )
                }
            }
        }
        Item::Glyph { glyph, at, scale, ink } => {
            let (name, colour) = (glyph.name(), colour(*ink));
            let (x, y) = (Number(at.x), Number(at.y));
            write!(out, r##"<use xlink:href="#{name}" "##)?;
            if (scale - 1.0).abs() < 1e-9 {
                write!(out, r#"x="{x}" y="{y}""#)?;
            } else {
                write!(out, r#"transform="translate({x} {y}) scale({})""#, Number(*scale))?;
            }
            writeln!(out, r#" fill="{colour}"/>"#)
        }
        Item::Text { text, at, size, weight, anchor, ink } => {
            let anchor = match anchor {
                Anchor::Start => "",
                Anchor::Middle => r#" text-anchor="middle""#,
                Anchor::End => r#" text-anchor="end""#,
            };
            let bold = if *weight == Weight::Bold { r#" font-weight="bold""# } else { "" };
            // With another font than ours the text still takes the room that was measured for it.
            let length = Number(text_width(text, *size, *weight));
            writeln!(
                out,
                r#"<text x="{}" y="{}" font-size="{}"{bold}{anchor} textLength="{length}" lengthAdjust="spacingAndGlyphs" fill="{}">{}</text>"#,
                Number(at.x),
                Number(at.y),
                Number(*size),
                colour(*ink),
                Escaped(text),
            )
        }
    }
}

/// At most three decimals: a thousandth of a staff space is far below a pixel.
struct Number(f64);

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{:.3}", self.0);
        let text = text.trim_end_matches('0').trim_end_matches('.');
        f.write_str(if text == "-0" { "0" } else { text })
    }
}

/// A path's `d` attribute.
struct Outline<'a>(&'a kurbo::BezPath);

impl fmt::Display for Outline<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let pair = |f: &mut fmt::Formatter<'_>, command: &str, points: &[kurbo::Point]| {
            f.write_str(command)?;
            for (index, point) in points.iter().enumerate() {
                let blank = if index == 0 { "" } else { " " };
                write!(f, "{blank}{} {}", Number(point.x), Number(point.y))?;
            }
            Ok(())
        };
        for element in self.0 {
            match element {
                kurbo::PathEl::MoveTo(to) => pair(f, "M", &[to])?,
                kurbo::PathEl::LineTo(to) => pair(f, "L", &[to])?,
                kurbo::PathEl::QuadTo(a, to) => pair(f, "Q", &[a, to])?,
                kurbo::PathEl::CurveTo(a, b, to) => pair(f, "C", &[a, b, to])?,
                kurbo::PathEl::ClosePath => f.write_str("Z")?,
            }
        }
        Ok(())
    }
}

/// Text for XML and HTML, in elements and in attributes between double quotes: line ends and tabs become blanks, characters
/// that XML 1.0 does not know are left out.
#[derive(Clone, Copy, Debug)]
pub struct Escaped<'a>(pub &'a str);

impl fmt::Display for Escaped<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for character in self.0.chars() {
            match character {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\t' | '\n' | '\r' => f.write_char(' ')?,
                '\0'..='\u{1f}' | '\u{7f}' | '\u{fffe}' | '\u{ffff}' => {}
                character => f.write_char(character)?,
            }
        }
        Ok(())
    }
}
