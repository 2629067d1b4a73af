use std::ops::Range;

use timebase::Span;

/// A mistake in an answer that many make alike, named.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Misunderstanding {
    /// Which.
    pub kind: MisunderstandingKind,
    /// The first written bar it shows in, as an index into [`Rhythm::bars`](rhythm::Rhythm::bars).
    pub bar: usize,
    /// The first count it shows at, from where that full bar begins.
    pub at: Span,
    /// Every bar it shows in, rising, as indices.
    pub bars: Vec<usize>,
    /// The words of the answer that show it, as bytes of its text; empty where the mistake is that nothing was written.
    pub evidence: Vec<Range<usize>>,
    /// How many wrong or missing counts and needless words it explains.
    pub explains: usize,
    /// One sentence, without a capital and a full stop: what was written, and what is written in the key.
    pub says: String,
}

/// The mistakes that have a name (common practice, no source). What concerns the whole way of counting comes first, then a
/// bar, a beat and a single count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MisunderstandingKind {
    /// Counted in another system than the key.
    AnotherSystem,
    /// Counted in another variant of the key's system.
    AnotherVariant,
    /// The notes are numbered, not the beats.
    NumberedNotes,
    /// Numbers go on from the bar before: `5 6 7 8`.
    WentOn,
    /// Numbers begin again at 1 after a rest.
    BeganAgain,
    /// The beats of each note are counted from 1: `1 2 1 2` for two half notes.
    CountedValues,
    /// The pickup is counted from 1, as if it were a full bar.
    PickupFromOne,
    /// A word on every part of the beat, also where nothing begins.
    EveryDivision,
    /// The words of a beat that divides in two, in a beat that divides in three.
    SimpleInCompound,
    /// The words of a beat that divides in three, in a beat that divides in two.
    CompoundInSimple,
    /// Triplet words for an eighth and sixteenths.
    TripletWords,
    /// Words of eighths and sixteenths for a triplet.
    SixteenthWords,
    /// The words of another group of notes in the beat: `1 & a` for `1 e &`, `1 &` for `1 a`.
    AnotherGroup,
    /// Held counts are written as struck.
    HoldStruck,
    /// Held counts are written as silent.
    HoldSilent,
    /// Silent counts are written as struck.
    RestStruck,
    /// Silent counts are written as held.
    RestHeld,
    /// Struck counts are written as held or silent.
    AttackNotStruck,
    /// Beats inside held notes are not counted.
    HoldLeftOut,
    /// Rests are not counted.
    RestLeftOut,
    /// Held or silent counts are marked, but their words are not written: `sh` for `(4)`, `-` for `_2`.
    WithoutWord,
    /// A bar line stands inside a bar.
    BarLineInside,
}

impl MisunderstandingKind {
    /// Every kind.
    pub const ALL: [Self; 22] = [
        Self::AnotherSystem,
        Self::AnotherVariant,
        Self::NumberedNotes,
        Self::WentOn,
        Self::BeganAgain,
        Self::CountedValues,
        Self::PickupFromOne,
        Self::EveryDivision,
        Self::SimpleInCompound,
        Self::CompoundInSimple,
        Self::TripletWords,
        Self::SixteenthWords,
        Self::AnotherGroup,
        Self::HoldStruck,
        Self::HoldSilent,
        Self::RestStruck,
        Self::RestHeld,
        Self::AttackNotStruck,
        Self::HoldLeftOut,
        Self::RestLeftOut,
        Self::WithoutWord,
        Self::BarLineInside,
    ];

    /// Its stable name, as it stands in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::AnotherSystem => "another-system",
            Self::AnotherVariant => "another-variant",
            Self::NumberedNotes => "numbered-notes",
            Self::WentOn => "went-on",
            Self::BeganAgain => "began-again",
            Self::CountedValues => "counted-values",
            Self::PickupFromOne => "pickup-from-one",
            Self::EveryDivision => "every-division",
            Self::SimpleInCompound => "simple-in-compound",
            Self::CompoundInSimple => "compound-in-simple",
            Self::TripletWords => "triplet-words",
            Self::SixteenthWords => "sixteenth-words",
            Self::AnotherGroup => "another-group",
            Self::HoldStruck => "hold-struck",
            Self::HoldSilent => "hold-silent",
            Self::RestStruck => "rest-struck",
            Self::RestHeld => "rest-held",
            Self::AttackNotStruck => "attack-not-struck",
            Self::HoldLeftOut => "hold-left-out",
            Self::RestLeftOut => "rest-left-out",
            Self::WithoutWord => "without-word",
            Self::BarLineInside => "bar-line-inside",
        }
    }

    /// The mistake in a few words, for a table of many answers.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::AnotherSystem => "counted in another system",
            Self::AnotherVariant => "counted in another variant of the system",
            Self::NumberedNotes => "numbered the notes, not the beats",
            Self::WentOn => "went on counting in a new bar",
            Self::BeganAgain => "began again at 1 after a rest",
            Self::CountedValues => "counted the length of each note",
            Self::PickupFromOne => "counted the pickup from 1",
            Self::EveryDivision => "wrote a word where nothing begins, in every beat",
            Self::SimpleInCompound => "used the words of two in a beat of three",
            Self::CompoundInSimple => "used the words of three in a beat of two",
            Self::TripletWords => "used triplet words for an eighth and sixteenths",
            Self::SixteenthWords => "used words of sixteenths for a triplet",
            Self::AnotherGroup => "used the words of another group of notes in the beat",
            Self::HoldStruck => "wrote held counts as struck",
            Self::HoldSilent => "wrote held counts as silent",
            Self::RestStruck => "wrote silent counts as struck",
            Self::RestHeld => "wrote silent counts as held",
            Self::AttackNotStruck => "wrote struck counts as held or silent",
            Self::HoldLeftOut => "left out beats inside held notes",
            Self::RestLeftOut => "left out rests",
            Self::WithoutWord => "marked held or silent counts without their words",
            Self::BarLineInside => "put a bar line inside a bar",
        }
    }
}
