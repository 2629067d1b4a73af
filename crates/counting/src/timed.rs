use rhythm::{AttackId, Deed, Performance};
use timebase::{Moment, TempoMap};

use crate::{CountLine, Word};

/// One count of a performed rhythm and when it falls.
///
/// Every attack is a count, and so is every felt beat inside a hold or a rest: whoever hears a stroke
/// that answers no written attack can tell from these what is written where it fell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TimedCount {
    /// Which place of the performed rhythm it is.
    pub id: AttackId,
    /// When it falls, from count 1 of bar 1.
    pub at: Moment,
    /// What is said there, if there is a word for it.
    pub say: Option<Word>,
    /// What is done there.
    pub deed: Deed,
    /// Whether it is a felt beat.
    pub on_beat: bool,
}

impl CountLine {
    /// The counts of `performance` along `tempo`, in order of time.
    ///
    /// `performance` must be of the rhythm that was counted; bars it does not know are left out.
    #[must_use]
    pub fn timed(&self, performance: &Performance, tempo: &TempoMap) -> Vec<TimedCount> {
        let bars = performance.bars().iter().filter_map(|bar| Some((bar, self.bars().get(bar.index)?)));
        bars.flat_map(|(bar, counted)| {
            counted.counts().iter().map(move |count| TimedCount {
                id: bar.attack_id(count.at),
                at: tempo.moment_at(bar.position(count.at)),
                say: count.say.clone(),
                deed: count.deed,
                on_beat: count.on_beat,
            })
        })
        .collect()
    }
}
