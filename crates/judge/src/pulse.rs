//! The counts of a player who keeps the pulse.

use std::borrow::Cow;

use counting::TimedCount;
use rhythm::{Deed, Marks};

use crate::Task;

impl Task {
    /// The counts that a player with this task is held against: all of the rhythm's, or every felt beat as an attack.
    pub(crate) fn counts(self, counts: &[TimedCount]) -> Cow<'_, [TimedCount]> {
        match self {
            Self::Rhythm => Cow::Borrowed(counts),
            Self::Pulse => {
                let beats = counts.iter().filter(|count| count.on_beat);
                let struck = |count: &TimedCount| TimedCount {
                    deed: Deed::Attack,
                    marks: Marks::NONE,
                    ..count.clone()
                };
                beats.map(struck).collect::<Vec<_>>().into()
            }
        }
    }
}
