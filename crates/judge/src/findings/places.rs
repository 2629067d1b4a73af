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

/// The mean of some offsets in ms, and its variance.
#[derive(Clone, Copy, Debug)]
struct Mean {
    mean: f64,
    error_squared: f64,
    count: usize,
}

impl Mean {
    fn of(values: &[f64]) -> Option<Self> {
        let count = values.len();
        if count < FEWEST {
            return None;
        }
        // Without outliers, so that one slip does not make a habit.
        let mut sorted = values.to_vec();
        sorted.sort_unstable_by(f64::total_cmp);
        let middle = sorted[count / 2];
        let mut sizes: Vec<f64> = sorted.iter().map(|value| value - middle).collect();
        let limit = (4.0 * 1.4826 * crate::drift::median_size(&mut sizes)).max(4.0);
        let kept: Vec<f64> = sorted.into_iter().filter(|value| (value - middle).abs() <= limit).collect();
        let number = kept.len() as f64;
        let mean = kept.iter().sum::<f64>() / number;
        let squares: f64 = kept.iter().map(|value| (value - mean).powi(2)).sum();
        let variance = (squares / (number - 1.0).max(1.0)).max(4.0);
        Some(Self { mean, error_squared: variance / number, count })
    }
}

impl Evidence<'_> {
    pub(super) fn places(&self, found: &mut Vec<Finding>) {
        let (mut on, mut between, mut notes, mut strokes) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        let mut shares = Vec::new();
        for (place, &count) in self.written.notes.iter().enumerate() {
            let Some(answer) = self.answer(place).filter(|_| !self.misread[count]) else { continue };
            if self.written.divides_in_three(count) {
                continue;
            }
            let offset = answer.offset.as_millis_f64() - self.pulse.at(self.alignment.moved[count]);
            match self.written.part(count) {
                Some(0) => on.push(offset),
                Some(half) if half == PARTS / 2 => {
                    between.push(offset);
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
        let error = (beats.error_squared + ands.error_squared).sqrt();
        // Most of them must be so, not some very much.
        let moved = between
            .iter()
            .filter(|offset| (**offset - beats.mean) * late.signum() > late.abs() / 3.0)
            .count();
        let told = late.abs() > student(SURE, beats.count.min(ands.count) as f64 - 1.0) * error
            && late.abs() > (LEAST_SHARE * beat_ms).max(LEAST_MS)
            && moved * 3 >= ands.count * 2;
        if !told {
            return;
        }
        let amount = crate::wording::ms(late);
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
