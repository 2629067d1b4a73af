use rhythm::Bar;
use timebase::Span;

use crate::beats::Beat;

/// One movement of the foot that keeps the beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Step {
    /// When it is where it goes, from where the full bar begins.
    pub at: Span,
    /// Where it goes.
    pub foot: Foot,
}

/// Where the foot goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Foot {
    /// It strikes the floor, on the beat.
    Down,
    /// It is at the top of its way.
    Up,
}

/// The steps of a bar, as far as it reaches: down on every beat; up halfway through a beat that divides in two (common
/// practice, no source), and on the last third of one that divides in three, so that the foot comes up with `li` (a
/// band directors' article on tapping in compound meter, 2016, which has it pressed down on the second third).
pub(crate) fn steps(bar: &Bar, beats: &[Beat]) -> Vec<Step> {
    let (start, end) = (bar.start(), bar.end());
    let steps = beats.iter().flat_map(|beat| {
        let prime = beat.kind.prime();
        let up = beat.place(prime - 1, prime);
        [Step { at: beat.at, foot: Foot::Down }, Step { at: up, foot: Foot::Up }]
    });
    steps.filter(|step| start <= step.at && step.at < end).collect()
}
