//! What is done wrong every time a passage is played is one mistake.

use std::collections::BTreeMap;

use rhythm::{AttackId, Deed};
use timebase::Span;

use super::Evidence;
use crate::{Finding, FindingKind, wording};

impl Evidence<'_> {
    /// Joins findings that say the same of every time through a bar.
    pub(super) fn join_each_time(&self, found: &mut Vec<Finding>) {
        let mut alike: BTreeMap<(FindingKind, u32, Span), Vec<usize>> = BTreeMap::new();
        for (index, finding) in found.iter().enumerate() {
            if let Some(id) = single_slip(finding) {
                alike.entry((finding.kind, id.bar, id.at)).or_default().push(index);
            }
        }
        let mut joined = vec![false; found.len()];
        for ((kind, bar, at), each) in alike {
            let [first, others @ ..] = &each[..] else { continue };
            let here = |id: AttackId| id.bar == bar && id.at == at;
            let times = self.written.counts.iter().filter(|count| here(count.id)).count();
            let count = self.written.counts.iter().position(|count| here(count.id));
            let (false, true, Some(count)) = (others.is_empty(), each.len() == times, count) else {
                continue;
            };
            for &other in others {
                joined[other] = true;
                let Finding { notes, strokes, confidence, .. } = found[other].clone();
                found[*first].notes.extend(notes);
                found[*first].strokes.extend(strokes);
                found[*first].confidence = found[*first].confidence.max(confidence);
            }
            found[*first].says = self.each_time(kind, count, times);
            found[*first].slip = None;
        }
        let mut index = 0;
        found.retain(|_| {
            index += 1;
            !joined[index - 1]
        });
    }

    fn each_time(&self, kind: FindingKind, count: usize, times: usize) -> String {
        let (id, _, place) = self.count_place(count);
        let bar = wording::bar(AttackId { pass: 1, ..id });
        let deed = match (kind, self.written.deed(count)) {
            (FindingKind::AttackMissed, _) => format!("the attack on {place} was missed"),
            (_, Deed::Rest) => format!("the rest on {place} was struck"),
            (_, Deed::Hold | Deed::Attack) => format!("the held note was struck again on {place}"),
        };
        match times {
            2 => format!("{bar}: {deed} both times"),
            times => format!("{bar}: {deed} all {times} times"),
        }
    }
}

/// The place of a finding about one count, if it is of a kind that comes back.
fn single_slip(finding: &Finding) -> Option<AttackId> {
    let single = match finding.kind {
        FindingKind::AttackMissed => finding.notes.len() == 1,
        FindingKind::RestStruck | FindingKind::HoldStruck => finding.strokes.len() == 1,
        _ => false,
    };
    finding.place.filter(|_| single)
}
