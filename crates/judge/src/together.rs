//! The same slip in several places is one thing to tell.

use std::collections::BTreeMap;

use rhythm::AttackId;

use crate::{Finding, Slip, wording};

/// So many slips of one sort are told together.
const FEWEST_ALIKE: usize = 3;

/// These findings as they are told: slips at single places, three or more that differ in nothing but the place, are one sentence with
/// the bars of all. Each finding by itself can be overruled and counted.
#[must_use]
pub fn together(findings: &[Finding]) -> Vec<Finding> {
    let mut alike: BTreeMap<Slip, Vec<usize>> = BTreeMap::new();
    for (index, finding) in findings.iter().enumerate() {
        if let Some(slip) = finding.slip {
            alike.entry(slip).or_default().push(index);
        }
    }
    alike.retain(|_, each| each.len() >= FEWEST_ALIKE);
    let told = |(index, finding): (usize, &Finding)| {
        let Some(each) = finding.slip.and_then(|slip| alike.get(&slip)) else { return Some(finding.clone()) };
        (each[0] == index).then(|| joined(each.iter().map(|&index| &findings[index])))
    };
    findings.iter().enumerate().filter_map(told).collect()
}

/// The first of them, with the bars, notes and strokes of all.
fn joined<'a>(all: impl Iterator<Item = &'a Finding> + Clone) -> Finding {
    let mut each = all.clone();
    let mut first = each.next().cloned().expect("three at least");
    for other in each {
        first.notes.extend(&other.notes);
        first.strokes.extend(&other.strokes);
        first.confidence = first.confidence.max(other.confidence);
        first.evidence = first.evidence.max(other.evidence);
    }
    let places: Vec<AttackId> = all.filter_map(|finding| finding.place).collect();
    first.says += &wording::also_in(&places);
    first
}
