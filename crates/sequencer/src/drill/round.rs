use std::ops::Range;

use counting::TimedCount;
use rhythm::Meter;
use timebase::{Moment, Position, Seconds, Tempo, TempoMap};

use crate::Cue;

/// One round of a drill, laid out: what sounds and when, who answers, and what is expected of them.
///
/// Its positions count from the first bar line of its call, its moments from count 1 of the drill's first round.
#[derive(Clone, Debug, PartialEq)]
pub struct Round {
    pub(super) number: usize,
    pub(super) kind: RoundKind,
    pub(super) rhythm: usize,
    pub(super) played: Vec<RoundBar>,
    pub(super) bar_lines: Vec<(Position, Meter)>,
    pub(super) tempo: Tempo,
    pub(super) map: TempoMap,
    pub(super) cues: Vec<Cue>,
    pub(super) beats: Vec<(Position, bool)>,
    pub(super) sections: Vec<Section>,
    pub(super) responses: Vec<Response>,
    pub(super) sounds_from: Position,
    pub(super) start: Position,
    pub(super) end: Position,
}

/// A bar of a round, as it is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RoundBar {
    /// Where it begins the first time through.
    pub at: Position,
    /// The written bar's number; a pickup is 0.
    pub number: u32,
    /// The how-manieth time through that bar when the whole rhythm is performed, from 1.
    pub pass: u32,
}

/// What a round is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RoundKind {
    /// The whole rhythm is heard; nobody is asked.
    Model,
    /// A hard bar by itself.
    Hard,
    /// A phrase, or the whole rhythm.
    Phrase,
}

/// A stretch of a round.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Section {
    /// What it is.
    pub kind: SectionKind,
    /// Where it begins, its pickup included.
    pub from: Position,
    /// Where it ends. The pickup of the next section may have begun before.
    pub to: Position,
    /// Whether the notation is to be hidden while it lasts.
    pub is_hidden: bool,
}

/// What a section is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SectionKind {
    /// Beats between two rounds.
    Rest,
    /// Counted in.
    CountIn,
    /// The rhythm as a model.
    Model,
    /// The rhythm is called.
    Call,
    /// Beats between a call and its response.
    Breath,
    /// The response of this number in the round, from 0.
    Response(usize),
}

/// What is asked of the players in a response.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Response {
    pub(super) player: Option<usize>,
    pub(super) zero: Position,
    pub(super) counts: Vec<TimedCount>,
    pub(super) range: Range<usize>,
    pub(super) first: Position,
}

impl Response {
    /// Who is asked: a number in the plan's list of players, from 0, or everybody.
    #[must_use]
    pub fn player(&self) -> Option<usize> {
        self.player
    }

    /// Where its first bar line falls.
    #[must_use]
    pub fn zero(&self) -> Position {
        self.zero
    }

    /// The counts of the response in order of time, at their moments in the drill: what a player is judged by.
    #[must_use]
    pub fn counts(&self) -> &[TimedCount] {
        &self.counts
    }

    /// Which of the counts of its whole rhythm these are, by their numbers among those of a [`Sequence`](crate::Sequence).
    #[must_use]
    pub fn range(&self) -> Range<usize> {
        self.range.clone()
    }

    /// Where the first of its counts stands when the whole rhythm is performed.
    #[must_use]
    pub fn first_place(&self) -> Position {
        self.first
    }
}

impl Round {
    /// Its number, from 1.
    #[must_use]
    pub fn number(&self) -> usize {
        self.number
    }

    /// What it is for.
    #[must_use]
    pub fn kind(&self) -> RoundKind {
        self.kind
    }

    /// Which rhythm of the drill, from 0.
    #[must_use]
    pub fn rhythm(&self) -> usize {
        self.rhythm
    }

    /// The written numbers of the bars that are played first and last; a pickup is 0. Where bars are repeated between them,
    /// [`Round::played`] has them all.
    #[must_use]
    pub fn bars(&self) -> (u32, u32) {
        let number = |bar: Option<&RoundBar>| bar.map_or(0, |bar| bar.number);
        (number(self.played.first()), number(self.played.last()))
    }

    /// Its bars in the order they are played, once through.
    #[must_use]
    pub fn played(&self) -> &[RoundBar] {
        &self.played
    }

    /// Where bars begin, and the meter they are in, from [`Round::start`] or the first pickup to [`Round::end`]: the rest, the bars
    /// counted in, the bars of every section, and breaths. A bar ends where the next begins, whatever its meter says.
    #[must_use]
    pub fn bar_lines(&self) -> &[(Position, Meter)] {
        &self.bar_lines
    }

    /// The tempo of its rhythm's beginning: changes that are written in the rhythm keep their proportion to it.
    #[must_use]
    pub fn tempo(&self) -> Tempo {
        self.tempo
    }

    /// The tempo at which it is counted in and begins.
    #[must_use]
    pub fn entry_tempo(&self) -> Tempo {
        self.map.tempo_at(Position::ZERO)
    }

    /// Where its positions fall in time, counted from count 1 of the drill's first round.
    #[must_use]
    pub fn tempo_map(&self) -> &TempoMap {
        &self.map
    }

    /// What sounds, in order of place.
    #[must_use]
    pub fn cues(&self) -> &[Cue] {
        &self.cues
    }

    /// Every felt beat, and whether it is count 1 of a bar; whatever is heard of them.
    #[must_use]
    pub fn beats(&self) -> &[(Position, bool)] {
        &self.beats
    }

    /// Its sections in order.
    #[must_use]
    pub fn sections(&self) -> &[Section] {
        &self.sections
    }

    /// What is asked of players, in order; nothing in a model.
    #[must_use]
    pub fn responses(&self) -> &[Response] {
        &self.responses
    }

    /// Where it begins: where the round before ended.
    #[must_use]
    pub fn start(&self) -> Position {
        self.start
    }

    /// Where its last bar ends, a bar that was cut taken to be whole: there the next round begins.
    #[must_use]
    pub fn end(&self) -> Position {
        self.end
    }

    /// Where its sound begins: at its start, or before it by a pickup for which the last bar before left room.
    #[must_use]
    pub fn sounds_from(&self) -> Position {
        self.sounds_from
    }

    /// When it begins.
    #[must_use]
    pub fn starts(&self) -> Moment {
        self.map.moment_at(self.start)
    }

    /// When it ends.
    #[must_use]
    pub fn ends(&self) -> Moment {
        self.map.moment_at(self.end)
    }

    /// How long it lasts.
    #[must_use]
    pub fn length(&self) -> Seconds {
        self.ends() - self.starts()
    }

    /// The section that is under way at `moment`; where a pickup falls inside the section before, still that one.
    #[must_use]
    pub fn section_at(&self, moment: Moment) -> Option<&Section> {
        let within = |section: &&Section| {
            self.map.moment_at(section.from) <= moment && moment < self.map.moment_at(section.to)
        };
        self.sections.iter().find(within)
    }

    /// Whether the notation is to be hidden at `moment`.
    #[must_use]
    pub fn is_hidden_at(&self, moment: Moment) -> bool {
        self.section_at(moment).is_some_and(|section| section.is_hidden)
    }
}

/// Bars in the order they are played: `pickup-2`, `1-2, 1 again`, `1-4 50 times`.
#[must_use]
pub fn bars_told(bars: &[RoundBar]) -> String {
    let mut rows: Vec<(u32, u32, bool)> = Vec::new();
    let mut pass = 0;
    for bar in bars {
        let is_again = bar.pass > 1;
        match rows.last_mut() {
            // The halves of a bar that was cut are one bar; a bar that is repeated by itself is not.
            Some((_, last, _)) if *last == bar.number && bar.pass <= pass => {}
            Some((_, last, again)) if *last + 1 == bar.number && *again == is_again => *last = bar.number,
            _ => rows.push((bar.number, bar.number, is_again)),
        }
        pass = bar.pass;
    }
    let name = |number: u32| if number == 0 { "pickup".to_owned() } else { number.to_string() };
    let told = rows.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)).map(|same| {
        let (first, last, is_again) = same[0];
        let row = if first == last { name(first) } else { format!("{}-{}", name(first), name(last)) };
        match same.len() {
            1 if is_again => format!("{row} again"),
            1 => row,
            times => format!("{row} {times} times"),
        }
    });
    told.collect::<Vec<_>>().join(", ")
}

/// The same with what it is: `bar 5`, `bars 5-6`, `pickup`.
#[must_use]
pub fn bars_named(bars: &[RoundBar]) -> String {
    let word = match bars {
        [] | [RoundBar { number: 0, .. }] => "",
        [first, others @ ..] if others.iter().all(|bar| bar.number == first.number) => "bar ",
        _ => "bars ",
    };
    format!("{word}{}", bars_told(bars))
}

#[cfg(test)]
mod tests {
    use timebase::Span;

    use super::*;

    #[test]
    fn bars_are_told_as_they_are_played() {
        let check = |bars: &[(u32, u32)], told: &str| {
            let bar = |(place, &(number, pass)): (i64, &(u32, u32))| RoundBar {
                at: Position::ZERO + Span::WHOLE * place,
                number,
                pass,
            };
            let bars: Vec<RoundBar> = (0..).zip(bars).map(bar).collect();
            assert_eq!(bars_told(&bars), told);
            let word = if bars.iter().all(|bar| bar.number == bars[0].number) { "bar" } else { "bars" };
            assert_eq!(bars_named(&bars), format!("{word} {told}"));
        };
        check(&[(3, 1)], "3");
        check(&[(0, 1), (1, 1), (2, 1)], "pickup-2");
        check(&[(1, 1), (2, 1), (1, 2)], "1-2, 1 again");
        check(&[(0, 2), (1, 2), (3, 1)], "pickup-1 again, 3");
        check(&[(2, 2), (2, 1), (3, 1)], "2 again, 3");
        check(&[(4, 1), (0, 2), (1, 2)], "4, pickup-1 again");
        check(&[(1, 1), (2, 1), (1, 2), (2, 2), (1, 3), (2, 3)], "1-2 3 times");
        check(&[(1, 1), (1, 2)], "1 2 times");
        check(&[(1, 1), (2, 1), (2, 2)], "1-2, 2 again");
        let pickup = RoundBar { at: Position::ZERO, number: 0, pass: 1 };
        assert_eq!(bars_named(&[pickup]), "pickup");
    }
}
