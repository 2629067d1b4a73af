use timebase::{Position, Span};

use crate::Rhythm;

/// The name of a place in the performed rhythm, and so of the attack that is written there.
///
/// The order is that of the written bars, not of time; [`Performance`] is in the order of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct AttackId {
    /// The written bar's number: full bars from 1, a pickup is 0.
    pub bar: u32,
    /// The how-manieth time through that bar, from 1.
    pub pass: u32,
    /// Where in the bar, from where the full bar begins.
    pub at: Span,
}

/// One bar as it is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PerformedBar {
    /// Which written bar, as an index into [`Rhythm::bars`].
    pub index: usize,
    /// The written bar's number.
    pub number: u32,
    /// The how-manieth time through it, from 1.
    pub pass: u32,
    /// Where the full bar begins; for a pickup that is before its first note.
    pub origin: Position,
    /// Where its first event begins: [`PerformedBar::origin`] but for a pickup.
    pub start: Position,
    /// Where it ends.
    pub end: Position,
}

impl PerformedBar {
    /// The position of the place `at` (from where the full bar begins).
    #[must_use]
    pub fn position(&self, at: Span) -> Position {
        self.origin + at
    }

    /// The name of the place `at` in this pass.
    #[must_use]
    pub fn attack_id(&self, at: Span) -> AttackId {
        AttackId { bar: self.number, pass: self.pass, at }
    }
}

/// The bars of a rhythm in the order they are played.
///
/// Count 1 of the first full bar stands at [`Position::ZERO`]; a pickup stands before it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Performance {
    bars: Vec<PerformedBar>,
}

impl Performance {
    pub(crate) fn of(rhythm: &Rhythm) -> Self {
        let mut start = Position::ZERO - rhythm.pickup_length();
        let mut passes = vec![0_u32; rhythm.bars().len()];
        let bars = rhythm.order().into_iter().map(|index| {
            let bar = &rhythm.bars()[index];
            passes[index] += 1;
            let origin = start - bar.start();
            let end = start + bar.length();
            let performed =
                PerformedBar { index, number: bar.number(), pass: passes[index], origin, start, end };
            start = end;
            performed
        });
        Self { bars: bars.collect() }
    }

    /// Every bar as it is played; never empty.
    #[must_use]
    pub fn bars(&self) -> &[PerformedBar] {
        &self.bars
    }

    /// Where the first event begins: zero, or before it by the length of the pickup.
    #[must_use]
    pub fn start(&self) -> Position {
        self.bars[0].start
    }

    /// Where the last bar ends.
    #[must_use]
    pub fn end(&self) -> Position {
        self.bars[self.bars.len() - 1].end
    }
}
