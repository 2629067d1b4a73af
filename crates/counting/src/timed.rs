use rhythm::{AttackId, Deed, Marks, Performance, Rhythm};
use timebase::{Moment, Span, TempoMap};

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
    /// How long a felt beat of its bar is, as a part of a whole note; positive.
    pub beat: Span,
    /// What stands on the note that begins there; none where no note begins.
    pub marks: Marks,
}

impl CountLine {
    /// The counts of `performance` along `tempo`, in order of time.
    ///
    /// `rhythm` must be the one that was counted and `performance` one of it; bars that are not known are left out.
    #[must_use]
    pub fn timed(&self, rhythm: &Rhythm, performance: &Performance, tempo: &TempoMap) -> Vec<TimedCount> {
        let bars = performance
            .bars()
            .iter()
            .filter_map(|bar| Some((bar, self.bars().get(bar.index)?, rhythm.bars().get(bar.index)?)));
        bars.flat_map(|(bar, counted, written)| {
            let mut events = written.events().iter().peekable();
            counted.counts().iter().map(move |count| {
                while events.next_if(|event| event.at < count.at).is_some() {}
                let struck = events.peek().filter(|event| event.at == count.at && event.deed == Deed::Attack);
                TimedCount {
                    id: bar.attack_id(count.at),
                    at: tempo.moment_at(bar.position(count.at)),
                    say: count.say.clone(),
                    deed: count.deed,
                    on_beat: count.on_beat,
                    beat: written.meter().felt_beat(),
                    marks: struck.map_or(Marks::NONE, |event| event.marks),
                }
            })
        })
        .collect()
    }
}
