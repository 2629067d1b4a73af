//! Where attacks are missing and strokes are too many side by side: one mistake, and often not clear which.

use std::collections::HashMap;

use rhythm::AttackId;

use super::Evidence;
use super::leftovers::{is_single, is_slip};
use crate::{Finding, FindingKind};

/// Something that was struck or not, and when.
#[derive(Clone, Copy, Debug)]
struct Event {
    at: i64,
    /// Which of the findings it belongs to.
    finding: usize,
    /// The count that was missed; `None` for a stroke too many.
    missed: Option<usize>,
    stroke: Option<usize>,
}

impl Evidence<'_> {
    /// Tells missed notes and strokes too many that lie side by side as one thing.
    pub(super) fn untangle(&self, found: &mut Vec<Finding>) {
        let counts = self.written.counts.iter().enumerate();
        let places: HashMap<AttackId, usize> = counts.map(|(count, written)| (written.id, count)).collect();
        let mut events = self.events(found, &places);
        events.sort_by_key(|event| event.at);
        // Where there are many, they hang together from further off.
        let quarters = if events.len() > 3 { 10 } else { 5 };
        let beat = self.written.beat_nanos(0);
        let near = |a: &Event, b: &Event| b.at - a.at <= beat / 4 * quarters;
        let mut taken = vec![false; found.len()];
        let (mut told, mut unclear) = (Vec::new(), Vec::new());
        for tangle in events.chunk_by(near) {
            let missed = tangle.iter().filter(|event| event.missed.is_some()).count();
            if missed == 0 || missed == tangle.len() {
                continue;
            }
            tangle.iter().for_each(|event| taken[event.finding] = true);
            match self.moved_to_the_beat(tangle) {
                Some(finding) => told.push(finding),
                // Where notes are closer than the player is steady, a run of as many strokes as notes is a run, only uneven.
                None if tangle.len() == 2 && self.is_close(tangle) => {}
                None => unclear.push(tangle),
            }
        }
        let stretches: Vec<_> = unclear.iter().map(|tangle| self.stretch(tangle)).collect();
        let mut index = 0;
        found.retain(|finding| {
            index += 1;
            let beside = (is_slip(finding.kind) || is_single(finding.kind)) && {
                let mut times = self.times(finding, &places).peekable();
                times.peek().is_some()
                    && times.all(|at| stretches.iter().any(|stretch| stretch.contains(&at)))
            };
            !taken[index - 1] && !beside
        });
        found.append(&mut told);
        found.extend(self.unclear(&unclear));
    }

    /// Whether the note that was missed has a neighbour nearer than the reach.
    fn is_close(&self, tangle: &[Event]) -> bool {
        let missed = tangle.iter().find_map(|event| event.missed);
        let note = missed.and_then(|count| self.written.notes.binary_search(&count).ok());
        note.is_some_and(|note| self.room(note).as_nanos() < self.alignment.reach / 10 * 14)
    }

    /// What was missed and what was struck too much, but for places that are missed every time.
    fn events(&self, found: &[Finding], places: &HashMap<AttackId, usize>) -> Vec<Event> {
        let mut events = Vec::new();
        for (finding, told) in found.iter().enumerate() {
            match told.kind {
                FindingKind::AttackMissed => {
                    let missed: Vec<usize> =
                        told.notes.iter().filter_map(|id| places.get(id).copied()).collect();
                    let in_a_row = missed.windows(2).all(|pair| pair[1] - pair[0] < 64);
                    let always = missed.len() > 1 && !in_a_row;
                    if !always {
                        let event = |&count: &usize| Event {
                            at: self.expected(count),
                            finding,
                            missed: Some(count),
                            stroke: None,
                        };
                        events.extend(missed.iter().map(event));
                    }
                }
                FindingKind::ExtraAttack | FindingKind::RestStruck | FindingKind::HoldStruck => {
                    let event = |&stroke: &usize| Event {
                        at: self.strokes[stroke],
                        finding,
                        missed: None,
                        stroke: Some(stroke),
                    };
                    events.extend(told.strokes.iter().map(event));
                }
                _ => {}
            }
        }
        events
    }

    /// An attack off the beat that was played on the next beat, where a hold or a rest is written.
    fn moved_to_the_beat(&self, tangle: &[Event]) -> Option<Finding> {
        let [missed, struck] = tangle else { return None };
        let (note, stroke) = (missed.missed?, struck.stroke?);
        let beat = self.alignment.strokes.iter().position(|fell| *fell == Some(stroke))?;
        let between = note + 1..beat;
        let next = beat > note && !between.clone().any(|count| self.written.counts[count].on_beat);
        let alone = between.chain([beat]).all(|count| self.written.deed(count) != rhythm::Deed::Attack);
        // Half a beat away at least, and no doubt where it fell: what is nearer is a late attack.
        let (at, to) = (self.expected(note), self.expected(beat));
        let far = (to - at) * 9 >= self.written.beat_nanos(note) * 4;
        let clear = (self.strokes[stroke] - to).abs() * 3 < (self.strokes[stroke] - at).abs();
        if !next
            || !alone
            || !far
            || !clear
            || self.written.counts[note].on_beat
            || !self.written.counts[beat].on_beat
        {
            return None;
        }
        let ((id, bar, on), (_, to_bar, to)) = (self.count_place(note), self.count_place(beat));
        let to = if bar == to_bar { to } else { format!("{to} of {to_bar}") };
        let says = format!("{bar}: the attack on {on} was played on the beat, on {to}");
        let mut finding = Finding::at(FindingKind::SyncopationOnBeat, id, says);
        (finding.notes, finding.strokes) = (vec![id], vec![stroke]);
        finding.confidence = super::confidence(0.5);
        Some(finding)
    }

    /// The time of a tangle, half a beat to either side.
    fn stretch(&self, tangle: &[Event]) -> std::ops::RangeInclusive<i64> {
        let (first, last) = (tangle[0], tangle[tangle.len() - 1]);
        let count = tangle.iter().find_map(|event| event.missed).unwrap_or(0);
        let half = self.written.beat_nanos(count) / 2;
        first.at - half..=last.at + half
    }

    fn unclear(&self, tangles: &[&[Event]]) -> Option<Finding> {
        let all = || tangles.iter().flat_map(|tangle| tangle.iter());
        let first = tangles.first()?;
        let missed = first.iter().find_map(|event| event.missed)?;
        let (id, bar, on) = self.count_place(missed);
        let each = tangles.iter().filter_map(|tangle| tangle.iter().find_map(|event| event.missed));
        let more = self.also_in(&each.collect::<Vec<_>>());
        let says = match self.in_so_many_words(first) {
            Some(deeds) => format!("{bar}: {deeds}{more}"),
            None => {
                let missing = match first.iter().filter(|event| event.missed.is_some()).count() {
                    1 => "1 attack is missing".to_owned(),
                    many => format!("{many} attacks are missing"),
                };
                let strays = match first.iter().filter(|event| event.missed.is_none()).count() {
                    1 => "1 stroke is not written".to_owned(),
                    many => format!("{many} strokes are not written"),
                };
                format!(
                    "{bar}, near {on}: {missing} and {strays}; what was played for what is not clear{more}"
                )
            }
        };
        let mut finding = Finding::at(FindingKind::Unclear, id, says);
        finding.notes = all().filter_map(|event| Some(self.written.counts[event.missed?].id)).collect();
        finding.strokes = all().filter_map(|event| event.stroke).collect();
        finding.confidence = super::confidence(tangles.iter().map(|tangle| tangle.len()).max()? as f64 / 2.0);
        Some(finding)
    }

    /// One note that was not struck and one place that was, where the place has a name: nothing is said of why.
    fn in_so_many_words(&self, tangle: &[Event]) -> Option<String> {
        let [one, other] = tangle else { return None };
        let missed = one.missed.or(other.missed)?;
        let stroke = one.stroke.or(other.stroke)?;
        let struck = self.alignment.strokes.iter().position(|fell| *fell == Some(stroke))?;
        let deed = match self.written.deed(struck) {
            rhythm::Deed::Attack => return None,
            rhythm::Deed::Rest => "the rest on",
            rhythm::Deed::Hold => "the held",
        };
        let ((_, bar, on), (_, struck_bar, place)) = (self.count_place(missed), self.count_place(struck));
        let place = if bar == struck_bar { place } else { format!("{place} of {struck_bar}") };
        Some(format!("{on} was not struck, and {deed} {place} was"))
    }
}
