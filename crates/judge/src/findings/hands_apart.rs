//! One hand that comes later than the other throughout.

use std::collections::BTreeMap;

use super::{Evidence, of_places};
use crate::estimate::student;
use crate::{Finding, FindingKind, Hand};

/// So many attacks of each hand there must be.
const FEWEST: f64 = 6.0;
/// How many standard errors the hands must lie apart: a take in ten thousand has them so far apart by chance.
const SURE: f64 = 3.9;
/// The least that is told, in ms.
const LEAST_MS: f64 = 20.0;
/// Attacks further off than so many robust standard deviations are slips of their own.
const OUTLYING: f64 = 4.0;
/// What attacks are taken to scatter before anything is known, in ms, and how many of them that weighs.
const USUAL_SCATTER_MS: f64 = 22.0;
const WEIGHT: f64 = 8.0;

/// What the two hands do at one place in the beat: how far from the pulse they fall, in ms, right and left.
type Both = [Vec<f64>; 2];

impl Evidence<'_> {
    /// Tells a hand that is late beside the other. They are compared at the same places in the beat only: what one hand alone strikes, say
    /// every &, may be late for standing there.
    pub(super) fn hands_apart(&self, found: &mut Vec<Finding>) {
        let mut places: BTreeMap<Option<i64>, Both> = BTreeMap::new();
        let mut struck = [Vec::new(), Vec::new()];
        for (note, &count) in self.written.notes.iter().enumerate() {
            let Some(stroke) = self.alignment.strokes[count].filter(|_| !self.misread[count]) else {
                continue;
            };
            let (Some(hand), Some(answer)) = (self.attacks[stroke].played.hand, self.answer(note)) else {
                continue;
            };
            let side = usize::from(hand == Hand::Left);
            let off = answer.offset.as_millis_f64() - self.pulse_at(self.alignment.moved[count]);
            places.entry(self.written.part(count)).or_default()[side].push(off);
            struck[side].push((self.written.counts[count].id, stroke));
        }
        without_slips(&mut places);
        let Some((apart, error, freedom)) = apart(&places) else { return };
        if apart.abs() < LEAST_MS || apart.abs() < student(SURE, freedom) * error {
            return;
        }
        let (late, other, side) = if apart > 0.0 { ("left", "right", 1) } else { ("right", "left", 0) };
        let says = format!("the {late} hand comes {} after the {other} throughout", self.ms(apart));
        let (notes, strokes) = struck[side].iter().copied().unzip();
        let sure = super::sure::no_chance(apart / error, 1);
        let mut finding = of_places(FindingKind::LateAttack, notes, strokes, sure, says);
        finding.place = None;
        found.push(finding);
    }
}

/// Takes out what lies far from the others at its place.
fn without_slips(places: &mut BTreeMap<Option<i64>, Both>) {
    for both in places.values_mut() {
        let mut sorted: Vec<f64> = both.iter().flatten().copied().collect();
        sorted.sort_unstable_by(f64::total_cmp);
        let middle = sorted[sorted.len() / 2];
        let mut sizes: Vec<f64> = sorted.iter().map(|off| off - middle).collect();
        let limit = OUTLYING * 1.4826 * crate::drift::median_size(&mut sizes).max(USUAL_SCATTER_MS / 2.0);
        both.iter_mut().for_each(|hand| hand.retain(|off| (off - middle).abs() <= limit));
    }
}

/// How much later the left hand is than the right, in ms, its standard error and the degrees of freedom: the mean over the places in the
/// beat where both strike, each weighed by how well it tells.
fn apart(places: &BTreeMap<Option<i64>, Both>) -> Option<(f64, f64, f64)> {
    let (mut sum, mut weights, mut squares, mut freedom) = (0.0, 0.0, 0.0, 0.0);
    let mut strokes = [0.0, 0.0];
    for both in places.values().filter(|both| both.iter().all(|hand| !hand.is_empty())) {
        let [right, left] = [0, 1].map(|side| both[side].len() as f64);
        let [right_mean, left_mean] =
            [0, 1].map(|side| both[side].iter().sum::<f64>() / both[side].len() as f64);
        let weight = right * left / (right + left);
        sum += weight * (left_mean - right_mean);
        weights += weight;
        squares += both[0].iter().map(|off| (off - right_mean).powi(2)).sum::<f64>();
        squares += both[1].iter().map(|off| (off - left_mean).powi(2)).sum::<f64>();
        freedom += right + left - 2.0;
        strokes = [strokes[0] + right, strokes[1] + left];
    }
    let freedom = freedom + WEIGHT;
    let variance = (squares + WEIGHT * USUAL_SCATTER_MS.powi(2)) / freedom;
    let enough = strokes.iter().all(|strokes| *strokes >= FEWEST);
    enough.then(|| (sum / weights, (variance / weights).sqrt(), freedom))
}
