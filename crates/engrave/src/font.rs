//! The fonts that are embedded, and how wide a text is in them.
//!
//! A window loads the same bytes, so that what is measured here is what is painted there.

use std::sync::OnceLock;

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

/// The music font, untouched: Bravura by Steinberg, SIL Open Font License 1.1.
pub const MUSIC: &[u8] = include_bytes!("../../../assets/fonts/bravura.otf");

/// The text font, regular: Open Sans, Apache License 2.0.
pub const TEXT: &[u8] = include_bytes!("../../../assets/fonts/OpenSans-Regular.ttf");

/// The text font, bold: Open Sans, Apache License 2.0.
pub const TEXT_BOLD: &[u8] = include_bytes!("../../../assets/fonts/OpenSans-Bold.ttf");

/// Families for a reader without the text font, the nearest in width first.
pub const TEXT_FAMILIES: &str = "'Open Sans', 'Segoe UI', 'Helvetica Neue', Arial, sans-serif";

/// How high the text font's capitals and digits stand, as a part of the em (its OS/2 table: 1462 of 2048).
pub const CAP_HEIGHT: f64 = 1462.0 / 2048.0;

/// How far its letters hang below the line, as a part of the em (the hhea table would leave more room: `g` reaches 492 of 2048).
pub const DESCENT: f64 = 492.0 / 2048.0;

/// Regular or bold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Weight {
    /// Regular.
    Regular,
    /// Bold.
    Bold,
}

/// How wide `text` is, in the unit of `size`, the height of its em. Kerning is left out: it only narrows.
#[must_use]
pub fn text_width(text: &str, size: f64, weight: Weight) -> f64 {
    static FACES: OnceLock<[Face; 2]> = OnceLock::new();
    let [regular, bold] = FACES.get_or_init(|| [Face::new(TEXT), Face::new(TEXT_BOLD)]);
    let face = match weight {
        Weight::Regular => regular,
        Weight::Bold => bold,
    };
    text.chars().map(|character| face.advance(character)).sum::<f64>() * size
}

/// Advances of one font file, as parts of the em.
struct Face {
    bytes: &'static [u8],
    /// Of the first characters of Unicode, which are nearly all that is ever measured.
    near: Vec<f64>,
}

impl Face {
    fn new(bytes: &'static [u8]) -> Self {
        let font = font(bytes);
        let near = ('\0'..'\u{250}').map(|character| advance(&font, character)).collect();
        Self { bytes, near }
    }

    fn advance(&self, character: char) -> f64 {
        let near = usize::try_from(u32::from(character)).ok().and_then(|index| self.near.get(index));
        near.copied().unwrap_or_else(|| advance(&font(self.bytes), character))
    }
}

fn advance(font: &FontRef<'_>, character: char) -> f64 {
    let metrics = font.glyph_metrics(Size::unscaled(), LocationRef::default());
    // A character the font lacks is drawn in another font by the reader; a full em is room enough.
    let glyph = font.charmap().map(character);
    glyph
        .and_then(|glyph| metrics.advance_width(glyph))
        .map_or(1.0, |width| f64::from(width) / units_per_em(font))
}

/// In how many units the font's numbers are given. Scaled by a renderer they would be rounded to 1/64.
pub(crate) fn units_per_em(font: &FontRef<'_>) -> f64 {
    f64::from(font.metrics(Size::unscaled(), LocationRef::default()).units_per_em)
}

pub(crate) fn font(bytes: &'static [u8]) -> FontRef<'static> {
    FontRef::new(bytes).expect("the embedded font files are whole: a test reads them")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advances of the fonts' `hmtx` tables as fontTools prints them, of 2048 units an em.
    #[test]
    fn widths_are_the_fonts_own() {
        let check = |text: &str, weight, units: f64| {
            let width = text_width(text, 2.0, weight);
            assert!((width - 2.0 * units / 2048.0).abs() < 1e-9, "{text} is {width} wide");
        };
        check("100", Weight::Regular, 3.0 * 1171.0);
        check("100", Weight::Bold, 3.0 * 1169.0);
        check("(e)", Weight::Regular, 606.0 + 1149.0 + 606.0);
        check("&", Weight::Bold, 1536.0);
        assert_eq!(text_width("", 1.0, Weight::Bold), 0.0);
        assert_eq!(text_width("\u{4e2d}", 1.0, Weight::Regular), 1.0);
    }
}
