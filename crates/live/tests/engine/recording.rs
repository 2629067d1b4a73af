//! A microphone beside the model, aligned by the measured latency, whatever the clocks do.

use live::offline::{Offline, Setup};
use take::wav::read_wav;
use timebase::{SampleRate, Seconds};

use crate::{Hands, at, kept, ms, opened, quarters};

/// What the loudspeaker plays comes into the microphone 736 frames after it was asked for: 256 that the driver tells, 480
/// that were measured. In the take both channels are then the same, sample for sample.
#[test]
fn what_sounds_and_what_is_heard_of_it_stand_together() {
    let setup = Setup {
        microphone: Some(SampleRate::HZ_48000),
        latency: Seconds::from_nanos(5_333_333),
        late: ms(10),
        ..Setup::default()
    };
    let mut engine = Offline::new(setup).expect("an engine");
    let folder = tempfile::tempdir().expect("a folder");
    engine.start(kept(quarters(2), &folder.path().join("take"))).expect("a drill");
    let mut air = std::collections::VecDeque::from(vec![0.0f32; 736]);
    let until = engine.now() + ms(9_000);
    while engine.now() < until {
        let mut played = Vec::new();
        engine.step(
            |callback, out, entered, stamps| {
                callback.fill(out, entered, stamps);
                played.extend_from_slice(out);
            },
            |heard| {
                // The microphone's block of the same moment: what was played 736 frames before.
                for sample in heard {
                    *sample = air.pop_front().unwrap_or(0.0);
                }
            },
        );
        air.extend(played);
    }
    let sound = read_wav(&folder.path().join("take/take.wav")).expect("sound");
    let (model, heard): (Vec<f32>, Vec<f32>) = (sound.channel(0).collect(), sound.channel(1).collect());
    let loudest = model.iter().fold(0.0f32, |most, sample| most.max(sample.abs()));
    assert!(loudest > 0.1, "{loudest}");
    // The maps are lines laid through stamps of whole nanoseconds: a thousandth of a frame off, and 16 bits.
    let worst = model.iter().zip(&heard).map(|(a, b)| (a - b).abs()).fold(0.0f32, f32::max);
    assert!(worst < 0.01, "{worst}");
    let take = opened(&folder.path().join("take"));
    assert_eq!(take.header().sound.input.as_deref(), Some("virtual microphone"));
    assert_eq!(take.header().sound.input_latency, Some(ms(10)));
}

/// Two devices with clocks of their own, 90 parts in a million apart, and of two rates: a knock with each click of half a minute
/// stands with it to a quarter of a millisecond, at the end as at the beginning.
#[test]
fn clocks_that_run_apart_are_held_together() {
    let microphone = SampleRate::new(44_100).expect("in range");
    let setup = Setup {
        microphone: Some(microphone),
        out_ppm: 60.0,
        in_ppm: -30.0,
        late: ms(20),
        ..Setup::default()
    };
    let (latency, late) = (setup.latency, setup.late);
    let mut engine = Offline::new(setup).expect("an engine");
    let folder = tempfile::tempdir().expect("a folder");
    engine.start(kept(quarters(15), &folder.path().join("take"))).expect("a drill");
    // When the microphone's frame n was at the microphone, in seconds.
    let mut next = 0u32;
    let moment = |frame: u32| f64::from(frame) / (44_100.0 * (1.0 - 30e-6));
    let mut knocks: Vec<f64> = Vec::new();
    let mut past = 0;
    while engine.now().as_nanos() < 34_000_000_000 {
        // Each beat is heard at the time at which its frame sounds, and 20 ms later by the microphone's reckoning.
        if let Some(now) = engine.drill_now()
            && knocks.is_empty()
            && now > at(-1_500)
        {
            let first = (engine.now() - (now - at(0))).as_nanos() as f64 / 1e9;
            knocks = (0..60)
                .map(|beat| first + 0.5 * f64::from(beat) / (1.0 + 60e-6) + late.as_secs_f64())
                .collect();
        }
        engine.step(
            |callback, out, entered, stamps| callback.fill(out, entered, stamps),
            |heard| {
                for sample in heard {
                    let now = moment(next);
                    next += 1;
                    while knocks.get(past + 1).is_some_and(|knock| knock - now < 0.1) {
                        past += 1;
                    }
                    let nearest = knocks.get(past).map_or(f64::MAX, |knock| (now - knock).abs());
                    // A bell curve of 1 ms: its middle is found between the frames.
                    #[expect(clippy::cast_possible_truncation, reason = "a sample")]
                    let bell = (0.5 * (-(nearest / 0.001).powi(2)).exp()) as f32;
                    *sample = bell;
                }
            },
        );
    }
    assert!(latency > Seconds::ZERO);
    let take = opened(&folder.path().join("take"));
    let sound = read_wav(&folder.path().join("take/take.wav")).expect("sound");
    let heard: Vec<f32> = sound.channel(1).collect();
    let bar_one = take.header().bar_one.as_secs_f64();
    let mut off_ms = Vec::new();
    for beat in 0..58u32 {
        let place = (bar_one + 0.5 * f64::from(beat)) * 48_000.0;
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a place in the sound")]
        let from = (place - 480.0).max(0.0) as usize;
        let window = &heard[from..from + 960];
        let weight: f64 = window.iter().map(|sample| f64::from(*sample)).sum();
        assert!(weight > 1.0, "beat {beat} was not heard");
        let centre: f64 = window
            .iter()
            .zip(0u32..)
            .map(|(sample, index)| f64::from(*sample) * f64::from(index))
            .sum::<f64>()
            / weight;
        off_ms.push((from as f64 + centre - place) / 48.0);
    }
    let worst = off_ms.iter().fold(0.0f64, |most, off| most.max(off.abs()));
    assert!(worst < 0.25, "{worst} ms: {off_ms:?}");
}

/// Without a microphone the strokes are rendered where they fell.
#[test]
fn without_a_microphone_the_strokes_are_rendered() {
    let mut engine = Offline::new(Setup::default()).expect("an engine");
    engine.plug("Pad");
    let folder = tempfile::tempdir().expect("a folder");
    engine.start(kept(quarters(1), &folder.path().join("take"))).expect("a drill");
    crate::play(&mut engine, ms(6_000), &mut [Hands::even("Pad", [at(500)], [0x99, 38, 127])]);
    let sound = read_wav(&folder.path().join("take/take.wav")).expect("sound");
    let bar_one = opened(&folder.path().join("take")).header().bar_one;
    let first = sound.channel(1).position(|sample| sample.abs() > 1e-3).expect("a stroke");
    let expected = (bar_one.as_secs_f64() + 0.5) * 48_000.0;
    assert!((first as f64 - expected).abs() <= 3.0, "{first} {expected}");
}

/// A microphone that is muted or another than was meant is told once, at the end; one that heard anything is not.
#[test]
fn a_microphone_that_heard_nothing_is_told() {
    let told_of = |level: f32| {
        let setup = Setup { microphone: Some(SampleRate::HZ_48000), late: ms(10), ..Setup::default() };
        let mut engine = Offline::new(setup).expect("an engine");
        let folder = tempfile::tempdir().expect("a folder");
        engine.start(kept(quarters(1), &folder.path().join("take"))).expect("a drill");
        let until = engine.now() + ms(6_000);
        while engine.now() < until {
            engine.step(
                |callback, out, entered, stamps| callback.fill(out, entered, stamps),
                |heard| heard.fill(level),
            );
        }
        let told = crate::told(&engine);
        assert!(told.end.is_some(), "it is over");
        told.notices.into_iter().filter(|notice| notice.contains("was heard")).collect::<Vec<_>>()
    };
    for level in [0.0, 0.000_09] {
        let [notice] = &told_of(level)[..] else { panic!("{:?}", told_of(level)) };
        for word in ["nothing was heard on virtual microphone", "muted", "level", "--record"] {
            assert!(notice.contains(word), "{word}: {notice}");
        }
    }
    assert_eq!(told_of(0.001), Vec::<String>::new());
}
