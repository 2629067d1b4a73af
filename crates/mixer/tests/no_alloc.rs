//! The audio thread neither allocates nor frees, whatever happens on it.
//!
//! The whole engine runs here under an allocator that counts every call made while it is forbidden.

mod allocations;

use allocations::allocations;
use mixer::{Bank, Error, Mixer, Programme, Report, Sample, Setting, SoundEvent, StripId};
use timebase::{Frame, Frames, SampleRate};

#[test]
fn the_check_trips_on_a_planted_allocation_and_on_a_planted_drop() {
    let planted = allocations(|| drop(std::hint::black_box(Vec::<u8>::with_capacity(64))));
    assert_eq!(planted, 2, "one allocation, one drop");
    let owned = vec![1_u8; 64];
    assert_eq!(allocations(move || drop(std::hint::black_box(owned))), 1);
}

#[test]
fn the_whole_engine_never_calls_the_allocator() {
    let mut bank = Bank::new(SampleRate::HZ_48000);
    let sample = bank.add(Sample::new(vec![0.4; 2_000]).expect("finite"));
    let tone = bank.add(Sample::sustained(vec![0.3; 700], 50).expect("a loop"));
    let (strip, tones) = (StripId::new(1), StripId::new(9));
    let held = (0..40).map(|number| SoundEvent {
        length: Some(Frames::new(2_300)),
        fade: Frames::new(1_440),
        ..SoundEvent::new(Frame::new(number * 2_400), tone, tones)
    });
    let events = (0..400)
        .map(|number| SoundEvent {
            length: (number % 3 == 0).then_some(Frames::new(900)),
            fade: Frames::new(300),
            ..SoundEvent::new(Frame::new(number * 250), sample, strip)
        })
        .chain(held)
        .collect();
    let programme = Programme::new(bank, events, Frames::ZERO).expect("playable");
    let (mut mixer, mut controller) = Mixer::new(&programme).controlled();
    let mut out = vec![[0.0; 2]; 512];
    let (mut loudest, mut returned, mut refused, mut stopped, mut full, mut followed) =
        (0.0_f32, 0, 0, 0, 0, 0);
    for round in 0..600_u16 {
        // The other thread's half: it may allocate, and does.
        let sent = match round % 12 {
            1 => controller.set_level(strip, f32::from(round % 5) / 4.0),
            2 => controller.set(tones, Setting { pan: f32::from(round % 3) - 1.0, level: 3.0, muted: false }),
            3 => controller.set(strip, Setting { muted: round % 24 == 3, ..Setting::default() }),
            4 => controller.replace(&programme, Frame::new(i64::from(round) * 100)),
            5 => controller.replace(&programme, Frame::ZERO),
            7 => controller.follow(&programme, Frame::ZERO, Frame::new(700)).inspect(|()| followed += 1),
            6 => (0..20).try_for_each(|_| controller.play(sample, 0.2, strip)),
            10 => controller.stop(),
            _ => Ok(()),
        };
        // While nobody hears the reports, memory cannot come back, so commands wait and their queue runs full too.
        match sent {
            Ok(()) => {}
            Err(Error::QueueFull) => full += 1,
            Err(Error::NextWaits) => {}
            Err(other) => panic!("{other}"),
        }
        // Both ways, and loud enough for the limiter to work.
        assert_eq!(allocations(|| mixer.render_stereo(&mut out)), 0, "in round {round}");
        loudest = out.iter().flatten().fold(loudest, |loudest, frame| loudest.max(frame.abs()));
        if round % 50 == 49 {
            let mut mono = [0.0; 300];
            assert_eq!(allocations(|| mixer.render(&mut mono)), 0, "in mono in round {round}");
        }
        // Reports are left unheard for a while, so that the queue runs full.
        if round % 100 == 99 {
            while let Some(report) = controller.next_report() {
                returned += u32::from(matches!(report, Report::Returned(_)));
                refused += u32::from(matches!(report, Report::Refused { .. }));
                stopped += u32::from(matches!(report, Report::Stopped { .. }));
            }
        }
    }
    assert!(loudest > 0.85 && loudest <= mixer::limits::CEILING, "loud enough to be limited: {loudest}");
    assert!(controller.lost_reports() > 0, "the queue of reports ran full");
    assert!(full > 0, "the queue of commands ran full");
    assert!(followed > 6, "programmes followed one another: {followed}");
    assert!(returned > 20 && refused > 0 && stopped > 0, "{returned} {refused} {stopped}");
}
