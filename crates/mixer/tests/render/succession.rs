//! Programmes that follow one another without a gap.

use mixer::{Error, Mixer, Programme, Report, SoundEvent};
use proptest::prelude::*;
use timebase::{Frame, Frames};

use super::{OTHER, STRIP, bank, bits, in_blocks, programme, whole};

/// Programmes of one event each, so long, and what they would be in one programme.
fn chain(lengths: &[i64]) -> (Vec<Programme>, Programme) {
    let sample = bank().1[0];
    let mut begins = 0;
    let mut all = Vec::new();
    let mut parts = Vec::new();
    for &length in lengths {
        // It begins 30 frames before its programme's end and rings on for 870 more.
        let at = Frame::new((length - 30).max(0));
        parts.push(programme(vec![SoundEvent::new(at, sample, STRIP)], length));
        all.push(SoundEvent::new(at + Frames::new(begins), sample, STRIP));
        begins += length;
    }
    (parts, programme(all, begins))
}

/// Renders `parts` one behind the other, each fed when the one before has begun.
fn one_after_another(parts: &[Programme], lengths: &[i64], sizes: &[usize]) -> Vec<f32> {
    let mut mixer = Mixer::new(&parts[0]);
    let mut rest = parts.iter().skip(1).zip(lengths);
    let mut out = Vec::new();
    loop {
        if !mixer.has_next()
            && let Some((next, length)) = rest.next()
        {
            mixer.follow(next, Frame::ZERO, Frame::new(*length)).expect("it may follow");
        }
        let frames = mixer.frames_until_next().unwrap_or(mixer.frames_left()).count();
        let frames = usize::try_from(frames).expect("not negative");
        if frames == 0 && !mixer.has_next() {
            return out;
        }
        out.extend(in_blocks(&mut mixer, sizes, frames.max(1)));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// What is cut into programmes sounds as if it were one, whatever the blocks.
    #[test]
    fn a_chain_of_programmes_sounds_as_one(
        lengths in proptest::collection::vec(300i64..2_000, 1..8),
        random in proptest::collection::vec(1usize..3_000, 1..12),
    ) {
        let (parts, one) = chain(&lengths);
        let expected = whole(Mixer::new(&one));
        let reference = one_after_another(&parts, &lengths, &[4_096]);
        for (frame, (ours, one)) in reference.iter().zip(&expected).enumerate() {
            prop_assert!((ours - one).abs() < 1e-6, "frame {frame}: {ours} instead of {one}");
        }
        prop_assert!(reference.len() >= usize::try_from(lengths.iter().sum::<i64>()).expect("short"));
        for sizes in [&[1][..], &[64], &random] {
            let rendered = one_after_another(&parts, &lengths, sizes);
            prop_assert_eq!(bits(&rendered), bits(&reference), "in blocks of {:?}", sizes);
        }
    }
}

#[test]
fn a_follower_begins_on_its_frame_and_the_first_comes_back() {
    let sample = bank().1[0];
    let first = programme(vec![SoundEvent::new(Frame::new(900), sample, STRIP)], 1_000);
    let second = programme(vec![SoundEvent::new(Frame::new(10), sample, OTHER)], 2_000);
    let (mut mixer, mut controller) = Mixer::new(&first).controlled();
    controller.follow(&second, Frame::ZERO, Frame::new(1_000)).expect("room");
    assert_eq!(controller.follow(&second, Frame::ZERO, Frame::ZERO), Err(Error::NextWaits));
    let out = in_blocks(&mut mixer, &[512], 2_048);
    assert!((out[1_009] - bank().0.sample(sample).expect("held").data()[109]).abs() < 1e-9);
    assert_eq!(mixer.position(), Frame::new(1_048));
    let reports: Vec<Report> = std::iter::from_fn(|| controller.next_report()).collect();
    let began = |report: &Report| matches!(report, Report::Began { at, from, follows: true } if at.index() == 1_000 && *from == Frame::ZERO);
    assert!(reports.iter().any(began), "{reports:?}");
    assert!(reports.iter().any(|report| matches!(report, Report::Returned(_))), "{reports:?}");
    assert!(!reports.iter().any(|report| matches!(report, Report::Finished { .. })), "{reports:?}");
    // Now another may wait.
    let third = programme(vec![], 10);
    controller.follow(&third, Frame::ZERO, Frame::new(2_000)).expect("room");
    in_blocks(&mut mixer, &[512], 1_024);
    assert!(mixer.is_finished());
}

#[test]
fn one_that_comes_too_late_keeps_its_time() {
    let sample = bank().1[0];
    let first = programme(vec![], 5_000);
    let second = programme(vec![SoundEvent::new(Frame::new(100), sample, STRIP)], 3_000);
    let in_time = {
        let mut mixer = Mixer::new(&first);
        mixer.follow(&second, Frame::ZERO, Frame::new(1_000)).expect("it may follow");
        in_blocks(&mut mixer, &[256], 3_072)
    };
    let (mut mixer, mut controller) = Mixer::new(&first).controlled();
    let mut late = in_blocks(&mut mixer, &[256], 1_536);
    controller.follow(&second, Frame::ZERO, Frame::new(1_000)).expect("room");
    late.extend(in_blocks(&mut mixer, &[256], 1_536));
    // What comes late is heard from the next block on, the look-ahead later.
    let heard = 1_536 + usize::try_from(mixer.look_ahead().count()).expect("some frames");
    assert!(bits(&late[heard..]) == bits(&in_time[heard..]), "it is where it would have been by then");
    assert!(late[..heard].iter().all(|frame| *frame == 0.0));
    assert_eq!(mixer.position(), Frame::new(2_072));
}

#[test]
fn a_stop_drops_what_waits() {
    let sample = bank().1[0];
    let (first, second) =
        (programme(vec![], 4_000), programme(vec![SoundEvent::new(Frame::ZERO, sample, STRIP)], 4_000));
    let (mut mixer, mut controller) = Mixer::new(&first).controlled();
    controller.follow(&second, Frame::ZERO, Frame::new(2_000)).expect("room");
    in_blocks(&mut mixer, &[512], 512);
    controller.stop().expect("room");
    let out = in_blocks(&mut mixer, &[512], 8_192);
    assert!(out.iter().all(|frame| *frame == 0.0), "nothing of it begins");
    assert!(mixer.is_finished() && !mixer.has_next());
    let returned =
        std::iter::from_fn(|| controller.next_report()).filter(|r| matches!(r, Report::Returned(_)));
    assert_eq!(returned.count(), 1);
    // After a stop nothing follows either, and what plays next plays.
    controller.follow(&second, Frame::ZERO, Frame::new(4_000)).expect("room");
    in_blocks(&mut mixer, &[512], 1_024);
    assert!(!mixer.has_next());
    controller.replace(&second, Frame::ZERO).expect("room");
    let out = in_blocks(&mut mixer, &[512], 1_024);
    assert!(out.iter().any(|frame| *frame != 0.0));
}

#[test]
fn what_cannot_follow_is_refused() {
    let first = programme(vec![], 1_000);
    let (_mixer, mut controller) = Mixer::new(&first).controlled();
    let error =
        controller.follow(&first, Frame::ZERO, Frame::new(1_001)).expect_err("after its end").to_string();
    assert!(
        error.starts_with("the programme lasts 1000 frames, and another is to follow at frame 1001"),
        "{error}"
    );
}
