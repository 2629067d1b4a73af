use timebase::{Ratio, Span};

use crate::Deed;

/// The shape of a note or rest, without dots.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Value {
    /// A whole note.
    Whole,
    /// A half note.
    Half,
    /// A quarter note.
    Quarter,
    /// An eighth: one flag or beam.
    Eighth,
    /// A sixteenth: two flags or beams.
    Sixteenth,
    /// A thirty-second: three flags or beams.
    ThirtySecond,
    /// A sixty-fourth: four flags or beams.
    SixtyFourth,
}

/// The tuplet a note stands in: `actual` in the time of `normal` (3 in the time of 2).
///
/// A note in a tuplet inside another names the inner one, and through [`Tuplet::outer`] the one around it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Tuplet {
    /// How many are played: the number that stands over it.
    pub actual: u32,
    /// In the time of how many.
    pub normal: u32,
    /// Which tuplet of the bar it belongs to, from 0: notes with the same index stand under one number.
    pub index: usize,
    /// The tuplet around this one.
    pub outer: Option<OuterTuplet>,
}

/// A tuplet that holds another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct OuterTuplet {
    /// How many are played.
    pub actual: u32,
    /// In the time of how many.
    pub normal: u32,
    /// Which tuplet of the bar it is, from 0. Notes of the outer tuplet alone have this [`Tuplet::index`].
    pub index: usize,
}

/// One symbol on the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Note {
    /// Where it begins, from where the full bar begins.
    pub at: Span,
    /// How long it sounds or is silent.
    pub length: Span,
    /// Struck, tied from the note before, or silent.
    pub deed: Deed,
    /// Its shape. A silent full bar of any meter is a whole rest.
    pub value: Value,
    /// How many dots.
    pub dots: u8,
    /// The innermost tuplet it stands in.
    pub tuplet: Option<Tuplet>,
    /// Which beam of the bar it stands under, from 0; `None` when it has a flag, no flag, or is a rest outside beams.
    pub beam: Option<usize>,
    /// Whether this rest fills a whole bar and is centred in it.
    pub whole_bar: bool,
}

impl Value {
    /// Every value, from the longest.
    pub(super) const ALL: [Self; 7] = [
        Self::Whole,
        Self::Half,
        Self::Quarter,
        Self::Eighth,
        Self::Sixteenth,
        Self::ThirtySecond,
        Self::SixtyFourth,
    ];

    /// Its length without dots, outside a tuplet.
    #[must_use]
    pub fn span(self) -> Span {
        match self {
            Self::Whole => Span::WHOLE,
            Self::Half => Span::HALF,
            Self::Quarter => Span::QUARTER,
            Self::Eighth => Span::EIGHTH,
            Self::Sixteenth => Span::SIXTEENTH,
            Self::ThirtySecond => Span::new(1, 32),
            Self::SixtyFourth => Span::new(1, 64),
        }
    }

    /// How many flags or beams it has.
    #[must_use]
    pub fn flags(self) -> u8 {
        match self {
            Self::Whole | Self::Half | Self::Quarter => 0,
            Self::Eighth => 1,
            Self::Sixteenth => 2,
            Self::ThirtySecond => 3,
            Self::SixtyFourth => 4,
        }
    }
}

impl Tuplet {
    /// What a length written in it is multiplied by, the tuplet around it counted in: `normal / actual` of both.
    ///
    /// A note of a triplet in a quintuplet lasts 2/3 · 4/5 = 8/15 of its value. In lowest terms: for the two
    /// numbers of a time modification take [`Tuplet::product`].
    #[must_use]
    pub fn ratio(&self) -> Ratio<i64> {
        let (actual, normal) = self.product();
        Ratio::new(i64::from(normal), i64::from(actual))
    }

    /// All that are played in the time of how many, the tuplet around it counted in: a triplet in a
    /// quintuplet is (15, 8). At most 64 · 64 each where an author wrote the tuplets.
    #[must_use]
    pub fn product(&self) -> (u32, u32) {
        let (actual, normal) = self.outer.map_or((1, 1), |outer| (outer.actual, outer.normal));
        (self.actual.saturating_mul(actual), self.normal.saturating_mul(normal))
    }

    /// Whether the tuplet `index` is this one or the one around it.
    #[must_use]
    pub fn stands_in(&self, index: usize) -> bool {
        self.index == index || self.outer.is_some_and(|outer| outer.index == index)
    }
}

impl Note {
    /// Whether it is tied from the note before, and so no beginning.
    #[must_use]
    pub fn is_tied(&self) -> bool {
        self.deed == Deed::Hold
    }
}
