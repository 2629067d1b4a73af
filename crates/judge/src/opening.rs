use crate::course::{at_rows, line_through};
use crate::drift::Line;
use crate::lattice::{Pulse, Row, RowKind, Rule, Start, UNIT, best_path};

/// How far from the click a player's steady bias is looked for, in nanoseconds: wireless speakers delay by up to 300 ms.
pub(crate) const WIDEST_BIAS: i64 = 300_000_000;
/// How wide the bins are in which the distances between strokes and notes are counted.
const BIN: i64 = 10_000_000;
const BINS: usize = 61;
/// A bias of this size is held against as much as one missed note. Taps lead a click by 30 to 50 ms on average
/// (Aschersleben and Prinz 1995), so this much must be free to happen; and in a stream of even notes, where a bias of
/// one whole note explains all strokes but the first, the smaller must win.
const USUAL_BIAS: i64 = 60_000_000;
/// The tempos that are tried for the beginning, as growth of the pulse in nanoseconds a second: 7 % faster to 7 % slower.
const GROWTHS: [i64; 5] = [0, -35_000_000, 35_000_000, -70_000_000, 70_000_000];
/// A tempo so far from the written one is held against as much as one missed note.
const USUAL_GROWTH: i64 = 35_000_000;
/// How much of the beginning decides how the player's pulse begins.
pub(crate) const OPENING: i64 = 16_000_000_000;
const OPENING_STROKES: usize = 24;
/// How many places to begin are tried, beside the click itself.
const TRIED: usize = 3;

/// How a take begins.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Opening {
    /// Where the player's pulse lies against the click when the first notes are struck, and how it grows.
    pub(crate) start: Start,
    /// The straight line through what the opening's strokes answer; `None` with too few of them.
    pub(crate) line: Option<Line>,
}

/// Finds how a take begins.
///
/// Distances between strokes and notes crowd where the bias is. From each of the most crowded places, at each of some
/// tempos, the pulse is followed, a line is laid through its matches, and the one about whose line the opening is
/// explained at the least cost is taken; a large bias and a strange tempo count against themselves.
pub(crate) fn opening(rows: &[Row], strokes: &[i64], rule: Rule) -> Opening {
    let Some(&first) = strokes.first() else {
        return Opening { start: Start::default(), line: None };
    };
    let closes = first.saturating_add(OPENING);
    let (rows, strokes) = until(rows, strokes, closes);
    let from = rows.partition_point(|row| row.at < first.saturating_sub(2 * WIDEST_BIAS));
    let rows = &rows[from..];
    let early = &strokes[..strokes.len().min(OPENING_STROKES)];
    let starts = GROWTHS.iter().flat_map(|&growth| {
        let offsets = std::iter::once(0).chain(crowded(rows, early, growth));
        offsets.map(move |offset| Start { at: first, offset, growth })
    });
    let weighed = starts.map(|start| {
        let followed = best_path(rows, strokes, rule, Pulse::Followed(start));
        let line = line_through(rows, strokes, &followed);
        let cost = line.map_or(followed.cost.rest, |line| {
            best_path(rows, strokes, rule, Pulse::Known(&at_rows(&line, rows))).cost.rest
        });
        let against = bias_held_against(start.offset) + growth_held_against(start.growth);
        (cost.saturating_add(against), Opening { start, line })
    });
    weighed
        .min_by_key(|&(cost, _)| cost)
        .map_or(Opening { start: Start::default(), line: None }, |(_, opening)| opening)
}

/// The rows and strokes up to a moment. Notes that may be answered by a stroke beyond it are pending.
pub(crate) fn until<'a>(rows: &[Row], strokes: &'a [i64], closes: i64) -> (Vec<Row>, &'a [i64]) {
    let strokes = &strokes[..strokes.partition_point(|&stroke| stroke <= closes)];
    let to = rows.partition_point(|row| row.at <= closes.saturating_add(WIDEST_BIAS));
    let mut rows = rows[..to].to_vec();
    for row in &mut rows {
        if row.kind == RowKind::Due && row.at.saturating_add(row.late).saturating_add(WIDEST_BIAS) > closes {
            row.kind = RowKind::Pending;
        }
    }
    (rows, strokes)
}

/// What it costs that a player lies so far from the click.
pub(crate) fn bias_held_against(offset: i64) -> u64 {
    held_against(offset.clamp(-2 * WIDEST_BIAS, 2 * WIDEST_BIAS), USUAL_BIAS)
}

/// What it costs that a pulse grows so.
pub(crate) fn growth_held_against(growth: i64) -> u64 {
    held_against(growth.clamp(-1_000_000_000, 1_000_000_000), USUAL_GROWTH)
}

/// What it costs that a course runs this far up and down.
pub(crate) fn turns_held_against(run: i64) -> u64 {
    UNIT.saturating_mul((run / 1_000).unsigned_abs()) / (USUAL_BIAS.unsigned_abs() / 1_000)
}

fn held_against(value: i64, usual: i64) -> u64 {
    let (value, usual) = ((value / 1_000).unsigned_abs(), (usual / 1_000).unsigned_abs());
    UNIT * value * value / (usual * usual)
}

/// The offsets around which most distances between a stroke and a written attack lie, the most crowded first,
/// if the pulse grows so from the first stroke on (for as long as the opening).
pub(crate) fn crowded(rows: &[Row], strokes: &[i64], growth: i64) -> Vec<i64> {
    let mut bins = [(0_i64, 0_i64); BINS];
    let first = strokes.first().copied().unwrap_or(0);
    let mut from = 0;
    for &stroke in strokes {
        // Within the opening, products of microseconds fit.
        let grown = stroke.saturating_sub(first).min(OPENING) / 1_000 * (growth / 1_000) / 1_000;
        let stroke = stroke.saturating_sub(grown);
        while from < rows.len() && rows[from].at < stroke.saturating_sub(WIDEST_BIAS) {
            from += 1;
        }
        let near = rows[from..].iter().take_while(|row| row.at <= stroke.saturating_add(WIDEST_BIAS));
        for row in near.filter(|row| row.kind != RowKind::Silent) {
            let distance = stroke.saturating_sub(row.at);
            let bin = usize::try_from((distance + WIDEST_BIAS + BIN / 2) / BIN).unwrap_or(0).min(BINS - 1);
            bins[bin].0 += 1;
            bins[bin].1 = bins[bin].1.saturating_add(distance);
        }
    }
    // A bin and its two neighbours together, so that a crowd across an edge is not halved.
    let around = |bin: usize| {
        let near = &bins[bin.saturating_sub(1)..(bin + 2).min(BINS)];
        near.iter().fold((0, 0_i64), |sum, bin| (sum.0 + bin.0, sum.1.saturating_add(bin.1)))
    };
    let mut crowds: Vec<_> = (0..BINS).map(|bin| (around(bin), bin)).collect();
    crowds.sort_by_key(|&((count, _), bin)| (-count, bin));
    let mut chosen: Vec<(usize, i64)> = Vec::new();
    for ((count, sum), bin) in crowds {
        let apart = chosen.iter().all(|&(other, _)| bin.abs_diff(other) > 3);
        if count > 0 && apart && chosen.len() < TRIED {
            chosen.push((bin, sum / count));
        }
    }
    chosen.into_iter().map(|(_, offset)| offset).collect()
}
