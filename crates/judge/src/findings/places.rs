//! What belongs to a place in the beat: the attacks half-way between the beats, late throughout or early.

use super::{Evidence, of_places};
use crate::estimate::student;
use crate::written::PARTS;
use crate::{Finding, FindingKind};

/// How many attacks on the beats and half-way between them there must be.
const FEWEST: usize = 4;
/// How many standard errors the two must differ: nine in ten thousand takes differ so by chance.
const SURE: f64 = 3.1;
/// The least difference that is told: this share of a beat, and in ms.
const LEAST_SHARE: f64 = 0.05;
const LEAST_MS: f64 = 20.0;

/// So many &s must show the habit that stand in no figure that was read as another.
const PLAIN: usize = 2;
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

    pub(super) fn places(&self, found: &mut Vec<Finding>) {
        let (mut on, mut between, mut notes, mut strokes) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        let mut shares = Vec::new();
        let mut plain = Vec::new();
        for (place, &count) in self.written.notes.iter().enumerate() {
            // A habit of place may have been taken for another reading of the figures it stands in: the &s of those take part.
            let half = self.written.part(count) == Some(PARTS / 2);
            let Some(answer) = self.answer(place).filter(|_| !self.misread[count] || half) else { continue };
            if self.written.divides_in_three(count) {
                continue;
            }
            let offset = answer.offset.as_millis_f64() - self.pulse.at(self.alignment.moved[count]);
            match self.written.part(count) {
                Some(0) => on.push(offset),
                Some(half) if half == PARTS / 2 => {
                    between.push(offset);
                    if !self.misread[count] {
                        plain.push(offset);
                    }
                    notes.push(self.written.counts[count].id);
                    strokes.extend(self.alignment.strokes[count]);
                    shares.push(self.written.beat_nanos(count) as f64 / 1e6);
                }
                _ => {}
            }
        }
        let (Some(beats), Some(ands)) = (Mean::of(&on), Mean::of(&between)) else { return };
        let late = ands.mean - beats.mean;
        let beat_ms = shares.iter().sum::<f64>() / shares.len() as f64;
        let (error, freedom) = beats.error_beside(&ands);
        // Most of them must be so, not some very much.
        let moved = between
            .iter()
            .filter(|offset| (**offset - beats.mean) * late.signum() > late.abs() / 3.0)
            .count();
        let told = late.abs() > student(SURE, freedom) * error
            && late.abs() > (LEAST_SHARE * beat_ms).max(LEAST_MS)
            && moved * 3 >= between.len() * 2
            && (plain.len() == between.len() || self.shows(&plain, beats.mean, late));
        if !told {
            return;
        }
        let amount = self.ms(late);
        let part = (0.5 + late / beat_ms) * 100.0;
        let (kind, says) = if late > 0.0 {
            let says = format!(
                "the &s come {amount} late throughout, {part:.0} % of the way through the beat instead of half-way: the beat is swung"
            );
            (FindingKind::AndsSwung, says)
        } else {
            let says = format!(
                "the &s come {amount} early throughout, {part:.0} % of the way through the beat instead of half-way"
            );
            (FindingKind::AndsBunched, says)
        };
        let confidence = super::sure::no_chance(late / error, 1);
        let mut finding = of_places(kind, notes, strokes, confidence, says);
        finding.place = None;
        found.push(finding);
    }
}
