use rhythm::AttackId;
use timebase::{Moment, Seconds};

use crate::drift::median_size;
use crate::section::middle;

/// Where the pulse of a section lies at a written attack, when nobody need keep the click.
///
/// It is the mean of the players' own courses, each without the distance at which he leads or follows, weighed by how closely he keeps to
/// his own course (the inverse of the variance); a course that lies far from the others', as of a player who is a beat late, has no
/// part there. Who leads the section by how much on the whole cannot be told from the section alone: the pulse is that of its mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CommonPulse {
    /// The written attack.
    pub id: AttackId,
    /// When it is written.
    pub at: Moment,
    /// How much later the common pulse lies; negative is earlier.
    pub offset: Seconds,
    /// Its standard error, from the players' own scatter.
    pub error: Seconds,
    /// How many players it rests on.
    pub players: usize,
}

/// So many attacks to either side make a player's course at an attack.
const AROUND: usize = 3;
/// Fewer attacks than this are no course.
const FEWEST: usize = 4;
/// A player closer to his course than this, in ms, is not weighed more for it.
const LEAST_MS: f64 = 2.0;
/// Courses further from the middle one than so many standard deviations have no part, and never those nearer than
/// this, in ms: people who correct themselves wander by some tens of milliseconds.
const OUTLYING: f64 = 4.0;
const NEAR_MS: f64 = 50.0;

/// Where one player's pulse goes.
#[derive(Clone, Debug)]
pub(crate) struct Course {
    /// Written moment, place of the course in ms, and the share of a single stroke's variance that is left in it.
    points: Vec<(Moment, f64, f64)>,
    /// How far strokes fall from it, in ms.
    scatter_ms: f64,
}

impl Course {
    /// The course of these strokes, so many ms off, without the player's own `distance_ms` from the section.
    pub(crate) fn of(strokes: &[(Moment, f64)], distance_ms: f64) -> Self {
        if strokes.len() < FEWEST {
            return Self { points: Vec::new(), scatter_ms: f64::INFINITY };
        }
        let mut from = Vec::with_capacity(strokes.len());
        let mut points = Vec::with_capacity(strokes.len());
        for (n, &(at, offset)) in strokes.iter().enumerate() {
            let around = &strokes[n.saturating_sub(AROUND)..(n + AROUND + 1).min(strokes.len())];
            let (place, share) = line_at(around, at);
            // A stroke pulls its course along; from a course without it, it would be so much farther.
            from.push((offset - place) / (1.0 - share).max(0.1).sqrt());
            points.push((at, place - distance_ms, share));
        }
        Self { points, scatter_ms: (1.4826 * median_size(&mut from)).max(LEAST_MS) }
    }

    fn at(&self, at: Moment) -> Option<(f64, f64)> {
        let n = self.points.binary_search_by_key(&at, |&(at, ..)| at).ok()?;
        let (_, place, share) = self.points[n];
        Some((place, share * self.scatter_ms * self.scatter_ms))
    }
}

/// The straight line through some strokes, at a moment among them, and the share of their variance that it has.
fn line_at(strokes: &[(Moment, f64)], at: Moment) -> (f64, f64) {
    let count = strokes.len() as f64;
    let along = |moment: Moment| (moment - at).as_millis_f64();
    let mean_t = strokes.iter().map(|&(moment, _)| along(moment)).sum::<f64>() / count;
    let mean_d = strokes.iter().map(|&(_, offset)| offset).sum::<f64>() / count;
    let (mut tt, mut td) = (0.0, 0.0);
    for &(moment, offset) in strokes {
        let t = along(moment) - mean_t;
        tt += t * t;
        td += t * (offset - mean_d);
    }
    if tt <= 0.0 {
        return (mean_d, 1.0 / count);
    }
    (mean_d - td / tt * mean_t, 1.0 / count + mean_t * mean_t / tt)
}

/// The common pulse at each of these places where two players or more have a course.
pub(crate) fn common_pulse(
    places: impl Iterator<Item = (Moment, AttackId)>,
    courses: &[Course],
) -> Vec<CommonPulse> {
    let at = |(at, id): (Moment, AttackId)| {
        let here: Vec<(f64, f64, f64)> = courses
            .iter()
            .filter_map(|course| {
                let (place, variance) = course.at(at)?;
                Some((place, variance, course.scatter_ms))
            })
            .collect();
        let middle = middle(&here.iter().map(|&(place, ..)| place).collect::<Vec<_>>());
        // Of two there is no telling which is astray.
        let is_near = |&&(place, _, scatter): &&(f64, f64, f64)| {
            here.len() < 3 || (place - middle).abs() <= (OUTLYING * scatter).max(NEAR_MS)
        };
        let near: Vec<&(f64, f64, f64)> = here.iter().filter(is_near).collect();
        if near.len() < 2 {
            return None;
        }
        let weights = || near.iter().map(|(_, _, scatter)| 1.0 / (scatter * scatter));
        let whole: f64 = weights().sum();
        let offset = near.iter().zip(weights()).map(|((place, ..), w)| place * w).sum::<f64>() / whole;
        let variance = near.iter().zip(weights()).map(|((_, variance, _), w)| variance * w * w).sum::<f64>();
        Some(CommonPulse {
            id,
            at,
            offset: Seconds::from_millis_f64(offset),
            error: Seconds::from_millis_f64(variance.sqrt() / whole),
            players: near.len(),
        })
    };
    places.filter_map(at).collect()
}
