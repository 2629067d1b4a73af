use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};

use cpal::{FromSample, SizedSample};
use mixer::Mixer;
use rtrb::{Consumer, Producer, RingBuffer};
use timebase::{Anchor, ClockOffset, DriverStamps, Frame, HostTime, Seconds};

/// Anchors that may wait to be fetched: 5 s of blocks of 256 frames at 48 kHz.
const QUEUE: usize = 1024;

/// Frames rendered at once. A device may ask for any number; it is rendered in pieces of this size.
const PIECE: usize = 512;

/// What feeds a sound device: called by the driver for each block.
///
/// Everything in it is real-time: no allocation, lock, I/O or panic.
#[derive(Debug)]
pub struct Callback {
    mixer: Mixer,
    mono: Box<[f32; PIECE]>,
    stereo: Box<[[f32; 2]; PIECE]>,
    channels: usize,
    marker: Marker,
}

/// Marks blocks with the clocks' readings and sends the marks.
#[derive(Debug)]
pub(crate) struct Marker {
    marks: Producer<Mark>,
    shared: Arc<Shared>,
}

/// One block: its first frame, and what the clocks said.
#[derive(Clone, Copy, Debug)]
struct Mark {
    frame: Frame,
    entered: HostTime,
    stamps: DriverStamps,
}

/// What a callback leaves behind, for an ordinary thread.
#[derive(Debug)]
pub struct Trace {
    marks: Consumer<Mark>,
    shared: Arc<Shared>,
    offset: ClockOffset,
    /// Whether the driver's clock is read outside the callback.
    is_read: bool,
}

#[derive(Debug, Default)]
struct Shared {
    blocks: AtomicU64,
    lost: AtomicU64,
    latency_ns: AtomicI64,
}

impl Callback {
    /// A callback that plays `mixer` on a device of so many channels, and what it leaves behind.
    #[must_use]
    pub fn new(mixer: Mixer, channels: u16) -> (Self, Trace) {
        let (marker, trace) = marker();
        let channels = usize::from(channels).max(1);
        let (mono, stereo) = (Box::new([0.0; PIECE]), Box::new([[0.0; 2]; PIECE]));
        (Self { mixer, mono, stereo, channels, marker }, trace)
    }

    /// Renders one block into `out`, the samples of all channels side by side: left and right into the first two,
    /// silence into further ones; mono where the device has one channel. `entered` is the host's time read first
    /// thing in the driver's call.
    ///
    /// Real-time: no allocation, lock, I/O or panic.
    pub fn fill<T: SizedSample + FromSample<f32>>(
        &mut self,
        out: &mut [T],
        entered: HostTime,
        stamps: DriverStamps,
    ) {
        self.marker.mark(self.mixer.rendered(), entered, stamps);
        for block in out.chunks_mut(PIECE * self.channels) {
            let frames = block.len() / self.channels;
            let mut places = block.chunks_exact_mut(self.channels);
            if self.channels == 1 {
                let piece = &mut self.mono[..frames];
                self.mixer.render(piece);
                places.by_ref().zip(piece).for_each(|(place, &mut mono)| place[0] = T::from_sample_(mono));
            } else {
                let piece = &mut self.stereo[..frames];
                self.mixer.render_stereo(piece);
                for (place, sides) in places.by_ref().zip(piece) {
                    let (heard, silent) = place.split_at_mut(2);
                    heard.copy_from_slice(&sides.map(T::from_sample_));
                    silent.fill(T::EQUILIBRIUM);
                }
            }
            places.into_remainder().fill(T::EQUILIBRIUM);
        }
    }
}

pub(crate) fn marker() -> (Marker, Trace) {
    let (producer, consumer) = RingBuffer::new(QUEUE);
    let shared = Arc::new(Shared::default());
    let marker = Marker { marks: producer, shared: Arc::clone(&shared) };
    (marker, Trace { marks: consumer, shared, offset: ClockOffset::new(), is_read: false })
}

impl Marker {
    /// Real-time: no allocation, lock, I/O or panic.
    pub(crate) fn mark(&mut self, frame: Frame, entered: HostTime, stamps: DriverStamps) {
        if self.marks.push(Mark { frame, entered, stamps }).is_err() {
            self.shared.lost.fetch_add(1, Ordering::Relaxed);
        }
        let latency_ns = stamps.sounds_ns.saturating_sub(stamps.called_ns);
        self.shared.latency_ns.store(latency_ns, Ordering::Relaxed);
        self.shared.blocks.fetch_add(1, Ordering::Relaxed);
    }
}

impl Trace {
    /// The next anchor, oldest first; nothing when all are fetched.
    ///
    /// A driver's clock has an origin of its own, and may run at a rate of its own, so its stamps are moved by the distance
    /// between the two clocks: the smallest of the last ones found, for a reading can only come too late.
    pub fn next_anchor(&mut self) -> Option<Anchor> {
        let Mark { frame, entered, stamps } = self.marks.pop().ok()?;
        if !self.is_read {
            self.offset.add(entered, stamps.called_ns);
        }
        let host = HostTime::from_nanos(stamps.sounds_ns) + self.offset.offset();
        Some(Anchor { frame, host, server: self.is_read.then_some(stamps) })
    }

    /// Tells what the driver's clock and then, at once, the computer's were found to say. From the first time on, the
    /// distance between the clocks is taken from these readings and not from the driver's calls, and the driver's own stamps
    /// go with the anchors: it is a server, by whose clock others go too.
    ///
    /// JACK needs it: it filters the time at which a block begins, but not the time at which it calls, so that the
    /// two are up to a millisecond apart after a disturbance and part of them is no lateness.
    pub fn read_clocks(&mut self, driver_ns: i64, host: HostTime) {
        if !self.is_read {
            self.is_read = true;
            self.offset.forget();
        }
        self.offset.add(host, driver_ns);
    }

    /// From the driver's call to the sound of the block's first frame, as the driver said at the last block;
    /// negative for an input.
    #[must_use]
    pub fn latency(&self) -> Seconds {
        Seconds::from_nanos(self.shared.latency_ns.load(Ordering::Relaxed))
    }

    /// How many blocks the driver asked for.
    #[must_use]
    pub fn blocks(&self) -> u64 {
        self.shared.blocks.load(Ordering::Relaxed)
    }

    /// How many anchors were dropped because nobody fetched the ones before.
    #[must_use]
    pub fn lost_anchors(&self) -> u64 {
        self.shared.lost.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use mixer::{Bank, Programme, Sample, Setting, SoundEvent, StripId};
    use timebase::{Frames, SampleRate};

    use super::*;

    /// A programme whose frames are all different: 0.001, 0.002, and so on.
    fn mixer(frames: u16) -> Mixer {
        let mut bank = Bank::new(SampleRate::HZ_48000);
        let ramp: Vec<f32> = (1..=frames).map(|step| f32::from(step) / 1_000.0).collect();
        let ramp = bank.add(Sample::new(ramp).expect("within full scale"));
        let event = SoundEvent::new(Frame::ZERO, ramp, StripId::new(0));
        let length = Frames::new(i64::from(frames));
        Mixer::new(&Programme::new(bank, vec![event], length).expect("a programme"))
    }

    fn stamps(called_ns: i64) -> DriverStamps {
        DriverStamps { called_ns, sounds_ns: called_ns + 5_000 }
    }

    fn check<T: SizedSample + FromSample<f32> + PartialEq + std::fmt::Debug>(
        channels: u16,
        length: usize,
        expected: &[T],
    ) {
        let (mut callback, _trace) = Callback::new(mixer(3), channels);
        let mut out = vec![T::from_sample_(1.0f32); length];
        callback.fill(&mut out, HostTime::from_nanos(0), stamps(0));
        assert_eq!(out, expected);
    }

    #[test]
    fn what_is_in_the_middle_goes_to_the_first_two_channels() {
        check(1, 3, &[0.001f32, 0.002, 0.003]);
        check(2, 4, &[0.001f32, 0.001, 0.002, 0.002]);
        check(4, 8, &[0.001f32, 0.001, 0.0, 0.0, 0.002, 0.002, 0.0, 0.0]);
    }

    #[test]
    fn left_and_right_go_to_their_channels() {
        let left = Setting { pan: -1.0, ..Setting::default() };
        for (channels, expected) in
            [(1, &[0.001f32][..]), (2, &[0.001_414_213_5, 0.0]), (3, &[0.001_414_213_5, 0.0, 0.0])]
        {
            let mixer = mixer(3).with_setting(StripId::new(0), left).expect("a setting");
            let (mut callback, _trace) = Callback::new(mixer, channels);
            let mut out = vec![1.0f32; expected.len()];
            callback.fill(&mut out, HostTime::from_nanos(0), stamps(0));
            assert!(out.iter().zip(expected).all(|(out, expected)| (out - expected).abs() < 1e-9), "{out:?}");
        }
    }

    #[test]
    fn every_format_gets_its_own_silence() {
        check(2, 4, &[32i16, 32, 65, 65]);
        check(3, 3, &[32_800u16, 32_800, 32_768]);
        check(1, 1, &[0.001f32 as f64]);
    }

    #[test]
    fn a_block_that_is_no_whole_number_of_frames_ends_in_silence() {
        check(2, 3, &[0.001f32, 0.001, 0.0]);
        check::<f32>(2, 0, &[]);
    }

    /// 512 frames is an inner bound and must not show.
    #[test]
    fn blocks_longer_than_a_piece_go_on_without_a_seam() {
        // Low enough that its sudden end is not limited.
        let (mut callback, mut trace) = Callback::new(mixer(700), 2);
        let mut out = vec![0.0f32; 2 * 700];
        callback.fill(&mut out, HostTime::from_nanos(0), stamps(0));
        for (index, frame) in out.chunks(2).enumerate() {
            let expected = f32::from(u16::try_from(index + 1).expect("small")) / 1_000.0;
            assert_eq!(frame, [expected, expected]);
        }
        assert_eq!(trace.next_anchor().map(|anchor| anchor.frame), Some(Frame::ZERO));
        assert_eq!(trace.next_anchor(), None);
    }

    /// The driver's clock begins at 7 s of ours; our readings come late by different times.
    #[test]
    fn anchors_are_on_our_clock() {
        let (mut callback, mut trace) = Callback::new(mixer(3), 1);
        let mut out = [0.0f32; 100];
        let origin = 7_000_000_000;
        for (block, late) in [(0, 90_000), (1, 0), (2, 40_000)] {
            let called = block * 2_083_333;
            callback.fill(&mut out, HostTime::from_nanos(origin + called + late), stamps(called));
        }
        let anchors: Vec<_> = std::iter::from_fn(|| trace.next_anchor()).collect();
        let told: Vec<_> = anchors.iter().map(|a| (a.frame.index(), a.host.as_nanos() - origin)).collect();
        assert_eq!(told, [(0, 95_000), (100, 2_088_333), (200, 4_171_666)]);
        assert_eq!(trace.latency(), Seconds::from_nanos(5_000));
        assert_eq!((trace.blocks(), trace.lost_anchors()), (3, 0));
    }

    /// Once the clocks are read, what the driver says of its calls no longer counts.
    #[test]
    fn readings_of_the_clocks_come_before_the_calls() {
        let (mut callback, mut trace) = Callback::new(mixer(3), 1);
        callback.fill(&mut [0.0f32; 100], HostTime::from_nanos(1_000), stamps(0));
        callback.fill(&mut [0.0f32; 100], HostTime::from_nanos(2_000), stamps(2_000));
        assert_eq!(trace.next_anchor().map(|anchor| anchor.host.as_nanos()), Some(6_000));
        trace.read_clocks(10_000, HostTime::from_nanos(13_500));
        trace.read_clocks(20_000, HostTime::from_nanos(23_400));
        assert_eq!(trace.next_anchor().map(|anchor| anchor.host.as_nanos()), Some(2_000 + 5_000 + 3_400));
    }

    #[test]
    fn anchors_nobody_fetches_are_counted() {
        let (mut callback, trace) = Callback::new(mixer(3), 1);
        for block in 0..1_100 {
            callback.fill(&mut [0.0f32; 10], HostTime::from_nanos(block), stamps(block));
        }
        assert_eq!(trace.lost_anchors(), 1_100 - 1_024);
    }
}
