//! What was read for what.

use super::{Evidence, confidence, of_places};
use crate::readings::Reading;
use crate::written::PARTS;
use crate::{Fate, Finding, FindingKind};

impl Evidence<'_> {
    /// One finding for everything that was misread alike.
    pub(super) fn readings(&self, found: &mut Vec<Finding>) {
        let readings = &self.alignment.readings;
        let mut told = vec![false; readings.len()];
        for (index, reading) in readings.iter().enumerate() {
            if told[index] || reading.hushed {
                continue;
            }
            let alike = |other: &Reading| {
                other.kind == reading.kind && other.called == reading.called && other.for_it == reading.for_it
            };
            let places: Vec<&Reading> = readings
                .iter()
                .enumerate()
                .filter(|(_, other)| alike(other))
                .map(|(n, other)| {
                    told[n] = true;
                    other
                })
                .collect();
            found.push(self.reading(&places));
        }
    }

    /// What a note that lies far off was read for, if it lies where that has it.
    pub(super) fn maybe_read(&self, note: usize) -> Option<Finding> {
        let reading = self.alignment.maybe_read.iter().find(|reading| reading.notes.contains(&note))?;
        Some(self.reading(&[reading]))
    }

    fn reading(&self, places: &[&Reading]) -> Finding {
        let first = places[0];
        let notes: Vec<_> = places
            .iter()
            .flat_map(|reading| reading.notes.iter().map(|&note| self.written.counts[note].id))
            .collect();
        let strokes = places
            .iter()
            .flat_map(|reading| reading.notes.iter().filter_map(|&note| self.alignment.strokes[note]))
            .collect();
        let (_, bar, on) = self.count_place(first.notes[0]);
        let also = || self.also_in(&places.iter().map(|reading| reading.notes[0]).collect::<Vec<_>>());
        let says = match first.kind {
            FindingKind::EarlyEntry => {
                let size = size(first.early);
                format!("{bar}: the entry on {on} came {size} early, before the rest was over{}", also())
            }
            FindingKind::CutShort => {
                let size = size(first.early);
                format!(
                    "{bar}: the long note before {on} was cut short: the next attack came {size} early{}",
                    also()
                )
            }
            _ if first.written > 1 => format!(
                "{bar}: the {} on {on} was played {}: {} of {} times",
                first.called,
                first.for_it,
                places.len(),
                first.written
            ),
            _ => format!("{bar}: the {} on {on} was played {}", first.called, first.for_it),
        };
        // Several places that say the same are surer than one of them.
        let gain =
            places.iter().map(|reading| reading.gain).fold(0.0, f64::max) + 0.3 * (places.len() as f64 - 1.0);
        of_places(first.kind, notes, strokes, confidence(gain), says)
    }

    /// Whether a note was struck.
    pub(super) fn is_struck(&self, note: usize) -> bool {
        matches!(self.notes[note].fate, Fate::Struck(_))
    }
}

fn size(parts: i64) -> &'static str {
    match parts {
        parts if parts >= PARTS => "a beat",
        parts if parts == PARTS / 3 => "a third of a beat",
        parts if parts == 2 * PARTS / 3 => "two thirds of a beat",
        _ => "half a beat",
    }
}
