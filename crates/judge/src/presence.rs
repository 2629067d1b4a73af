use std::ops::Range;

use timebase::Moment;

use crate::written::nanos;

/// When a player could be heard: from the beginning to the end, unless something else is known. Moments as those of the strokes,
/// from count 1 of bar 1.
///
/// What is written while the player could not be heard is neither struck nor missed, and nothing is made of the silence.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Presence {
    /// Up to when strokes have been heard: the drill goes on, or was stopped there. `None` when all are in.
    pub until: Option<Moment>,
    /// When the player's device was not there, or sent so much else that what the player struck was held back.
    pub absent: Vec<Range<Moment>>,
}

impl Presence {
    /// The absences in nanoseconds.
    pub(crate) fn absent_nanos(&self) -> Vec<Range<i64>> {
        self.absent.iter().map(|absence| nanos(absence.start)..nanos(absence.end)).collect()
    }
}

/// Whether a stroke that may fall from `from` to `to` could have gone unheard.
pub(crate) fn is_unheard(absent: &[Range<i64>], from: i64, to: i64) -> bool {
    absent.iter().any(|absence| absence.start < absence.end && from < absence.end && absence.start < to)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_touches_an_absence_was_heard() {
        let absent = [10..20, 30..30];
        let unheard = [(0, 10), (0, 11), (12, 13), (19, 40), (20, 40), (25, 35)];
        let found = unheard.map(|(from, to)| is_unheard(&absent, from, to));
        assert_eq!(found, [false, true, true, true, false, false]);
    }
}
