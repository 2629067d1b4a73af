use timebase::limits::Limit;

use crate::limits::{WRITTEN_BARS, WRITTEN_EVENTS};
use crate::{Bar, Error};

/// How much is written: in a rhythm, or in all parts of a piece together.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Size {
    bars: usize,
    events: usize,
}

impl Size {
    /// That of these bars.
    pub(crate) fn of(bars: &[Bar]) -> Self {
        let mut size = Self::default();
        for bar in bars {
            size.add(bar.events().len());
        }
        size
    }

    /// Adds a bar of so many notes and rests.
    pub(crate) fn add(&mut self, events: usize) {
        self.bars += 1;
        self.events += events;
    }

    /// Adds what is written elsewhere.
    pub(crate) fn join(&mut self, other: Self) {
        self.bars += other.bars;
        self.events += other.events;
    }

    /// The first limit that it goes over.
    pub(crate) fn over(self) -> Option<Limit> {
        [(self.bars, WRITTEN_BARS), (self.events, WRITTEN_EVENTS)]
            .into_iter()
            .find_map(|(many, limit)| (counted(many) > limit.most).then_some(limit))
    }

    /// Whether there is a bar, and neither too many bars nor too many notes and rests.
    pub(crate) fn check(self) -> Result<(), Error> {
        for (many, limit) in [(self.bars, WRITTEN_BARS), (self.events, WRITTEN_EVENTS)] {
            if !limit.holds(counted(many)) {
                return Err(Error::OutOfRange { given: counted(many), limit });
            }
        }
        Ok(())
    }
}

fn counted(many: usize) -> i64 {
    i64::try_from(many).unwrap_or(i64::MAX)
}
