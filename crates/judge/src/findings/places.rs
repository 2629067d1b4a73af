//! What belongs to a place in the beat: the attacks half-way between the beats, or a quarter and three quarters of the way, late
//! throughout or early.

use rhythm::AttackId;

use super::{Evidence, of_places};
use crate::estimate::student;
use crate::written::PARTS;
use crate::{Finding, FindingKind};

/// How many attacks on the beats and half-way between them there must be.
const FEWEST: usize = 4;
/// How many standard errors the two must differ: nine in ten thousand takes differ so by chance.
const SURE: f64 = 3.1;
/// The least difference that is told, as a share of a beat and in ms: of halves, and of what stands closer, of which there are more
/// places that chance may pick.
const LEAST_SHARE: f64 = 0.05;
const LEAST_MS: f64 = 20.0;
const LEAST_SHARE_CLOSER: f64 = 0.03;
const LEAST_MS_CLOSER: f64 = 30.0;

/// Where in the beat, in percent, &s lie of a beat that is swung: from long and short as 3 to 2 to a little beyond those of a triplet, which
/// is two thirds. Nearer to half-way they are late and no swing (common practice, no source).
const SWUNG: std::ops::RangeInclusive<f64> = 59.5..=72.0;

/// So many &s must show the habit that stand in no figure that was read as another.
const PLAIN: usize = 2;
/// By this share of what the e and the a do together, each of the two must do it.
const ALIKE: f64 = 0.5;
/// What attacks at a place are taken to scatter before anything is known, in ms, and how many of them that weighs.
const USUAL_SCATTER_MS: f64 = 22.0;
const WEIGHT: f64 = 8.0;

/// The mean of some offsets in ms, without outliers, so that one slip does not make a habit.
#[derive(Clone, Copy, Debug)]
struct Mean {
    mean: f64,
    /// The sum of squares about it.
    squares: f64,
    count: f64,
}

impl Mean {
    fn of(values: &[f64]) -> Option<Self> {
        if values.len() < FEWEST {
            return None;
        }
        let mut sorted = values.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        let middle = sorted[values.len() / 2];
        let mut sizes: Vec<f64> = sorted.iter().map(|value| value - middle).collect();
        let limit = (4.0 * 1.4826 * crate::drift::median_size(&mut sizes)).max(4.0);
        let kept: Vec<f64> = sorted.into_iter().filter(|value| (value - middle).abs() <= limit).collect();
        let count = kept.len() as f64;
        let mean = kept.iter().sum::<f64>() / count;
        let squares: f64 = kept.iter().map(|value| (value - mean).powi(2)).sum();
        Some(Self { mean, squares, count })
    }

    /// The standard error of the difference of two means, and its degrees of freedom: the scatter is that of both together, drawn
    /// towards the usual.
    fn error_beside(&self, other: &Self) -> (f64, f64) {
        let freedom = self.count + other.count - 2.0 + WEIGHT;
        let squares = self.squares + other.squares + WEIGHT * USUAL_SCATTER_MS.powi(2);
        ((squares / freedom * (1.0 / self.count + 1.0 / other.count)).sqrt(), freedom)
    }
}

impl Evidence<'_> {
    /// Whether &s that were not misread lie as far off as all of them together, or nearly.
    fn shows(&self, plain: &[f64], beats: f64, late: f64) -> bool {
        let mean = plain.iter().sum::<f64>() / plain.len().max(1) as f64;
        plain.len() >= PLAIN && (mean - beats) * late.signum() > 0.6 * late.abs()
    }

    /// Tells what belongs to a place: entries after rests, the &s, and what lies between them and the beats.
    pub(super) fn places(&self, found: &mut Vec<Finding>) {
        let told_apart = self.entries(found);
        let at = |parts: &[i64]| self.at(parts, false, &told_apart);
        let on = at(&[0]);
        let ands = at(&[PARTS / 2]);
        if let Some(finding) = self.habit_of_place("the &s come", &ands, &on, true) {
            found.push(finding);
            return;
        }
        self.thirds(found, &told_apart);
        // Where only one of the two is late or early, it is a figure that is read so.
        let [e, a] = [1, 3].map(|quarters| at(&[quarters * PARTS / 4]));
        let both = at(&[PARTS / 4, 3 * PARTS / 4]);
        let by = both.mean() - on.mean();
        let shows = |at: &At| at.offsets.len() >= PLAIN && (at.mean() - on.mean()) / by > ALIKE;
        if shows(&e) && shows(&a) {
            found.extend(self.habit_of_place("the e and the a come", &both, &on, false));
        }
    }

    /// Tells what lies between the beats where these divide in three. There what was misread takes no part: the thirds stand in most
    /// figures, and there are always some that were not.
    fn thirds(&self, found: &mut Vec<Finding>, told_apart: &[bool]) {
        let on = self.at(&[0], true, told_apart);
        for (they_come, thirds) in [("the la come", 1), ("the li come", 2)] {
            let between = self.at(&[thirds * PARTS / 3], true, told_apart);
            found.extend(self.habit_of_place(they_come, &between, &on, false));
        }
    }

    /// The answered attacks at these places of beats that divide in three, or that do not, without those that are told apart.
    fn at(&self, parts: &[i64], in_three: bool, told_apart: &[bool]) -> At {
        let mut at = At::default();
        for (place, &count) in self.written.notes.iter().enumerate() {
            let here = self.written.part(count).is_some_and(|part| parts.contains(&part));
            if !here || told_apart[place] || self.written.divides_in_three(count) != in_three {
                continue;
            }
            // A habit of place may have been taken for another reading of the figures it stands in: what lies between the beats
            // takes part there.
            let Some(answer) =
                self.answer(place).filter(|_| !self.misread[count] || (parts != [0] && !in_three))
            else {
                continue;
            };
            let offset = answer.offset.as_millis_f64() - self.pulse.at(self.alignment.moved[count]);
            at.offsets.push(offset);
            if !self.misread[count] {
                at.plain.push(offset);
            }
            if !self.misread[count] || self.is_read_late(count) {
                at.late_or_plain.push(offset);
            }
            at.notes.push(self.written.counts[count].id);
            at.strokes.extend(self.alignment.strokes[count]);
            at.beat_ms += self.written.beat_nanos(count) as f64 / 1e6;
        }
        at.beat_ms /= at.offsets.len().max(1) as f64;
        at
    }

    /// Whether a count belongs to a dotted figure whose short note came late.
    fn is_read_late(&self, count: usize) -> bool {
        self.alignment.readings.iter().any(|reading| reading.is_late() && reading.notes.contains(&count))
    }

    /// What is said of attacks so called, if they come late throughout or early; of those written half-way through the beat also
    /// where they come instead.
    fn habit_of_place(&self, they_come: &str, between: &At, on: &At, half_way: bool) -> Option<Finding> {
        let (beats, others) = (Mean::of(&on.offsets)?, Mean::of(&between.offsets)?);
        let late = others.mean - beats.mean;
        let (error, freedom) = beats.error_beside(&others);
        // Dotted figures stand for a habit only where there is hardly anything else to show it.
        let plain = if between.plain.len() < PLAIN { &between.late_or_plain } else { &between.plain };
        // Most of them must be so, not some very much.
        let moved = between
            .offsets
            .iter()
            .filter(|offset| (**offset - beats.mean) * late.signum() > late.abs() / 3.0)
            .count();
        let (share, least_ms) =
            if half_way { (LEAST_SHARE, LEAST_MS) } else { (LEAST_SHARE_CLOSER, LEAST_MS_CLOSER) };
        let told = late.abs() > student(SURE, freedom) * error
            && late.abs() > (share * between.beat_ms).max(least_ms)
            && moved * 3 >= between.offsets.len() * 2
            && (plain.len() == between.offsets.len() || self.shows(plain, beats.mean, late));
        if !told {
            return None;
        }
        let amount = self.ms(late);
        let (kind, side) =
            if late > 0.0 { (FindingKind::AndsSwung, "late") } else { (FindingKind::AndsBunched, "early") };
        let mut says = format!("{they_come} {amount} {side} throughout");
        if half_way {
            let comes = (0.5 + late / between.beat_ms) * 100.0;
            let swung = if SWUNG.contains(&comes) { ": the beat is swung" } else { "" };
            says += &format!(", {comes:.0} % of the way through the beat instead of half-way{swung}");
        }
        let confidence = super::sure::no_chance(late / error, 1);
        let mut finding = of_places(kind, between.notes.clone(), between.strokes.clone(), confidence, says);
        finding.place = None;
        Some(finding)
    }
}

/// The attacks at some places in the beat.
#[derive(Clone, Debug, Default)]
struct At {
    /// How far from the player's pulse, in ms.
    offsets: Vec<f64>,
    /// The same without those in misread figures.
    plain: Vec<f64>,
    /// The same with those in dotted figures whose short note came late: so they do where the beat is swung.
    late_or_plain: Vec<f64>,
    notes: Vec<AttackId>,
    strokes: Vec<usize>,
    /// How long their beats are on the average, in ms.
    beat_ms: f64,
}

impl At {
    fn mean(&self) -> f64 {
        self.offsets.iter().sum::<f64>() / self.offsets.len().max(1) as f64
    }
}
