//! A tempo or a change of tempo as it is printed: notes, an equals sign, beats a minute.

use kurbo::Point;
use rhythm::TempoMark;
use rhythm::spelling::Value;
use timebase::{Span, Tempo};

use crate::font::{CAP_HEIGHT, Weight, text_width};
use crate::{Anchor, Glyph, Ink, Item};

/// The em of text beside which a tempo's note stands at full size.
const FULL_SIZE: f64 = 1.8;
/// Between a tempo's note and its dot, or between two dots.
const DOT_GAP: f64 = 0.3;
/// Between a note and the words beside it, of their em.
const WORD_GAP: f64 = 0.3;
/// How far the middle of a note's head stands over the base line, of the size of a full note.
const NOTE_RISE: f64 = 0.35;

/// A tempo as it is printed, `♩ = 88`, beside text of this em: from `at` on its base line to the right.
#[must_use]
pub fn tempo_mark(tempo: Tempo, at: Point, size: f64) -> Vec<Item> {
    TempoWords::tempo(tempo).items(at, size, Ink::Main)
}

/// What a tempo mark is made of, from the left.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct TempoWords(Vec<Bit>);

#[derive(Clone, Debug, PartialEq)]
enum Bit {
    Note(Glyph, u8),
    Words(String),
}

impl TempoWords {
    /// `♩ = 88`
    pub(crate) fn tempo(tempo: Tempo) -> Self {
        let text = tempo.to_string();
        let bpm = text.rsplit(" = ").next().unwrap_or_default();
        Self(vec![beat(tempo.beat()), Bit::Words(format!("= {bpm}"))])
    }

    /// A change: a tempo, a tempo that is reached over some bars, or two notes that last alike, the one before and the one from here on.
    pub(crate) fn mark(mark: TempoMark) -> Self {
        match mark {
            TempoMark::Beats(tempo) => Self::tempo(tempo),
            TempoMark::Gradual { tempo, bars } => {
                let Self(mut bits) = Self::tempo(tempo);
                bits.insert(0, Bit::Words("gradually".to_owned()));
                let over = if bars == 1 { "over 1 bar".to_owned() } else { format!("over {bars} bars") };
                bits.push(Bit::Words(over));
                Self(bits)
            }
            TempoMark::Equal { before, after } => {
                Self(vec![beat(before), Bit::Words("=".to_owned()), beat(after)])
            }
        }
    }

    /// How wide it is beside text of this em.
    pub(crate) fn width(&self, size: f64) -> f64 {
        let gaps = (self.0.len() - 1) as f64 * WORD_GAP * size;
        gaps + self.0.iter().map(|bit| bit.width(size)).sum::<f64>()
    }

    /// How far it reaches over its base line.
    pub(crate) fn height(&self, size: f64) -> f64 {
        self.0.iter().map(|bit| bit.height(size)).fold(0.0, f64::max)
    }

    /// Its items, from `at` on its base line to the right.
    pub(crate) fn items(&self, at: Point, size: f64, ink: Ink) -> Vec<Item> {
        let mut items = Vec::new();
        let mut x = at.x;
        for bit in &self.0 {
            bit.draw(&mut items, Point::new(x, at.y), size, ink);
            x += bit.width(size) + WORD_GAP * size;
        }
        items
    }
}

impl Bit {
    fn width(&self, size: f64) -> f64 {
        match self {
            Self::Words(words) => text_width(words, size, Weight::Regular),
            Self::Note(glyph, dots) => {
                let dots = f64::from(*dots) * (DOT_GAP + Glyph::TempoDot.bounds().width());
                (glyph.bounds().width() + dots) * size / FULL_SIZE
            }
        }
    }

    fn height(&self, size: f64) -> f64 {
        match self {
            Self::Words(_) => CAP_HEIGHT * size,
            Self::Note(glyph, _) => (NOTE_RISE - glyph.bounds().y0) * size / FULL_SIZE,
        }
    }

    fn draw(&self, items: &mut Vec<Item>, at: Point, size: f64, ink: Ink) {
        match self {
            Self::Words(words) => {
                items.push(Item::text(words.clone(), at, size, Weight::Regular, Anchor::Start, ink));
            }
            Self::Note(glyph, dots) => {
                let scale = size / FULL_SIZE;
                let at = at - (0.0, NOTE_RISE * scale);
                items.push(Item::Glyph { glyph: *glyph, at, scale, ink });
                let mut x = at.x + glyph.bounds().x1 * scale;
                for _ in 0..*dots {
                    x += DOT_GAP * scale;
                    items.push(Item::Glyph { glyph: Glyph::TempoDot, at: Point::new(x, at.y), scale, ink });
                    x += Glyph::TempoDot.bounds().width() * scale;
                }
            }
        }
    }
}

/// The note of a beat, or its fraction of a whole note where no symbol shows it.
fn beat(beat: Span) -> Bit {
    const NOTES: [(Value, Glyph); 5] = [
        (Value::Whole, Glyph::TempoWhole),
        (Value::Half, Glyph::TempoHalf),
        (Value::Quarter, Glyph::TempoQuarter),
        (Value::Eighth, Glyph::TempoEighth),
        (Value::Sixteenth, Glyph::TempoSixteenth),
    ];
    let found = NOTES.iter().find_map(|&(value, glyph)| {
        if beat == value.span() {
            Some((glyph, 0))
        } else {
            (beat * 2 == value.span() * 3).then_some((glyph, 1))
        }
    });
    found.map_or_else(|| Bit::Words(beat.to_string()), |(glyph, dots)| Bit::Note(glyph, dots))
}
