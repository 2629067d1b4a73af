use rhythm::AttackId;

/// Something to tell the player, in a teacher's words.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What kind of thing.
    pub kind: FindingKind,
    /// Where: the count it is about, or the one it follows; `None` where it is about the whole take or lies before the first count.
    pub place: Option<AttackId>,
    /// The written attacks it is about, in order; empty where it is about strokes that answer none, or about the whole take.
    pub notes: Vec<AttackId>,
    /// The strokes it rests on, in order: indices into [`crate::Judgement::attacks`]; empty where it rests on what was not struck, or on the whole take.
    pub strokes: Vec<usize>,
    /// How sure it is, from 0 to 1: of findings said with confidence c about c are right, among takes like those the
    /// judge is measured by (`alignment.md` says how and how well). What is less sure than 0.65 is doubtful
    /// ([`crate::Judgement::doubtful`]).
    pub confidence: f64,
    /// How sure it would be by its own evidence alone, from 0.5 to 1, if the rest of the take is understood rightly.
    /// [`Self::confidence`] also asks whether it is.
    pub evidence: f64,
    /// How well the take around it was understood.
    pub understood: Understood,
    /// One sentence that names the deed and the place, without a capital and a full stop.
    pub says: String,
    /// The sort of slip, where it is about a single stroke or note: those of one sort can be [told together](crate::together()).
    pub slip: Option<Slip>,
}

/// A sort of slip at a single place, which may come back at others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Slip {
    /// A held note struck again.
    Held,
    /// A rest struck.
    Rest,
    /// A note not struck.
    Missed,
    /// A note struck twice.
    Twice,
    /// A stroke where nothing is written.
    Extra,
}

impl Finding {
    /// About one place, and sure.
    pub(crate) fn at(kind: FindingKind, place: AttackId, says: String) -> Self {
        Self { place: Some(place), ..Self::of_all(kind, says) }
    }

    /// About the whole take, and sure.
    pub(crate) fn of_all(kind: FindingKind, says: String) -> Self {
        Self {
            kind,
            place: None,
            notes: Vec::new(),
            strokes: Vec::new(),
            confidence: 1.0,
            evidence: 1.0,
            understood: Understood::default(),
            says,
            slip: None,
        }
    }

    /// Whether it tells a habit of a place in beat or bar, after rests or long notes, or of a hand: attacks there lie off throughout.
    pub(crate) fn is_habit_of_place(&self) -> bool {
        use FindingKind as K;
        let of_place = matches!(
            self.kind,
            K::AndsSwung | K::AndsBunched | K::EarlyEntry | K::CutShort | K::EarlyAttack | K::LateAttack
        );
        of_place && self.place.is_none() && !self.notes.is_empty()
    }

    /// Whether it tells of a pulse that runs from somewhere on, or up to somewhere: of one that does throughout, or in some values, there
    /// is no place.
    pub(crate) fn tells_a_bend(&self) -> bool {
        matches!(self.kind, FindingKind::Rushing | FindingKind::Dragging) && self.place.is_some()
    }
}

/// How well a take was understood, as one finding in it sees it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Understood {
    /// How many other kinds of mistakes there seem to be within three beats, or in the whole take. Where many seem to lie together, one
    /// was mistaken for the others; in places of their own beginners make several. For a stroke too many, kinds about where the player was in
    /// the music count twice: it is mostly one more stroke of that.
    pub beside: usize,
    /// The share of strokes and notes, 0 to 1, that answer one another in no way: missed notes and strokes that answer none.
    pub left: f64,
}

macro_rules! kinds {
    ($($(#[doc = $doc:literal])* $kind:ident = $name:literal,)*) => {
        /// The kinds of finding, the most useful first: where the player was in the music, what was read for what, what was struck that
        /// should not be and the reverse, then lengths, the pulse and single attacks, then what is no fault.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum FindingKind {
            $($(#[doc = $doc])* $kind,)*
        }

        impl FindingKind {
            /// Every kind, the most useful first.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)*];

            /// Its stable name, as it stands in files.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)* }
            }
        }
    };
}

kinds! {
    /// The player's device was not there, so nothing is asked there.
    NotThere = "not-there",
    /// What was played does not fit the rhythm anywhere.
    OtherRhythm = "other-rhythm",
    /// All, or all from a bar on, was played at half the speed.
    HalfSpeed = "half-speed",
    /// All, or all from a bar on, was played at twice the speed.
    DoubleSpeed = "double-speed",
    /// The whole phrase came one or more beats early, or half a beat.
    PhraseEarly = "phrase-early",
    /// The whole phrase came one or more beats late, or half a beat.
    PhraseLate = "phrase-late",
    /// A written repeat was passed over.
    RepeatNotTaken = "repeat-not-taken",
    /// One or more whole bars were left out, and what follows came so much earlier.
    BarSkipped = "bar-skipped",
    /// One or more whole bars were played again, and what follows came so much later.
    BarRepeated = "bar-repeated",
    /// Another bar was played than is written there, and what follows came in its time: two bars changed places, the bar before was
    /// played once more, or the wrong ending was taken.
    BarExchanged = "bar-exchanged",
    /// A beat was left out, and what follows came a beat earlier.
    BeatDropped = "beat-dropped",
    /// The pulse stood still at a bar line, and what follows came later; where it does at every bar line, that is one finding.
    PauseAtBarLine = "pause-at-bar-line",
    /// A beat was put in, or the pulse stood still within a bar, and what follows came later.
    BeatAdded = "beat-added",
    /// The beats were struck instead of the rhythm.
    BeatStruck = "beat-struck",
    /// Every count that is said was struck, held and silent ones too.
    CountsStruck = "counts-struck",
    /// A held or tied note was struck again.
    HoldStruck = "hold-struck",
    /// A rest was struck.
    RestStruck = "rest-struck",
    /// The first attack after a rest came while the rest still lasted; where all do, that is one finding.
    EarlyEntry = "early-entry",
    /// The attack after a long note came before the note had lasted its length; where all do, that is one finding.
    CutShort = "cut-short",
    /// A dotted figure was played in even notes.
    DottedEven = "dotted-even",
    /// A dotted figure was played long and short in the proportion of a triplet, or its short note as the last of one.
    DottedAsTriplet = "dotted-as-triplet",
    /// A triplet was played as two sixteenths and an eighth, or the like: in other values, in another order, as two notes.
    TripletAsSixteenths = "triplet-as-sixteenths",
    /// Two sixteenths and an eighth (or the like) were played as a triplet.
    SixteenthsAsTriplet = "sixteenths-as-triplet",
    /// Two sixteenths and an eighth were played for an eighth and two sixteenths: `1 e &` for `1 & a`.
    EAndForAndA = "e-and-for-and-a",
    /// An eighth and two sixteenths were played for two sixteenths and an eighth: `1 & a` for `1 e &`.
    AndAForEAnd = "and-a-for-e-and",
    /// A syncopation was played in even notes.
    SyncopationEvened = "syncopation-evened",
    /// A syncopated attack was moved to the beat.
    SyncopationOnBeat = "syncopation-on-beat",
    /// Long and short in a beat of three were played alike.
    LongShortEvened = "long-short-evened",
    /// Shorter and longer notes changed places: two eighths and a quarter for a quarter and two eighths.
    ValuesConfused = "values-confused",
    /// The attacks half-way between the beats come late throughout, as if the beat were divided in three, or those a quarter and three
    /// quarters of the way, as if its halves were; in beats of three those at a third of the way or at two.
    AndsSwung = "ands-swung",
    /// The attacks half-way between the beats come early throughout, or those a quarter and three quarters of the way; in beats of three
    /// those at a third of the way or at two.
    AndsBunched = "ands-bunched",
    /// Attacks are missing and strokes are too many side by side, and no mistake that has a name explains them.
    Unclear = "unclear",
    /// A written attack was not struck; a run of them is one finding, and so is one that is missed every time.
    AttackMissed = "attack-missed",
    /// An attack where nothing is counted, or a second one for the same note.
    ExtraAttack = "extra-attack",
    /// A key was let go well before the note had lasted its length.
    ReleasedEarly = "released-early",
    /// A key was held on into a rest.
    HeldThroughRest = "held-through-rest",
    /// The pulse grew faster than written, throughout, from somewhere on, or in some values.
    Rushing = "rushing",
    /// The pulse grew slower than written, throughout, from somewhere on, or in some values.
    Dragging = "dragging",
    /// The attacks scatter.
    Unsteady = "unsteady",
    /// A single attack far ahead of the player's own pulse, or all on count 1.
    EarlyAttack = "early-attack",
    /// A single attack far behind the player's own pulse, or all on count 1, after rests, after long notes, or of one hand.
    LateAttack = "late-attack",
    /// A note was struck with the other hand than written.
    WrongHand = "wrong-hand",
    /// An accented attack was no louder than its neighbours.
    AccentMissed = "accent-missed",
    /// An attack without an accent was as loud as an accented one.
    AccentAdded = "accent-added",
    /// All was struck, nothing else, and steadily.
    GoodTake = "good-take",
    /// The pulse lies steadily ahead of the click.
    SteadyLead = "steady-lead",
    /// The pulse lies steadily behind the click.
    SteadyLag = "steady-lag",
}

impl FindingKind {
    /// Whether it is a mistake. That a device was not there, a good take, and a steady distance from the click, are not.
    #[must_use]
    pub const fn is_mistake(self) -> bool {
        !matches!(self, Self::NotThere | Self::GoodTake | Self::SteadyLead | Self::SteadyLag)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_differ_and_all_is_in_order() {
        assert!(FindingKind::ALL.is_sorted());
        let mut names: Vec<_> = FindingKind::ALL.iter().map(|kind| kind.name()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), FindingKind::ALL.len());
    }
}
