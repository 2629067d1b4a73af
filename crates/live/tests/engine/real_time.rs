//! What the driver calls, with the whole engine behind it: it neither allocates nor frees, whatever the other threads do.

use live::offline::{Offline, Setup};
use sequencer::Levels;
use timebase::SampleRate;

use crate::allocations::allocations;
use crate::{ms, quarters};

#[test]
fn the_check_trips_on_a_planted_allocation() {
    let planted = allocations(|| drop(std::hint::black_box(Vec::<u8>::with_capacity(64))));
    assert_eq!(planted, 2, "one allocation, one drop");
}

/// Drills that replace one another, strokes that sound, floods, levels that move until the queue of commands is full, and a
/// thread that does not come to fetch what is reported.
#[test]
fn the_driver_never_waits_for_the_engine() {
    let setup = Setup { thru_percent: 80, microphone: Some(SampleRate::HZ_48000), ..Setup::default() };
    let mut engine = Offline::new(setup).expect("an engine");
    engine.plug("Pad");
    let (mut calls, mut blocks, mut loudest) = (0, 0, 0.0f32);
    for round in 0..6 {
        engine.start(quarters(2)).expect("a drill");
        for block in 0..400i64 {
            if block % 5 == 0 {
                engine.send("Pad", &[0x99, 38, 100]);
            }
            if round == 3 {
                for _ in 0..40 {
                    engine.send("Pad", &[0x99, 40, 100]);
                    engine.set_levels(Levels::default());
                }
            }
            if round == 4 && block % 50 == 0 {
                engine.start(quarters(1)).expect("a drill");
            }
            if round == 5 && block == 100 {
                engine.says(&audio::Event::Dropout);
                engine.stop();
            }
            let counted = &mut calls;
            engine.step(
                |callback, out, entered, stamps| {
                    *counted += allocations(|| callback.fill(out, entered, stamps));
                },
                |_| {},
            );
            blocks += 1;
            loudest = engine.played().iter().fold(loudest, |most, sample| most.max(sample.abs()));
        }
    }
    assert_eq!(calls, 0, "in {blocks} blocks");
    assert!(loudest > 0.2, "something sounded: {loudest}");
    engine.pass(ms(100));
}
