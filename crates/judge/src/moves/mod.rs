//! Where the player left the written course: came in a beat early or late, left a bar out or played it again, dropped or
//! added a beat, stood still.
//!
//! A player's place in the music is a distance from the click: one who skipped a bar is a bar ahead from there on. For each distance
//! that strokes and notes suggest, the whole take is explained once; then the cheapest way through time is found that changes
//! from one distance to another, each change at a price (a Viterbi path over beats × distances).

mod distance;
mod search;
mod table;

pub(crate) use distance::{NO_MOVE, begins};
pub(crate) use search::STOPPED_FOR_A_REPEAT;
use search::Search;

use crate::alignment::{Explained, Follow};
use crate::lattice::UNIT;
use crate::written::rounded;

/// One change of the player's place in the music.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Move {
    pub(crate) kind: MoveKind,
    /// The first count after it; the number of counts where nothing follows.
    pub(crate) to: usize,
    /// The counts that were passed over, or played again; as many as none where nothing was.
    pub(crate) from: usize,
    /// By how many felt beats the player then lies later than before; negative is ahead.
    pub(crate) beats: f64,
    /// How much dearer the take is explained without it, in units of a miss.
    pub(crate) gain: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum MoveKind {
    /// All lies early or late from the beginning.
    Start,
    /// What was passed over lies between `from` and `to`.
    Skip,
    /// What lies between `to` and `from` was played again.
    Again,
    /// Time passed and nothing was played.
    Pause,
}

/// A take explained with moves.
#[derive(Clone, Debug)]
pub(crate) struct Left {
    pub(crate) explained: Explained,
    pub(crate) moved: Vec<i64>,
    pub(crate) skipped: Vec<bool>,
    pub(crate) again: Vec<bool>,
    pub(crate) moves: Vec<Move>,
    /// What the take costs with these moves and their prices, and without them, in misses.
    pub(crate) with: f64,
    pub(crate) without: f64,
}

/// What must be left to explain before a move is looked for.
const WORTH_A_LOOK: u64 = 2 * UNIT;
/// By how much a take with moves must be cheaper than one without.
const MARGIN: f64 = 0.8;
/// How much dearer it may be with them once both are explained with figures misread: what a beat too many moves looks like figures
/// read a beat off, and the one cause is likelier.
pub(crate) const BESIDE_FIGURES: f64 = -0.8;
/// What each note may still cost with moves, in misses.
const LEFT_OVER: f64 = 0.3;
/// Strokes below which no move is claimed.
const FEWEST: usize = 4;
/// Among so many strokes so many must be left over for it to be looked whether all was begun again.
const NEAR: usize = 8;

pub(crate) fn find(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Option<Left> {
    let off = beats_off(follow, moved, found);
    let notes = u64::try_from(follow.written.notes.len()).unwrap_or(0);
    // Where much is left to explain, the phrase was not off from the beginning, or not that alone; and who struck so much before it
    // began had begun already.
    let is_all = |left: &Left| {
        let answering = answered(follow, &left.explained);
        left.explained.cost < WORTH_A_LOOK + UNIT * notes / 8 && follow.strokes.len() < answering + FEWEST
    };
    if off.as_ref().is_some_and(is_all) {
        return off;
    }
    searched(follow, moved, found).or(off)
}

/// What a way through the music is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum LookingFor {
    Moves,
    /// Where all was begun again, however late.
    Beginnings,
}

fn searched(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Option<Left> {
    let left = searched_for(follow, moved, found, LookingFor::Moves);
    // Where strokes are left over, it may have been begun again so late, or so far beside the beat, that it was not tried.
    let begun = match &left {
        Some(left) => leaves_many(follow, &left.explained, &left.again),
        None => leaves_many(follow, found, &[]),
    };
    if !begun {
        return left;
    }
    let cost = left.as_ref().map_or(f64::MAX, |left| left.with);
    let begun_again = |other: &Left| other.with + MARGIN < cost && begins_again(follow, other);
    searched_for(follow, moved, found, LookingFor::Beginnings).filter(begun_again).or(left)
}

/// Whether many strokes near one another answer nothing and are not played again, as when all was begun again. Single ones here and there
/// are not looked at, so that a long take does not pay for them.
fn leaves_many(follow: &Follow<'_>, explained: &Explained, again: &[bool]) -> bool {
    // Whoever began again struck more than is written up to where he stopped.
    let played = follow.written.notes.len() - follow.unplayed_end(explained).len();
    if follow.strokes.len() < played + FEWEST {
        return false;
    }
    let mut left: Vec<bool> = vec![true; follow.strokes.len()];
    for stroke in follow.written.notes.iter().filter_map(|&note| explained.strokes[note]) {
        left[stroke] = false;
    }
    left.iter_mut().zip(again).for_each(|(left, again)| *left &= !again);
    left.windows(NEAR.min(left.len())).any(|near| near.iter().filter(|left| **left).count() >= FEWEST)
}

/// Whether one of these moves goes back to the beginning, with a pickup or without.
fn begins_again(follow: &Follow<'_>, left: &Left) -> bool {
    let bars = &follow.written.bars;
    let one = usize::from(follow.written.counts[bars[0].start].id.bar == 0 && bars.len() > 1);
    left.moves.iter().any(|made| made.kind == MoveKind::Again && made.to <= bars[one].start)
}

fn searched_for(
    follow: &Follow<'_>,
    moved: &[i64],
    found: &Explained,
    looking_for: LookingFor,
) -> Option<Left> {
    if found.cost < WORTH_A_LOOK || follow.strokes.len() < FEWEST || follow.written.beats.len() < 2 {
        return None;
    }
    let search = Search::new(follow, moved, found, looking_for)?;
    let (cost, way) = search.cheapest()?;
    let left = search.applied(&way)?;
    let price: f64 = left.moves.iter().map(|made| made.gain).sum();
    let with = cost.min(units(left.explained.cost) + price);
    let without = search.without.min(units(found.cost));
    let without = without.min(follow.struck_instead(moved, found).map_or(f64::MAX, |(cost, ..)| cost));
    // What is left after so many moves that it might be anything is explained by none of them.
    let most = follow.strokes.len().max(follow.written.notes.len()) as f64;
    let explains =
        units(left.explained.cost) < LEFT_OVER * most && left.moves.len() as f64 <= 1.0 + most / 8.0;
    let likely = !left.moves.iter().any(|made| search.goes_back_to_nowhere(made));
    (!left.moves.is_empty() && explains && likely && with + MARGIN < without).then(|| {
        let share = (without - with) / left.moves.len() as f64;
        let moves = left.moves.iter().map(|made| Move { gain: share, ..*made }).collect();
        Left { moves, with, without, ..left }
    })
}

/// A pulse that was followed some whole beats beside the click: a phrase that came early or late, and no bias.
fn beats_off(follow: &Follow<'_>, moved: &[i64], found: &Explained) -> Option<Left> {
    let written = follow.written;
    let courses: Vec<i64> =
        written.notes.iter().filter(|&&n| found.strokes[n].is_some()).map(|&n| found.course[n]).collect();
    if courses.len() < FEWEST {
        return None;
    }
    // A pulse that drifts by a beat was not off from the beginning: its first part must lie where its last does.
    let part = courses.len().div_ceil(4);
    let of = |courses: &[i64]| {
        let mut sorted = courses.to_vec();
        sorted.sort_unstable();
        sorted[sorted.len() / 2] as f64
    };
    let beat = written.beat_nanos(written.notes[0]);
    let beats = of(&courses) / beat as f64;
    let all_alike = [&courses[..part], &courses[courses.len() - part..]]
        .iter()
        .all(|part| (of(part) / beat as f64 - beats.round()).abs() < 0.4);
    if beats.round() == 0.0 || (beats - beats.round()).abs() > 0.25 || !all_alike {
        return None;
    }
    let by = rounded(beat as f64 * beats.round());
    let moved: Vec<i64> = moved.iter().map(|at| at + by).collect();
    let none = vec![false; moved.len()];
    let again = vec![false; follow.strokes.len()];
    let explained = follow.about(&moved, &none, &again);
    let made = Move { kind: MoveKind::Start, to: 0, from: 0, beats: beats.round(), gain: 2.0 };
    (explained.cost <= found.cost + UNIT).then(|| Left {
        explained,
        moved,
        skipped: none,
        again,
        moves: vec![made],
        with: 0.0,
        without: f64::MAX,
    })
}

/// How many notes are answered.
fn answered(follow: &Follow<'_>, explained: &Explained) -> usize {
    follow.written.notes.iter().filter(|&&note| explained.strokes[note].is_some()).count()
}

fn units(cost: u64) -> f64 {
    cost as f64 / UNIT as f64
}
