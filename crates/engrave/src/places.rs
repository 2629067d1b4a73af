//! Where every moment of the performance stands.

use rhythm::Deed;

use crate::engraving::{Passage, Place};
use crate::placing::{Placed, Row};
use crate::plan::Plan;

/// Every place of a staff's performance in order of time.
pub(crate) fn places(plans: &[Plan], rows: &[Row], staff: usize) -> Vec<Place> {
    let mut places = Vec::new();
    for (system, bar) in bars(rows) {
        let plan = &plans[bar.index];
        let part = &plan.parts[staff];
        let mut signs = part.signs.iter().peekable();
        let mut counted = part.counts.first().into_iter().flatten().peekable();
        for (column, (&at, &x)) in plan.columns.iter().zip(&bar.columns).enumerate() {
            let sign = signs.next_if(|sign| sign.column == column).map(|sign| sign.note.deed);
            let count = counted.next_if(|count| count.column == column).map(|at| &at.count);
            let Some(deed): Option<Deed> = sign.or(count.map(|count| count.deed)) else { continue };
            places.extend(plan.played.iter().map(|played| Place {
                id: played.attack_id(at),
                position: played.position(at),
                deed,
                count: count.cloned(),
                system,
                x,
            }));
        }
    }
    places.sort_by_key(|place| place.position);
    places
}

/// Every bar of the performance in order of time.
pub(crate) fn passages(plans: &[Plan], rows: &[Row]) -> Vec<Passage> {
    let all: Vec<(usize, &Placed)> = bars(rows).collect();
    let mut passages = Vec::new();
    for (number, (system, bar)) in all.iter().enumerate() {
        let plan = &plans[bar.index];
        // Time runs on to the next bar's first column; at the end of a system, to its bar line.
        let next = all.get(number + 1).filter(|(next, _)| next == system);
        let end = next.and_then(|(_, next)| next.columns.first().copied()).unwrap_or(bar.right);
        for played in &plan.played {
            let columns = plan.columns.iter().zip(&bar.columns);
            let mut knots: Vec<_> = columns.map(|(&at, &x)| (played.position(at), x)).collect();
            knots.push((played.end, end));
            passages.push(Passage { start: played.start, end: played.end, system: *system, knots });
        }
    }
    passages.sort_by_key(|passage| passage.start);
    passages
}

fn bars(rows: &[Row]) -> impl Iterator<Item = (usize, &Placed)> {
    rows.iter().enumerate().flat_map(|(system, row)| row.bars.iter().map(move |bar| (system, bar)))
}
