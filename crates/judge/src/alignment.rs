use std::ops::Range;

use rhythm::Deed;

use crate::altered::{self, Altered};
use crate::course::{course, scatter};
use crate::exchanged::{self, Exchanged};
use crate::lattice::{Path, Pulse, Row, RowKind, Rule, UNIT, best_path};
use crate::moves::{self, Move};
use crate::ornaments::GRACE;
use crate::pairs;
use crate::presence::is_unheard;
use crate::readings::{self, Reading};
use crate::waiting::Waiting;
use crate::written::{Written, rounded};
use crate::{Gate, Settings, TempoOf};

/// Which stroke fell on which count, and where the player was in the music.
#[derive(Clone, Debug)]
pub(crate) struct Alignment {
    /// For each count, the index of the stroke that answers it or, at a rest or a hold, fell on it.
    pub(crate) strokes: Vec<Option<usize>>,
    /// For each count, when it lies for this player on the click's clock, in nanoseconds: as written, but for speed and moves.
    pub(crate) moved: Vec<i64>,
    /// For each count, the player's own pulse minus `moved`, in nanoseconds.
    pub(crate) course: Vec<i64>,
    /// For each count, whether a stroke for it can no longer come.
    pub(crate) due: Vec<bool>,
    /// For each count, whether a stroke for it may have gone unheard, the player's device not being there. Then it is not due.
    pub(crate) unheard: Vec<bool>,
    /// For each count, whether a move passed over it.
    pub(crate) skipped: Vec<bool>,
    /// For each stroke, whether it belongs to a passage played once more.
    pub(crate) again: Vec<bool>,
    /// Where the player left the written course, in order.
    pub(crate) moves: Vec<Move>,
    /// How many times as fast as written all was played, where that had to be found.
    pub(crate) tempo: Option<f64>,
    /// At which speed all was played.
    pub(crate) speed: Speed,
    /// What was done from some bar on.
    pub(crate) altered: Option<Altered>,
    /// Bars for which others were played, in order; they are `skipped`, and their strokes are `again`.
    pub(crate) exchanged: Vec<Exchanged>,
    /// What was waited before every bar line; `moved` has it.
    pub(crate) waiting: Option<Waiting>,
    /// What was struck instead of the rhythm, throughout.
    pub(crate) instead: Option<Instead>,
    /// What was read for what, in order.
    pub(crate) readings: Vec<Reading>,
    /// What explains its strokes better than that they are astray, and no better than chance does.
    pub(crate) maybe_read: Vec<Reading>,
    /// Notes of figures that are mostly read as others, in places where it is not clear whether they were.
    pub(crate) half_read: Vec<usize>,
    /// How many notes are answered from further off than a gate reaches.
    pub(crate) paired: usize,
    /// How far from its moment a stroke is as likely a stray beside a missed note, in nanoseconds.
    pub(crate) reach: i64,
    /// What it costs in all that notes were missed, struck beside their moment or too much was struck, in [`UNIT`]s.
    pub(crate) cost: f64,
}

impl Alignment {
    /// Found as such, of so many strokes, with the counts where `moved` says: nothing moved, misread or struck again.
    fn plain(found: Explained, moved: Vec<i64>, strokes: usize) -> Self {
        Self {
            skipped: vec![false; moved.len()],
            again: vec![false; strokes],
            moves: Vec::new(),
            tempo: None,
            speed: Speed::Written,
            altered: None,
            exchanged: Vec::new(),
            waiting: None,
            instead: None,
            readings: Vec::new(),
            maybe_read: Vec::new(),
            half_read: Vec::new(),
            paired: 0,
            reach: found.reach,
            cost: found.cost as f64 / UNIT as f64,
            strokes: found.strokes,
            course: found.course,
            due: found.due,
            unheard: found.unheard,
            moved,
        }
    }

    /// Takes figures for what they were read as, if that is asked; by how much that makes the take cheaper.
    fn read_figures(&mut self, follow: &Follow<'_>, asked: bool) -> f64 {
        if asked { readings::read(follow.written, follow.strokes, self.reach, self) } else { 0.0 }
    }

    /// How far from its place a note was struck, in nanoseconds.
    pub(crate) fn offset_of(&self, count: usize, strokes: &[i64]) -> Option<i64> {
        Some(strokes[self.strokes[count]?] - self.moved[count])
    }
}

/// What can be struck instead of the rhythm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Instead {
    Beats,
    Counts,
}

/// At which speed a take was played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Speed {
    Written,
    Half,
    Double,
}

/// At how many standard deviations a stroke is as likely to be a stray beside a missed note: about where
/// the normal curve meets one stray and one miss in thirty.
const REACH_TENTHS: i64 = 38;
/// Notes nearer than this, in nanoseconds, are closer than an unsteady player is steady: five standard deviations of 30 ms.
const CLOSE: i64 = 150_000_000;
/// What is taken for a player's spread until it is known, and the least and the most that is believed: 30, 15 and 70 ms.
const SPREAD: i64 = 30_000_000;
const LEAST_SPREAD: i64 = 15_000_000;
const MOST_SPREAD: i64 = 70_000_000;
/// What a take at another speed is held against: as much as three misses or strays.
const OTHER_SPEED: u64 = 3 * UNIT;
/// What it is held against that the beats, or all counts, were struck instead of the rhythm, in misses.
const STRUCK_INSTEAD: f64 = 2.0;
/// What each stroke may still cost with that.
const LEFT_OVER: f64 = 0.35;
/// How many counts a piece may have for everything to be weighed while it is played: some forty bars.
pub(crate) const THOROUGH: usize = 400;
/// Strokes below which no other speed is looked for.
const FEWEST_FOR_SPEED: usize = 5;

/// Brings counts (in order of time) and strokes (rising nanoseconds) together.
///
/// Following gate: the player's pulse is found, then where he left the written course, then what he read for what.
/// Fixed gate: one pass about the click.
pub(crate) fn align(
    written: &Written<'_>,
    strokes: &[i64],
    heard: Heard<'_>,
    settings: &Settings,
) -> Alignment {
    match settings.gate() {
        Gate::Fixed(width) => about_the_click(written, strokes, heard, settings, width.as_nanos()),
        Gate::Following { most } => {
            let follow = Follow { written, strokes, heard, settings, most: most.as_nanos() };
            follow.explained()
        }
    }
}

/// When the player could be heard, in nanoseconds.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Heard<'a> {
    /// Up to when; `None` when all strokes are in.
    pub(crate) until: Option<i64>,
    /// When not.
    pub(crate) absent: &'a [Range<i64>],
}

impl Heard<'_> {
    /// Whether a stroke for this row can no longer come, with the pulse so far from the click.
    pub(crate) fn is_past(&self, row: &Row, offset: i64) -> bool {
        self.until.is_none_or(|until| row.at.saturating_add(offset).saturating_add(row.late) <= until)
    }

    /// Whether a stroke for it may have gone unheard.
    pub(crate) fn misses(&self, row: &Row, offset: i64) -> bool {
        let at = row.at.saturating_add(offset);
        is_unheard(self.absent, at.saturating_sub(row.early), at.saturating_add(row.late))
    }
}

fn about_the_click(
    written: &Written<'_>,
    strokes: &[i64],
    heard: Heard<'_>,
    settings: &Settings,
    width: i64,
) -> Alignment {
    let all: Vec<usize> = (0..written.counts.len()).collect();
    let mut rows = rows(written, &all, &written.at, settings, 0, |_| width);
    let course = vec![0; rows.len()];
    let (due, unheard) = mark_pending(&mut rows, &course, heard);
    let path = best_path(&rows, strokes, Rule::Most, Pulse::Known(&course));
    let found = Explained { strokes: path.strokes, course, due, unheard, reach: width, cost: 0 };
    Alignment::plain(found, written.at.clone(), strokes.len())
}

/// What a take is explained from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Follow<'a> {
    pub(crate) written: &'a Written<'a>,
    pub(crate) strokes: &'a [i64],
    pub(crate) heard: Heard<'a>,
    pub(crate) settings: &'a Settings,
    /// The widest a gate opens.
    pub(crate) most: i64,
}

/// The best explanation about one course through the music.
#[derive(Clone, Debug)]
pub(crate) struct Explained {
    pub(crate) strokes: Vec<Option<usize>>,
    pub(crate) course: Vec<i64>,
    pub(crate) due: Vec<bool>,
    pub(crate) unheard: Vec<bool>,
    pub(crate) reach: i64,
    pub(crate) cost: u64,
}

impl Explained {
    /// What a note costs, lying where `moved` says: a miss, or the square of how far its stroke lies from the pulse; at the reach that is as likely a
    /// stray beside a missed note.
    pub(crate) fn cost_of(&self, note: usize, strokes: &[i64], moved: &[i64]) -> f64 {
        self.strokes[note].map_or(1.0, |stroke| {
            let off = (strokes[stroke] - moved[note] - self.course[note]) as f64;
            2.0 * (off / self.reach as f64).powi(2)
        })
    }
}

impl Follow<'_> {
    fn explained(&self) -> Alignment {
        let known = match self.settings.tempo_of() {
            TempoOf::Click | TempoOf::Written => self.explained_at(self.written.at.clone(), None).0,
            TempoOf::Player => self.in_own_tempo(),
        };
        self.with_waits(known)
    }

    /// Whether everything is weighed. On the way through a long piece only the pulse is followed: what else it was is said at the end.
    pub(crate) fn is_thorough(&self) -> bool {
        self.heard.until.is_none() || self.written.counts.len() <= THOROUGH
    }

    /// The take explained with the counts lying at `moved`, in this tempo if it is the player's own; and what it costs in all, in misses.
    pub(crate) fn explained_at(&self, mut moved: Vec<i64>, tempo: Option<f64>) -> (Alignment, f64) {
        let counts = self.written.counts.len();
        let thorough = self.is_thorough();
        let free = self.settings.tempo_of() == TempoOf::Player;
        let mut speed = Speed::Written;
        let mut found = self.about(&moved, &vec![false; counts], &vec![false; self.strokes.len()]);
        let instead = if thorough { self.struck_instead(&moved, &found) } else { None };
        let most = instead.as_ref().map_or(u64::MAX, |(cost, ..)| rounded(cost * UNIT as f64).unsigned_abs());
        if let Some((other, at, explained)) =
            (thorough && !free).then(|| self.at_another_speed(&found, most)).flatten()
        {
            (speed, moved, found) = (other, at, explained);
        }
        let mut unplayed = if speed == Speed::Half { self.unplayed_end(&found) } else { Vec::new() };
        let left = thorough.then(|| moves::find(self, &moved, &found)).flatten();
        // What a take is that went another way from some bar on, is known when it is over.
        let as_written =
            (self.heard.until.is_none() && speed == Speed::Written).then(|| (found.clone(), moved.clone()));
        let (mut alignment, mut gain) = self.read(found, moved, thorough);
        let mut cost = alignment.cost - gain;
        if let Some(left) = left {
            let (moves, with, without) = (left.moves, left.with, left.without - gain);
            let (mut other, of_figures) = self.read(left.explained, left.moved, false);
            (other.skipped, other.again, other.moves) = (left.skipped, left.again, moves);
            let of_figures = of_figures + other.read_figures(self, thorough);
            // What seem to be moves may be figures misread, and the reverse: whichever explains more.
            let gained = without - (with - of_figures);
            if gained > moves::BESIDE_FIGURES {
                let share = gained / other.moves.len().max(1) as f64;
                other.moves.iter_mut().for_each(|made| made.gain = made.gain.min(share));
                (alignment, gain, cost) = (other, of_figures, with - of_figures);
            }
        }
        let least = instead.as_ref().map_or(cost, |(instead, ..)| instead.min(cost));
        if let Some(changed) =
            as_written.as_ref().and_then(|(found, moved)| altered::find(self, moved, found, least))
        {
            (alignment, _) = self.read(changed.explained, changed.moved, false);
            alignment.skipped = changed.skipped;
            gain = alignment.read_figures(self, thorough);
            alignment.altered = Some(changed.altered);
            unplayed = changed.unplayed;
            cost = alignment.cost - gain;
        }
        let least = instead.as_ref().map_or(cost, |(instead, ..)| instead.min(cost));
        if let Some((found, moved)) = as_written
            && let Some((other, of_figures)) = self.with_exchanged(&found, moved, least)
            && other.cost - of_figures + exchanged::margin(&alignment.moves) < least
        {
            (alignment, gain) = (other, of_figures);
            cost = alignment.cost - gain;
            unplayed.clear();
        }
        (alignment.tempo, alignment.speed) = (tempo, speed);
        for note in unplayed {
            alignment.skipped[note] = true;
        }
        // Who strikes the beats, or every count, reads no figures.
        let cheaper = alignment.cost - gain;
        let written = speed == Speed::Written && alignment.moves.is_empty() && alignment.altered.is_none();
        if let Some((of_instead, what, taken)) = instead.filter(|(cost, ..)| *cost < cheaper && written) {
            alignment.instead = Some(what);
            alignment.readings.clear();
            alignment.maybe_read.clear();
            alignment.half_read.clear();
            alignment.strokes = taken;
            cost = of_instead;
        } else if thorough {
            pairs::pair(self.written, self.strokes, &mut alignment);
        }
        (alignment, cost)
    }

    /// The take with other bars than are written, if there seem to be some and it can otherwise be explained at `least`; and how much cheaper it is by
    /// what was read for what.
    fn with_exchanged(&self, found: &Explained, moved: Vec<i64>, least: f64) -> Option<(Alignment, f64)> {
        let changed = exchanged::find(self, &moved, found, least)?;
        let (mut alignment, _) = self.read(changed.explained, moved, false);
        (alignment.skipped, alignment.again) = (changed.skipped, changed.again);
        alignment.exchanged = changed.exchanged;
        let gain = alignment.read_figures(self, self.is_thorough());
        alignment.cost += changed.extra;
        Some((alignment, gain))
    }

    /// An explanation as an alignment without moves, and how much cheaper it is by what was read for what, if that is asked.
    fn read(&self, found: Explained, moved: Vec<i64>, figures: bool) -> (Alignment, f64) {
        let mut alignment = Alignment::plain(found, moved, self.strokes.len());
        let gain = alignment.read_figures(self, figures);
        (alignment, gain)
    }

    /// What the take costs, in units, if the beats were struck whatever is written, or every count; and which of the two is cheaper.
    pub(crate) fn struck_instead(
        &self,
        moved: &[i64],
        found: &Explained,
    ) -> Option<(f64, Instead, Vec<Option<usize>>)> {
        let all: Vec<usize> = (0..moved.len()).collect();
        let each = [(&self.written.beats, Instead::Beats), (&all, Instead::Counts)];
        let strokes = self.strokes.len();
        let costs = each.into_iter().filter(|(counts, _)| counts.len() > 1).filter_map(|(counts, what)| {
            let course: Vec<i64> = counts.iter().map(|&count| found.course[count]).collect();
            let mut rows: Vec<Row> = counts
                .iter()
                .map(|&count| Row::new(moved[count], RowKind::Due, self.most, self.most))
                .collect();
            for index in 1..rows.len() {
                let towards = width(rows[index].at - rows[index - 1].at, self.most);
                (rows[index - 1].late, rows[index].early) = (towards, towards);
            }
            for (row, &offset) in rows.iter_mut().zip(&course) {
                if self.heard.misses(row, offset) {
                    row.kind = RowKind::Pending;
                }
            }
            let rule = Rule::Likely { reach: found.reach };
            let most = LEFT_OVER * strokes.max(counts.len()) as f64;
            let in_misses = |path: &Path| path.cost.rest as f64 / UNIT as f64;
            let mut path = best_path(&rows, self.strokes, rule, Pulse::Known(&course));
            if in_misses(&path) >= most {
                // Strokes that do not fit the rhythm may have led the pulse astray: the beats, or the counts, have one of their own.
                path = self::course(&rows, self.strokes, Rule::Likely { reach: reach_of(SPREAD) }).1;
            }
            let cost = in_misses(&path);
            // Where much is left to explain, something else was struck.
            (cost < most).then(|| {
                let mut taken = vec![None; moved.len()];
                for (&count, &stroke) in counts.iter().zip(&path.strokes) {
                    taken[count] = stroke;
                }
                (cost + STRUCK_INSTEAD, what, taken)
            })
        });
        costs.min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// First the player's pulse is followed through the take, then, with the pulse and the spread known, the best
    /// explanation about that pulse is found. `moved` is when each count lies; counts that are `skipped` and strokes that are `again` take no part.
    pub(crate) fn about(&self, moved: &[i64], skipped: &[bool], again: &[bool]) -> Explained {
        let counts: Vec<usize> = (0..moved.len()).filter(|&count| !skipped[count]).collect();
        let heard: Vec<usize> = (0..self.strokes.len()).filter(|&stroke| !again[stroke]).collect();
        let strokes: Vec<i64> = heard.iter().map(|&stroke| self.strokes[stroke]).collect();
        let times: Vec<i64> = counts.iter().map(|&count| moved[count]).collect();
        let rows_at =
            |reach| rows(self.written, &counts, &times, self.settings, reach, |i| width(i, self.most));

        let reach = reach_of(SPREAD);
        let mut found = rows_at(reach);
        mark_pending(&mut found, &vec![0; counts.len()], self.heard);
        let (course, path) = course(&found, &strokes, Rule::Likely { reach });
        let spread = scatter(&found, &strokes, &path, &course).unwrap_or(SPREAD);
        let reach = reach_of(spread.clamp(LEAST_SPREAD, MOST_SPREAD));
        let mut rows = rows_at(reach);
        let (due, unheard) = mark_pending(&mut rows, &course, self.heard);
        let path = best_path(&rows, &strokes, Rule::Likely { reach }, Pulse::Known(&course));

        // Wherever a player is taken to be, nothing is missed before its time by the click.
        let past = |at: i64| self.heard.until.is_none_or(|until| at <= until);
        let mut explained = Explained {
            strokes: vec![None; moved.len()],
            course: vec![0; moved.len()],
            due: self.written.at.iter().map(|&at| past(at)).collect(),
            unheard: vec![false; moved.len()],
            reach,
            cost: path.cost.rest,
        };
        for (row, &count) in counts.iter().enumerate() {
            explained.strokes[count] = path.strokes[row].map(|stroke| heard[stroke]);
            explained.course[count] = course[row];
            explained.due[count] &= due[row];
            explained.unheard[count] = unheard[row];
        }
        fill(&mut explained.course, skipped);
        explained
    }

    /// All at half or at double speed, where that explains a take much better.
    fn at_another_speed(&self, found: &Explained, most: u64) -> Option<(Speed, Vec<i64>, Explained)> {
        let notes = u64::try_from(self.written.notes.len()).unwrap_or(u64::MAX);
        // Where no more than a quarter of the notes is left to explain, the speed is the written one.
        if self.strokes.len() < FEWEST_FOR_SPEED || found.cost < OTHER_SPEED + UNIT * notes / 4 {
            return None;
        }
        let first = self.written.notes.first().map_or(0, |&note| self.written.at[note]);
        let one = (0..self.written.counts.len()).find(|&count| self.written.counts[count].id.bar > 0);
        let one = one.map_or(first, |count| self.written.at[count]);
        let tried = [(Speed::Half, 2, 1), (Speed::Double, 1, 2)].into_iter().flat_map(|(speed, by, over)| {
            // Who goes wrong from the beginning counts from count 1, or from his own first note.
            let origins = if first == one { vec![one] } else { vec![one, first] };
            origins.into_iter().map(move |origin| (speed, by, over, origin))
        });
        let explained = tried.map(|(speed, by, over, origin)| {
            let at = |&at: &i64| origin + (at - origin).saturating_mul(by) / over;
            let moved: Vec<i64> = self.written.at.iter().map(at).collect();
            let explained = self.about(&moved, &vec![false; moved.len()], &vec![false; self.strokes.len()]);
            (speed, moved, explained)
        });
        // Who plays at half the speed is in the middle when the click ends.
        let trimmed =
            |explained: &Explained| explained.cost - UNIT * self.unplayed_end(explained).len() as u64;
        let best = explained.min_by_key(|(.., explained)| trimmed(explained))?;
        let (with, without) = (trimmed(&best.2), trimmed(found));
        // The half of a rhythm fits the beginning of an even one too, so most of the cost must go.
        // A take of another rhythm that begins alike is no take of this one at another speed.
        let played = notes - self.unplayed_end(&best.2).len() as u64;
        let most_left = UNIT * (played + self.strokes.len() as u64) / 8;
        let holds = with + OTHER_SPEED < without.min(most) && with < without / 2 && with < most_left;
        holds.then_some(best)
    }

    /// The notes after the last that was struck, as counts.
    pub(crate) fn unplayed_end(&self, explained: &Explained) -> Vec<usize> {
        let missed = |note: &&usize| explained.strokes[**note].is_none() && explained.due[**note];
        self.written.notes.iter().rev().take_while(missed).copied().collect()
    }
}

/// Gives counts that took no part the course of the one before.
fn fill(course: &mut [i64], skipped: &[bool]) {
    let mut before = 0;
    for (course, &skipped) in course.iter_mut().zip(skipped) {
        if skipped {
            *course = before;
        } else {
            before = *course;
        }
    }
}

pub(crate) fn reach_of(spread: i64) -> i64 {
    spread / 10 * REACH_TENTHS
}

/// How far the gate opens towards a written attack `interval` away: half-way, for there the other is nearer; up to
/// the whole of it where the notes are close, for there order must decide.
pub(crate) fn width(interval: i64, most: i64) -> i64 {
    (interval / 2).max(interval.min(CLOSE)).min(most)
}

/// One row for each of `counts`, lying at these `times`. `width` gives how far the gate opens towards a neighbour so far away.
pub(crate) fn rows(
    written: &Written<'_>,
    counts: &[usize],
    times: &[i64],
    settings: &Settings,
    reach: i64,
    width: impl Fn(i64) -> i64,
) -> Vec<Row> {
    let at = |row: usize| times[row];
    let on_silence = settings.tolerance().as_nanos().max(reach / 20 * 17);
    let mut rows: Vec<Row> = Vec::with_capacity(counts.len());
    let mut attack: Option<usize> = None;
    for (index, &count) in counts.iter().enumerate() {
        // A stroke belongs to the nearest count of a silence, and only if that is near.
        let towards = |other: Option<usize>| {
            let half = other
                .filter(|&o| o < counts.len())
                .map(|o| at(index).saturating_sub(at(o)).saturating_abs() / 2);
            half.map_or(on_silence, |half| half.min(on_silence))
        };
        let row = match written.deed(count) {
            Deed::Attack => {
                let mut early = width(i64::MAX);
                if let Some(before) = attack {
                    early = width(at(index).saturating_sub(at(before)).max(0));
                    rows[before].late = early;
                }
                attack = Some(index);
                Row::new(at(index), RowKind::Due, early, width(i64::MAX))
            }
            Deed::Hold | Deed::Rest => {
                let (early, late) = (towards(index.checked_sub(1)), towards(Some(index + 1)));
                Row::new(at(index), RowKind::Silent, early, late)
            }
        };
        rows.push(row);
    }
    ornament(&mut rows, written, counts);
    rows
}

/// Says at every row which strokes around it belong to a roll or a grace.
fn ornament(rows: &mut [Row], written: &Written<'_>, counts: &[usize]) {
    let mut rolling = false;
    for index in 0..rows.len() {
        let marks = written.counts[counts[index]].marks;
        match written.deed(counts[index]) {
            Deed::Attack => rolling = marks.roll.is_some(),
            Deed::Rest => rolling = false,
            Deed::Hold => {}
        }
        if rolling {
            // To the next count, and at the end for as long as the beat lasts; a little longer, for the last stroke.
            let next = rows
                .get(index + 1)
                .map_or(rows[index].at + written.beat_nanos(counts[index]), |next| next.at);
            rows[index].rolls_until = next - (next - rows[index].at) / 8;
        }
        let graces = i64::from(marks.grace.strokes());
        if graces > 0 {
            rows[index].grace_from = rows[index].at - graces * GRACE;
        }
    }
}

/// Marks the written attacks that may still be answered by a stroke that was not heard yet, or may have been by one that went
/// unheard. Says which are due, and which of the others went unheard.
fn mark_pending(rows: &mut [Row], course: &[i64], heard: Heard<'_>) -> (Vec<bool>, Vec<bool>) {
    rows.iter_mut()
        .zip(course)
        .map(|(row, &offset)| {
            let unheard = heard.misses(row, offset);
            let due = heard.is_past(row, offset) && !unheard;
            if row.kind == RowKind::Due && !due {
                row.kind = RowKind::Pending;
            }
            (due, unheard)
        })
        .unzip()
}
