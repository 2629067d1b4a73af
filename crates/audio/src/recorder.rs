use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use cpal::{FromSample, SizedSample};
use rtrb::{Consumer, Producer, RingBuffer};
use timebase::{Anchor, DriverStamps, Frame, Frames, HostTime, Seconds};

use crate::callback::{Marker, Trace, marker};

/// Frames in a [`Chunk`] at most.
const CHUNK: usize = 128;

/// Chunks that may wait to be fetched: 2.7 s at 48 kHz.
const QUEUE: usize = 1024;

/// A few frames of what was recorded. Chunks follow one another; where one was lost, the next one's first
/// frame shows it.
#[derive(Clone, Copy)]
pub struct Chunk {
    first: Frame,
    length: u8,
    samples: [f32; CHUNK],
}

/// What a recording device hands its blocks to: called by the driver for each.
///
/// Everything in it is real-time: no allocation, lock, I/O or panic.
#[derive(Debug)]
pub struct Recorder {
    channels: usize,
    channel: usize,
    next: Frame,
    chunks: Producer<Chunk>,
    lost: Arc<AtomicU64>,
    marker: Marker,
}

/// What a recorder leaves behind, for an ordinary thread.
#[derive(Debug)]
pub struct Recording {
    chunks: Consumer<Chunk>,
    trace: Trace,
    lost: Arc<AtomicU64>,
}

impl Recorder {
    /// A recorder of one `channel` (from 0) of a device of so many `channels`, and what it leaves behind.
    #[must_use]
    pub fn new(channels: u16, channel: u16) -> (Self, Recording) {
        let (chunks, fetched) = RingBuffer::new(QUEUE);
        let (marker, trace) = marker();
        let lost = Arc::new(AtomicU64::new(0));
        let (channels, channel) = (usize::from(channels).max(1), usize::from(channel));
        let recording = Recording { chunks: fetched, trace, lost: Arc::clone(&lost) };
        (Self { channels, channel, next: Frame::ZERO, chunks, lost, marker }, recording)
    }

    /// Takes one block, the samples of all channels side by side. `entered` is the host's time read first thing in the
    /// driver's call.
    ///
    /// Real-time: no allocation, lock, I/O or panic.
    pub fn take<T: SizedSample>(&mut self, data: &[T], entered: HostTime, stamps: DriverStamps)
    where
        f32: FromSample<T>,
    {
        self.marker.mark(self.next, entered, stamps);
        for block in data.chunks(CHUNK * self.channels) {
            let mut chunk = Chunk { first: self.next, length: 0, samples: [0.0; CHUNK] };
            for (place, frame) in chunk.samples.iter_mut().zip(block.chunks_exact(self.channels)) {
                *place = f32::from_sample_(frame.get(self.channel).copied().unwrap_or(T::EQUILIBRIUM));
                chunk.length += 1;
            }
            self.next += Frames::new(i64::from(chunk.length));
            let frames = u64::from(chunk.length);
            if self.chunks.push(chunk).is_err() {
                self.lost.fetch_add(frames, Ordering::Relaxed);
            }
        }
    }
}

impl Recording {
    /// The next chunk of sound, oldest first; nothing when all are fetched.
    pub fn next_chunk(&mut self) -> Option<Chunk> {
        self.chunks.pop().ok()
    }

    /// The next anchor, oldest first; nothing when all are fetched.
    pub fn next_anchor(&mut self) -> Option<Anchor> {
        self.trace.next_anchor()
    }

    /// Tells what the driver's clock and then, at once, the computer's were found to say: see [`Trace::read_clocks`].
    pub fn read_clocks(&mut self, driver_ns: i64, host: HostTime) {
        self.trace.read_clocks(driver_ns, host);
    }

    /// From the sound at the microphone to the driver's call, as the driver said at the last block.
    #[must_use]
    pub fn latency(&self) -> Seconds {
        -self.trace.latency()
    }

    /// How many frames were lost because nobody fetched the ones before.
    #[must_use]
    pub fn lost_frames(&self) -> u64 {
        self.lost.load(Ordering::Relaxed)
    }
}

impl Chunk {
    /// Its first frame, counted from the beginning of the recording.
    #[must_use]
    pub const fn first(&self) -> Frame {
        self.first
    }

    /// Its frames, one sample each.
    #[must_use]
    pub fn samples(&self) -> &[f32] {
        &self.samples[..usize::from(self.length)]
    }
}

impl fmt::Debug for Chunk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { first, length, .. } = self;
        f.debug_struct("Chunk").field("first", first).field("length", length).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STAMPS: DriverStamps = DriverStamps { called_ns: 9_000, sounds_ns: 4_000 };

    fn ramp(frames: u16, channels: u16) -> Vec<f32> {
        (0..frames)
            .flat_map(|frame| {
                (0..channels).map(move |channel| f32::from(frame) + 1_000.0 * f32::from(channel))
            })
            .collect()
    }

    #[test]
    fn one_channel_is_recorded_in_chunks_without_a_seam() {
        let check = |channels: u16, channel: u16, blocks: &[u16]| {
            let (mut recorder, mut recording) = Recorder::new(channels, channel);
            let mut expected = Vec::new();
            for &block in blocks {
                recorder.take(&ramp(block, channels), HostTime::from_nanos(9_500), STAMPS);
                expected.extend((0..block).map(|frame| f32::from(frame) + 1_000.0 * f32::from(channel)));
            }
            let mut heard = Vec::new();
            while let Some(chunk) = recording.next_chunk() {
                assert_eq!(chunk.first(), Frame::new(i64::try_from(heard.len()).expect("small")));
                heard.extend_from_slice(chunk.samples());
            }
            assert_eq!(heard, expected);
            assert_eq!(recording.lost_frames(), 0);
            let mut first = 0;
            for &block in blocks {
                let anchor = recording.next_anchor().expect("one a block");
                assert_eq!((anchor.frame.index(), anchor.host.as_nanos()), (first, 4_500));
                first += i64::from(block);
            }
        };
        check(1, 0, &[256, 256, 100, 1]);
        check(2, 1, &[64, 441]);
        check(8, 3, &[1_024]);
    }

    #[test]
    fn integers_become_full_scale_floats() {
        let (mut recorder, mut recording) = Recorder::new(1, 0);
        recorder.take(&[i16::MIN, 0, 16_384], HostTime::from_nanos(0), STAMPS);
        assert_eq!(recording.next_chunk().expect("a chunk").samples(), [-1.0, 0.0, 0.5]);
    }

    #[test]
    fn what_nobody_fetches_is_lost_whole_and_counted() {
        let (mut recorder, mut recording) = Recorder::new(1, 0);
        for _ in 0..1_030 {
            recorder.take(&ramp(100, 1), HostTime::from_nanos(0), STAMPS);
        }
        assert_eq!(recording.lost_frames(), 600);
        while recording.next_chunk().is_some() {}
        recorder.take(&ramp(100, 1), HostTime::from_nanos(0), STAMPS);
        assert_eq!(recording.next_chunk().expect("a chunk").first(), Frame::new(103_000));
    }
}
