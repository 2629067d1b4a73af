//! What is asked of players between two moments: the whole of a rhythm, or one response of a drill plan.

use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

use counting::TimedCount;
use judge::{Settings, Task};
use rhythm::{Deed, Rhythm};
use sequencer::drill::{Response, Round};
use take::DrilledResponse;
use timebase::{Moment, Seconds};

use crate::player::{Due, Player, Who};
use crate::{PlayerState, Tally};

/// How far over the bar line a stroke may lie and still be on this side of it, at most.
const REACH: Seconds = Seconds::from_millis(250);

/// So far from the beginning of a drill no moment of it lies.
pub(crate) const NEVER: Seconds = Seconds::from_millis(4_000_000_000);

#[derive(Debug)]
pub(crate) struct Asked {
    /// The number of its round in a drill plan, from 1; 0 where there is none.
    pub(crate) round: usize,
    /// Whose turn it is.
    pub(crate) who: Option<String>,
    /// From count 1 of the rhythm's bar 1.
    counts: Arc<[TimedCount]>,
    /// Which of the rhythm's counts these are.
    range: Range<usize>,
    /// No two written attacks are closer.
    closest: Seconds,
    /// Where that count 1 falls, or would fall, in the drill's own time.
    pub(crate) bar_one: Moment,
    /// Between which moments of the drill strokes belong to it.
    pub(crate) window: Range<Moment>,
    pub(crate) players: Vec<Player>,
    /// Whether it has begun.
    pub(crate) is_open: bool,
}

impl Asked {
    /// All of a rhythm, from so soon on.
    pub(crate) fn whole(counts: Arc<[TimedCount]>, from: Moment) -> Self {
        Self {
            round: 0,
            who: None,
            range: 0..counts.len(),
            closest: closest(&counts),
            counts,
            bar_one: Moment::ZERO,
            window: from..Moment::ZERO + NEVER,
            players: Vec::new(),
            is_open: true,
        }
    }

    /// A response of `round`, whose rhythm is `rhythm`; it ends at `to`. Nothing where it asks for nothing.
    pub(crate) fn response(
        round: &Round,
        response: &Response,
        rhythm: &Rhythm,
        who: Option<String>,
        to: Moment,
    ) -> Option<Self> {
        let first = response.counts().first()?;
        let map = rhythm.tempo_map(&rhythm.performance(), round.tempo());
        let bar_one = first.at - map.moment_at(response.first_place()).since_zero();
        let in_rhythm = |at: Moment| Moment::ZERO + (at - bar_one);
        let counts: Arc<[TimedCount]> = response
            .counts()
            .iter()
            .map(|count| TimedCount { at: in_rhythm(count.at), ..count.clone() })
            .collect();
        let zero = response.zero();
        let beat = round.tempo_map().moment_at(zero + first.beat) - round.tempo_map().moment_at(zero);
        Some(Self {
            round: round.number(),
            who,
            range: response.range(),
            closest: closest(&counts),
            window: window(response.counts(), beat, to),
            counts,
            bar_one,
            players: Vec::new(),
            is_open: false,
        })
    }

    /// As the take keeps it, in whose own time the drill's zero falls at `zero`.
    pub(crate) fn note(&self, zero: Moment) -> DrilledResponse {
        let in_take = |at: Moment| zero + at.since_zero();
        DrilledResponse {
            player: self.who.clone(),
            counts: self.range.clone(),
            bar_one: in_take(self.bar_one),
            from: in_take(self.window.start),
            to: in_take(self.window.end),
        }
    }

    /// A moment of the drill as one of the rhythm.
    pub(crate) fn in_rhythm(&self, at: Moment) -> Moment {
        Moment::ZERO + (at - self.bar_one)
    }

    /// The row of this player, made now if there is none; whoever's turn it is has one row, at whichever pad.
    pub(crate) fn row(&mut self, who: Who, settings: Settings) -> usize {
        let found = match self.who {
            Some(_) => (!self.players.is_empty()).then_some(0),
            None => self.players.iter().position(|player| player.id == who.id),
        };
        if let Some(row) = found {
            let player = &mut self.players[row];
            if player.id != who.id && !player.others.contains(&who.id) {
                player.others.push(who.id);
            }
            return row;
        }
        let who = Who { label: self.who.clone().unwrap_or(who.label), ..who };
        self.players.push(Player::new(who, Arc::clone(&self.counts), self.closest, settings));
        self.players.len() - 1
    }

    /// Everybody of whom time alone may have changed what is said is to be judged anew; `now` is a moment of the drill.
    pub(crate) fn time_has_passed(&mut self, now: Moment) {
        let now = self.in_rhythm(now);
        self.players.iter_mut().for_each(|player| player.time_has_passed(now));
    }

    /// The index of the next one whose judgement is due: of those alike, the one who has waited longest.
    pub(crate) fn next_due(&self) -> Option<usize> {
        let waits =
            |(index, player): &(usize, &Player)| (player.due, std::cmp::Reverse((player.judged, *index)));
        let due = self.players.iter().enumerate().filter(|(_, player)| player.due > Due::Not);
        due.max_by_key(waits).map(|(index, _)| index)
    }

    /// Nobody could be heard at these times of the drill at this row.
    pub(crate) fn went_unheard(&mut self, row: usize, absent: Vec<Range<Moment>>) {
        let bar_one = self.bar_one;
        let in_rhythm = |at: Moment| Moment::ZERO + (at - bar_one);
        let absent = absent.into_iter().map(|absence| in_rhythm(absence.start)..in_rhythm(absence.end));
        self.players[row].went_unheard(absent.collect());
    }

    /// Judges everybody with everything weighed: the whole, or what was heard up to a moment of the drill if that lies in it.
    pub(crate) fn judge_for_good(&mut self, now: Option<Moment>) {
        let now = now.filter(|now| *now < self.window.end).map(|now| self.in_rhythm(now));
        self.players.iter_mut().for_each(|player| player.judge_for_good(now));
    }

    /// What became of it, of those together who play the rhythm and have struck here or whose names are among `struck`.
    pub(crate) fn tally(&self, struck: &BTreeSet<String>) -> Tally {
        let plays = |player: &&Player| {
            player.judgement().task() == Task::Rhythm
                && (player.has_struck() || struck.contains(&player.label))
        };
        let tallies = self.players.iter().filter(plays).map(|player| Tally::of(player.judgement()));
        tallies.fold(Tally::default(), Tally::and)
    }

    pub(crate) fn states(&self) -> Arc<[PlayerState]> {
        self.players.iter().map(Player::state).collect()
    }
}

/// Between which moments strokes belong to a response that ends at `end`: a third of a beat over the bar line before, and as much
/// less at the end, where what comes next may be struck along with; nearer where a written attack is nearer.
fn window(counts: &[TimedCount], beat: Seconds, end: Moment) -> Range<Moment> {
    let Some(first) = counts.first() else { return end..end };
    let last =
        counts.iter().rev().find(|count| count.deed == Deed::Attack).map_or(first.at, |count| count.at);
    let reach = REACH.min(beat.divided_by(3)).min((end - last).divided_by(2));
    first.at - reach..end - reach
}

/// The distance of the two written attacks that are closest; a second where there are no two.
pub(crate) fn closest(counts: &[TimedCount]) -> Seconds {
    let mut attacks = counts.iter().filter(|count| count.deed == Deed::Attack).map(|count| count.at);
    let mut least = Seconds::from_millis(1_000);
    if let Some(mut last) = attacks.next() {
        for at in attacks {
            if at > last {
                least = least.min(at - last);
            }
            last = at;
        }
    }
    least
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_ends_before_what_comes_next() {
        let check = |text: &str, expected_ms: (i64, i64)| {
            let rhythm = rhythm::text::read(text).rhythm.unwrap_or_else(|| panic!("{text}"));
            let line = counting::count(&rhythm);
            let sequence = sequencer::sequence(&rhythm, &line, &sequencer::Plan::of(&rhythm));
            let end = sequence.tempo().moment_at(sequence.end());
            let beat =
                sequence.tempo().moment_at(sequence.performance().bars()[0].origin + first_beat(&sequence));
            let found = window(sequence.counts(), beat.since_zero(), end);
            let ms = |moment: Moment| moment.since_zero().as_micros() / 1_000;
            assert_eq!((ms(found.start), ms(found.end)), expected_ms, "{text}");
        };
        // A third of a beat of half a second, and of a whole one no more than a quarter of a second.
        check("tempo: quarter = 120\n| 1 2 3 4 |", (-166, 1_833));
        check("tempo: quarter = 60\n| 1 2 3 (4) |", (-250, 3_750));
        // Half the way from the last attack to the bar line.
        check("tempo: quarter = 120\n| 1 2 3 4 & |", (-125, 1_875));
    }

    fn first_beat(sequence: &sequencer::Sequence) -> timebase::Span {
        sequence.counts()[0].beat
    }
}
