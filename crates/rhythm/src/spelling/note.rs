use timebase::Span;

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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Tuplet {
    /// How many are played.
    pub actual: u32,
    /// In the time of how many.
    pub normal: u32,
    /// Which tuplet of the bar it belongs to, from 0: notes with the same index stand under one number.
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
    /// The tuplet it stands in.
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

impl Note {
    /// Whether it is tied from the note before, and so no beginning.
    #[must_use]
    pub fn is_tied(&self) -> bool {
        self.deed == Deed::Hold
    }
}
