//! What was done from some bar on, and a repeat that was played once too often.

use super::{Evidence, confidence, lengths};
use crate::altered::How;
use crate::moves::Move;
use crate::{Finding, FindingKind, wording};

/// It is taken only where it saves so many misses, so it is as sure as that at least.
const SAVES: f64 = 3.0;

impl Evidence<'_> {
    /// Another speed, or longer bars, from some bar on.
    pub(super) fn altered(&self) -> Option<Finding> {
        let altered = self.alignment.altered?;
        let id = self.written.counts[altered.from].id;
        let (kind, says) = match (altered.how, altered.until) {
            (How::HalfSpeed, Some(_)) => {
                let says = format!(
                    "{} took twice its time: every value twice as long as written; what follows came that much later",
                    wording::the_bar(id)
                );
                (FindingKind::HalfSpeed, says)
            }
            (how, until) => self.bar_by_bar(how, altered.from, until),
        };
        Some(Finding { confidence: confidence(SAVES), ..Finding::at(kind, id, says) })
    }

    /// What is said of every bar from a count on, or up to another.
    fn bar_by_bar(&self, how: How, from: usize, until: Option<usize>) -> (FindingKind, String) {
        let first = &self.written.counts[from];
        let bar = wording::the_bar(first.id);
        let stretch = match until.map(|until| self.written.counts[until - 1].id) {
            Some(last) => format!("from {bar} to {}", wording::the_bar(last)),
            None => format!("from {bar} on"),
        };
        let speed = |so: &str, long: &str| {
            format!("{stretch} all was played at {so} the speed: every value {long} as long as written")
        };
        let end = until.unwrap_or(self.written.counts.len());
        let counted = |by: fn(usize) -> usize| {
            let beats = self.beats_of_all_bars(from, end);
            beats.map_or_else(String::new, |beats| format!(": counted in {}, written is {beats}", by(beats)))
        };
        match how {
            How::HalfSpeed => (FindingKind::HalfSpeed, speed("half", "twice")),
            How::DoubleSpeed => (FindingKind::DoubleSpeed, speed("twice", "half")),
            How::LongerBars(length) => {
                let says = match lengths::notes(1, length).filter(|_| length != first.beat) {
                    Some(note) => format!("{stretch} {note} too much was put in every bar"),
                    None if length != first.beat => {
                        format!("{stretch} every bar was longer by a part of a beat")
                    }
                    None => {
                        format!(
                            "{stretch} a beat too many was put in every bar{}",
                            counted(|beats| beats + 1)
                        )
                    }
                };
                (FindingKind::BeatAdded, says)
            }
            How::ShorterBars => {
                let says = format!(
                    "{stretch} the last beat of every bar was left out{}",
                    counted(|beats| beats - 1)
                );
                (FindingKind::BeatDropped, says)
            }
        }
    }

    /// How many felt beats every bar between two counts has, if all have as many.
    fn beats_of_all_bars(&self, from: usize, until: usize) -> Option<usize> {
        let bars = self.written.bars.iter().filter(|bar| bar.start >= from && bar.end <= until);
        let mut beats =
            bars.map(|bar| self.written.counts[bar.clone()].iter().filter(|count| count.on_beat).count());
        let first = beats.next()?;
        beats.all(|beats| beats == first).then_some(first)
    }

    /// What was played again, where that is a repeated passage: from which count of its first time on, up to which bar, and how
    /// often it is written. Wherever within its times the player went back, he played the passage once more.
    pub(super) fn repeat_too_often(&self, made: &Move) -> Option<(usize, String)> {
        let counts = self.written.counts;
        let (from, to) = (made.to, made.from.min(counts.len()));
        let again = counts.get(from..to).filter(|again| !again.is_empty())?;
        let bars = || again.iter().map(|count| count.id.bar);
        let (first, last) = (bars().min()?, bars().max()?);
        // Every time through these bars is as long as what was played again, and there are at least two, one behind the other.
        let within = |count: &&counting::TimedCount| (first..=last).contains(&count.id.bar);
        let begins = counts.iter().position(|count| count.id.bar == first)?;
        let passage = counts[begins..].iter().take_while(within);
        let (mut times, mut length) = (0, 0);
        for count in passage {
            times = times.max(count.id.pass);
            length += 1;
        }
        let times_long = usize::try_from(times).ok()?;
        if times < 2 || again.len() * times_long != length {
            return None;
        }
        let (opens, closes) = (counts[begins].id, counts[begins + again.len() - 1].id);
        let bars = if opens.bar == closes.bar {
            wording::bar(opens)
        } else {
            format!("{} to {}", wording::bar(opens), wording::bar(closes))
        };
        let says =
            format!("{bars}: the repeat was played once too often, {} times instead of {times}", times + 1);
        Some((begins, says))
    }

    /// What is said of another time that was not played from a count on. Where all ends before the bar from which it went back, it
    /// is no repeat but a jump back.
    pub(super) fn not_taken(&self, from: usize) -> String {
        let counts = self.written.counts;
        let first = counts[from].id;
        let before = counts[..from].iter().rev().find(|count| count.id.pass != first.pass);
        let last = counts[counts.len() - 1].id;
        if last.pass != first.pass || before.is_none_or(|before| last.bar >= before.id.bar) {
            return format!("{}: the repeat was not taken", wording::bar(first));
        }
        let time = wording::time(first.pass);
        if first.bar == last.bar {
            format!("bar {} was not played the {time}", first.bar)
        } else {
            format!("bar {} to bar {} were not played the {time}", first.bar, last.bar)
        }
    }
}
