//! From the strokes to one cell: which patterns may have been meant, and which strokes they use up.

use super::heard::{Heard, SLIP, stroke};
use super::pattern::{Patterns, Strength};

/// How far below the best way a way may lie and still be weighed, in nats.
const WORTH: f64 = 25.0;

/// One way through a cell: this pattern, with every stroke before `next` used up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Step {
    pub(super) pattern: usize,
    /// The first stroke that is left for later cells.
    pub(super) next: usize,
    /// How well the strokes fit, as a log density.
    pub(super) log: f64,
}

/// When the places of a cell are expected.
#[derive(Clone, Copy, Debug)]
pub(super) struct Expected {
    /// Where the cell begins, in seconds.
    pub(super) begins: f64,
    /// How long it lasts; positive.
    pub(super) lasts: f64,
    /// The variance of a stroke about its place, at the beginning and at the end of the cell.
    pub(super) variance: (f64, f64),
}

impl Expected {
    fn at(&self, part: f64) -> (f64, f64) {
        let (from, to) = self.variance;
        (self.begins + part * self.lasts, from + part * (to - from))
    }

    /// The log density of an attack at `at` that is written at `part` of the cell.
    pub(super) fn fit(&self, at: f64, part: f64) -> f64 {
        let (middle, variance) = self.at(part);
        stroke(at - middle, variance)
    }

    /// How far over the end of the cell a stroke may still belong into it or already to the next.
    fn gate(&self) -> f64 {
        (4.0 * self.variance.1.sqrt()).clamp(0.1 * self.lasts, 0.5 * self.lasts)
    }
}

/// What became of a stroke.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// It is the attack at this place of the pattern.
    Attack(usize),
    /// It leads into the next.
    Grace,
    /// It means nothing.
    Slip,
}

/// Room that is used again for every cell.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    fits: Vec<f64>,
    row: Vec<f64>,
}

/// Every way through a cell that begins with stroke `from`.
///
/// Never empty: where nothing fits, all strokes are slips.
pub(super) fn steps(
    heard: &Heard,
    patterns: &Patterns,
    from: usize,
    expected: &Expected,
    scratch: &mut Scratch,
) -> Vec<Step> {
    let ends = expected.begins + expected.lasts;
    let within = |until: f64| from + heard.at[from..].partition_point(|&at| at <= until);
    let (must, may) = (within(ends - expected.gate()) - from, within(ends + expected.gate()) - from);
    let places = patterns.places.len();
    scratch.fits.clear();
    for &at in &heard.at[from..from + may] {
        scratch.fits.extend(patterns.places.iter().map(|&place| expected.fit(at, place)));
    }
    let grace = &heard.grace[from..from + may];
    // A pattern with fewer attacks than must be used up calls all others grace strokes or slips: one slip a cell is
    // enough unless there are more strokes than any pattern has.
    let spare = 1 + grace[..must].iter().filter(|log| log.is_finite()).count();
    let fewest = if must > patterns.most + spare { 0 } else { must.saturating_sub(spare) };
    let prior = patterns.priors(Strength::Unknown, 0);
    let mut found = Vec::new();
    let mut best = f64::NEG_INFINITY;
    for (index, pattern) in patterns.list.iter().enumerate() {
        let many = pattern.at.len();
        if many < fewest || many > may {
            continue;
        }
        // row[j]: the best use of the strokes so far with j places of the pattern struck.
        scratch.row.clear();
        scratch.row.resize(many + 1, f64::NEG_INFINITY);
        scratch.row[0] = 0.0;
        for used in 0..=may {
            if used > 0 {
                let fits = &scratch.fits[(used - 1) * places..used * places];
                let idle = grace[used - 1].max(SLIP);
                for struck in (1..=many).rev() {
                    let hit = scratch.row[struck - 1] + fits[pattern.at[struck - 1]];
                    scratch.row[struck] = (scratch.row[struck] + idle).max(hit);
                }
                scratch.row[0] += idle;
            }
            let log = scratch.row[many];
            if used >= must && log > f64::NEG_INFINITY {
                let weight = log + prior[index];
                if weight > best - WORTH {
                    best = best.max(weight);
                    found.push(Step { pattern: index, next: from + used, log });
                }
            }
        }
    }
    found.retain(|step| step.log + prior[step.pattern] > best - WORTH);
    found
}

/// What each stroke from `from` up to the end of `step` became on the way that the step took.
pub(super) fn roles(
    heard: &Heard,
    patterns: &Patterns,
    from: usize,
    step: &Step,
    expected: &Expected,
) -> Vec<Role> {
    let pattern = &patterns.list[step.pattern];
    let (used, many) = (step.next - from, pattern.at.len());
    let width = many + 1;
    let mut table = vec![f64::NEG_INFINITY; (used + 1) * width];
    table[0] = 0.0;
    let fit = |stroke: usize, struck: usize| {
        expected.fit(heard.at[from + stroke], patterns.places[pattern.at[struck]])
    };
    let idle = |stroke: usize| heard.grace[from + stroke].max(SLIP);
    for stroke in 0..used {
        for struck in 0..=many {
            let stays = table[stroke * width + struck] + idle(stroke);
            let hits = match struck.checked_sub(1) {
                Some(before) => table[stroke * width + before] + fit(stroke, before),
                None => f64::NEG_INFINITY,
            };
            table[(stroke + 1) * width + struck] = stays.max(hits);
        }
    }
    let mut roles = vec![Role::Slip; used];
    let mut struck = many;
    for stroke in (0..used).rev() {
        let here = table[(stroke + 1) * width + struck];
        let hit = struck
            .checked_sub(1)
            .filter(|&before| table[stroke * width + before] + fit(stroke, before) >= here);
        roles[stroke] = match hit {
            Some(before) => {
                struck = before;
                Role::Attack(before)
            }
            None if heard.grace[from + stroke] > SLIP => Role::Grace,
            None => Role::Slip,
        };
    }
    roles
}
