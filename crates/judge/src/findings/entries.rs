//! What belongs to a place beside the place in the beat: entries after rests, attacks after long notes and count 1 that come early
//! throughout, or late.

use super::{Evidence, of_places};
use crate::estimate::student;
use crate::place::{Place, PlaceOffset, Standing, place_offsets, standings};
use crate::{Finding, FindingKind};

/// How many standard errors attacks at a place must lie off: after rests nine in ten thousand takes do by chance. Where two more places
/// are looked at, which stand in most rhythms, it is one in ten thousand.
const SURE: f64 = 3.1;
const SURE_ELSEWHERE: f64 = 3.9;
/// The least that is told, in ms, and as a share of a beat.
const LEAST_MS: f64 = 30.0;
const LEAST_SHARE: f64 = 0.05;
/// The share of the attacks that must lie off so.
const MOSTLY: f64 = 2.0 / 3.0;
/// Which attacks lie off so: those that do by this share of what they all do together.
const OFF: f64 = 1.0 / 3.0;
/// The places that are looked at.
const PLACES: [Place; 3] = [Place::AfterRest, Place::AfterLong, Place::BarLine];

/// An attack that was struck: which note, where it stands, and how far from the pulse it fell, in ms.
type Struck = (usize, Standing, f64);

/// What attacks at a place have in common.
#[derive(Clone, Debug)]
struct Habit {
    place: Place,
    by_ms: f64,
    error_ms: f64,
    /// The notes at that place that were struck, and of them those that lie off so.
    struck: usize,
    off: Vec<usize>,
}

impl Evidence<'_> {
    /// Tells attacks after rests and long notes and on count 1 that come early throughout, or late, as one habit each with its places.
    /// All places in beat and bar are fitted together, so that &s that are early wherever they stand are no habit of rests. Gives
    /// the notes at the places that are told: they say nothing of other places.
    pub(super) fn entries(&self, found: &mut Vec<Finding>) -> Vec<bool> {
        let standings = standings(self.written);
        let mut told_apart = vec![false; standings.len()];
        for _ in PLACES {
            let Some(habit) = self.clearest_habit(&standings, &told_apart) else { break };
            found.push(self.habit_told(&habit));
            for (told, standing) in told_apart.iter_mut().zip(&standings) {
                *told |= standing.holds(habit.place);
            }
        }
        told_apart
    }

    /// The habit that is least by chance, among the attacks that are not told apart.
    fn clearest_habit(&self, standings: &[Standing], told_apart: &[bool]) -> Option<Habit> {
        let struck: Vec<Struck> = standings
            .iter()
            .enumerate()
            .filter(|(note, _)| !told_apart[*note])
            .filter_map(|(note, &standing)| {
                let answer = self.answer(note).filter(|answer| !answer.misread)?;
                let pulse = self.pulse_at(self.alignment.moved[self.written.notes[note]]);
                Some((note, standing, answer.offset.as_millis_f64() - pulse))
            })
            .collect();
        let placed: Vec<_> = struck.iter().map(|&(_, standing, off)| (standing, off)).collect();
        let fitted = place_offsets(&placed, None);
        let of_place = |place: &Place| self.habit_at(*place, &struck, &fitted);
        let habits = PLACES.iter().filter_map(of_place);
        habits.max_by(|a, b| (a.by_ms / a.error_ms).abs().total_cmp(&(b.by_ms / b.error_ms).abs()))
    }

    fn habit_at(&self, place: Place, struck: &[Struck], fitted: &[PlaceOffset]) -> Option<Habit> {
        let habit = fitted.iter().find(|fitted| fitted.place == place)?;
        let (by_ms, error_ms) = (habit.offset.value.as_millis_f64(), habit.error.as_millis_f64());
        let here: Vec<(usize, f64)> = struck
            .iter()
            .filter(|(_, standing, _)| standing.holds(place))
            .map(|&(note, standing, off)| {
                // The place in the beat, or after a rest, may have an offset of its own.
                let beside = fitted.iter().find(|other| {
                    other.place != place && other.place != Place::BarLine && standing.holds(other.place)
                });
                (note, off - beside.map_or(0.0, |other| other.offset.value.as_millis_f64()))
            })
            .collect();
        let beats = here.iter().map(|&(note, _)| self.written.beat_nanos(self.written.notes[note]) as f64);
        let beat_ms = beats.sum::<f64>() / here.len() as f64 / 1e6;
        let off: Vec<usize> = here
            .iter()
            .filter(|(_, off)| off * by_ms.signum() > OFF * by_ms.abs())
            .map(|&(note, _)| note)
            .collect();
        let sure = if place == Place::AfterRest { SURE } else { SURE_ELSEWHERE };
        let told = by_ms.abs() > LEAST_MS.max(LEAST_SHARE * beat_ms)
            && by_ms.abs() > student(sure, (struck.len() as f64 - 2.0).max(1.0)) * error_ms
            && off.len() as f64 >= MOSTLY * here.len() as f64;
        (told && !off.is_empty()).then_some(Habit { place, by_ms, error_ms, struck: here.len(), off })
    }

    fn habit_told(&self, habit: &Habit) -> Finding {
        let (early, off) = (habit.by_ms < 0.0, &habit.off);
        let kind = match (habit.place, early) {
            (_, false) => FindingKind::LateAttack,
            (Place::AfterRest, true) => FindingKind::EarlyEntry,
            (Place::AfterLong, true) => FindingKind::CutShort,
            (_, true) => FindingKind::EarlyAttack,
        };
        let amount = format!("{} {}", self.ms(habit.by_ms), if early { "early" } else { "late" });
        let what = match (habit.place, early) {
            (Place::AfterRest, _) => format!("after rests the entries come {amount}"),
            (Place::AfterLong, true) => {
                format!("long notes are cut short: the next attack comes {amount}")
            }
            (Place::AfterLong, false) => format!("after long notes the next attack comes {amount}"),
            _ => format!("count 1 comes {amount}"),
        };
        let says = if habit.place == Place::BarLine && off.len() == habit.struck {
            format!("{what} in every bar")
        } else {
            let (_, bar, place) = self.place_of(off[0]);
            format!("{what}: {} of {}, the first on {place} in {bar}", off.len(), habit.struck)
        };
        let notes = off.iter().map(|&note| self.notes[note].id).collect();
        let strokes =
            off.iter().filter_map(|&note| self.alignment.strokes[self.written.notes[note]]).collect();
        let sure = super::sure::no_chance(habit.by_ms / habit.error_ms, PLACES.len());
        let mut finding = of_places(kind, notes, strokes, sure, says);
        finding.place = None;
        finding
    }
}
