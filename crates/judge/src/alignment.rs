use counting::TimedCount;
use rhythm::Deed;
use timebase::Moment;

use crate::course::{course, scatter};
use crate::lattice::{Pulse, Row, RowKind, Rule, best_path};
use crate::{Gate, Settings};

/// Which stroke fell on which count, and where the player's pulse lay.
#[derive(Clone, Debug)]
pub(crate) struct Alignment {
    /// For each count, the index of the stroke that answers it or, at a rest or a hold, fell on it.
    pub(crate) strokes: Vec<Option<usize>>,
    /// For each count, the player's own pulse minus the click, in nanoseconds.
    pub(crate) course: Vec<i64>,
    /// For each count, whether a stroke for it can no longer come.
    pub(crate) due: Vec<bool>,
}

/// At how many standard deviations a stroke is as likely to be a stray beside a missed note: about where
/// the normal curve meets one stray and one miss in thirty.
const REACH_TENTHS: i64 = 38;
/// Notes nearer than this, in nanoseconds, are closer than an unsteady player is steady: five standard deviations of 30 ms.
const CLOSE: i64 = 150_000_000;
/// What is taken for a player's spread until it is known, and the least and the most that is believed: 30, 15 and 50 ms.
const SPREAD: i64 = 30_000_000;
const LEAST_SPREAD: i64 = 15_000_000;
const MOST_SPREAD: i64 = 50_000_000;

/// Brings counts (in order of time) and strokes (rising nanoseconds) together.
///
/// Following gate: first the player's pulse is followed through the take, then, with the pulse and the spread known,
/// the best explanation about that pulse is found. Fixed gate: one pass about the click.
/// `now` is the moment up to which strokes have been heard; `None` when all are in.
pub(crate) fn align(
    counts: &[TimedCount],
    strokes: &[i64],
    now: Option<Moment>,
    settings: &Settings,
) -> Alignment {
    let now = now.map(nanos);
    match settings.gate() {
        Gate::Fixed(width) => {
            let width = width.as_nanos();
            let mut rows = rows(counts, settings, 0, |_| width);
            let course = vec![0; rows.len()];
            let due = mark_pending(&mut rows, &course, now);
            let path = best_path(&rows, strokes, Rule::Most, Pulse::Known(&course));
            Alignment { strokes: path.strokes, course, due }
        }
        Gate::Following { most } => {
            let most = most.as_nanos();
            let reach = reach_of(SPREAD);
            let mut found = rows(counts, settings, reach, |interval| width(interval, most));
            mark_pending(&mut found, &vec![0; counts.len()], now);
            let (course, path) = course(&found, strokes, Rule::Likely { reach });

            let spread = scatter(&found, strokes, &path, &course).unwrap_or(SPREAD);
            let reach = reach_of(spread.clamp(LEAST_SPREAD, MOST_SPREAD));
            let mut rows = rows(counts, settings, reach, |interval| width(interval, most));
            let due = mark_pending(&mut rows, &course, now);
            let path = best_path(&rows, strokes, Rule::Likely { reach }, Pulse::Known(&course));
            Alignment { strokes: path.strokes, course, due }
        }
    }
}

pub(crate) fn nanos(moment: Moment) -> i64 {
    moment.since_zero().as_nanos()
}

fn reach_of(spread: i64) -> i64 {
    spread / 10 * REACH_TENTHS
}

/// How far the gate opens towards a written attack `interval` away: half-way, for there the other is nearer; up to
/// the whole of it where the notes are close, for there order must decide.
fn width(interval: i64, most: i64) -> i64 {
    (interval / 2).max(interval.min(CLOSE)).min(most)
}

/// One row a count. `width` gives how far the gate opens towards a neighbour so far away.
fn rows(counts: &[TimedCount], settings: &Settings, reach: i64, width: impl Fn(i64) -> i64) -> Vec<Row> {
    let at = |index: usize| nanos(counts[index].at);
    let on_silence = settings.tolerance().as_nanos().max(reach / 2);
    let mut rows: Vec<Row> = Vec::with_capacity(counts.len());
    let mut attack: Option<usize> = None;
    for (index, count) in counts.iter().enumerate() {
        // A stroke belongs to the nearest count of a silence, and only if that is near.
        let towards = |other: Option<usize>| {
            let half = other
                .filter(|&o| o < counts.len())
                .map(|o| at(index).saturating_sub(at(o)).saturating_abs() / 2);
            half.map_or(on_silence, |half| half.min(on_silence))
        };
        let row = match count.deed {
            Deed::Attack => {
                let mut early = width(i64::MAX);
                if let Some(before) = attack {
                    early = width(at(index).saturating_sub(at(before)).max(0));
                    rows[before].late = early;
                }
                attack = Some(index);
                Row { at: at(index), kind: RowKind::Due, early, late: width(i64::MAX) }
            }
            Deed::Hold | Deed::Rest => Row {
                at: at(index),
                kind: RowKind::Silent,
                early: towards(index.checked_sub(1)),
                late: towards(Some(index + 1)),
            },
        };
        rows.push(row);
    }
    rows
}

/// Marks the written attacks that may still be answered by a stroke after `now`; says which can not.
fn mark_pending(rows: &mut [Row], course: &[i64], now: Option<i64>) -> Vec<bool> {
    let due = |row: &Row, offset: i64| {
        now.is_none_or(|now| row.at.saturating_add(offset).saturating_add(row.late) <= now)
    };
    rows.iter_mut()
        .zip(course)
        .map(|(row, &offset)| {
            let due = due(row, offset);
            if row.kind == RowKind::Due && !due {
                row.kind = RowKind::Pending;
            }
            due
        })
        .collect()
}
