use timebase::Seconds;

use crate::drift::Line;
use crate::lattice::{Path, Pulse, Row, RowKind, Rule, UNIT, best_path, step_towards};
use crate::limits::FEWEST_FOR_DRIFT;
use crate::opening::{
    OPENING, bias_held_against, crowded, growth_held_against, opening, turns_held_against, until,
};
use crate::written::{middle, rounded};

/// Whoever plays to a click mostly stays with it, so that a pulse that drifts or wanders must explain more than three misses or strays.
const DRIFTING: u64 = 3 * UNIT;

/// What a note may cost on average for a steady pulse to be accepted without a look at others: what 20 ms of spread and no mistakes cost.
const SETTLED: u64 = UNIT / 16;

/// The player's pulse at every row, in nanoseconds after the click, and the path about it.
///
/// Three kinds of pulse are weighed by what it costs to explain the whole take about them: steady ones, a straight
/// line (an even player at another tempo), and one that is followed from stroke to stroke. The last fits
/// everything somewhat better, and where many even notes are played unsteadily it slips; so it must earn its turns.
pub(crate) fn course(rows: &[Row], strokes: &[i64], rule: Rule) -> (Vec<i64>, Path) {
    let explained = |course: Vec<i64>, against: u64| {
        let path = best_path(rows, strokes, rule, Pulse::Known(&course));
        (path.cost.rest.saturating_add(against), course, path)
    };
    let offsets = std::iter::once(0).chain(crowded(rows, strokes, 0));
    let steady = offsets.map(|offset| explained(vec![offset; rows.len()], bias_held_against(offset)));
    let Some(steady) = steady.min_by_key(|&(cost, ..)| cost) else {
        return (vec![0; rows.len()], best_path(rows, strokes, rule, Pulse::Known(&vec![0; rows.len()])));
    };
    // Where hardly anything is left to explain, no other pulse is looked for.
    let notes = rows.iter().filter(|row| row.kind == RowKind::Due).count();
    if steady.0 <= DRIFTING + SETTLED * u64::try_from(notes).unwrap_or(0) {
        return recentred(rows, strokes, rule, steady.1, steady.2);
    }

    let beginning = opening(rows, strokes, rule);
    let against = DRIFTING
        .saturating_add(bias_held_against(beginning.start.offset))
        .saturating_add(growth_held_against(beginning.start.growth));
    let path = best_path(rows, strokes, rule, Pulse::Followed(beginning.start));
    let followed = smoothed(rows, strokes, &path, beginning.start.offset);
    let turns = followed.windows(3).map(|three| {
        // What a step differs from the step before: a straight course has no turns however steep it is.
        (three[2].saturating_sub(three[1])).saturating_sub(three[1].saturating_sub(three[0])).saturating_abs()
    });
    let turns = turns.fold(0_i64, i64::saturating_add);
    let followed = explained(followed, against.saturating_add(turns_held_against(turns)));
    let line = beginning.line.map(|line| explained(grown(line, rows, strokes, rule), against));

    let drifting = match line {
        Some(line) if line.0 <= followed.0 => line,
        _ => followed,
    };
    if drifting.0 < steady.0 {
        (drifting.1, drifting.2)
    } else {
        recentred(rows, strokes, rule, steady.1, steady.2)
    }
}

/// A steady pulse moved to the median of what answers it, and the path about it.
fn recentred(rows: &[Row], strokes: &[i64], rule: Rule, course: Vec<i64>, path: Path) -> (Vec<i64>, Path) {
    let mut offsets: Vec<i64> = matched(rows, strokes, &path).map(|(_, offset)| offset).collect();
    let enough = offsets.len() >= FEWEST_FOR_DRIFT;
    let Some(median) = middle(&mut offsets).filter(|_| enough) else { return (course, path) };
    let course = vec![median; rows.len()];
    let path = best_path(rows, strokes, rule, Pulse::Known(&course));
    (course, path)
}

/// The line of the opening, fitted again and again to twice as much of the take, until it holds for the whole.
fn grown(mut line: Line, rows: &[Row], strokes: &[i64], rule: Rule) -> Vec<i64> {
    let (Some(&first), Some(&last)) = (strokes.first(), strokes.last()) else {
        return vec![0; rows.len()];
    };
    let mut heard = OPENING;
    loop {
        let closes = first.saturating_add(heard);
        let (part, played) = until(rows, strokes, closes);
        let path = best_path(&part, played, rule, Pulse::Known(&at_rows(&line, &part)));
        line = line_through(&part, played, &path).unwrap_or(line);
        if closes >= last {
            return at_rows(&line, rows);
        }
        heard = heard.saturating_mul(2);
    }
}

/// The line through the matches of a path; `None` with too few of them.
pub(crate) fn line_through(rows: &[Row], strokes: &[i64], path: &Path) -> Option<Line> {
    let ms = |nanos: i64| Seconds::from_nanos(nanos).as_millis_f64();
    let points: Vec<_> =
        matched(rows, strokes, path).map(|(row, offset)| (ms(rows[row].at), ms(offset))).collect();
    if points.len() < FEWEST_FOR_DRIFT { None } else { Line::through(&points) }
}

/// A line's offset at every row, in nanoseconds.
pub(crate) fn at_rows(line: &Line, rows: &[Row]) -> Vec<i64> {
    let at = |row: &Row| line.at(Seconds::from_nanos(row.at).as_millis_f64());
    rows.iter().map(|row| Seconds::from_millis_f64(at(row)).as_nanos()).collect()
}

/// The player's pulse at every row, from the matches of a followed path: run forwards and backwards and
/// averaged, so that it neither lags behind a drift nor runs ahead. Before the first match and after the last
/// it stays as it is there.
fn smoothed(rows: &[Row], strokes: &[i64], path: &Path, from: i64) -> Vec<i64> {
    let matches: Vec<(usize, i64)> = matched(rows, strokes, path).collect();
    let run = |order: &mut dyn Iterator<Item = &(usize, i64)>, from: i64| {
        let (mut pulse, mut since) = (from, None);
        let mut pulses = Vec::with_capacity(matches.len());
        for &(row, offset) in order {
            let at = rows[row].at;
            let elapsed =
                since.map_or(1_000_000_000, |since: i64| at.abs_diff(since).try_into().unwrap_or(i64::MAX));
            pulse = pulse.saturating_add(step_towards(offset.saturating_sub(pulse), elapsed));
            since = Some(at);
            pulses.push(pulse);
        }
        pulses
    };
    let forwards = run(&mut matches.iter(), from);
    let backwards = run(&mut matches.iter().rev(), forwards.last().copied().unwrap_or(from));
    let pulses: Vec<i64> =
        forwards.iter().zip(backwards.iter().rev()).map(|(f, b)| i64::midpoint(*f, *b)).collect();
    let mut course = Vec::with_capacity(rows.len());
    let mut after = 0;
    for (index, row) in rows.iter().enumerate() {
        while after < matches.len() && matches[after].0 < index {
            after += 1;
        }
        let before = after.checked_sub(1).map(|before| (rows[matches[before].0].at, pulses[before]));
        let ahead = matches.get(after).map(|&(ahead, _)| (rows[ahead].at, pulses[after]));
        course.push(match (before, ahead) {
            (Some(before), Some(ahead)) => between(before, ahead, row.at),
            (Some((_, pulse)), None) | (None, Some((_, pulse))) => pulse,
            (None, None) => from,
        });
    }
    course
}

/// The matches of a path: row, and stroke minus written.
fn matched<'a>(
    rows: &'a [Row],
    strokes: &'a [i64],
    path: &'a Path,
) -> impl Iterator<Item = (usize, i64)> + 'a {
    let taken = path.strokes.iter().enumerate().filter_map(|(row, stroke)| Some((row, (*stroke)?)));
    taken
        .filter(|&(row, _)| rows[row].kind != RowKind::Silent)
        .map(|(row, stroke)| (row, strokes[stroke].saturating_sub(rows[row].at)))
}

/// How far a player is taken to fall from the pulse before anything is known, in nanoseconds, and how many matches that weighs.
const USUAL_SCATTER: i64 = 25_000_000;
const WEIGHT: i64 = 8;

/// A spread seen in so many matches, drawn towards the usual one: a few that lie close by chance are no steady player.
pub(crate) fn believed(spread: i64, matches: usize) -> i64 {
    let matches = i64::try_from(matches).unwrap_or(i64::MAX).min(1_000_000);
    let mean = (spread as f64).powi(2) * matches as f64 + (USUAL_SCATTER as f64).powi(2) * WEIGHT as f64;
    rounded((mean / (matches + WEIGHT) as f64).sqrt())
}

/// How far strokes typically fall from the pulse: 1.4826 times the median distance, which is the standard
/// deviation of a normal spread and does not mind outliers. `None` with too few matches.
pub(crate) fn scatter(rows: &[Row], strokes: &[i64], path: &Path, course: &[i64]) -> Option<i64> {
    let mut distances: Vec<i64> = matched(rows, strokes, path)
        .map(|(row, offset)| offset.saturating_sub(course[row]).saturating_abs())
        .collect();
    if distances.len() < FEWEST_FOR_DRIFT {
        return None;
    }
    let spread = middle(&mut distances)? / 10_000 * 14_826;
    Some(believed(spread, distances.len()))
}

/// The straight line between two points, at a place on it.
fn between((t0, p0): (i64, i64), (t1, p1): (i64, i64), t: i64) -> i64 {
    if t1 <= t0 {
        return p0;
    }
    let part = (i128::from(p1) - i128::from(p0)) * (i128::from(t) - i128::from(t0))
        / (i128::from(t1) - i128::from(t0));
    p0.saturating_add(i64::try_from(part).unwrap_or(0))
}
