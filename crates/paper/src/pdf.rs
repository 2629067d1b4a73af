//! Pages as PDF: text and symbols in fonts that are embedded as subsets, every part tagged with what it is.
//!
//! The file declares PDF/UA-1 (ISO 14289-1). Nothing in it comes from the clock or from chance.

mod fonts;
mod tags;

use engrave::{Anchor, Ink, Item, Paint, Weight, text_width};
use krilla::color::rgb;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, Identifier, SpanTag};
use krilla::{Document as Pdf, SerializeSettings};

use self::fonts::Fonts;
use self::tags::Tagged;
use crate::Error;
use crate::document::{Document, Part, Role, THEME};

/// One em of the music font, in staff spaces.
const SPACES_PER_EM: f64 = 4.0;

/// The document as a PDF file.
///
/// # Errors
/// If a text has a character that the text font lacks, or the document breaks a rule of PDF/UA.
pub fn pdf(document: &Document) -> Result<Vec<u8>, Error> {
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|error| Error::Pdf { why: format!("{error:?}") })?;
    let mut pdf = Pdf::new_with(SerializeSettings { configuration, ..SerializeSettings::default() });
    let mut fonts = Fonts::new()?;
    let mut tagged = Vec::new();
    for (index, page) in document.pages.iter().enumerate() {
        let pt = Points(document.space_pt);
        let settings = PageSettings::from_wh(pt.of(page.width), pt.of(page.height))
            .ok_or_else(|| Error::Pdf { why: "a page has no size".to_owned() })?;
        let mut sheet = pdf.start_page_with(settings);
        let mut surface = sheet.surface();
        for part in page.parts.iter().filter(|part| !part.items.is_empty()) {
            let identifier = surface.start_tagged(content_tag(part));
            let mut painter = Painter { surface: &mut surface, fonts: &mut fonts, pt };
            let painted = painter.items(&part.items);
            surface.end_tagged();
            painted?;
            tagged.extend(tag(part, identifier, index, pt));
        }
        surface.finish();
        sheet.finish();
    }
    pdf.set_outline(tags::outline(&tagged));
    pdf.set_tag_tree(tags::tree(tagged));
    pdf.set_metadata(metadata(document));
    pdf.finish().map_err(|error| Error::Pdf { why: reason(&error) })
}

fn metadata(document: &Document) -> Metadata {
    let program = concat!("countline ", env!("CARGO_PKG_VERSION"));
    let metadata = Metadata::new()
        .title(document.title.clone())
        .description(document.description.clone())
        .language("en".to_owned())
        .creator(program.to_owned())
        .producer(program.to_owned());
    match document.date {
        Some(date) => metadata.creation_date(DateTime::new(date.year).month(date.month).day(date.day)),
        None => metadata,
    }
}

/// A library's error in full: its own text counts offences and names none.
fn reason(error: &krilla::error::KrillaError) -> String {
    match error {
        krilla::error::KrillaError::Validation(offences) => {
            let named: Vec<String> = offences.iter().map(|(offence, _)| format!("{offence:?}")).collect();
            named.join(", ")
        }
        other => other.to_string(),
    }
}

fn content_tag(part: &Part) -> ContentTag<'_> {
    match &part.role {
        Role::Decoration => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
        Role::Figure { .. } => ContentTag::Other,
        Role::Heading { .. } | Role::Text | Role::Item | Role::Cell { .. } => {
            ContentTag::Span(SpanTag::empty())
        }
    }
}

/// What the tag tree says of a part; `None` of decoration. Where it stands is said in whole points around it: it is for
/// a frame on a screen, and there is one for every picture in a book.
fn tag(part: &Part, identifier: Identifier, page: usize, pt: Points) -> Option<Tagged> {
    if part.role == Role::Decoration {
        return None;
    }
    let bounds = part.bounds()?;
    let [left, top] = [bounds.x0, bounds.y0].map(|edge| pt.of(edge).floor());
    let [right, bottom] = [bounds.x1, bounds.y1].map(|edge| pt.of(edge).ceil());
    let rect = krilla::geom::Rect::from_ltrb(left, top, right, bottom);
    Some(Tagged { role: part.role.clone(), identifier, page, rect })
}

/// Staff spaces made points.
#[derive(Clone, Copy, Debug)]
pub(super) struct Points(f64);

impl Points {
    /// In hundredths of a point, a third of a hundredth of a millimetre: no printer shows less, and the file is half
    /// as large.
    #[expect(clippy::cast_possible_truncation, reason = "a page is a few thousand points")]
    fn of(self, spaces: f64) -> f32 {
        ((spaces * self.0 * 100.0).round() / 100.0) as f32
    }

    fn point(self, at: kurbo::Point) -> Point {
        Point::from_xy(self.of(at.x), self.of(at.y))
    }
}

/// Texts with where each begins: those of one base line, size, weight and ink.
type TextRun<'a> = ((f32, f32, Weight, Ink), Vec<(&'a str, f32)>);

struct Painter<'a, 'b> {
    surface: &'a mut Surface<'b>,
    fonts: &'a mut Fonts,
    pt: Points,
}

fn is_curved(element: kurbo::PathEl) -> bool {
    matches!(element, kurbo::PathEl::QuadTo(..) | kurbo::PathEl::CurveTo(..))
}

/// Ink that hides or tints what is under it: where it is used, the order of marks matters.
fn covers(item: &Item) -> bool {
    matches!(item.ink(), Ink::Paper | Ink::Column)
}

impl Painter<'_, '_> {
    /// Paints a part: kind by kind where no mark hides another, for then like marks are one, and the file a third as
    /// large; else in order.
    fn items(&mut self, items: &[Item]) -> Result<(), Error> {
        if items.iter().any(covers) {
            return items.iter().try_for_each(|item| self.item(item));
        }
        self.lines(items);
        self.paths(items);
        self.texts(items)?;
        self.glyphs(items)
    }

    fn item(&mut self, item: &Item) -> Result<(), Error> {
        match item {
            Item::Line { .. } => self.lines(std::slice::from_ref(item)),
            Item::Path { .. } => self.paths(std::slice::from_ref(item)),
            Item::Glyph { .. } => self.glyphs(std::slice::from_ref(item))?,
            Item::Text { .. } => self.texts(std::slice::from_ref(item))?,
        }
        Ok(())
    }

    /// The texts among the items, those of one kind on one line as one run with blanks between them.
    fn texts(&mut self, items: &[Item]) -> Result<(), Error> {
        let mut runs: Vec<TextRun<'_>> = Vec::new();
        for item in items {
            let Item::Text { text, at, size, weight, anchor, ink } = item else { continue };
            let width = text_width(text, *size, *weight);
            let left = match anchor {
                Anchor::Start => at.x,
                Anchor::Middle => at.x - width / 2.0,
                Anchor::End => at.x - width,
            };
            let at = self.pt.point(kurbo::Point::new(left, at.y));
            let (kind, word) = ((at.y, self.pt.of(*size), *weight, *ink), (text.as_str(), at.x));
            match runs.iter_mut().find(|(other, _)| *other == kind) {
                Some((_, words)) => words.push(word),
                None => runs.push((kind, vec![word])),
            }
        }
        for ((y, size, weight, ink), mut words) in runs {
            words.sort_by(|a, b| a.1.total_cmp(&b.1));
            self.fill(ink);
            self.fonts.text(weight).draw(self.surface, &words, y, size)?;
        }
        Ok(())
    }

    /// The symbols among the items, those on one line and of one size as one run.
    fn glyphs(&mut self, items: &[Item]) -> Result<(), Error> {
        type Run = ((f32, f32, Ink), Vec<(char, f32)>);
        let mut runs: Vec<Run> = Vec::new();
        for item in items {
            let Item::Glyph { glyph, at, scale, ink } = item else { continue };
            let (at, size) = (self.pt.point(*at), self.pt.of(SPACES_PER_EM * scale));
            let (kind, symbol) = ((at.y, size, *ink), (glyph.character(), at.x));
            match runs.iter_mut().find(|(other, _)| *other == kind) {
                Some((_, symbols)) => symbols.push(symbol),
                None => runs.push((kind, vec![symbol])),
            }
        }
        for ((y, size, ink), mut symbols) in runs {
            symbols.sort_by(|a, b| a.1.total_cmp(&b.1));
            self.fill(ink);
            self.fonts.music.draw_symbols(self.surface, &symbols, y, size)?;
        }
        Ok(())
    }

    /// The lines among the items, those of one kind as one path.
    fn lines(&mut self, items: &[Item]) {
        type Kind = (f64, Ink, Option<(f64, f64)>);
        let mut kinds: Vec<(Kind, PathBuilder)> = Vec::new();
        for item in items {
            let Item::Line { from, to, width, ink, dash } = item else { continue };
            let kind = (*width, *ink, *dash);
            let (from, to) = (self.pt.point(*from), self.pt.point(*to));
            let index = kinds.iter().position(|(other, _)| *other == kind).unwrap_or_else(|| {
                kinds.push((kind, PathBuilder::new()));
                kinds.len() - 1
            });
            let builder = &mut kinds[index].1;
            builder.move_to(from.x, from.y);
            builder.line_to(to.x, to.y);
        }
        for ((width, ink, dash), builder) in kinds {
            if let Some(path) = builder.finish() {
                self.stroke(&path, width, ink, dash);
            }
        }
    }

    /// The shapes among the items, filled ones with straight edges (beams) of one ink as one path.
    fn paths(&mut self, items: &[Item]) {
        let mut straight: Vec<(Ink, PathBuilder)> = Vec::new();
        for item in items {
            let Item::Path { path, paint, ink } = item else { continue };
            if *paint != Paint::Fill || path.iter().any(is_curved) {
                let mut builder = PathBuilder::new();
                self.add(&mut builder, path);
                self.paint(builder, *paint, *ink);
                continue;
            }
            let index = straight.iter().position(|(other, _)| other == ink).unwrap_or_else(|| {
                straight.push((*ink, PathBuilder::new()));
                straight.len() - 1
            });
            self.add(&mut straight[index].1, path);
        }
        for (ink, builder) in straight {
            self.paint(builder, Paint::Fill, ink);
        }
    }

    fn add(&self, builder: &mut PathBuilder, path: &kurbo::BezPath) {
        for element in path {
            let pt = |at: kurbo::Point| (self.pt.of(at.x), self.pt.of(at.y));
            match element {
                kurbo::PathEl::MoveTo(to) => {
                    let (x, y) = pt(to);
                    builder.move_to(x, y);
                }
                kurbo::PathEl::LineTo(to) => {
                    let (x, y) = pt(to);
                    builder.line_to(x, y);
                }
                kurbo::PathEl::QuadTo(a, to) => {
                    let ((ax, ay), (x, y)) = (pt(a), pt(to));
                    builder.quad_to(ax, ay, x, y);
                }
                kurbo::PathEl::CurveTo(a, b, to) => {
                    let ((ax, ay), (bx, by), (x, y)) = (pt(a), pt(b), pt(to));
                    builder.cubic_to(ax, ay, bx, by, x, y);
                }
                kurbo::PathEl::ClosePath => builder.close(),
            }
        }
    }

    fn paint(&mut self, builder: PathBuilder, paint: Paint, ink: Ink) {
        let Some(path) = builder.finish() else { return };
        match paint {
            Paint::Fill => {
                self.fill(ink);
                self.surface.draw_path(&path);
            }
            Paint::Outline(width) => self.stroke(&path, width, ink, None),
        }
    }

    fn fill(&mut self, ink: Ink) {
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(Fill {
            paint: colour(ink).into(),
            opacity: NormalizedF32::ONE,
            rule: FillRule::NonZero,
        }));
    }

    fn stroke(&mut self, path: &Path, width: f64, ink: Ink, dash: Option<(f64, f64)>) {
        self.surface.set_fill(None);
        self.surface.set_stroke(Some(Stroke {
            paint: colour(ink).into(),
            width: self.pt.of(width),
            dash: dash
                .map(|(on, off)| StrokeDash { array: vec![self.pt.of(on), self.pt.of(off)], offset: 0.0 }),
            ..Stroke::default()
        }));
        self.surface.draw_path(path);
    }
}

fn colour(ink: Ink) -> rgb::Color {
    let colour = THEME.colour(ink);
    rgb::Color::new(colour.red, colour.green, colour.blue)
}
