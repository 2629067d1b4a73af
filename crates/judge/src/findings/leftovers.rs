//! What is left over beside a larger mistake and belongs to it.

use std::collections::HashMap;
use std::ops::RangeInclusive;

use rhythm::AttackId;

use super::Evidence;
use crate::moves::MoveKind;
use crate::readings::Reading;
use crate::{Finding, FindingKind};

/// A stretch of a take, in nanoseconds of its time.
type Stretch = RangeInclusive<i64>;

impl Evidence<'_> {
    /// Takes out single slips where the player left the written course or misread a figure. Whoever comes back in after a
    /// beat too many seldom does so cleanly, and what the one mistake leaves over is not a second one.
    pub(super) fn leave_out_leftovers(&self, found: &mut Vec<Finding>) {
        let seams: Vec<Stretch> = self.seams().collect();
        let figures: Vec<Stretch> = self.alignment.readings.iter().map(|read| self.around(read)).collect();
        if seams.is_empty() && figures.is_empty() {
            return;
        }
        let counts = self.written.counts.iter().enumerate();
        let places: HashMap<AttackId, usize> = counts.map(|(count, written)| (written.id, count)).collect();
        found.retain(|finding| {
            let within = |stretches: &[Stretch]| {
                let mut times = self.times(finding, &places).peekable();
                times.peek().is_some()
                    && times.all(|at| stretches.iter().any(|stretch| stretch.contains(&at)))
            };
            !(is_slip(finding.kind) && within(&figures)
                || (is_slip(finding.kind) || is_single(finding.kind)) && within(&seams))
        });
    }

    /// Where the player went from one place in the music to another, a beat to either side.
    fn seams(&self) -> impl Iterator<Item = Stretch> {
        let moves = self.alignment.moves.iter().filter(|made| made.kind != MoveKind::Start);
        moves.map(|made| {
            let last = self.written.counts.len().saturating_sub(1);
            let to = made.to.min(last);
            let beat = self.written.beat_nanos(to);
            // What was played again began where the first time ended, before what follows it.
            let at = match made.kind {
                MoveKind::Again => {
                    self.expected(made.from.min(last))
                        - crate::written::rounded(made.beats.abs() * beat as f64)
                }
                _ => self.expected(to),
            };
            let before = match made.kind {
                MoveKind::Pause => beat + crate::written::rounded(made.beats.abs() * beat as f64),
                MoveKind::Start | MoveKind::Skip | MoveKind::Again => beat,
            };
            at - before - beat / 2..=at + beat + beat / 2
        })
    }

    /// The time of a figure, half a beat to either side.
    fn around(&self, reading: &Reading) -> Stretch {
        let (first, last) = (reading.notes[0], reading.notes[reading.notes.len() - 1]);
        let half = self.written.beat_nanos(first) / 2;
        self.expected(first) - half..=self.expected(last) + half
    }

    /// When what a finding is about happened: its strokes, or where its notes lay for the player.
    pub(super) fn times(
        &self,
        finding: &Finding,
        places: &HashMap<AttackId, usize>,
    ) -> impl Iterator<Item = i64> {
        let strokes = finding.strokes.iter().map(|&stroke| self.strokes[stroke]);
        let ids = if finding.strokes.is_empty() { &finding.notes[..] } else { &[] };
        let alone = finding.place.filter(|_| finding.strokes.is_empty() && finding.notes.is_empty());
        let counts: Vec<usize> = ids.iter().chain(&alone).filter_map(|id| places.get(id).copied()).collect();
        strokes.chain(counts.into_iter().map(|count| self.expected(count)))
    }
}

/// What one stroke does or leaves undone.
pub(super) fn is_slip(kind: FindingKind) -> bool {
    use FindingKind as K;
    matches!(
        kind,
        K::HoldStruck
            | K::RestStruck
            | K::AttackMissed
            | K::ExtraAttack
            | K::EarlyAttack
            | K::LateAttack
            | K::WrongHand
            | K::AccentMissed
            | K::AccentAdded
    )
}

/// What is misread in one place.
pub(super) fn is_single(kind: FindingKind) -> bool {
    use FindingKind as K;
    matches!(
        kind,
        K::EarlyEntry
            | K::CutShort
            | K::DottedEven
            | K::DottedAsTriplet
            | K::TripletAsSixteenths
            | K::SixteenthsAsTriplet
            | K::EAndForAndA
            | K::AndAForEAnd
            | K::SyncopationEvened
            | K::SyncopationOnBeat
            | K::LongShortEvened
            | K::ValuesConfused
    )
}
