use crate::Glyph;
use crate::font::{CAP_HEIGHT, Weight, text_width};
use crate::tempo_words::TempoWords;

/// Small print over a bar.
#[derive(Clone, Debug)]
pub(crate) enum Over {
    Words(String),
    Sign(Glyph),
    Tempo(TempoWords),
}

impl Over {
    /// The size of a sign, of that of a full note.
    pub(crate) const SIGN_SCALE: f64 = 0.5;

    /// The em of the number of times that a passage is played, of that of other small print.
    pub(crate) const TIMES: f64 = 1.3;

    /// What is kept free between two.
    pub(crate) const GAP: f64 = 0.8;

    /// How wide it is in small print of this em.
    pub(crate) fn width(&self, size: f64) -> f64 {
        match self {
            Self::Words(words) => text_width(words, size, Weight::Regular),
            Self::Sign(glyph) => glyph.bounds().width() * Self::SIGN_SCALE,
            Self::Tempo(tempo) => tempo.width(size),
        }
    }

    /// How far it reaches over its base line.
    pub(crate) fn height(&self, size: f64) -> f64 {
        match self {
            Self::Words(_) => CAP_HEIGHT * size,
            Self::Sign(glyph) => glyph.bounds().height() * Self::SIGN_SCALE,
            Self::Tempo(tempo) => tempo.height(size),
        }
    }
}
