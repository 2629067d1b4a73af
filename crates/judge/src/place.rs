//! What in a player's offsets belongs to a place in the beat and the bar.

use rhythm::Deed;
use timebase::{Seconds, Span};

use crate::Estimate;
use crate::drift::median_size;
use crate::written::{PARTS, Written};

/// Where a written attack stands. One attack may stand in several: on the beat, at the bar line and after a rest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// On a felt beat.
    OnBeat,
    /// Half-way through a beat that divides in two: the "&".
    Half,
    /// A quarter of the way through such a beat: the "e".
    FirstQuarter,
    /// Three quarters of the way: the "a".
    LastQuarter,
    /// A third of the way, in a beat of three or a triplet: "la".
    FirstThird,
    /// Two thirds of the way: "li".
    SecondThird,
    /// The first attack after a rest.
    AfterRest,
    /// The first attack after a note of two felt beats or more.
    AfterLong,
    /// Count 1.
    BarLine,
}

impl Place {
    /// All of them, in the order in which what cannot be told apart is given to the first.
    pub const ALL: [Self; 9] = [
        Self::OnBeat,
        Self::Half,
        Self::FirstQuarter,
        Self::LastQuarter,
        Self::FirstThird,
        Self::SecondThird,
        Self::AfterRest,
        Self::AfterLong,
        Self::BarLine,
    ];

    /// Its stable name, as it stands in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::OnBeat => "on-beat",
            Self::Half => "half",
            Self::FirstQuarter => "first-quarter",
            Self::LastQuarter => "last-quarter",
            Self::FirstThird => "first-third",
            Self::SecondThird => "second-third",
            Self::AfterRest => "after-rest",
            Self::AfterLong => "after-long",
            Self::BarLine => "bar-line",
        }
    }
}

/// What belongs to one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlaceOffset {
    /// Which.
    pub place: Place,
    /// How many attacks stand there, at least [`crate::limits::FEWEST_FOR_PLACE`].
    pub attacks: usize,
    /// How much later than the player's own pulse, which his beats keep, they fall on the average for standing there;
    /// negative is earlier. Of the beats themselves it is zero, and the interval says how well the pulse is known.
    pub offset: Estimate<Seconds>,
    /// Its standard error.
    pub error: Seconds,
}

/// In which places a written attack stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Standing {
    in_beat: Option<Place>,
    after_rest: bool,
    after_long: bool,
    bar_line: bool,
}

impl Standing {
    pub(crate) fn holds(self, place: Place) -> bool {
        match place {
            Place::AfterRest => self.after_rest,
            Place::AfterLong => self.after_long,
            Place::BarLine => self.bar_line,
            in_beat => self.in_beat == Some(in_beat),
        }
    }
}

/// Where every written attack stands, in order.
pub(crate) fn standings(written: &Written<'_>) -> Vec<Standing> {
    let mut before: Option<usize> = None;
    let mut standings = Vec::with_capacity(written.notes.len());
    for &note in &written.notes {
        let after_rest = note.checked_sub(1).is_some_and(|count| written.deed(count) == Deed::Rest);
        // Times are rounded to the nanosecond, so two beats may come out a little short.
        let is_long =
            |&long: &usize| written.at[note] - written.at[long] + 1_000 >= 2 * written.beat_nanos(long);
        standings.push(Standing {
            in_beat: in_beat(written, note),
            after_rest,
            after_long: !after_rest && before.filter(is_long).is_some(),
            bar_line: written.counts[note].id.at == Span::ZERO,
        });
        before = Some(note);
    }
    standings
}

fn in_beat(written: &Written<'_>, note: usize) -> Option<Place> {
    const FIRST_QUARTER: i64 = PARTS / 4;
    const LAST_QUARTER: i64 = 3 * PARTS / 4;
    const FIRST_THIRD: i64 = PARTS / 3;
    const SECOND_THIRD: i64 = 2 * PARTS / 3;
    const HALF: i64 = PARTS / 2;
    match (written.part(note)?, written.divides_in_three(note)) {
        (0, _) => Some(Place::OnBeat),
        (FIRST_THIRD, _) => Some(Place::FirstThird),
        (SECOND_THIRD, _) => Some(Place::SecondThird),
        (HALF, false) => Some(Place::Half),
        (FIRST_QUARTER, false) => Some(Place::FirstQuarter),
        (LAST_QUARTER, false) => Some(Place::LastQuarter),
        _ => None,
    }
}

/// Distances from a fit beyond so many robust standard deviations take no part in the second one.
const OUTLYING: f64 = 4.0;
/// No scatter below this is believed, in ms.
const LEAST_MS: f64 = 1.0;

/// What belongs to each place: least squares over all places together (and over time, where there is a drift), so that a
/// late "&" after a rest is not counted twice; once more without outliers, so that one slip makes no habit. Distances
/// are offsets in ms; `times` their written times in ms where the pulse drifts.
pub(crate) fn place_offsets(distances: &[(Standing, f64)], times: Option<&[f64]>) -> Vec<PlaceOffset> {
    let standing_in = |place| distances.iter().filter(|(standing, _)| standing.holds(place)).count();
    let fewest = crate::limits::FEWEST_FOR_PLACE;
    if standing_in(Place::OnBeat) < fewest {
        return Vec::new();
    }
    let count = distances.len() as f64;
    let mean_time = times.map_or(0.0, |times| times.iter().sum::<f64>() / count);
    // The pulse, its drift, attacks at no named place in the beat, and the places but the beats.
    let columns = 3 + Place::ALL.len() - 1;
    let rows: Vec<(Vec<f64>, f64)> = (0..distances.len())
        .map(|n| {
            let (standing, distance) = distances[n];
            let mut row = vec![1.0, times.map_or(0.0, |times| (times[n] - mean_time) / 1e3)];
            row.push(f64::from(u8::from(standing.in_beat.is_none())));
            row.extend(Place::ALL[1..].iter().map(|&place| f64::from(u8::from(standing.holds(place)))));
            (row, distance)
        })
        .collect();
    let first = Fit::of(&rows, columns);
    let mut sizes: Vec<f64> = rows.iter().map(|row| first.distance(row)).collect();
    let limit = OUTLYING * (1.4826 * median_size(&mut sizes)).max(LEAST_MS);
    let (kept, kept_standings): (Vec<_>, Vec<_>) = rows
        .into_iter()
        .zip(distances)
        .filter(|(row, _)| first.distance(row).abs() <= limit)
        .map(|(row, (standing, _))| (row, *standing))
        .unzip();
    let fit = Fit::of(&kept, columns);
    if fit.freedom < 1.0 {
        return Vec::new();
    }
    let of = |(column, place): (usize, Place)| {
        let attacks = kept_standings.iter().filter(|standing| standing.holds(place)).count();
        let error = fit.error(column)?;
        let value = if place == Place::OnBeat { 0.0 } else { fit.effects[column] };
        (attacks >= fewest).then(|| PlaceOffset {
            place,
            attacks,
            offset: Estimate::about(value, error, fit.freedom),
            error: Seconds::from_millis_f64(error),
        })
    };
    let of_places = Place::ALL[1..].iter().enumerate().map(|(n, &place)| (n + 3, place));
    std::iter::once((0, Place::OnBeat)).chain(of_places).filter_map(of).collect()
}

/// Least squares.
struct Fit {
    effects: Vec<f64>,
    /// The inverse of the normal equations' matrix; zero in rows of columns that are left out.
    inverse: Vec<Vec<f64>>,
    variance: f64,
    freedom: f64,
}

impl Fit {
    /// A column that the ones before it already make up is left out: nothing can be said of it.
    fn of(rows: &[(Vec<f64>, f64)], columns: usize) -> Self {
        let mut matrix = vec![vec![0.0; columns]; columns];
        let mut right = vec![0.0; columns];
        for (row, value) in rows {
            for i in 0..columns {
                right[i] += row[i] * value;
                for j in 0..columns {
                    matrix[i][j] += row[i] * row[j];
                }
            }
        }
        let whole: Vec<f64> = (0..columns).map(|n| matrix[n][n]).collect();
        let mut taken = vec![false; columns];
        // The sweep operator (Goodnight 1979): leaves minus the inverse where it has swept.
        for k in 0..columns {
            let pivot = matrix[k][k];
            if pivot <= 1e-9 * whole[k].max(1e-9) {
                continue;
            }
            taken[k] = true;
            let old = matrix[k].clone();
            for i in (0..columns).filter(|&i| i != k) {
                for j in (0..columns).filter(|&j| j != k) {
                    matrix[i][j] -= old[i] * old[j] / pivot;
                }
            }
            for j in (0..columns).filter(|&j| j != k) {
                matrix[k][j] = old[j] / pivot;
                matrix[j][k] = old[j] / pivot;
            }
            matrix[k][k] = -1.0 / pivot;
        }
        let value = |i: usize, j: usize| if taken[i] && taken[j] { -matrix[i][j] } else { 0.0 };
        let inverse: Vec<Vec<f64>> =
            (0..columns).map(|i| (0..columns).map(|j| value(i, j)).collect()).collect();
        let effects: Vec<f64> =
            inverse.iter().map(|row| row.iter().zip(&right).map(|(a, b)| a * b).sum()).collect();
        let freedom = rows.len() as f64 - taken.iter().filter(|taken| **taken).count() as f64;
        let mut fit = Self { effects, inverse, variance: 0.0, freedom };
        let squares: f64 = rows.iter().map(|row| fit.distance(row).powi(2)).sum();
        fit.variance = (squares / freedom.max(1.0)).max(LEAST_MS * LEAST_MS);
        fit
    }

    fn distance(&self, (row, value): &(Vec<f64>, f64)) -> f64 {
        value - row.iter().zip(&self.effects).map(|(x, effect)| x * effect).sum::<f64>()
    }

    /// The standard error of an effect; `None` where its column is left out.
    fn error(&self, column: usize) -> Option<f64> {
        let factor = self.inverse[column][column];
        (factor > 0.0).then(|| (factor * self.variance).sqrt())
    }
}
