use std::ops::Range;

use counting::{CountLine, TimedCount};
use rhythm::{Bar, Meter, PerformedBar, Rhythm};
use timebase::{Position, Tempo};

use super::RoundBar;
use super::lay::bar_line;
use crate::{Choice, Cue, Plan, Sequence, sequence};

/// A rhythm of a drill, counted and played out once, from which calls and responses are cut.
#[derive(Clone, Debug)]
pub struct Material {
    rhythm: Rhythm,
    sequence: Sequence,
    /// For each performed bar the number of its first count among the sequence's; and how many there are.
    first_counts: Vec<usize>,
}

impl Material {
    /// `rhythm`, counted as `line`, with the usual choice of what sounds.
    #[must_use]
    pub fn new(rhythm: Rhythm, line: &CountLine) -> Self {
        Self::chosen(rhythm, line, Choice::default())
    }

    /// `rhythm`, counted as `line`, of which this is to sound. The words of its entry are the plan's
    /// ([`CountIn`](super::CountIn)).
    #[must_use]
    pub fn chosen(rhythm: Rhythm, line: &CountLine, choice: Choice) -> Self {
        let sequence = sequence(&rhythm, line, &Plan::of(&rhythm).with_choice(choice));
        Self::of(rhythm, sequence)
    }

    /// `rhythm` as it was laid out in `sequence`, which must be of this rhythm. Its tempo and its count-in do not matter.
    #[must_use]
    pub fn of(rhythm: Rhythm, sequence: Sequence) -> Self {
        let counts = sequence.counts();
        let mut first_counts = vec![0];
        let mut reached = 0;
        for bar in sequence.performance().bars() {
            let here = |count: &TimedCount| {
                let at = bar.position(count.id.at);
                (count.id.bar, count.id.pass) == (bar.number, bar.pass) && at >= bar.start && at < bar.end
            };
            reached += counts[reached..].iter().take_while(|count| here(count)).count();
            first_counts.push(reached);
        }
        Self { rhythm, sequence, first_counts }
    }

    /// The rhythm.
    #[must_use]
    pub fn rhythm(&self) -> &Rhythm {
        &self.rhythm
    }

    /// The bars as they are played.
    #[must_use]
    pub fn bars(&self) -> &[PerformedBar] {
        self.sequence.performance().bars()
    }

    pub(super) fn sequence(&self) -> &Sequence {
        &self.sequence
    }

    pub(super) fn meter(&self, bar: usize) -> Meter {
        self.rhythm.bars()[self.bars()[bar].index].meter()
    }

    /// What sounds in these bars.
    pub(super) fn cues(&self, bars: &Range<usize>) -> &[Cue] {
        let performed = &self.bars()[bars.clone()];
        let (Some(first), Some(last)) = (performed.first(), performed.last()) else { return &[] };
        let before = |at: Position| self.sequence.cues().partition_point(|cue| cue.at < at);
        &self.sequence.cues()[before(first.start)..before(last.end)]
    }

    /// The counts of one bar.
    pub(super) fn counts(&self, bar: usize) -> &[TimedCount] {
        &self.sequence.counts()[self.first_counts[bar]..self.first_counts[bar + 1]]
    }

    /// Which of the sequence's counts are those of these bars.
    pub(super) fn count_range(&self, bars: Range<usize>) -> Range<usize> {
        self.first_counts[bars.start]..self.first_counts[bars.end]
    }

    /// The tempo at which a round of this rhythm at `tempo` begins, and its bars in the order they are played: the round whose first
    /// response asks for these of the sequence's counts, or that plays all of it where nothing is asked. `first` is the number of its
    /// first bar: of a pickup nobody may be asked.
    #[must_use]
    pub fn entry(&self, tempo: Tempo, asked: Option<&Range<usize>>, first: u32) -> (Tempo, Vec<RoundBar>) {
        let bars = asked.map_or_else(|| self.whole(), |asked| self.bars_of(asked, first));
        let map = self.rhythm.tempo_map(self.sequence.performance(), tempo);
        (map.tempo_at(bar_line(self, &bars)), self.played(&bars))
    }

    /// The bars to which these counts belong, and a pickup of this number before them.
    fn bars_of(&self, counts: &Range<usize>, first: u32) -> Range<usize> {
        let bar_of = |count: usize| self.first_counts.partition_point(|begins| *begins <= count).max(1) - 1;
        let last = self.bars().len() - 1;
        let start = bar_of(counts.start).min(last);
        let end = bar_of(counts.end.saturating_sub(1)).clamp(start, last) + 1;
        let before = start.checked_sub(1).filter(|before| self.bars()[*before].number == first);
        let is_led_into = self.bars()[start].number != first;
        before.filter(|_| is_led_into).unwrap_or(start)..end
    }

    /// These bars as a round plays them.
    pub(super) fn played(&self, bars: &Range<usize>) -> Vec<RoundBar> {
        let zero = bar_line(self, bars);
        let bar = |bar: &PerformedBar| RoundBar {
            at: Position::ZERO + (bar.start - zero),
            number: bar.number,
            pass: bar.pass,
        };
        self.bars()[bars.clone()].iter().map(bar).collect()
    }

    /// All of it.
    pub(super) fn whole(&self) -> Range<usize> {
        0..self.bars().len()
    }

    /// Phrases of so many bars; the last may be shorter. A pickup goes with the bar it leads into, the second half of a bar that
    /// was cut with its first half.
    pub(super) fn phrases(&self, bars: u32) -> Vec<Range<usize>> {
        let mut phrases: Vec<Range<usize>> = Vec::new();
        let mut full = 0;
        for (index, bar) in self.bars().iter().enumerate() {
            if let Some(phrase) = phrases.last_mut()
                && (self.is_second_half(index) || full < bars)
            {
                phrase.end = index + 1;
            } else {
                phrases.push(index..index + 1);
                full = 0;
            }
            full += u32::from(bar.start == bar.origin);
        }
        phrases
    }

    /// Whether a performed bar is the rest of the bar played before it. A pickup that is played again begins late too, but
    /// it has a number of its own.
    fn is_second_half(&self, bar: usize) -> bool {
        let bars = self.bars();
        let before = bar.checked_sub(1).map(|before| bars[before]);
        bars[bar].start > bars[bar].origin && before.is_some_and(|before| before.number == bars[bar].number)
    }

    /// Its bars, as a sentence has them: "the pickup (0) and bars 1 to 8".
    pub(super) fn bars_told(&self) -> String {
        let last = self.rhythm.bars().iter().map(Bar::number).max().unwrap_or(0);
        let bars = match last {
            1 => "bar 1".to_owned(),
            _ => format!("bars 1 to {last}"),
        };
        if self.rhythm.pickup().is_some() { format!("the pickup (0) and {bars}") } else { bars }
    }

    /// The written bar of this number, the first time it is played; `None` if there is none.
    pub(super) fn bar(&self, number: u32) -> Option<Range<usize>> {
        let first = self.bars().iter().position(|bar| bar.number == number)?;
        let halves = (first + 1..self.bars().len()).take_while(|bar| self.is_second_half(*bar)).count();
        Some(first..first + 1 + halves)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn material(text: &str) -> Material {
        let rhythm = rhythm::text::read(text).rhythm.unwrap_or_else(|| panic!("{text}"));
        let line = counting::count(&rhythm);
        Material::new(rhythm, &line)
    }

    #[test]
    fn phrases_keep_a_pickup_and_the_halves_of_a_bar() {
        let check = |text: &str, bars: u32, expected: &[Range<usize>]| {
            assert_eq!(material(text).phrases(bars), expected, "{text}");
        };
        check("| 1 | 1 | 1 | 1 | 1 |", 2, &[0..2, 2..4, 4..5]);
        check("4 | 1 | 1 | 1 2 3 |", 1, &[0..2, 2..3, 3..4]);
        check("|: 1 | [lasts 1/2] 1 :| [from 1/2] 3 4 | 1 |", 1, &[0..1, 1..2, 2..3, 3..5, 5..6]);
        // A pickup that is repeated leads into its bar each time, whether it fills up a cut bar or comes after a full one.
        let repeated = "|: 4 | 1 | [lasts 3/4] 1 2 3 :| 1 | 1 |";
        check(repeated, 1, &[0..2, 2..3, 3..5, 5..6, 6..7, 7..8]);
        check(repeated, 2, &[0..3, 3..6, 6..8]);
        check("4 | 1 | 1 [fine] | 1 [D.C. al fine] |", 1, &[0..2, 2..3, 3..4, 4..6, 6..7]);
        assert_eq!(material(repeated).bar(2), Some(2..3));
        assert_eq!(material("|: 1 | [lasts 1/2] 1 :| [from 1/2] 3 4 | 1 |").bar(2), Some(1..2));
        assert_eq!(material("| 1 | 1 |").bar(3), None);
    }

    #[test]
    fn every_count_is_of_one_bar() {
        let material = material("4 & |: 1 & 2 3 4 | [3/4] 1 _2 (3) :| 1 2 & 3 |");
        let counts: Vec<usize> = (0..material.bars().len()).map(|bar| material.counts(bar).len()).collect();
        assert_eq!(counts.iter().sum::<usize>(), material.sequence().counts().len());
        assert_eq!(counts, [2, 5, 3, 5, 3, 4]);
    }
}
