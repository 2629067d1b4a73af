use std::ops::Add;

/// A place in the rhythm that a stroke may be explained by. Times are whole nanoseconds.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    /// When it is written.
    pub(crate) at: i64,
    /// What it is.
    pub(crate) kind: RowKind,
    /// How far before its moment a stroke may fall and still belong to it; not negative.
    pub(crate) early: i64,
    /// How far after.
    pub(crate) late: i64,
    /// Up to which written time strokes behind it are strokes of a roll that has begun; the least there is without one.
    pub(crate) rolls_until: i64,
    /// From which written time strokes before it may be its grace; the greatest there is without one.
    pub(crate) grace_from: i64,
}

impl Row {
    /// A row without grace and roll.
    pub(crate) const fn new(at: i64, kind: RowKind, early: i64, late: i64) -> Self {
        Self { at, kind, early, late, rolls_until: i64::MIN, grace_from: i64::MAX }
    }
}

/// What a stroke between two rows costs that answers neither: nothing in a roll, little where a grace is written, else an extra stroke.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Between<'a> {
    rule: Rule,
    before: Option<&'a Row>,
    after: Option<&'a Row>,
}

impl<'a> Between<'a> {
    /// Behind the first `passed` rows.
    pub(crate) fn new(rule: Rule, rows: &'a [Row], passed: usize) -> Self {
        Self { rule, before: passed.checked_sub(1).and_then(|row| rows.get(row)), after: rows.get(passed) }
    }

    /// With the pulse `heard` after the click.
    pub(crate) fn extra(self, stroke: i64, heard: i64) -> Cost {
        let Rule::Likely { .. } = self.rule else { return self.rule.extra() };
        let at = stroke.saturating_sub(heard);
        if self.before.is_some_and(|row| at <= row.rolls_until) {
            return Cost::default();
        }
        if self.after.is_some_and(|row| at >= row.grace_from) {
            return Cost { unanswered: 0, rest: UNIT / 8 };
        }
        self.rule.extra()
    }
}

/// What stands at a row, which decides what it costs to leave it without a stroke, and to give it one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum RowKind {
    /// A written attack that should have sounded by now.
    Due,
    /// A written attack whose time has not passed: nothing is missed yet.
    Pending,
    /// A count of a rest or a hold: nothing is to be struck, but if a stroke falls there, that is what it fell on.
    Silent,
}

/// How explanations are weighed against one another.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Rule {
    /// The most notes answered; among those ways, the least sum of squared distances.
    Most,
    /// The least total cost: a missed note and an extra stroke cost [`UNIT`] each, and a match costs the square
    /// of its distance, so scaled that at `reach` (nanoseconds) it costs as much as a miss and an extra; beyond,
    /// no more than that.
    Likely { reach: i64 },
}

/// Where the player's own pulse lies against the click, in nanoseconds.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Pulse<'a> {
    /// Known beforehand, one offset a row. The path found is the best there is.
    Known(&'a [i64]),
    /// To be found on the way: it begins so, and every path carries its own, corrected by each match.
    Followed(Start),
}

/// Where a pulse that is to be followed begins.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Start {
    /// The written time at which it begins.
    pub(crate) at: i64,
    /// How far from the click it lies there.
    pub(crate) offset: i64,
    /// How it grows, in nanoseconds a second: a player 1 % too slow loses 10,000,000.
    pub(crate) growth: i64,
}

/// What the best explanation is.
#[derive(Clone, Debug)]
pub(crate) struct Path {
    /// For each row, the index of the stroke that fell on it.
    pub(crate) strokes: Vec<Option<usize>>,
    /// What it costs.
    pub(crate) cost: Cost,
}

/// What an explanation costs: first how many notes and strokes it leaves unanswered (counted only by
/// [`Rule::Most`]), then the rest. Whole numbers, so that equal is equal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Cost {
    pub(crate) unanswered: u32,
    pub(crate) rest: u64,
}

impl Add for Cost {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            unanswered: self.unanswered.saturating_add(other.unanswered),
            rest: self.rest.saturating_add(other.rest),
        }
    }
}

/// What a missed note costs under [`Rule::Likely`], and an extra stroke.
pub(crate) const UNIT: u64 = 1 << 20;

/// How fast a followed pulse moves towards what is played: it closes half of the gap in a second. A drift of 3 %
/// then stays 30 ms ahead of it whatever the note values, well within any gate.
const FOLLOWING: i64 = 1_000_000_000;

/// The fastest drift that is followed, in nanoseconds a second: 10 % of the tempo.
const FASTEST: i64 = 100_000_000;

/// How far from the leading path's pulse strokes are looked at while the pulse is not known: the widest
/// gate by default, and room for paths that lag behind.
const SEARCH: i64 = 400_000_000;

impl Rule {
    fn missed(self, kind: RowKind) -> Cost {
        match (kind, self) {
            (RowKind::Pending | RowKind::Silent, _) => Cost::default(),
            (RowKind::Due, Self::Most) => Cost { unanswered: 1, rest: 0 },
            (RowKind::Due, Self::Likely { .. }) => Cost { unanswered: 0, rest: UNIT },
        }
    }

    fn extra(self) -> Cost {
        match self {
            Self::Most => Cost { unanswered: 1, rest: 0 },
            Self::Likely { .. } => Cost { unanswered: 0, rest: UNIT },
        }
    }

    /// What it costs that a stroke falls on `row`, `distance` nanoseconds from its moment and within its gate.
    pub(crate) fn taken(self, row: &Row, distance: i64) -> Cost {
        let width = if distance < 0 { row.early } else { row.late };
        match (self, row.kind) {
            (Self::Most, RowKind::Silent) => Cost { unanswered: 1, rest: 0 },
            (Self::Most, _) => Cost { unanswered: 0, rest: squared(distance) },
            // Half a unit spared for saying what the stroke fell on, less towards the edge.
            (Self::Likely { .. }, RowKind::Silent) => {
                Cost { unanswered: 0, rest: UNIT / 2 + scaled_square(distance, width, UNIT / 2) }
            }
            (Self::Likely { reach }, _) => {
                Cost { unanswered: 0, rest: scaled_square(distance, reach, 2 * UNIT) }
            }
        }
    }
}

/// The square of a distance in whole microseconds.
fn squared(distance: i64) -> u64 {
    let micros = distance.unsigned_abs() / 1_000;
    micros.saturating_mul(micros)
}

/// The square of a distance, scaled to be `most` at `width` and no more beyond.
fn scaled_square(distance: i64, width: i64, most: u64) -> u64 {
    if distance.abs() >= width {
        most
    } else {
        most.saturating_mul(squared(distance)) / squared(width).max(1)
    }
}

#[derive(Clone, Copy, Debug)]
struct Cell {
    cost: Cost,
    /// The pulse this path has found, how it grows (nanoseconds a second), and the written time of its last match.
    pulse: i64,
    growth: i64,
    since: i64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    /// The row was left without a stroke.
    Left,
    /// The row took the stroke before.
    Took,
    /// The stroke before was extra.
    Extra,
}

/// Which cells of one layer have their steps where.
#[derive(Clone, Copy, Debug)]
struct Band {
    first: usize,
    end: usize,
    steps: usize,
}

/// The best order-preserving explanation of `strokes` (rising nanoseconds) by `rows` (rising).
///
/// A dynamic programme over layers: layer `i`, cell `j` is the least cost of explaining the first `j` strokes
/// by the first `i` rows. Only cells within reach of a row's gate are made, so time and memory grow with the
/// number of strokes and rows, not with their product. Among equal costs a match is taken.
pub(crate) fn best_path(rows: &[Row], strokes: &[i64], rule: Rule, pulse: Pulse<'_>) -> Path {
    let firsts = match pulse {
        Pulse::Known(offsets) => known_firsts(rows, strokes, offsets),
        Pulse::Followed(_) => Vec::new(),
    };
    let start_at = match pulse {
        Pulse::Known(_) => Start::default(),
        Pulse::Followed(start) => start,
    };
    let mut start = 0;
    let mut layer = vec![Cell::starting(start_at)];
    let mut next = Vec::new();
    let mut bands: Vec<Band> = Vec::with_capacity(rows.len());
    let mut steps = Vec::with_capacity(rows.len() * 4);
    let (mut leading, mut end) = (layer[0], 0);

    for (index, row) in rows.iter().enumerate() {
        let offset = match pulse {
            Pulse::Known(offsets) => offsets[index],
            Pulse::Followed(_) => leading.pulse_at(row.at),
        };
        let centre = row.at.saturating_add(offset);
        let (first, late) = match pulse {
            Pulse::Known(_) => (firsts[index], row.late),
            Pulse::Followed(_) => {
                (from_here(strokes, start, |stroke| stroke < centre.saturating_sub(SEARCH)), SEARCH)
            }
        };
        end = from_here(strokes, end.max(first), |stroke| stroke <= centre.saturating_add(late));
        extend(&mut layer, start, strokes, end, Between::new(rule, rows, index), offset);
        bands.push(Band { first, end, steps: steps.len() });

        let between = Between::new(rule, rows, index + 1);
        next.clear();
        for j in first..=end {
            let above = layer[j - start];
            let mut cell = Cell { cost: above.cost + rule.missed(row.kind), ..above };
            let mut step = Step::Left;
            if j > first {
                let before = layer[j - 1 - start];
                let heard = match pulse {
                    Pulse::Known(offsets) => offsets[index],
                    Pulse::Followed(_) => before.pulse_at(row.at),
                };
                let distance = strokes[j - 1].saturating_sub(row.at).saturating_sub(heard);
                if distance >= -row.early && distance <= row.late {
                    let cost = before.cost + rule.taken(row, distance);
                    if cost <= cell.cost {
                        cell = match row.kind {
                            RowKind::Silent => Cell { cost, ..before },
                            RowKind::Due | RowKind::Pending => followed(before, cost, row.at, distance),
                        };
                        step = Step::Took;
                    }
                }
                let beside: Cell = next[j - 1 - first];
                let heard = match pulse {
                    Pulse::Known(offsets) => offsets[index],
                    Pulse::Followed(_) => beside.pulse_at(row.at),
                };
                let cost = beside.cost + between.extra(strokes[j - 1], heard);
                if cost < cell.cost {
                    cell = Cell { cost, ..beside };
                    step = Step::Extra;
                }
            }
            if j == first || cell.cost < leading.cost {
                leading = cell;
            }
            next.push(cell);
            steps.push(step);
        }
        std::mem::swap(&mut layer, &mut next);
        start = first;
    }
    let heard = match pulse {
        Pulse::Known(offsets) => offsets.last().copied().unwrap_or(0),
        Pulse::Followed(_) => leading.pulse_at(rows.last().map_or(0, |row| row.at)),
    };
    extend(&mut layer, start, strokes, strokes.len(), Between::new(rule, rows, rows.len()), heard);
    let cost = layer[strokes.len() - start].cost;
    Path { strokes: traced(&bands, &steps, strokes.len()), cost }
}

/// The first index from `index` on whose stroke is not `before`. Bands move forwards, so it is near.
fn from_here(strokes: &[i64], index: usize, before: impl Fn(i64) -> bool) -> usize {
    index + strokes[index..].iter().take_while(|&&stroke| before(stroke)).count()
}

/// For each row, the first stroke that it or a later row may take.
fn known_firsts(rows: &[Row], strokes: &[i64], offsets: &[i64]) -> Vec<usize> {
    // When the gate of this row or of a later one first opens.
    let mut opens = vec![0; rows.len()];
    let mut first = i64::MAX;
    for ((row, offset), opens) in rows.iter().zip(offsets).zip(&mut opens).rev() {
        first = first.min(row.at.saturating_add(*offset).saturating_sub(row.early));
        *opens = first;
    }
    let mut index = 0;
    let firsts = opens.into_iter().map(|opens| {
        index = from_here(strokes, index, |stroke| stroke < opens);
        index
    });
    firsts.collect()
}

/// Lets the layer's last cell call every further stroke up to `end` extra.
fn extend(
    layer: &mut Vec<Cell>,
    start: usize,
    strokes: &[i64],
    end: usize,
    between: Between<'_>,
    heard: i64,
) {
    while start + layer.len() <= end {
        let last = layer[layer.len() - 1];
        let stroke = strokes[start + layer.len() - 1];
        layer.push(Cell { cost: last.cost + between.extra(stroke, heard), ..last });
    }
}

impl Cell {
    /// Half of the first distance is believed, as if a second had passed since the pulse was last heard.
    fn starting(start: Start) -> Self {
        let pulse = start.offset.saturating_sub(start.growth);
        let since = start.at.saturating_sub(FOLLOWING);
        Self { cost: Cost::default(), pulse, growth: start.growth, since }
    }

    /// Where this path's pulse lies at a written time. A growth is not believed for longer than two seconds of silence.
    fn pulse_at(&self, at: i64) -> i64 {
        let elapsed = at.saturating_sub(self.since).clamp(0, 2 * FOLLOWING);
        self.pulse.saturating_add(self.growth / 1_000 * (elapsed / 1_000) / 1_000)
    }
}

/// The cell after a match `distance` away from the pulse it expected.
fn followed(before: Cell, cost: Cost, at: i64, distance: i64) -> Cell {
    let elapsed = at.saturating_sub(before.since);
    let step = step_towards(distance, elapsed);
    // With a step of α times the distance, α²/(2−α) of the distance over the elapsed time goes to the growth: then
    // both settle as fast as they can without swinging (Benedict and Bordner 1962, from memory). For the α of
    // `step_towards` that is the step over the elapsed time and two seconds.
    let growth = before
        .growth
        .saturating_add(step / ((elapsed.clamp(0, 60 * FOLLOWING) + 2 * FOLLOWING) / 1_000_000) * 1_000);
    let pulse = before.pulse_at(at).saturating_add(step);
    Cell { cost, pulse, growth: growth.clamp(-FASTEST, FASTEST), since: at }
}

/// How far a pulse moves towards a stroke `distance` away, `elapsed` after its last correction.
///
/// The longer it is since a stroke was heard, the more of the distance is believed.
pub(crate) fn step_towards(distance: i64, elapsed: i64) -> i64 {
    // In microseconds the product stays far within range: gates are at most a second wide.
    let (distance, elapsed) = (distance / 1_000, elapsed.clamp(0, 60 * FOLLOWING) / 1_000);
    distance.saturating_mul(elapsed) / (elapsed + FOLLOWING / 1_000) * 1_000
}

/// Walks back from the last cell to the first.
fn traced(bands: &[Band], steps: &[Step], strokes: usize) -> Vec<Option<usize>> {
    let mut taken = vec![None; bands.len()];
    let (mut i, mut j) = (bands.len(), strokes);
    while i > 0 {
        let band = bands[i - 1];
        // Cells beyond a band were only ever reached by extra strokes.
        j = j.min(band.end);
        match steps[band.steps + j - band.first] {
            Step::Left => i -= 1,
            Step::Extra => j -= 1,
            Step::Took => {
                j -= 1;
                i -= 1;
                taken[i] = Some(j);
            }
        }
    }
    taken
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const MS: i64 = 1_000_000;
    const REACH: i64 = 100 * MS;

    /// The cost of an explanation in units, from its definition and in floating point.
    fn cost(rows: &[Row], strokes: &[i64], offsets: &[i64], taken: &[Option<usize>]) -> f64 {
        let mut cost = (strokes.len() - taken.iter().flatten().count()) as f64;
        for ((row, offset), stroke) in rows.iter().zip(offsets).zip(taken) {
            let distance = stroke.map(|stroke| (strokes[stroke] - row.at - offset) as f64);
            cost += match (row.kind, distance) {
                (RowKind::Due, None) => 1.0,
                (RowKind::Pending | RowKind::Silent, None) => 0.0,
                (RowKind::Due | RowKind::Pending, Some(distance)) => {
                    2.0 * (distance / REACH as f64).powi(2).min(1.0)
                }
                (RowKind::Silent, Some(distance)) => {
                    let width = if distance < 0.0 { row.early } else { row.late };
                    0.5 + 0.5 * (distance / width as f64).powi(2).min(1.0)
                }
            };
        }
        cost
    }

    /// The least cost over every order-preserving way to give strokes to rows within their gates, by trying all.
    fn least(rows: &[Row], strokes: &[i64], offsets: &[i64], taken: &mut Vec<Option<usize>>) -> f64 {
        let Some(row) = rows.get(taken.len()) else {
            return cost(rows, strokes, offsets, taken);
        };
        let offset = offsets[taken.len()];
        let next = taken.iter().flatten().max().map_or(0, |last| last + 1);
        taken.push(None);
        let mut best = least(rows, strokes, offsets, taken);
        taken.pop();
        for (index, stroke) in strokes.iter().enumerate().skip(next) {
            let distance = stroke - row.at - offset;
            if distance >= -row.early && distance <= row.late {
                taken.push(Some(index));
                best = best.min(least(rows, strokes, offsets, taken));
                taken.pop();
            }
        }
        best
    }

    fn rows() -> impl Strategy<Value = Vec<Row>> {
        let kind = prop_oneof![Just(RowKind::Due), Just(RowKind::Pending), Just(RowKind::Silent)];
        prop::collection::vec((0i64..200, kind, 0i64..150, 0i64..150), 0..7).prop_map(|rows| {
            let mut at = 0;
            let each = rows.into_iter().map(|(gap, kind, early, late)| {
                at += gap * MS;
                Row::new(at, kind, early * MS, late * MS)
            });
            each.collect()
        })
    }

    proptest! {
        #[test]
        fn no_explanation_costs_less(
            rows in rows(),
            mut strokes in prop::collection::vec(-100i64..900, 0..7),
            offsets in prop::collection::vec(-120i64..120, 7),
        ) {
            strokes.sort_unstable();
            let strokes: Vec<_> = strokes.into_iter().map(|ms| ms * MS).collect();
            let offsets: Vec<_> = offsets.into_iter().take(rows.len()).map(|ms| ms * MS).collect();
            let path = best_path(&rows, &strokes, Rule::Likely { reach: REACH }, Pulse::Known(&offsets));
            let found = path.cost.rest as f64 / UNIT as f64;
            prop_assert!((found - cost(&rows, &strokes, &offsets, &path.strokes)).abs() < 1e-4);
            prop_assert!((found - least(&rows, &strokes, &offsets, &mut Vec::new())).abs() < 1e-4);
        }

        /// A followed pulse answers no stroke twice and keeps the order, wherever it goes.
        #[test]
        fn a_followed_path_is_in_order(
            rows in rows(),
            mut strokes in prop::collection::vec(-100i64..900, 0..30),
            offset in -300i64..300,
            growth in -100i64..100,
        ) {
            strokes.sort_unstable();
            let strokes: Vec<_> = strokes.into_iter().map(|ms| ms * MS).collect();
            let start = Start { at: 0, offset: offset * MS, growth: growth * MS };
            let path = best_path(&rows, &strokes, Rule::Likely { reach: REACH }, Pulse::Followed(start));
            prop_assert!(path.strokes.iter().flatten().is_sorted_by(|a, b| a < b));
            prop_assert_eq!(path.strokes.len(), rows.len());
        }
    }
}
