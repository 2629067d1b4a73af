//! Other bars played than are written there.

use super::{Evidence, confidence, of_places};
use crate::exchanged::{Exchanged, are_swapped, is_other_ending};
use crate::moves::{Move, MoveKind};
use crate::{Finding, FindingKind, wording};

/// So many beats two moves may be apart that undo one another.
const APART: f64 = 0.3;

impl Evidence<'_> {
    /// Each bar, or two that changed places, for which another was played.
    pub(super) fn exchanged(&self, found: &mut Vec<Finding>) {
        for same in self.alignment.exchanged.chunk_by(are_swapped) {
            let counts =
                same.iter().flat_map(|one| self.written.bars[one.bars.clone()].iter().cloned().flatten());
            let ids = counts.map(|count| self.written.counts[count].id).collect();
            let strokes = same.iter().flat_map(|one| one.strokes.clone()).collect();
            let says = match same {
                [one] => self.played_for(one),
                _ => {
                    format!("{} changed places", self.bars(same[0].bars.start, same[same.len() - 1].bars.end))
                }
            };
            let gain: f64 = same.iter().map(|one| one.gain).sum();
            found.push(of_places(FindingKind::BarExchanged, ids, strokes, confidence(gain), says));
        }
    }

    /// The first of these moves told together, and how many they are, where they undo one another: a bar passed over beside one that was
    /// played twice is that bar in its place.
    pub(super) fn undone(&self, moves: &[Move]) -> Option<(Finding, usize)> {
        let bars = |from: usize, to: usize| {
            let bars = &self.written.bars;
            let index = |count: usize| {
                if count == self.written.counts.len() {
                    Some(bars.len())
                } else {
                    bars.binary_search_by_key(&count, |bar| bar.start).ok()
                }
            };
            Some(index(from)?..index(to)?).filter(|bars| !bars.is_empty())
        };
        let [one, two, ..] = moves else { return None };
        let ((written, played), gain) = match (one.kind, two.kind) {
            (MoveKind::Skip, MoveKind::Again) => {
                ((bars(one.from, one.to)?, bars(two.to, two.from)?), one.gain)
            }
            (MoveKind::Again, MoveKind::Skip) => {
                ((bars(two.from, two.to)?, bars(one.to, one.from)?), two.gain)
            }
            _ => return None,
        };
        let beside = written.end == played.start || played.end == written.start;
        if !beside || written.len() != played.len() || (one.beats + two.beats).abs() > APART {
            return None;
        }
        let strokes = 0..0;
        let exchanged = Exchanged { bars: written, played: played.start, strokes, gain };
        let counts = self.written.bars[exchanged.bars.clone()].iter().cloned().flatten();
        let ids = counts.map(|count| self.written.counts[count].id).collect();
        let says = self.played_for(&exchanged);
        Some((of_places(FindingKind::BarExchanged, ids, Vec::new(), confidence(gain), says), 2))
    }

    fn played_for(&self, one: &Exchanged) -> String {
        let long = one.bars.len();
        let (is, was) = if long == 1 { ("is", "was") } else { ("are", "were") };
        let played = self.bars(one.played, one.played + long);
        let written = self.bars(one.bars.start, one.bars.end);
        let ending = if is_other_ending(self.written, one.bars.start, one.played) {
            "the wrong ending was taken: "
        } else {
            ""
        };
        format!("{ending}{played} {was} played where {written} {is} written")
    }

    /// Bars from one to before another, in words: `bar 2`, `bars 2 and 3`, `bars 2 to 4`.
    fn bars(&self, from: usize, to: usize) -> String {
        let id = |bar: usize| self.written.counts[self.written.bars[bar].start].id;
        match to - from {
            1 => wording::the_bar(id(from)),
            2 => format!("{} and {}", wording::the_bar(id(from)), wording::the_bar(id(to - 1))),
            _ => format!("{} to {}", wording::the_bar(id(from)), wording::the_bar(id(to - 1))),
        }
    }
}
