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

impl Face {
    fn new(bytes: &'static [u8]) -> Result<Self, Error> {
        let broken = || Error::Pdf { why: "an embedded font cannot be read".to_owned() };
        Ok(Self {
            font: Font::new(bytes.into(), 0).ok_or_else(broken)?,
            reader: FontRef::new(bytes).map_err(|_| broken())?,
            known: HashMap::new(),
        })
    }

    /// Draws `text` with its base line beginning at `at`, its em `size` points high.
    pub(super) fn draw(
        &mut self,
        surface: &mut Surface<'_>,
        text: &str,
        at: Point,
        size: f32,
    ) -> Result<(), Error> {
        let mut glyphs = Vec::with_capacity(text.len());
        for (start, character) in text.char_indices() {
            let (glyph, advance) =
                self.glyph(character).ok_or_else(|| Error::NoLetter { character, text: text.to_owned() })?;
            let range = start..start + character.len_utf8();
            glyphs.push(KrillaGlyph::new(glyph, advance, 0.0, 0.0, 0.0, range, None));
        }
        surface.draw_glyphs(at, &glyphs, self.font.clone(), text, size, false);
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
