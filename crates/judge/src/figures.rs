//! Rhythmic figures and what pupils read for them. The mistakes are those that teachers name (common practice, no source).

use crate::FindingKind;

/// A figure of one or two felt beats, and what is played for it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Figure {
    pub(crate) kind: FindingKind,
    /// How many felt beats it fills.
    pub(crate) beats: usize,
    /// Whether the felt beat divides in three.
    pub(crate) in_three: bool,
    /// Where its attacks are written, in [`crate::written::PARTS`] of a beat.
    pub(crate) written: &'static [i64],
    /// Where they are played, in the same order; fewer where so many are not.
    pub(crate) played: &'static [i64],
    /// How it is called in a sentence.
    pub(crate) called: &'static str,
    /// What was played, in a sentence.
    pub(crate) for_it: &'static str,
    /// Whether it is read so seldom that only a habit of it is told: one place of many is likelier chance.
    pub(crate) seldom: bool,
}

impl Figure {
    /// In how many ways what is written here may be read with as many strokes.
    pub(crate) fn ways(&self) -> usize {
        let is_alike = |other: &&Self| {
            (other.beats, other.in_three, other.written, other.played.len())
                == (self.beats, self.in_three, self.written, self.played.len())
        };
        FIGURES.iter().filter(is_alike).count()
    }
}

const fn simple(
    kind: FindingKind,
    beats: usize,
    written: &'static [i64],
    played: &'static [i64],
    called: &'static str,
    for_it: &'static str,
) -> Figure {
    Figure { kind, beats, in_three: false, written, played, called, for_it, seldom: false }
}

const fn compound(
    kind: FindingKind,
    written: &'static [i64],
    played: &'static [i64],
    called: &'static str,
    for_it: &'static str,
) -> Figure {
    Figure { kind, beats: 1, in_three: true, written, played, called, for_it, seldom: false }
}

use FindingKind::{
    AndAForEAnd, DottedAsTriplet, DottedEven, EAndForAndA, LongShortEvened, SixteenthsAsTriplet,
    SyncopationEvened, SyncopationOnBeat, TripletAsSixteenths, ValuesConfused,
};

/// Every figure that has a name, with what is played for it.
pub(crate) const FIGURES: &[Figure] = &[
    simple(DottedEven, 1, &[0, 36], &[0, 24], "dotted figure", "in even notes"),
    simple(DottedEven, 1, &[0, 12], &[0, 24], "short-long figure", "in even notes"),
    simple(DottedEven, 2, &[0, 72], &[0, 48], "dotted figure", "in even notes"),
    simple(SyncopationOnBeat, 2, &[0, 24], &[0, 48], "syncopation", "with its long note on the beat"),
    simple(DottedAsTriplet, 1, &[0, 36], &[0, 32], "dotted figure", "as long and short of a triplet"),
    simple(DottedAsTriplet, 1, &[0, 12], &[0, 16], "short-long figure", "as short and long of a triplet"),
    simple(DottedAsTriplet, 2, &[0, 72], &[0, 64], "dotted figure", "as long and short of a triplet"),
    simple(
        DottedAsTriplet,
        2,
        &[0, 72],
        &[0, 80],
        "dotted figure",
        "with its short note as late as the last of a triplet",
    ),
    simple(TripletAsSixteenths, 1, &[0, 16, 32], &[0, 12, 24], "triplet", "as two sixteenths and an eighth"),
    simple(TripletAsSixteenths, 1, &[0, 16, 32], &[0, 24, 36], "triplet", "as an eighth and two sixteenths"),
    Figure {
        seldom: true,
        ..simple(
            TripletAsSixteenths,
            1,
            &[0, 16, 32],
            &[0, 12, 36],
            "triplet",
            "as a sixteenth, an eighth and a sixteenth",
        )
    },
    simple(TripletAsSixteenths, 1, &[0, 16, 32], &[0, 24], "triplet", "as two eighths"),
    simple(TripletAsSixteenths, 2, &[0, 32, 64], &[0, 24, 48], "triplet", "as two eighths and a quarter"),
    simple(TripletAsSixteenths, 2, &[0, 32, 64], &[0, 48, 72], "triplet", "as a quarter and two eighths"),
    simple(
        TripletAsSixteenths,
        2,
        &[0, 32, 64],
        &[0, 24, 72],
        "triplet",
        "as an eighth, a quarter and an eighth",
    ),
    simple(TripletAsSixteenths, 2, &[0, 32, 64], &[0, 48], "triplet", "as two quarters"),
    simple(SixteenthsAsTriplet, 1, &[0, 12, 24], &[0, 16, 32], "two sixteenths and eighth", "as a triplet"),
    simple(SixteenthsAsTriplet, 1, &[0, 24, 36], &[0, 16, 32], "eighth and two sixteenths", "as a triplet"),
    simple(
        EAndForAndA,
        1,
        &[0, 24, 36],
        &[0, 12, 24],
        "eighth and two sixteenths",
        "as two sixteenths and an eighth",
    ),
    simple(
        AndAForEAnd,
        1,
        &[0, 12, 24],
        &[0, 24, 36],
        "two sixteenths and eighth",
        "as an eighth and two sixteenths",
    ),
    simple(SyncopationEvened, 1, &[0, 12, 36], &[0, 16, 32], "syncopation", "in three even notes"),
    simple(SyncopationOnBeat, 1, &[0, 12, 36], &[0, 24, 36], "syncopation", "with its long note on the &"),
    simple(SyncopationEvened, 1, &[0, 12, 36], &[0, 12, 24], "syncopation", "in even sixteenths"),
    simple(SyncopationEvened, 2, &[0, 24, 72], &[0, 32, 64], "syncopation", "in three even notes"),
    simple(SyncopationEvened, 2, &[0, 24, 72], &[0, 24, 48], "syncopation", "in even eighths"),
    simple(SyncopationOnBeat, 2, &[0, 24, 72], &[0, 48, 72], "syncopation", "with its long note on the beat"),
    simple(
        ValuesConfused,
        2,
        &[0, 24, 48],
        &[0, 48, 72],
        "two eighths and quarter",
        "as a quarter and two eighths",
    ),
    simple(
        ValuesConfused,
        2,
        &[0, 48, 72],
        &[0, 24, 48],
        "quarter and two eighths",
        "as two eighths and a quarter",
    ),
    compound(LongShortEvened, &[0, 32], &[0, 24], "long-short figure", "in even notes"),
    compound(LongShortEvened, &[0, 16], &[0, 24], "short-long figure", "in even notes"),
    compound(ValuesConfused, &[0, 32], &[0, 16], "long-short figure", "short first"),
    compound(ValuesConfused, &[0, 16], &[0, 32], "short-long figure", "long first"),
    compound(DottedEven, &[0, 24, 32], &[0, 16, 32], "dotted figure", "in even notes"),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::written::PARTS;

    #[test]
    fn figures_fill_their_beats_and_differ_from_what_is_played() {
        for figure in FIGURES {
            let end = PARTS * i64::try_from(figure.beats).expect("small");
            for places in [figure.written, figure.played] {
                assert!(places.is_sorted_by(|a, b| a < b), "{figure:?}");
                assert!(places[0] == 0 && places[places.len() - 1] < end, "{figure:?}");
            }
            assert!(figure.played.len() > 1 && figure.written.len() >= figure.played.len(), "{figure:?}");
            assert_ne!(figure.written, figure.played, "{figure:?}");
        }
    }
}
