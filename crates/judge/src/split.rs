use timebase::Seconds;

use crate::clock_motor::clock_motor;
use crate::estimate::{Z, deviation, hang_together, median, student};
use crate::place::{Standing, place_offsets};
use crate::sums::TakePulse;
use crate::trend::FITTED;
use crate::{Answer, ClockMotor, Estimate, Fate, Judgement, NotApplicable, PlaceOffset, Sums};

/// A player's offsets split into what they are, each with how well it is known.
///
/// The latency of pad and speaker has no part here: the caller subtracts it before he judges, and while it is not known, the bias is the
/// player's and the device's together. Misread notes take no part. The intervals hold for a steady player with normal
/// scatter; what neighbouring attacks have in common is allowed for in those of bias, drift and spread.
#[derive(Clone, Debug, PartialEq)]
pub struct Split {
    /// What the stamps are worth; no figure is finer when it is shown ([`Estimate::shown`]).
    pub resolution: Seconds,
    /// The median offset where the player keeps a steady distance from the click: `None` with too few attacks (at the least 6), and where
    /// the drift is sure, for then there is no steady one. The interval lies between order statistics.
    pub bias: Option<Estimate<Seconds>>,
    /// Percent of the written tempo, positive is faster; from [`crate::limits::FEWEST_FOR_DRIFT`] attacks on.
    pub drift_percent: Option<Estimate<f64>>,
    /// The standard deviation about the player's own pulse; from [`crate::limits::FEWEST_FOR_BIAS`] attacks on. What belongs to
    /// places is in it. The interval is chi-square's.
    pub spread: Option<Estimate<Seconds>>,
    /// What belongs to each place with enough attacks, in the order of [`crate::Place::ALL`]; nothing without as many on
    /// the beats, from which it is counted.
    pub places: Vec<PlaceOffset>,
    /// The clock's and the hand's share.
    pub clock_motor: Result<ClockMotor, NotApplicable>,
}

impl Split {
    /// What the stamps of pads and keyboards are worth at best: MIDI takes about a millisecond to send a note.
    pub const DEFAULT_RESOLUTION: Seconds = crate::Settings::DEFAULT_RESOLUTION;

    pub(crate) fn of(judgement: &Judgement, standings: &[Standing], resolution: Seconds) -> Self {
        let answers: Vec<(Standing, Answer)> = judgement
            .notes()
            .iter()
            .zip(standings)
            .filter_map(|(note, standing)| Some((*standing, answer(judgement, note.fate)?)))
            .collect();
        let moved = |answer: &Answer| (answer.written + answer.shift).since_zero().as_nanos();
        let matches: Vec<(i64, i64)> =
            answers.iter().map(|(_, answer)| (moved(answer), answer.offset.as_nanos())).collect();
        let (sums, pulse) = Sums::of(&matches);
        // A pulse that is told to bend or to break off is the one that spread and places lie about.
        let bent = judgement.bent();
        let pulse_at = |at: i64| bent.map_or_else(|| pulse.at(at), |bent| bent.at(at));
        let offsets: Vec<f64> = answers.iter().map(|(_, answer)| answer.offset.as_millis_f64()).collect();
        let times: Vec<f64> =
            matches.iter().map(|&(at, _)| Seconds::from_nanos(at).as_millis_f64()).collect();
        let distances: Vec<f64> =
            offsets.iter().zip(&matches).map(|(offset, &(at, _))| offset - pulse_at(at)).collect();
        let correlation = hang_together(&distances);
        let is_steady = bent.is_none() && matches!(pulse, TakePulse::Steady(_));
        let is_line = bent.is_none() && !is_steady;
        let (spread, drift) = match bent {
            Some(bent) => (Some(bent.spread(&matches)), judgement.sums().drift),
            None => (sums.spread, sums.drift),
        };
        let from = if bent.is_some() { &distances } else { &offsets };
        let placed: Vec<_> = answers.iter().zip(from).map(|((s, _), &offset)| (*s, offset)).collect();
        // The variance of numbers that hang together is known as well as that of so many independent ones.
        let squared = correlation * correlation;
        let fitted = match (bent, is_steady) {
            (Some(_), _) => FITTED,
            (None, true) => 1.0,
            (None, false) => 2.0,
        };
        let freedom = (offsets.len() as f64 - fitted) * (1.0 - squared) / (1.0 + squared);
        Self {
            resolution,
            bias: median(&offsets, correlation).filter(|_| is_steady),
            drift_percent: drift.map(|drift| {
                // What is known of the wander itself rests on fewer attacks than there are.
                let alone = offsets.len() as f64 * (1.0 - correlation) / (1.0 + correlation);
                let width = student(Z, (alone - 2.0).max(2.0)) * drift.error_percent;
                Estimate { value: drift.percent, low: drift.percent - width, high: drift.percent + width }
            }),
            spread: spread.map(|spread| deviation(spread.as_millis_f64(), freedom)),
            places: place_offsets(&placed, is_line.then_some(&times[..])),
            clock_motor: in_runs(judgement),
        }
    }
}

/// What a note was answered by, if that says something of the player's timing: nothing does in a take of another rhythm.
fn answer(judgement: &Judgement, fate: Fate) -> Option<Answer> {
    if judgement.is_of_another_rhythm() {
        return None;
    }
    match fate {
        Fate::Struck(attack) => judgement.attacks()[attack].answer.filter(|answer| !answer.misread),
        Fate::Missed | Fate::Pending => None,
    }
}

/// Two written intervals are the same to the microsecond: moments are rounded to the nanosecond.
const SAME_NANOS: i64 = 1_000;

/// The split of the intervals of the written length that has most of them in runs of two or more.
fn in_runs(judgement: &Judgement) -> Result<ClockMotor, NotApplicable> {
    let notes = judgement.notes();
    // The written interval to the next note and the played one; `None` where either was not struck or the player went elsewhere.
    let interval = |pair: &[crate::Note]| {
        let (a, b) = (answer(judgement, pair[0].fate)?, answer(judgement, pair[1].fate)?);
        let written = (b.written - a.written).as_nanos();
        (a.shift == b.shift).then(|| (written, Seconds::from_nanos(written) + b.offset - a.offset))
    };
    let intervals: Vec<Option<(i64, Seconds)>> = notes.windows(2).map(interval).collect();
    let alike = |a: &Option<(i64, Seconds)>, b: &Option<(i64, Seconds)>| match (a, b) {
        (Some((a, _)), Some((b, _))) => a.abs_diff(*b) <= SAME_NANOS.unsigned_abs(),
        _ => false,
    };
    let runs: Vec<(i64, Vec<f64>)> = intervals
        .chunk_by(alike)
        .filter(|run| run.len() >= 2)
        .filter_map(|run| {
            let played = run.iter().flatten().map(|(_, played)| played.as_millis_f64()).collect();
            Some((run[0]?.0, played))
        })
        .collect();
    let of = |length: i64| -> Vec<Vec<f64>> {
        let same = runs.iter().filter(|(other, _)| length.abs_diff(*other) <= SAME_NANOS.unsigned_abs());
        same.map(|(_, run)| run.clone()).collect()
    };
    let mut lengths: Vec<i64> = runs.iter().map(|(length, _)| *length).collect();
    lengths.sort_unstable();
    lengths.dedup_by(|a, b| a.abs_diff(*b) <= SAME_NANOS.unsigned_abs());
    let count = |length: &i64| of(*length).iter().map(Vec::len).sum::<usize>();
    match lengths.into_iter().max_by_key(count) {
        Some(length) => clock_motor(Seconds::from_nanos(length), &of(length)),
        None => Err(NotApplicable::TooFewIntervals { given: 0 }),
    }
}
