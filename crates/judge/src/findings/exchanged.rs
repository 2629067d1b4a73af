//! Other bars played than are written there.

use super::{Evidence, confidence, of_places};
use crate::exchanged::{Exchanged, are_swapped, is_other_ending};
use crate::{Finding, FindingKind, wording};

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
