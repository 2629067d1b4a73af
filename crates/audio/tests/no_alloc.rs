//! What the driver calls neither allocates nor frees, with the queues empty, filling and full.
//!
//! The mixer behind it has a test of its own; here it plays, is commanded, and is listened to or not.

#[path = "../../mixer/tests/allocations/mod.rs"]
mod allocations;

use allocations::allocations;
use audio::{Callback, Recorder};
use mixer::{Bank, Mixer, Programme, Sample, SoundEvent, StripId};
use timebase::{DriverStamps, Frame, Frames, HostTime, SampleRate};

#[test]
fn the_check_trips_on_a_planted_allocation() {
    let planted = allocations(|| drop(std::hint::black_box(Vec::<u8>::with_capacity(64))));
    assert_eq!(planted, 2, "one allocation, one drop");
}

#[test]
fn the_callback_never_calls_the_allocator() {
    let mut bank = Bank::new(SampleRate::HZ_48000);
    let click = bank.add(Sample::new(vec![0.4; 500]).expect("finite"));
    let strip = StripId::new(1);
    let events = (0..2_000).map(|beat| SoundEvent::new(Frame::new(beat * 600), click, strip)).collect();
    let programme = Programme::new(bank, events, Frames::ZERO).expect("playable");
    let (mixer, mut controller) = Mixer::new(&programme).controlled();
    let (mut callback, mut trace) = Callback::new(mixer, 2);
    let (mut floats, mut integers) = (vec![0.0f32; 2 * 1_000], vec![0i16; 2 * 256]);
    let mut loudest = 0.0f32;
    for block in 0..3_000i64 {
        // The other threads' half: it may allocate, and does.
        if block % 7 == 0 {
            controller.set_level(strip, 0.5).ok();
            controller.play(click, 0.1, strip).ok();
        }
        let entered = HostTime::from_nanos(block * 5_000_000);
        let stamps = DriverStamps { called_ns: block * 5_000_000, sounds_ns: block * 5_000_000 + 9_000 };
        let calls = allocations(|| {
            if block % 3 == 0 {
                callback.fill(&mut integers, entered, stamps);
            } else {
                callback.fill(&mut floats, entered, stamps);
            }
        });
        assert_eq!(calls, 0, "in block {block}");
        loudest = floats.iter().fold(loudest, |loudest, sample| loudest.max(sample.abs()));
        // In the first part anchors and reports are fetched, then left until every queue is full.
        if block < 1_000 {
            while trace.next_anchor().is_some() {}
            while controller.next_report().is_some() {}
        }
    }
    assert!(loudest > 0.2, "something sounded: {loudest}");
    assert_eq!(trace.lost_anchors(), 2_000 - 1_024, "the queue of anchors ran full");
    assert_eq!(trace.blocks(), 3_000);
}

#[test]
fn the_recorder_never_calls_the_allocator() {
    let (mut recorder, mut recording) = Recorder::new(2, 1);
    let (floats, integers) = (vec![0.5f32; 2 * 1_000], vec![0i16; 2 * 256]);
    let mut heard = 0;
    for block in 0..3_000i64 {
        let entered = HostTime::from_nanos(block * 5_000_000);
        let stamps = DriverStamps { called_ns: block * 5_000_000, sounds_ns: block * 5_000_000 - 9_000 };
        let calls = allocations(|| {
            if block % 3 == 0 {
                recorder.take(&integers, entered, stamps);
            } else {
                recorder.take(&floats, entered, stamps);
            }
        });
        assert_eq!(calls, 0, "in block {block}");
        if block < 1_000 {
            while recording.next_anchor().is_some() {}
            heard += std::iter::from_fn(|| recording.next_chunk())
                .map(|chunk| chunk.samples().len())
                .sum::<usize>();
        }
    }
    assert_eq!(heard, 334 * 256 + 666 * 1_000);
    assert!(recording.lost_frames() > 1_000_000, "the queue of chunks ran full");
}
