use std::collections::HashMap;

use timebase::{HostTime, Seconds};

/// Finds the strokes that are a pad's own bouncing: the same pad, too soon after a stroke that counted.
///
/// The time runs from the last stroke that counted, so a pad that bounces on and on is let through once
/// in every span rather than held silent for ever.
#[derive(Clone, Debug)]
pub struct RetriggerMask {
    span: Seconds,
    last: HashMap<Pad, HostTime>,
}

/// One pad of one device.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Pad {
    /// Which device, in the order in which they were entered.
    pub source: u16,
    /// MIDI channel, 0 to 15.
    pub channel: u8,
    /// MIDI key number, 0 to 127.
    pub note: u8,
}

impl RetriggerMask {
    /// 25 ms: below the 40 to 50 ms between the strokes of a flam, above the bouncing of a pad. Pad modules offer 0 to
    /// 64 ms (one manual); where in between is common practice, no source.
    pub const USUAL: Seconds = Seconds::from_millis(25);

    /// A mask of this span. A span of zero marks nothing.
    #[must_use]
    pub fn new(span: Seconds) -> Self {
        Self { span, last: HashMap::new() }
    }

    /// Whether a stroke on `pad` at `stamp` is bouncing.
    pub fn marks(&mut self, pad: Pad, stamp: HostTime) -> bool {
        self.marks_within(self.span, pad, stamp)
    }

    /// The same with a span of this player's own.
    pub fn marks_within(&mut self, span: Seconds, pad: Pad, stamp: HostTime) -> bool {
        let bounces = self.is_within(span, pad, stamp);
        if !bounces {
            self.count(pad, stamp);
        }
        bounces
    }

    /// Whether a stroke on `pad` at `stamp` comes within `span` of one that counted.
    pub(crate) fn is_within(&self, span: Seconds, pad: Pad, stamp: HostTime) -> bool {
        self.last.get(&pad).is_some_and(|&last| (stamp - last).abs() < span)
    }

    /// A stroke counts.
    pub(crate) fn count(&mut self, pad: Pad, stamp: HostTime) {
        self.last.insert(pad, stamp);
    }

    /// The stroke that counted last turned out to be none, if it is this one.
    pub(crate) fn forget(&mut self, pad: Pad, stamp: HostTime) {
        if self.last.get(&pad) == Some(&stamp) {
            self.last.remove(&pad);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const PAD: Pad = Pad { source: 0, channel: 9, note: 38 };

    fn check(span_ms: i64, strokes_ms: &[i64], expected: &[bool]) {
        let mut mask = RetriggerMask::new(Seconds::from_millis(span_ms));
        let found: Vec<_> =
            strokes_ms.iter().map(|&ms| mask.marks(PAD, HostTime::from_nanos(ms * 1_000_000))).collect();
        assert_eq!(found, expected, "{strokes_ms:?}");
    }

    #[test]
    fn strokes_within_the_span_are_marked() {
        check(25, &[0, 24, 25], &[false, true, false]);
        check(25, &[0, 15, 30, 45, 60], &[false, true, false, true, false]);
        check(0, &[0, 0, 1], &[false, false, false]);
    }

    /// Flams are 40 to 50 ms apart (second-hand, from studies of drummers): both strokes count.
    #[test]
    fn a_flam_is_two_strokes() {
        check(25, &[0, 40], &[false, false]);
    }

    #[test]
    fn a_player_may_have_a_span_of_their_own() {
        let mut mask = RetriggerMask::new(RetriggerMask::USUAL);
        let at = |ms: i64| HostTime::from_nanos(ms * 1_000_000);
        assert!(!mask.marks(PAD, at(0)));
        assert!(mask.marks_within(Seconds::from_millis(40), PAD, at(30)));
        assert!(!mask.marks_within(Seconds::ZERO, PAD, at(31)));
    }

    #[test]
    fn pads_do_not_mask_each_other() {
        let mut mask = RetriggerMask::new(RetriggerMask::USUAL);
        let at = HostTime::from_nanos(0);
        for pad in [PAD, Pad { note: 40, ..PAD }, Pad { channel: 0, ..PAD }, Pad { source: 1, ..PAD }] {
            assert!(!mask.marks(pad, at));
            assert!(mask.marks(pad, at));
        }
    }

    proptest! {
        /// Of the strokes that count, no two stand closer than the span.
        #[test]
        fn what_counts_stands_apart(mut stamps in prop::collection::vec(0i64..1_000_000_000, 1..100)) {
            stamps.sort_unstable();
            let mut mask = RetriggerMask::new(RetriggerMask::USUAL);
            let counted: Vec<_> =
                stamps.into_iter().filter(|&stamp| !mask.marks(PAD, HostTime::from_nanos(stamp))).collect();
            prop_assert!(counted.windows(2).all(|pair| pair[1] - pair[0] >= 25_000_000));
        }
    }
}
