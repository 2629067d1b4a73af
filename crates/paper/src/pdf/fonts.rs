use std::collections::HashMap;

use engrave::{Weight, font};
use krilla::geom::Point;
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use crate::Error;

/// The embedded fonts.
pub(super) struct Fonts {
    pub(super) music: Face,
    regular: Face,
    bold: Face,
}

impl Fonts {
    pub(super) fn new() -> Result<Self, Error> {
        Ok(Self {
            music: Face::new(font::MUSIC)?,
            regular: Face::new(font::TEXT)?,
            bold: Face::new(font::TEXT_BOLD)?,
        })
    }

    pub(super) fn text(&mut self, weight: Weight) -> &mut Face {
        match weight {
            Weight::Regular => &mut self.regular,
            Weight::Bold => &mut self.bold,
        }
    }
}

/// One font: what each character is drawn with, without kerning, for so it was measured.
pub(super) struct Face {
    font: Font,
    reader: FontRef<'static>,
    known: HashMap<char, Option<(GlyphId, f32)>>,
}

/// Glyphs one after the other, with the characters they stand for.
#[derive(Default)]
struct Line {
    text: String,
    glyphs: Vec<KrillaGlyph>,
}

impl Line {
    fn push(&mut self, character: char, glyph: GlyphId, advance: f32) {
        let start = self.text.len();
        self.text.push(character);
        let range = start..self.text.len();
        self.glyphs.push(KrillaGlyph::new(glyph, advance, 0.0, 0.0, 0.0, range, None));
    }

    fn draw(&self, surface: &mut Surface<'_>, at: Point, font: Font, size: f32) {
        surface.draw_glyphs(at, &self.glyphs, font, &self.text, size, false);
    }
}

impl Face {
    fn new(bytes: &'static [u8]) -> Result<Self, Error> {
        let broken = || Error::Pdf { why: "an embedded font cannot be read".to_owned() };
        Ok(Self {
            font: Font::new(bytes.into(), 0).ok_or_else(broken)?,
            reader: FontRef::new(bytes).map_err(|_| broken())?,
            known: HashMap::new(),
        })
    }

    /// Draws words on the base line `y`, each from its x on, which rise; the em is `size` points high. Between two of
    /// them goes a blank as wide as their distance, so that whoever copies them out has words.
    pub(super) fn draw(
        &mut self,
        surface: &mut Surface<'_>,
        words: &[(&str, f32)],
        y: f32,
        size: f32,
    ) -> Result<(), Error> {
        let mut line = Line::default();
        for (number, &(word, x)) in words.iter().enumerate() {
            let mut end = x;
            for character in word.chars() {
                let (glyph, advance) = self
                    .glyph(character)
                    .ok_or_else(|| Error::NoLetter { character, text: word.to_owned() })?;
                line.push(character, glyph, advance);
                end += advance * size;
            }
            if let (Some((_, next)), Some((blank, _))) = (words.get(number + 1), self.glyph(' ')) {
                line.push(' ', blank, (next - end) / size);
            }
        }
        if let Some(&(_, x)) = words.first() {
            line.draw(surface, Point::from_xy(x, y), self.font.clone(), size);
        }
        Ok(())
    }

    /// Draws symbols on the line `y`, each with its origin at its x, which rise.
    pub(super) fn draw_symbols(
        &mut self,
        surface: &mut Surface<'_>,
        symbols: &[(char, f32)],
        y: f32,
        size: f32,
    ) -> Result<(), Error> {
        let mut line = Line::default();
        for (number, &(character, x)) in symbols.iter().enumerate() {
            let (glyph, advance) = self
                .glyph(character)
                .ok_or_else(|| Error::NoLetter { character, text: character.to_string() })?;
            let next = symbols.get(number + 1).map(|(_, next)| (next - x) / size);
            line.push(character, glyph, next.unwrap_or(advance));
        }
        if let Some(&(_, x)) = symbols.first() {
            line.draw(surface, Point::from_xy(x, y), self.font.clone(), size);
        }
        Ok(())
    }

    /// Which glyph a character is, and how wide, in parts of the em.
    fn glyph(&mut self, character: char) -> Option<(GlyphId, f32)> {
        let reader = &self.reader;
        *self.known.entry(character).or_insert_with(|| {
            let id = reader.charmap().map(character)?;
            let metrics = reader.glyph_metrics(Size::unscaled(), LocationRef::default());
            let units = f32::from(reader.metrics(Size::unscaled(), LocationRef::default()).units_per_em);
            Some((GlyphId::new(id.to_u32()), metrics.advance_width(id)? / units))
        })
    }
}
