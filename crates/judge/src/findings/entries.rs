//! What belongs to the place after a rest: entries that come early throughout, or late.

use super::{Evidence, of_places};
use crate::estimate::student;
use crate::place::{Place, Standing, place_offsets, standings};
use crate::{Finding, FindingKind};

/// How many standard errors entries must lie off: nine in ten thousand takes do by chance.
const SURE: f64 = 3.1;
/// The least that is told, in ms, and as a share of a beat.
const LEAST_MS: f64 = 30.0;
const LEAST_SHARE: f64 = 0.05;
/// The share of the entries that must lie off so.
const MOSTLY: f64 = 2.0 / 3.0;
/// Which entries lie off so: those that do by this share of what they all do together.
const OFF: f64 = 1.0 / 3.0;

impl Evidence<'_> {
    /// Tells entries after rests that come early throughout, or late, as one habit with its places. All places in beat and bar
    /// are fitted together, so that &s that are early wherever they stand are no habit of rests. Gives the notes after rests if it
    /// is told: then they say nothing of other places.
    pub(super) fn entries(&self, found: &mut Vec<Finding>) -> Vec<bool> {
        let standings = standings(self.written);
        let after_rest: Vec<bool> =
            standings.iter().map(|standing| standing.holds(Place::AfterRest)).collect();
        match self.entry_habit(&standings, &after_rest) {
            Some(finding) => {
                found.push(finding);
                after_rest
            }
            None => vec![false; after_rest.len()],
        }
    }

    fn entry_habit(&self, standings: &[Standing], after_rest: &[bool]) -> Option<Finding> {
        let played: Vec<(usize, Standing, f64)> = standings
            .iter()
            .enumerate()
            .filter_map(|(note, &standing)| {
                let answer = self.answer(note).filter(|answer| !answer.misread)?;
                let pulse = self.pulse.at(self.alignment.moved[self.written.notes[note]]);
                Some((note, standing, answer.offset.as_millis_f64() - pulse))
            })
            .collect();
        let placed: Vec<_> = played.iter().map(|&(_, standing, off)| (standing, off)).collect();
        let fitted = place_offsets(&placed, None);
        let habit = fitted.iter().find(|fitted| fitted.place == Place::AfterRest)?;
        let (by, error) = (habit.offset.value.as_millis_f64(), habit.error.as_millis_f64());
        let entries: Vec<(usize, f64)> = played
            .iter()
            .filter(|(note, ..)| after_rest[*note])
            .map(|&(note, standing, off)| {
                let beside = fitted.iter().find(|other| {
                    other.place != Place::AfterRest
                        && other.place != Place::BarLine
                        && standing.holds(other.place)
                });
                (note, off - beside.map_or(0.0, |other| other.offset.value.as_millis_f64()))
            })
            .collect();
        let beats = entries.iter().map(|&(note, _)| self.written.beat_nanos(self.written.notes[note]) as f64);
        let beat_ms = beats.sum::<f64>() / entries.len() as f64 / 1e6;
        let off: Vec<usize> = entries
            .iter()
            .filter(|(_, off)| off * by.signum() > OFF * by.abs())
            .map(|&(note, _)| note)
            .collect();
        let told = by.abs() > LEAST_MS.max(LEAST_SHARE * beat_ms)
            && by.abs() > student(SURE, (placed.len() as f64 - 2.0).max(1.0)) * error
            && off.len() as f64 >= MOSTLY * entries.len() as f64;
        if !told {
            return None;
        }
        let (_, bar, place) = self.place_of(*off.first()?);
        let (kind, side) =
            if by < 0.0 { (FindingKind::EarlyEntry, "early") } else { (FindingKind::LateAttack, "late") };
        let says = format!(
            "after rests the entries come {} {side}: {} of {}, the first on {place} in {bar}",
            self.ms(by),
            off.len(),
            entries.len(),
        );
        let notes = off.iter().map(|&note| self.notes[note].id).collect();
        let strokes =
            off.iter().filter_map(|&note| self.alignment.strokes[self.written.notes[note]]).collect();
        let mut finding = of_places(kind, notes, strokes, super::sure::no_chance(by / error, 1), says);
        finding.place = None;
        Some(finding)
    }
}
