use std::collections::{HashMap, VecDeque};

use timebase::HostTime;

use crate::Pad;
use crate::limits::{CROSSTALK_SHARE, CROSSTALK_SPAN};

/// Strokes of one module kept for comparison; nobody strikes more pads within some milliseconds.
const KEPT: usize = 8;

/// Finds the strokes that are another pad's blow, felt through the rack or the table that both stand on: on another pad of
/// the same module, within [`CROSSTALK_SPAN`] after a stroke at least [`CROSSTALK_SHARE`] times as hard.
///
/// A blow whose weak echo is sent *before* it is not found here: to tell, a soft stroke has to wait, which [`Echoes`](crate::Echoes) makes
/// it do, and an order waits for [`View::settle_orders`](crate::View::settle_orders).
#[derive(Clone, Debug, Default)]
pub struct Crosstalk {
    /// The last strokes of each module.
    last: HashMap<u16, VecDeque<Blow>>,
}

/// A stroke as far as it may shake another pad, or be another pad's.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Blow {
    pub(crate) pad: Pad,
    pub(crate) stamp: HostTime,
    /// 1 to 127.
    pub(crate) velocity: u8,
}

impl Blow {
    /// The hardest that a note can be.
    const HARDEST: u8 = 127;

    /// Whether this one, so soft, may be that one felt on another pad of its module.
    pub(crate) fn is_echo_of(&self, hard: &Self) -> bool {
        self.pad.source == hard.pad.source
            && self.pad != hard.pad
            && (self.stamp - hard.stamp).abs() <= CROSSTALK_SPAN
            && is_echo(self.velocity, hard.velocity)
    }

    /// Whether there can be one so hard that this is its echo.
    pub(crate) fn may_be_echo(&self) -> bool {
        is_echo(self.velocity, Self::HARDEST)
    }
}

impl Crosstalk {
    /// Nothing struck yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Whether a stroke so hard on `pad` at `stamp` is another pad's blow. Only strokes that count are to be told.
    pub fn marks(&mut self, pad: Pad, stamp: HostTime, velocity: u8) -> bool {
        self.feels(Blow { pad, stamp, velocity })
    }

    /// The same.
    pub(crate) fn feels(&mut self, blow: Blow) -> bool {
        if self.is_felt(&blow) {
            return true;
        }
        let last = self.last.entry(blow.pad.source).or_default();
        last.push_back(blow);
        if last.len() > KEPT {
            last.pop_front();
        }
        false
    }
}

impl Crosstalk {
    /// Whether a stroke is another pad's blow; nothing is kept of it.
    pub(crate) fn is_felt(&self, blow: &Blow) -> bool {
        self.last.get(&blow.pad.source).is_some_and(|last| last.iter().any(|hard| blow.is_echo_of(hard)))
    }

    /// Forgets the strokes before this one that it shows to have been its echo, and gives them back.
    pub(crate) fn show(&mut self, hard: &Blow) -> Vec<Blow> {
        let Some(last) = self.last.get_mut(&hard.pad.source) else { return Vec::new() };
        let echoes = last.iter().copied().filter(|blow| blow.is_echo_of(hard)).collect();
        last.retain(|blow| !blow.is_echo_of(hard));
        echoes
    }
}

/// Whether a stroke so soft may be the echo of one so hard.
fn is_echo(soft: u8, hard: u8) -> bool {
    u16::from(soft) * u16::from(CROSSTALK_SHARE) <= u16::from(hard)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn pad(note: u8) -> Pad {
        Pad { source: 0, channel: 9, note }
    }

    fn check(strokes: &[(u8, i64, u8)], expected: &[bool]) {
        let mut crosstalk = Crosstalk::new();
        let found: Vec<_> = strokes
            .iter()
            .map(|&(note, ms, velocity)| {
                crosstalk.marks(pad(note), HostTime::from_nanos(ms * 1_000_000), velocity)
            })
            .collect();
        assert_eq!(found, expected, "{strokes:?}");
    }

    #[test]
    fn a_weak_stroke_with_a_hard_one_is_marked() {
        check(&[(38, 0, 120), (40, 3, 30)], &[false, true]);
        check(&[(38, 0, 120), (40, 3, 31)], &[false, false]);
        check(&[(38, 0, 120), (40, 9, 20)], &[false, false]);
        // The same pad is the retrigger mask's.
        check(&[(38, 0, 120), (38, 3, 20)], &[false, false]);
        // One blow on three pads' rack.
        check(&[(38, 0, 120), (40, 2, 20), (41, 4, 25)], &[false, true, true]);
    }

    #[test]
    fn modules_do_not_shake_each_other() {
        let mut crosstalk = Crosstalk::new();
        let at = HostTime::from_nanos(0);
        assert!(!crosstalk.marks(pad(38), at, 127));
        assert!(!crosstalk.marks(Pad { source: 1, ..pad(40) }, at, 10));
        assert!(crosstalk.marks(pad(40), at, 10));
    }

    proptest! {
        /// What both hands strike together is kept, however many pads there are.
        #[test]
        fn strokes_of_like_strength_are_never_marked(
            strokes in prop::collection::vec((36u8..52, 0i64..1_000_000_000, 40u8..=127), 1..60),
        ) {
            let mut crosstalk = Crosstalk::new();
            for (note, at, velocity) in strokes {
                prop_assert!(!crosstalk.marks(pad(note), HostTime::from_nanos(at), velocity));
            }
        }
    }
}
