//! Other bars played than are written there.

use super::{Evidence, confidence, of_places};
use crate::exchanged::{Exchanged, are_swapped, is_other_ending};
use crate::moves::{Move, MoveKind, NO_MOVE};
use crate::{Finding, FindingKind, wording};

impl Evidence<'_> {
    /// Each bar, or two that changed places, for which another was played.
    pub(super) fn exchanged(&self, found: &mut Vec<Finding>) {
        for same in self.alignment.exchanged.chunk_by(are_swapped) {
            let says = match same {
                [one, other] => {
                    let bars = |one: &Exchanged| self.bars(one.bars.start, one.bars.end);
                    format!("{} and {} changed places", bars(one), bars(other))
                }
                _ => self.played_for(&same[0]),
            };
            found.push(self.told(same, says));
        }
    }

    /// Two moves told together where they undo one another: a bar passed over beside one that was played twice is that bar in its place.
    pub(super) fn undone(&self, one: &Move, two: &Move) -> Option<Finding> {
        let bars = |from: usize, to: usize| {
            let whole = self.whole_bars(from, to);
            whole.then(|| self.written.bar_of(from)..self.written.bar_of(to - 1) + 1)
        };
        let (skip, again) = match (one.kind, two.kind) {
            (MoveKind::Skip, MoveKind::Again) => (one, two),
            (MoveKind::Again, MoveKind::Skip) => (two, one),
            _ => return None,
        };
        let (written, played) = (bars(skip.from, skip.to)?, bars(again.to, again.from)?);
        let beside = written.end == played.start || played.end == written.start;
        if !beside || written.len() != played.len() || (one.beats + two.beats).abs() > NO_MOVE {
            return None;
        }
        let exchanged = Exchanged { bars: written, played: played.start, strokes: 0..0, gain: skip.gain };
        Some(self.told(std::slice::from_ref(&exchanged), self.played_for(&exchanged)))
    }

    /// What is told of bars that were exchanged.
    fn told(&self, same: &[Exchanged], says: String) -> Finding {
        let counts =
            same.iter().flat_map(|one| self.written.bars[one.bars.clone()].iter().cloned().flatten());
        let ids = counts.map(|count| self.written.counts[count].id).collect();
        let strokes = same.iter().flat_map(|one| one.strokes.clone()).collect();
        let gain: f64 = same.iter().map(|one| one.gain).sum();
        of_places(FindingKind::BarExchanged, ids, strokes, confidence(gain), says)
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
