use std::collections::{HashMap, VecDeque};

use timebase::{HostTime, Seconds};

use crate::limits::{ORDER_CALM, ORDER_SPAN, ORDERS_A_SECOND};
use crate::{Pad, RetriggerMask};

const SECOND: Seconds = Seconds::from_millis(1_000);

/// Which blows on the pads of orders follow one another faster than a person gives orders: of those that come within [`ORDER_SPAN`] of the
/// one before, the first counts. A pad that was struck more than [`ORDERS_A_SECOND`] times within a second, its bouncing left out, gives
/// none until it was quiet for [`ORDER_CALM`].
#[derive(Clone, Debug, Default)]
pub(crate) struct Insistence {
    pads: HashMap<Pad, Struck>,
}

#[derive(Clone, Debug, Default)]
struct Struck {
    last: Option<HostTime>,
    /// The last but that one.
    before: Option<HostTime>,
    /// The last that were no bouncing.
    counted: VecDeque<HostTime>,
    is_wild: bool,
}

impl Insistence {
    /// The pad was struck. Whether nobody means another order by it.
    pub(crate) fn follows(&mut self, pad: Pad, stamp: HostTime) -> bool {
        self.pads.entry(pad).or_default().follows(stamp)
    }

    /// The last blow turned out to be another pad's, if it is this one.
    pub(crate) fn forget(&mut self, pad: Pad, stamp: HostTime) {
        let Some(struck) = self.pads.get_mut(&pad).filter(|struck| struck.last == Some(stamp)) else {
            return;
        };
        struck.last = struck.before;
        struck.counted.pop_back_if(|last| *last == stamp);
    }
}

impl Struck {
    fn follows(&mut self, stamp: HostTime) -> bool {
        let within = |last: Option<HostTime>, span| last.is_some_and(|last| (stamp - last).abs() < span);
        if !within(self.last, ORDER_CALM) {
            *self = Self::default();
        }
        if !within(self.counted.back().copied(), RetriggerMask::USUAL) {
            self.counted.push_back(stamp);
        }
        if self.counted.len() > ORDERS_A_SECOND {
            let oldest = self.counted.pop_front();
            self.is_wild |= within(oldest, SECOND);
        }
        (self.before, self.last) = (self.last, Some(stamp));
        self.is_wild || within(self.before, ORDER_SPAN)
    }
}
