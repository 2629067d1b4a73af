//! Where a take begins whose beginning is not known: without a click, or where nothing says how the click lies in the recording.
//!
//! Ways to begin are tried, each a note that falls on a stroke; each is followed through the opening, and the one that explains it at
//! the least cost is refined by what it matches.

use counting::TimedCount;
use timebase::Moment;

use crate::alignment::{self, Follow, reach_of, rows, width};
use crate::lattice::{Pulse, Row, RowKind, Rule, Start, UNIT, best_path};
use crate::written::{Written, nanos, rounded};
use crate::{Gate, Played, Settings};

/// So many strokes of the beginning decide.
const OPENING_STROKES: usize = 24;
/// The tempos that are tried without a click: so many steps of so much to either side, up to two and a half times.
const TEMPOS: i32 = 31;
const TEMPO_STEP: f64 = 1.03;
/// What is taken for a player's spread until it is known, in nanoseconds.
const SPREAD: i64 = 30_000_000;
/// So many strokes may fall before the rhythm begins: a test of the pad, a chair.
const STRAY: usize = 3;
/// So many bars may be left out at the beginning without a click.
const BARS_LEFT_OUT: usize = 3;
/// A recording may be cut off in front anywhere in so many notes: some thirty bars.
const CUT_OFF: usize = 128;
/// Where more than this share of the opening is left to explain, nothing fits it: the first stroke is then taken for the first note.
const FITS: f64 = 0.5;

/// A way to begin: a note that falls on a stroke.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Origin {
    /// The note, as a count.
    pub(crate) note: usize,
    /// The stroke's index.
    pub(crate) stroke: usize,
}

/// A way to begin at a tempo (a multiple of the written one), and what the opening then costs in units.
#[derive(Clone, Copy, Debug)]
struct Begun {
    cost: u64,
    ratio: f64,
    origin: Origin,
}

/// Where count 1 of bar 1 lies among strokes that were played at the written tempo when nothing tells: where they fit the rhythm best.
///
/// A stroke too many before the rhythm begins is allowed for, and a recording that was cut off in front. The player's own distance from
/// the click, which cannot be told then, is taken for none; judge what is found with [`crate::TempoOf::Written`]. `None` without strokes
/// or without a written attack.
#[must_use]
pub fn beginning(counts: &[TimedCount], played: &[Played], settings: &Settings) -> Option<Moment> {
    let counts = settings.task().counts(counts);
    let written = Written::new(&counts);
    let mut strokes: Vec<i64> = played.iter().map(|played| nanos(played.at)).collect();
    strokes.sort_unstable();
    let (Gate::Following { most: width } | Gate::Fixed(width)) = settings.gate();
    let heard = alignment::Heard::default();
    let follow = Follow { written: &written, strokes: &strokes, heard, settings, most: width.as_nanos() };
    let at = follow.where_it_fits()?;
    Some(Moment::ZERO + timebase::Seconds::from_nanos(at))
}

impl Follow<'_> {
    /// The tempo of a player without a click, as a multiple of the written one, and where every count then lies. The first stroke is the
    /// first note, or one of the next two.
    pub(crate) fn own_tempo(&self) -> Option<(f64, Vec<i64>)> {
        let first_notes = self.written.notes.iter().take(3);
        self.refined(self.begun(tempos(), first_notes.map(|&note| Origin { note, stroke: 0 }))?)
    }

    /// The same where strokes fell before the rhythm began, or whole bars were left out before it.
    pub(crate) fn own_tempo_begun_otherwise(&self) -> Option<(f64, Vec<i64>)> {
        let first = *self.written.notes.first()?;
        let strays = (1..STRAY.min(self.strokes.len())).map(|stroke| Origin { note: first, stroke });
        let bars = self.written.bars.iter().skip(1).take(BARS_LEFT_OUT);
        let bars = bars.filter_map(|bar| self.written.notes.iter().copied().find(|&note| note >= bar.start));
        let bars = bars.map(|note| Origin { note, stroke: 0 });
        self.refined(self.begun(tempos(), strays.chain(bars))?)
    }

    /// Where the written zero lies at the written tempo.
    fn where_it_fits(&self) -> Option<i64> {
        let notes = &self.written.notes[..self.written.notes.len().min(CUT_OFF)];
        let strokes = 0..self.strokes.len().min(STRAY);
        let origins = strokes.flat_map(|stroke| notes.iter().map(move |&note| Origin { note, stroke }));
        let begun = self.begun(std::iter::once(1.0), origins)?;
        let opening = self.strokes.len().min(OPENING_STROKES);
        if begun.cost as f64 > FITS * (UNIT as f64) * opening as f64 {
            return Some(self.strokes.first()? - self.written.at[*self.written.notes.first()?]);
        }
        let zero = self.strokes[begun.origin.stroke] - self.written.at[begun.origin.note];
        let moved: Vec<i64> = self.written.at.iter().map(|at| at + zero).collect();
        let strokes = self.opening();
        let path = best_path(&self.opening_rows(&moved), strokes, self.rule(), self.begins(&moved, begun));
        let answered = path.strokes.iter().zip(&moved).zip(self.written.counts);
        let mut off: Vec<i64> = answered
            .filter(|(_, count)| count.deed == rhythm::Deed::Attack)
            .filter_map(|((stroke, at), _)| Some(strokes[(*stroke)?] - at))
            .collect();
        off.sort_unstable();
        Some(zero + off.get(off.len() / 2).copied().unwrap_or(0))
    }

    /// The cheapest of some ways to begin, each at every one of these tempos.
    fn begun(
        &self,
        ratios: impl Iterator<Item = f64>,
        origins: impl Iterator<Item = Origin> + Clone,
    ) -> Option<Begun> {
        let first = *self.written.notes.first()?;
        self.strokes.first()?;
        let tried = ratios.flat_map(|ratio| origins.clone().map(move |origin| (ratio, origin)));
        let costed = tried.map(|(ratio, origin)| {
            let moved = self.at_tempo(ratio, origin);
            let begins = self.begins(&moved, Begun { cost: 0, ratio, origin });
            let path = best_path(&self.opening_rows(&moved), self.opening(), self.rule(), begins);
            // Beginning later and another tempo than written are a little less likely.
            let against = UNIT / 2 * u64::from(origin.note != first)
                + rounded(ratio.ln().abs() * UNIT as f64 / 2.0).unsigned_abs();
            Begun { cost: path.cost.rest.saturating_add(against), ratio, origin }
        });
        costed.min_by_key(|begun| begun.cost)
    }

    fn opening(&self) -> &[i64] {
        &self.strokes[..self.strokes.len().min(OPENING_STROKES)]
    }

    fn rule(&self) -> Rule {
        Rule::Likely { reach: reach_of(SPREAD) }
    }

    /// All counts where they lie. What lies behind the strokes that are looked at is no miss.
    fn opening_rows(&self, moved: &[i64]) -> Vec<Row> {
        let all: Vec<usize> = (0..moved.len()).collect();
        let reach = reach_of(SPREAD);
        let mut rows = rows(self.written, &all, moved, self.settings, reach, |i| width(i, self.most));
        let last = self.opening().last().copied().unwrap_or(i64::MIN);
        for row in rows.iter_mut().filter(|row| row.kind == RowKind::Due && row.at + row.late > last) {
            row.kind = RowKind::Pending;
        }
        rows
    }

    fn begins<'b>(&self, moved: &[i64], begun: Begun) -> Pulse<'b> {
        Pulse::Followed(Start { at: moved[begun.origin.note], offset: 0, growth: 0 })
    }

    /// The line through what is matched that way, which is the tempo: around it the pulse is followed as with a click.
    fn refined(&self, begun: Begun) -> Option<(f64, Vec<i64>)> {
        let Begun { ratio, origin, .. } = begun;
        let moved = self.at_tempo(ratio, origin);
        let found = self.about(&moved, &vec![false; moved.len()], &vec![false; self.strokes.len()]);
        let from = self.written.at[origin.note];
        let points: Vec<(f64, f64)> = self
            .written
            .notes
            .iter()
            .filter_map(|&n| {
                Some(((self.written.at[n] - from) as f64, self.strokes[found.strokes[n]?] as f64))
            })
            .collect();
        let Some((slope, at_note)) = crate::trend::line(&points) else { return Some((ratio, moved)) };
        let at = |&at: &i64| rounded(at_note + slope * (at - from) as f64);
        Some((1.0 / slope, self.written.at.iter().map(at).collect()))
    }

    /// Where every count lies if all is `ratio` times as fast as written and begins so.
    fn at_tempo(&self, ratio: f64, origin: Origin) -> Vec<i64> {
        let (from, stroke) = (self.written.at[origin.note], self.strokes[origin.stroke]);
        self.written.at.iter().map(|at| stroke + rounded((at - from) as f64 / ratio)).collect()
    }
}

fn tempos() -> impl Iterator<Item = f64> {
    (-TEMPOS..=TEMPOS).map(|step| TEMPO_STEP.powi(step))
}
