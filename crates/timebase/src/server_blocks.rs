use std::collections::VecDeque;

use crate::{Frame, Frames, Moment, SampleRate, Seconds};

/// Blocks kept for looking back: 11 s of blocks of 256 frames at 48 kHz.
const HISTORY: usize = 2048;
/// How many blocks may be missing between the last one known and one that is asked for.
const AHEAD: i64 = 16;

/// What a sound driver says of one block, in nanoseconds of its own clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DriverStamps {
    /// When it called.
    pub called_ns: i64,
    /// When the block's first frame is at the loudspeaker, or was at the microphone.
    pub sounds_ns: i64,
}

/// A place in the blocks of a sound server through which MIDI goes too: so many frames after the beginning of a block.
///
/// Sound and MIDI of such a server are counted in the same blocks, so that it tells to the frame what sounded when a pad was
/// struck, however late the server was woken for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BlockPlace {
    /// When the block begins on the server's clock, in nanoseconds: the same number for all who are called for it.
    pub begins_ns: i64,
    /// Frames from there; negative for what was before.
    pub into: Frames,
}

/// The blocks of a sound device on a sound server, and which of its frames a [`BlockPlace`] falls together with.
///
/// The server calls everybody within the block, but when the block begins a sound driver does not say, only when its first frame
/// sounds. How long that is, the *lead*, is found where a place's beginning is known and the block's call, which is the first
/// after it; it stays until the device is wired otherwise.
#[derive(Clone, Debug)]
pub(crate) struct ServerBlocks {
    rate: SampleRate,
    known: VecDeque<Block>,
    /// From the beginning of a block to the sound of its first frame, in nanoseconds, as last found.
    lead_ns: Option<i64>,
    /// When a block begins that was asked for before it was known: MIDI may be told of it sooner than sound.
    awaited_ns: Option<i64>,
}

#[derive(Clone, Copy, Debug)]
struct Block {
    first: Frame,
    stamps: DriverStamps,
}

impl ServerBlocks {
    pub(crate) const fn new(rate: SampleRate) -> Self {
        Self { rate, known: VecDeque::new(), lead_ns: None, awaited_ns: None }
    }

    pub(crate) fn add(&mut self, first: Frame, stamps: DriverStamps) {
        let is_anew = |last: &Block| first <= last.first || stamps.called_ns <= last.stamps.called_ns;
        if self.known.back().is_some_and(is_anew) {
            // The device was opened again, or the server started again.
            *self = Self::new(self.rate);
        }
        if self.known.len() == HISTORY {
            self.known.pop_front();
        }
        self.known.push_back(Block { first, stamps });
        if let Some(begins_ns) = self.awaited_ns.take() {
            self.lead_ns =
                self.block_of(begins_ns).map(|block| block.stamps.sounds_ns - begins_ns).or(self.lead_ns);
        }
    }

    /// What the device played (recorded) at `place`; `None` where the block is not known, nor the lead by which it could be
    /// counted on from the last one.
    pub(crate) fn moment_at(&mut self, place: BlockPlace) -> Option<Moment> {
        let BlockPlace { begins_ns, into } = place;
        let (first, lead_ns) = match self.block_of(begins_ns) {
            Some(block) => {
                let lead_ns = block.stamps.sounds_ns - begins_ns;
                self.lead_ns = Some(lead_ns);
                (block.first, lead_ns)
            }
            None => {
                self.awaited_ns = Some(begins_ns);
                (self.first_after_the_last(begins_ns)?, self.lead_ns?)
            }
        };
        Some((first + into).moment(self.rate) - Seconds::from_nanos(lead_ns))
    }

    /// The block that begins then: it was the first to be called for after that, and within its own time.
    fn block_of(&self, begins_ns: i64) -> Option<Block> {
        let after = self.known.partition_point(|block| block.stamps.called_ns < begins_ns);
        let block = *self.known.get(after).filter(|_| after > 0)?;
        let length = block.first - self.known[after - 1].first;
        (block.stamps.called_ns - begins_ns < length.seconds(self.rate).as_nanos()).then_some(block)
    }

    /// The first frame of a block that is not known yet.
    fn first_after_the_last(&self, begins_ns: i64) -> Option<Frame> {
        let mut backwards = self.known.iter().rev();
        let (last, before) = (backwards.next()?, backwards.next()?);
        let length = last.first - before.first;
        let length_ns = length.seconds(self.rate).as_nanos();
        let since_ns = begins_ns - (last.stamps.sounds_ns - self.lead_ns?);
        let blocks = (since_ns + length_ns / 2).div_euclid(length_ns);
        (1..=AHEAD).contains(&blocks).then(|| last.first + Frames::new(length.count() * blocks))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const RATE: SampleRate = SampleRate::HZ_48000;
    const BLOCK: i64 = 256;
    /// To the loudspeaker: one block and three frames.
    const LEAD_NS: i64 = (BLOCK + 3) * 1_000_000 / 48;

    /// When the server says that its blocks begin: filtered, and wandering after it was woken late.
    fn begins_ns(block: i64, wander_ns: &[i64]) -> i64 {
        let wander = usize::try_from(block).ok().and_then(|index| wander_ns.get(index)).copied().unwrap_or(0);
        7_000_000_000 + block * BLOCK * 1_000_000 / 48 + wander
    }

    fn told(blocks: i64, wander_ns: &[i64], late_ns: &[i64]) -> ServerBlocks {
        let mut server = ServerBlocks::new(RATE);
        for (block, late) in (0..blocks).zip(late_ns.iter().cycle()) {
            let begins = begins_ns(block, wander_ns);
            let stamps = DriverStamps { called_ns: begins + late, sounds_ns: begins + LEAD_NS };
            server.add(Frame::new(block * BLOCK), stamps);
        }
        server
    }

    /// What sounds three frames and a block after the beginning is the block's first frame.
    fn expected(block: i64, into: i64) -> Moment {
        Frame::new(block * BLOCK + into).moment(RATE) - Seconds::from_nanos(LEAD_NS)
    }

    proptest! {
        /// However late the server is woken and however its clock wanders, a place is found to the frame.
        #[test]
        fn a_place_is_found_to_the_frame(
            wander_ns in prop::collection::vec(-1_500_000i64..1_500_000, 60),
            late_ns in prop::collection::vec(0i64..2_000_000, 60),
            into in -3 * BLOCK..BLOCK,
        ) {
            let mut server = told(60, &wander_ns, &late_ns);
            for block in 1..60 {
                let place = BlockPlace { begins_ns: begins_ns(block, &wander_ns), into: Frames::new(into) };
                prop_assert_eq!(server.moment_at(place), Some(expected(block, into)));
            }
            // Strokes of blocks whose sound is told a little later.
            for block in 60..64 {
                let place = BlockPlace { begins_ns: begins_ns(block, &wander_ns), into: Frames::new(into) };
                prop_assert_eq!(server.moment_at(place), Some(expected(block, into)));
            }
        }
    }

    /// MIDI is told of each block before the sound is: the first place is not known then, the next ones are.
    #[test]
    fn places_that_come_before_their_blocks_teach_the_lead() {
        let mut server = told(30, &[], &[80_000]);
        let ask = |server: &mut ServerBlocks, block| {
            let place = BlockPlace { begins_ns: begins_ns(block, &[]), into: Frames::new(9) };
            let found = server.moment_at(place);
            let begins = begins_ns(block, &[]);
            let stamps = DriverStamps { called_ns: begins + 80_000, sounds_ns: begins + LEAD_NS };
            server.add(Frame::new(block * BLOCK), stamps);
            found
        };
        assert_eq!(ask(&mut server, 30), None);
        assert_eq!(ask(&mut server, 31), Some(expected(31, 9)));
        assert_eq!(ask(&mut server, 32), Some(expected(32, 9)));
    }

    /// Two blocks were left out by the server: their time is gone, and the frames go on.
    #[test]
    fn after_a_dropout_places_are_exact_again() {
        let mut server = told(10, &[], &[50_000]);
        for block in 12..20 {
            let begins = begins_ns(block, &[]);
            let stamps = DriverStamps { called_ns: begins + 90_000, sounds_ns: begins + LEAD_NS };
            server.add(Frame::new((block - 2) * BLOCK), stamps);
        }
        for (block, played) in [(9, 9), (12, 10), (19, 17)] {
            let place = BlockPlace { begins_ns: begins_ns(block, &[]), into: Frames::new(100) };
            assert_eq!(server.moment_at(place), Some(expected(played, 100)));
        }
        let lost = BlockPlace { begins_ns: begins_ns(10, &[]), into: Frames::new(100) };
        assert_eq!(server.moment_at(lost), None);
    }

    #[test]
    fn what_is_too_old_or_far_ahead_is_not_known() {
        let mut server = told(3_000, &[], &[50_000]);
        let at = |block| BlockPlace { begins_ns: begins_ns(block, &[]), into: Frames::ZERO };
        assert_eq!(server.moment_at(at(900)), None);
        assert_eq!(server.moment_at(at(960)), Some(expected(960, 0)));
        assert_eq!(server.moment_at(at(3_000)), Some(expected(3_000, 0)));
        assert_eq!(server.moment_at(at(3_040)), None);
        let mut empty = ServerBlocks::new(RATE);
        assert_eq!(empty.moment_at(at(0)), None);
        assert_eq!(told(1, &[], &[0]).moment_at(at(0)), None);
    }

    /// A device that was opened again counts from its own beginning.
    #[test]
    fn a_device_that_begins_anew_is_followed() {
        let mut server = told(40, &[], &[50_000]);
        for block in 100..110 {
            let begins = begins_ns(block, &[]);
            let stamps = DriverStamps { called_ns: begins + 50_000, sounds_ns: begins + LEAD_NS };
            server.add(Frame::new((block - 100) * BLOCK), stamps);
        }
        let at = |block| BlockPlace { begins_ns: begins_ns(block, &[]), into: Frames::ZERO };
        assert_eq!(server.moment_at(at(20)), None);
        assert_eq!(server.moment_at(at(105)), Some(expected(5, 0)));
    }
}
