//! From what speaks for a finding to how often such findings are right.

use std::collections::HashMap;

use rhythm::AttackId;

use super::Evidence;
use crate::{Fate, Finding, FindingKind, Understood, wording};

/// What is less sure than this is doubtful. One curve for players of all spreads says too much of the steady ones: of what it gives a
/// half to two thirds, a third is right where all spreads weigh alike, and of steady players a quarter.
const LEAST: f64 = 0.65;
/// No evidence is less than even, and nothing is said to be surer than the other.
const EVEN: f64 = 0.5;
const MOST: f64 = 0.999;

/// Kinds whose evidence is of one sort.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Group {
    /// Where the player was in the music.
    Course,
    /// What was read for what, and habits of place.
    Figure,
    /// Single strokes too many or too few.
    Stroke,
    /// A stroke early or late.
    Single,
    /// The pulse.
    Pulse,
    /// Hands, accents and keys.
    Touch,
}

/// What is added to the logarithm of the odds, for each group of kinds.
const GROUPS: [f64; 6] = [3.3, 3.0, 2.6, 3.4, 3.1, 2.1];
/// So much of the logarithm of the odds of a finding's own evidence counts,
const EVIDENCE: f64 = 0.24;
/// so much is taken off for every other kind of mistake there seems to be beside it, up to [`MOST_KINDS`]; what lies elsewhere says nothing,
/// for beginners make several mistakes,
const BESIDE: f64 = 2.1;
/// and so much for what is left unexplained, as a share of strokes and notes up to [`MOST_LEFT`].
const LEFT: f64 = 3.7;
const MOST_KINDS: usize = 4;
/// Within so many beats mistakes lie beside one another.
const BEATS_BESIDE: i64 = 3;
const MOST_LEFT: f64 = 0.4;

impl Group {
    fn of(kind: FindingKind) -> Self {
        use FindingKind as K;
        match kind {
            kind if kind <= K::CountsStruck => Self::Course,
            K::HoldStruck | K::RestStruck | K::AttackMissed | K::ExtraAttack | K::Unclear => Self::Stroke,
            K::EarlyEntry | K::CutShort | K::EarlyAttack | K::LateAttack => Self::Single,
            K::ReleasedEarly | K::HeldThroughRest => Self::Touch,
            K::Rushing | K::Dragging | K::Unsteady => Self::Pulse,
            kind if kind <= K::AndsBunched => Self::Figure,
            _ => Self::Touch,
        }
    }
}

/// How often findings are right for which so much speaks, in takes that are understood so well.
fn calibrated(kind: FindingKind, evidence: f64, understood: Understood) -> f64 {
    let odds = (evidence / (1.0 - evidence)).ln();
    let odds = GROUPS[Group::of(kind) as usize] + EVIDENCE * odds
        - BESIDE * understood.beside.min(MOST_KINDS) as f64
        - LEFT * understood.left.min(MOST_LEFT);
    (1.0 / (1.0 + (-odds).exp())).min(MOST)
}

impl Evidence<'_> {
    /// Gives every finding its confidence, and takes out what is likelier wrong than right: that is returned.
    pub(super) fn calibrate(&self, found: &mut Vec<Finding>) -> Vec<Finding> {
        let understood = self.understood(found);
        for (finding, understood) in found.iter_mut().zip(understood) {
            finding.evidence = finding.confidence.clamp(EVEN, MOST);
            finding.understood = understood;
            finding.confidence = calibrated(finding.kind, finding.evidence, understood);
        }
        let strokes = |found: &[Finding]| found.iter().filter(|f| Group::of(f.kind) == Group::Stroke).count();
        let before = strokes(found);
        let (sure, doubtful) = found.drain(..).partition(|finding| finding.confidence >= LEAST);
        *found = sure;
        // So much seems to be wrong that nothing of it can be named with some right: that is said first.
        let nothing_left = found.is_empty() || strokes(found) < before;
        if nothing_left && !found.iter().any(|finding| finding.kind == FindingKind::Unclear) {
            found.extend(self.much_unclear());
        }
        doubtful
    }

    /// How well the take around each finding was understood.
    fn understood(&self, found: &[Finding]) -> Vec<Understood> {
        let counts = self.written.counts.iter().enumerate();
        let places: HashMap<AttackId, usize> = counts.map(|(count, written)| (written.id, count)).collect();
        let near = BEATS_BESIDE * self.written.beat_nanos(0);
        let times: Vec<Vec<i64>> = found
            .iter()
            .map(|finding| {
                let mut times: Vec<i64> = self.times(finding, &places).collect();
                times.sort_unstable();
                times
            })
            .collect();
        // What is about the whole take is beside everything, and so is where the player was in the music: if that is mistaken, all
        // that follows is.
        let is_beside = |one: usize, other: usize| {
            if Group::of(found[other].kind) == Group::Course {
                return true;
            }
            let (ones, others) = (&times[one], &times[other]);
            let within = |at: &i64| {
                let after = others.partition_point(|other| *other < at - near);
                others.get(after).is_some_and(|other| *other <= at + near)
            };
            ones.is_empty() || others.is_empty() || ones.iter().any(within)
        };
        let left = self.left();
        let of = |one: usize| {
            let others = (0..found.len()).filter(|&other| is_beside(one, other));
            let mut kinds: Vec<FindingKind> = others.map(|other| found[other].kind).collect();
            kinds.retain(|kind| kind.is_mistake() && *kind != found[one].kind);
            kinds.sort_unstable();
            kinds.dedup();
            let of_course = kinds.iter().filter(|kind| Group::of(**kind) == Group::Course).count();
            let twice = if found[one].kind == FindingKind::ExtraAttack { of_course } else { 0 };
            Understood { beside: kinds.len() + twice, left }
        };
        (0..found.len()).map(of).collect()
    }

    /// How much was missed and struck too much in all; nothing where it was neither.
    fn much_unclear(&self) -> Option<Finding> {
        let missed = self.notes.iter().filter(|note| note.fate == Fate::Missed).count();
        let strays =
            self.attacks.iter().filter(|a| a.answer.is_none() && a.ornament.is_none() && !a.again).count();
        let says = match (missed, strays) {
            (0, 0) => return None,
            (missed, 0) => format!("{} missed", wording::attacks(missed)),
            (0, strays) => format!("{} not written", strokes_in_words(strays)),
            (missed, strays) => {
                format!("{} missed and {} not written", wording::attacks(missed), strokes_in_words(strays))
            }
        };
        let says = format!("{says} in all: too much for it to be clear which mistakes these were");
        let mut finding = Finding::of_all(FindingKind::Unclear, says);
        finding.evidence = MOST;
        finding.understood.left = self.left();
        finding.confidence = calibrated(FindingKind::Unclear, MOST, finding.understood);
        Some(finding)
    }

    /// The share of strokes and notes that answer one another in no way.
    fn left(&self) -> f64 {
        let due =
            self.notes.iter().zip(&self.written.notes).filter(|(_, count)| !self.alignment.skipped[**count]);
        let (mut notes, mut missed) = (0, 0);
        for (note, _) in due {
            notes += 1;
            missed += usize::from(note.fate == Fate::Missed);
        }
        let strokes = self.attacks.iter().filter(|attack| attack.ornament.is_none() && !attack.again);
        let (mut heard, mut strays) = (0, 0);
        for stroke in strokes {
            heard += 1;
            strays += usize::from(stroke.answer.is_none());
        }
        (missed + strays) as f64 / (notes + heard).max(1) as f64
    }
}

fn strokes_in_words(number: usize) -> String {
    if number == 1 { "1 stroke".to_owned() } else { format!("{number} strokes") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_more_there_seems_to_be_wrong_the_less_sure_is_each() {
        for &kind in FindingKind::ALL.iter().filter(|kind| kind.is_mistake()) {
            let sure = |evidence, beside, left| calibrated(kind, evidence, Understood { beside, left });
            assert!(sure(0.99, 0, 0.02) > 0.9, "{kind:?}");
            assert!(sure(0.99, 1, 0.02) < sure(0.99, 0, 0.02), "{kind:?}");
            assert!(sure(0.99, 0, 0.2) < sure(0.99, 0, 0.02), "{kind:?}");
            assert!(sure(0.6, 0, 0.02) < sure(0.99, 0, 0.02), "{kind:?}");
            assert!(sure(0.999, 0, 0.0) <= MOST, "{kind:?}");
        }
        let five = Understood { beside: 4, left: 0.2 };
        assert!(calibrated(FindingKind::WrongHand, 0.999, five) < LEAST, "not told");
    }
}
