//! The same slip in several places is one thing to tell.

use std::collections::BTreeMap;

use rhythm::AttackId;

use super::Evidence;
use crate::{Finding, FindingKind, wording};

/// So many slips of one sort are told together.
const FEWEST_ALIKE: usize = 3;

impl Evidence<'_> {
    /// Joins slips at single places that differ in nothing but the place: the first is told, with the bars of the others.
    pub(super) fn join_alike(&self, found: &mut Vec<Finding>) {
        let answered = self.answered();
        let mut alike: BTreeMap<(FindingKind, bool), Vec<usize>> = BTreeMap::new();
        for (index, finding) in found.iter().enumerate() {
            if let Some(twice) = self.single_slip(finding, &answered) {
                alike.entry((finding.kind, twice)).or_default().push(index);
            }
        }
        alike.retain(|_, each| each.len() >= FEWEST_ALIKE);
        let mut joined = vec![false; found.len()];
        for each in alike.into_values() {
            let [first, others @ ..] = &each[..] else { continue };
            let places: Vec<AttackId> = each.iter().filter_map(|&index| found[index].place).collect();
            for &other in others {
                joined[other] = true;
                let Finding { notes, strokes, confidence, evidence, .. } = found[other].clone();
                found[*first].notes.extend(notes);
                found[*first].strokes.extend(strokes);
                found[*first].confidence = found[*first].confidence.max(confidence);
                found[*first].evidence = found[*first].evidence.max(evidence);
            }
            found[*first].says += &wording::also_in(&places);
        }
        let mut index = 0;
        found.retain(|_| {
            index += 1;
            !joined[index - 1]
        });
    }

    /// Whether a finding is of a single stroke or note at a place, of a sort that comes back; if so, whether of a note struck twice.
    fn single_slip(&self, finding: &Finding, answered: &[Option<usize>]) -> Option<bool> {
        use FindingKind as K;
        finding.place?;
        match (finding.kind, &finding.notes[..], &finding.strokes[..]) {
            (K::HoldStruck | K::RestStruck, [], [_]) | (K::AttackMissed, [_], []) => Some(false),
            (K::ExtraAttack, [], &[stroke]) => Some(self.struck_twice(stroke, answered).is_some()),
            _ => None,
        }
    }
}
