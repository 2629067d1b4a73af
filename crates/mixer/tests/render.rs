//! The laws of rendering: every frame is what the events say, whatever the blocks.

#[path = "render/succession.rs"]
mod succession;

use std::convert::Infallible;

use mixer::limits::{CEILING, LEVEL_RAMP, STOP_FADE};
use mixer::{
    Bank, Mixer, Programme, Report, Sample, SampleId, Setting, SoundEvent, StripId, render_offline,
    render_offline_stereo,
};
use proptest::prelude::*;
use timebase::{Frame, Frames, SampleRate};

const RATE: SampleRate = SampleRate::HZ_48000;
const STRIP: StripId = StripId::new(0);
const OTHER: StripId = StripId::new(200);

/// How far the mixer mixes ahead at 48 kHz: what is asked of it while it runs is heard so much later.
const AHEAD: usize = 71;

/// A bank of two samples that differ in every frame, quiet enough for many to sound at once; the second goes on from
/// its frame 100 for ever.
fn bank() -> (Bank, [SampleId; 2]) {
    let mut bank = Bank::new(RATE);
    let wave = |length: u16, step: f32| -> Vec<f32> {
        (0..length).map(|frame| 0.02 * (f32::from(frame) * step + 1.0).sin()).collect()
    };
    let once = Sample::new(wave(900, 0.13)).expect("finite");
    let sustained = Sample::sustained(wave(250, 0.7), 100).expect("a loop");
    let ids = [once, sustained].map(|sample| bank.add(sample));
    (bank, ids)
}

fn programme(events: Vec<SoundEvent>, at_least: i64) -> Programme {
    Programme::new(bank().0, events, Frames::new(at_least)).expect("playable")
}

fn whole(mut mixer: Mixer) -> Vec<f32> {
    let mut out = Vec::new();
    let Ok(()) = render_offline(&mut mixer, |block| {
        out.extend_from_slice(block);
        Ok::<_, Infallible>(())
    });
    out
}

/// Rendered in blocks of these sizes, over and over.
fn in_blocks(mixer: &mut Mixer, sizes: &[usize], frames: usize) -> Vec<f32> {
    let mut out = vec![f32::NAN; frames];
    let mut rest = &mut out[..];
    for &size in sizes.iter().cycle() {
        if rest.is_empty() {
            break;
        }
        let (now, later) = rest.split_at_mut(size.min(rest.len()));
        mixer.render(now);
        rest = later;
    }
    out
}

fn bits(frames: &[f32]) -> Vec<u32> {
    frames.iter().map(|frame| frame.to_bits()).collect()
}

/// What an event adds to a frame, worked out from its description alone.
fn expected(event: &SoundEvent, sample: &Sample, frame: i64) -> f64 {
    let (data, into) = (sample.data(), frame - event.at.index());
    let Ok(mut place) = usize::try_from(into + event.from.count()) else { return 0.0 };
    let length = event.length.map_or(i64::MAX, Frames::count);
    if into < 0 || into >= length {
        return 0.0;
    }
    if let Some(again) = sample.again() {
        while place >= data.len() {
            place -= data.len() - again;
        }
    }
    let Some(&value) = data.get(place) else { return 0.0 };
    let rest = match sample.again() {
        Some(_) => i64::MAX,
        None => i64::try_from(data.len()).expect("short") - event.from.count(),
    };
    let to_go = (length - into) as f64 / event.fade.count().max(1) as f64;
    let fade = if length < rest && to_go < 1.0 { to_go * to_go * (3.0 - 2.0 * to_go) } else { 1.0 };
    f64::from(value) * f64::from(event.gain) * fade
}

fn event() -> impl Strategy<Value = SoundEvent> {
    (
        0..5_000i64,
        0..2usize,
        0..250i64,
        proptest::option::of((0..2_000i64, 0..=1_000i64)),
        0.0f32..1.5,
        any::<bool>(),
    )
        .prop_map(|(at, which, from, cut, gain, other)| {
            // What goes on for ever has to be cut.
            let cut = cut.or((which == 1).then_some((600, 50)));
            SoundEvent {
                from: Frames::new(from),
                length: cut.map(|(length, _)| Frames::new(length)),
                fade: Frames::new(cut.map_or(0, |(length, fade)| fade.min(length))),
                gain,
                ..SoundEvent::new(Frame::new(at), bank().1[which], if other { OTHER } else { STRIP })
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn frames_do_not_depend_on_the_blocks(
        events in proptest::collection::vec(event(), 0..24),
        random in proptest::collection::vec(1usize..5_000, 1..12),
    ) {
        let programme = programme(events, 6_100);
        let reference = whole(Mixer::new(&programme));
        for sizes in [&[1][..], &[64], &[441], &[512], &[4_096], &random] {
            let rendered = in_blocks(&mut Mixer::new(&programme), sizes, reference.len());
            prop_assert_eq!(bits(&rendered), bits(&reference), "in blocks of {:?}", sizes);
        }
    }

    #[test]
    fn every_frame_is_the_sum_of_its_events(events in proptest::collection::vec(event(), 0..24)) {
        let (bank, _) = bank();
        let rendered = whole(Mixer::new(&programme(events.clone(), 0)));
        for (frame, &value) in (0i64..).zip(&rendered) {
            let sample = |event: &SoundEvent| bank.sample(event.sample).expect("in the bank");
            let sum: f64 = events.iter().map(|event| expected(event, sample(event), frame)).sum();
            prop_assert!((f64::from(value) - sum).abs() < 1e-6, "frame {}: {} instead of {}", frame, value, sum);
        }
    }

    #[test]
    fn beginning_in_the_middle_goes_on_as_if_from_the_start(
        events in proptest::collection::vec(event(), 0..24),
        from in 0usize..6_000,
    ) {
        let programme = programme(events, 6_100);
        let reference = whole(Mixer::new(&programme));
        let joined = whole(Mixer::new(&programme).beginning_at(Frame::new(i64::try_from(from).expect("small"))));
        prop_assert_eq!(bits(&joined), bits(&reference[from..]));
    }

    /// Left and right as they are set, loud enough to be limited.
    #[test]
    fn stereo_does_not_depend_on_the_blocks(
        events in proptest::collection::vec(event(), 1..24),
        random in proptest::collection::vec(1usize..5_000, 1..12),
        pans in (-1.0f32..=1.0, -1.0f32..=1.0),
        level in 0.0f32..4.0,
    ) {
        let programme = programme(events, 6_100);
        let play = |sizes: &[usize]| {
            let (mut mixer, mut controller) = Mixer::new(&programme)
                .with_setting(STRIP, Setting { pan: pans.0, level, muted: false })
                .expect("a setting")
                .controlled();
            let mut out = Vec::new();
            let mut render = |mixer: &mut Mixer, frames: usize| {
                let mut left = frames;
                for &size in sizes.iter().cycle() {
                    let mut block = vec![[f32::NAN; 2]; size.min(left)];
                    mixer.render_stereo(&mut block);
                    out.extend(block.into_iter().flatten().map(f32::to_bits));
                    left -= size.min(left);
                    if left == 0 { break; }
                }
            };
            render(&mut mixer, 900);
            controller.set(OTHER, Setting { pan: pans.1, level, muted: false }).expect("room");
            controller.set(STRIP, Setting { pan: pans.1, level: 1.0, muted: true }).expect("room");
            render(&mut mixer, 1_300);
            controller.set(STRIP, Setting::at_level(level)).expect("room");
            render(&mut mixer, 4_000);
            out
        };
        let reference = play(&[1]);
        for sizes in [&[64][..], &[441], &[4_096], &random] {
            prop_assert_eq!(&play(sizes), &reference, "in blocks of {:?}", sizes);
        }
    }

    /// The same commands at the same frames give the same sound, although the blocks between them differ.
    #[test]
    fn commands_do_not_depend_on_the_blocks_between(
        events in proptest::collection::vec(event(), 1..24),
        random in proptest::collection::vec(1usize..700, 1..12),
        level in 0.0f32..2.0,
    ) {
        let programme = programme(events, 6_100);
        let play = |sizes: &[usize]| {
            let (mut mixer, mut controller) = Mixer::new(&programme).controlled();
            let mut out = in_blocks(&mut mixer, sizes, 1_000);
            controller.set_level(STRIP, level).expect("room");
            controller.play(bank().1[0], 0.5, OTHER).expect("room");
            out.extend(in_blocks(&mut mixer, sizes, 200));
            controller.set_level(STRIP, 1.0).expect("room");
            out.extend(in_blocks(&mut mixer, sizes, 900));
            controller.replace(&programme, Frame::new(500)).expect("room");
            out.extend(in_blocks(&mut mixer, sizes, 2_000));
            controller.stop().expect("room");
            out.extend(in_blocks(&mut mixer, sizes, 2_000));
            out
        };
        let reference = play(&[1]);
        for sizes in [&[64][..], &[441], &[4_096], &random] {
            prop_assert_eq!(bits(&play(sizes)), bits(&reference), "in blocks of {:?}", sizes);
        }
    }
}

/// One sample of ones, so that the output is the gain.
fn ones(length: usize, event: impl FnOnce(SampleId) -> SoundEvent, at_least: i64) -> Programme {
    let mut bank = Bank::new(RATE);
    let id = bank.add(Sample::new(vec![0.5; length]).expect("finite"));
    Programme::new(bank, vec![event(id)], Frames::new(at_least)).expect("playable")
}

#[test]
fn a_sound_begins_on_its_frame_and_is_whole() {
    let programme = ones(10, |id| SoundEvent::new(Frame::new(777), id, STRIP), 1_000);
    let rendered = whole(Mixer::new(&programme));
    assert_eq!(rendered.len(), 1_000);
    assert!(rendered[..777].iter().all(|&frame| frame == 0.0));
    assert!(rendered[777..787].iter().all(|&frame| frame == 0.5));
    assert!(rendered[787..].iter().all(|&frame| frame == 0.0));
}

#[test]
fn a_cut_fades_exactly_and_ends_on_its_frame() {
    let cut = |id| SoundEvent {
        length: Some(Frames::new(20)),
        fade: Frames::new(4),
        from: Frames::new(3),
        gain: 2.0,
        ..SoundEvent::new(Frame::new(5), id, STRIP)
    };
    // With x = 1, 3/4, 1/2, 1/4: 3x² − 2x³ = 1, 27/32, 1/2, 5/32, halved.
    // 1.0 lies above the ceiling, so the gain is looked at below it.
    let rendered = whole(Mixer::new(&ones(50, cut, 60)));
    let quiet = whole(Mixer::new(&ones(50, |id| SoundEvent { gain: 1.0, ..cut(id) }, 60)));
    assert!(rendered[5..21].iter().all(|&frame| frame > 0.75 && frame <= CEILING));
    assert!(quiet[5..21].iter().all(|&frame| frame == 0.5));
    assert_eq!(quiet[21..26], [0.5, 27.0 / 64.0, 0.25, 5.0 / 64.0, 0.0]);
    assert!(quiet[..5].iter().chain(&quiet[25..]).all(|&frame| frame == 0.0));
}

#[test]
fn a_cut_behind_the_end_of_the_sample_changes_nothing() {
    let long = |id| SoundEvent {
        length: Some(Frames::new(50)),
        fade: Frames::new(30),
        ..SoundEvent::new(Frame::ZERO, id, STRIP)
    };
    assert!(whole(Mixer::new(&ones(50, long, 0))).iter().all(|&frame| frame == 0.5));
}

#[test]
fn levels_hold_from_the_first_frame_and_move_without_a_step() {
    let programme = ones(5_000, |id| SoundEvent::new(Frame::ZERO, id, STRIP), 0);
    let (mut mixer, mut controller) =
        Mixer::new(&programme).with_level(STRIP, 0.5).expect("a gain").controlled();
    let mut out = [0.0; 2_000];
    mixer.render(&mut out[..1_000]);
    assert!(out[..1_000].iter().all(|&frame| frame == 0.25));
    controller.set_level(STRIP, 0.0).expect("room");
    controller.set_level(OTHER, 0.0).expect("room");
    mixer.render(&mut out[1_000..]);
    let ramp = usize::try_from(Frames::of(LEVEL_RAMP, RATE).count()).expect("positive");
    let steps = out.windows(2).map(|pair| pair[0] - pair[1]);
    assert!(steps.clone().all(|step| (0.0..0.25 / ramp as f32 * 1.01).contains(&step)));
    assert_eq!(steps.filter(|&step| step > 0.0).count(), ramp);
    assert!(out[999 + AHEAD] == 0.25 && out[1_000 + AHEAD] < 0.25, "the look-ahead later");
    assert_eq!(out[1_000 + AHEAD + ramp - 1], 0.0);
    assert!(mixer.with_level(STRIP, f32::NAN).is_err());
    assert!(controller.set_level(STRIP, -1.0).expect_err("negative").to_string().contains("is not a gain"));
}

#[test]
fn a_stop_fades_reports_and_keeps_the_place() {
    let programme = ones(9_000, |id| SoundEvent::new(Frame::ZERO, id, STRIP), 20_000);
    let (mut mixer, mut controller) = Mixer::new(&programme).controlled();
    let mut out = vec![0.0; 4_000];
    mixer.render(&mut out[..1_000]);
    controller.stop().expect("room");
    mixer.render(&mut out[1_000..]);
    let fade = Frames::of(STOP_FADE, RATE);
    let silent_at = Frame::new(1_000) + mixer.look_ahead() + fade;
    assert!(matches!(controller.next_report(), Some(Report::Stopped { at }) if at == silent_at));
    assert!(controller.next_report().is_none());
    assert_eq!((mixer.position(), mixer.is_finished()), (silent_at, true));
    assert_eq!((controller.position(), controller.rendered()), (silent_at, Frame::new(4_000)));
    assert_eq!(mixer.look_ahead().count(), i64::try_from(AHEAD).expect("small"));
    assert!(out.windows(2).all(|pair| (pair[0] - pair[1]).abs() < 0.5 / fade.count() as f32 * 1.01));
    let silent_at = usize::try_from(silent_at.index()).expect("positive");
    assert!(out[silent_at - 2] > 0.0 && out[silent_at..].iter().all(|&frame| frame == 0.0));
}

#[test]
fn the_end_is_reported_on_its_frame() {
    let programme = ones(10, |id| SoundEvent::new(Frame::new(190), id, STRIP), 0);
    let (mut mixer, mut controller) = Mixer::new(&programme).controlled();
    mixer.render(&mut [0.0; 64]);
    assert!(controller.next_report().is_none());
    mixer.render(&mut [0.0; 64]);
    mixer.render(&mut [0.0; 64]);
    assert!(matches!(controller.next_report(), Some(Report::Finished { at }) if at == Frame::new(200)));
    assert!(controller.next_report().is_none());
}

#[test]
fn a_programme_takes_over_without_a_step_and_the_one_before_comes_back() {
    let first = ones(50_000, |id| SoundEvent::new(Frame::ZERO, id, STRIP), 0);
    let second = ones(10, |id| SoundEvent::new(Frame::new(3_000), id, STRIP), 9_000);
    let (mut mixer, mut controller) = Mixer::new(&first).controlled();
    let mut out = vec![0.0; 8_000];
    mixer.render(&mut out[..1_000]);
    controller.replace(&second, Frame::new(100)).expect("room");
    mixer.render(&mut out[1_000..2_500]);
    assert_eq!(mixer.position(), Frame::new(100 + 1_500 - 71), "of what is rendered, not of what is mixed");
    mixer.render(&mut out[2_500..]);
    let began = Frame::new(1_000) + mixer.look_ahead();
    assert!(matches!(controller.next_report(), Some(Report::Began { at, from, follows: false })
        if at == began && from == Frame::new(100)));
    assert!(
        matches!(controller.next_report(), Some(Report::Returned(before)) if before.position() == began + Frames::new(960))
    );
    assert!(controller.next_report().is_none());
    let sounds = 3_900 + AHEAD;
    assert!(out[..sounds].windows(2).all(|pair| (pair[0] - pair[1]).abs() < 0.001));
    assert!(out[sounds..sounds + 10].iter().all(|&frame| frame == 0.5));
}

#[test]
fn a_queue_that_is_full_says_so_and_memory_waits_for_room() {
    let programme = ones(10, |id| SoundEvent::new(Frame::ZERO, id, STRIP), 0);
    let (mut mixer, mut controller) = Mixer::new(&programme).controlled();
    let sent = (0..1_000).take_while(|_| controller.stop().is_ok()).count();
    assert_eq!(sent, mixer::limits::QUEUE);
    assert!(controller.stop().expect_err("full").to_string().contains("already wait"));
    // Every replacement makes two reports and its programme comes back; nobody listens.
    let mut replaced = 0;
    for _ in 0..200 {
        mixer.render(&mut [0.0; 2_000]);
        replaced += usize::from(controller.replace(&programme, Frame::ZERO).is_ok());
    }
    assert!(controller.lost_reports() > 0);
    let mut returned = 0;
    for _ in 0..400 {
        while let Some(report) = controller.next_report() {
            returned += usize::from(matches!(report, Report::Returned(_)));
        }
        mixer.render(&mut [0.0; 2_000]);
    }
    assert_eq!(returned, replaced);
    drop(mixer);
    assert!(controller.stop().expect_err("gone").to_string().contains("mixer is gone"));
}

#[test]
fn a_sound_at_once_begins_the_look_ahead_after_the_block_and_too_many_are_refused() {
    let (bank, ids) = bank();
    let (mut mixer, mut controller) = Mixer::new(&Programme::silence(bank.clone())).controlled();
    mixer.render(&mut [0.0; 100]);
    controller.play(ids[0], 1.0, STRIP).expect("room");
    let mut out = [0.0; 1_000];
    mixer.render(&mut out);
    assert!(out[..AHEAD].iter().all(|&frame| frame == 0.0));
    assert_eq!(out[AHEAD..AHEAD + 900], *bank.sample(ids[0]).expect("in the bank").data());
    assert!(out[AHEAD + 900..].iter().all(|&frame| frame == 0.0));
    for _ in 0..=mixer::limits::THROUGH_SOUNDS {
        controller.play(ids[0], 0.1, STRIP).expect("room");
    }
    mixer.render(&mut out);
    assert!(matches!(controller.next_report(), Some(Report::Refused { sample }) if sample == ids[0]));
    assert!(controller.next_report().is_none());

    let smaller = Programme::silence(Bank::new(RATE));
    controller.replace(&smaller, Frame::ZERO).expect("room");
    let error = controller.play(ids[0], 1.0, STRIP).expect_err("not in it").to_string();
    assert!(error.contains("sample 0 is not in the bank"), "{error}");
    let other = Programme::silence(Bank::new(SampleRate::new(44_100).expect("in range")));
    let error = controller.replace(&other, Frame::ZERO).expect_err("another rate").to_string();
    assert!(error.contains("44100 Hz and the mixer runs at 48000 Hz"), "{error}");
}

/// Constant power, in the middle as in mono; the limiter moves nothing.
#[test]
fn a_strip_is_heard_where_it_is_put() {
    let programme = ones(3_000, |id| SoundEvent::new(Frame::ZERO, id, STRIP), 0);
    let render = |setting: Setting| {
        let mut mixer = Mixer::new(&programme).with_setting(STRIP, setting).expect("a setting");
        let mut out = Vec::new();
        let Ok(()) = render_offline_stereo(&mut mixer, |block| {
            out.extend_from_slice(block);
            Ok::<_, Infallible>(())
        });
        assert_eq!(out.len(), 3_000);
        assert!(out[500..2_500].iter().all(|frame| *frame == out[500]), "nothing moves");
        out[500]
    };
    let at = |pan: f32, level: f32| render(Setting { pan, level, muted: false });
    assert_eq!(at(0.0, 1.0), [0.5, 0.5]);
    assert_eq!(at(-1.0, 1.0), [0.5 * std::f32::consts::SQRT_2, 0.0]);
    assert_eq!(at(1.0, 1.0), [0.0, 0.5 * std::f32::consts::SQRT_2]);
    let [left, right] = at(-0.4, 1.0);
    assert!(left > right && (left * left + right * right - 0.5).abs() < 1e-6);
    let [loud_left, loud_right] = at(-0.4, 4.0);
    assert!(loud_left <= CEILING && (loud_left / loud_right - left / right).abs() < 1e-5);
    assert_eq!(render(Setting { muted: true, ..Setting::default() }), [0.0, 0.0]);
}

#[test]
fn a_mute_and_a_pan_move_without_a_step() {
    let programme = ones(9_000, |id| SoundEvent::new(Frame::ZERO, id, STRIP), 0);
    let (mut mixer, mut controller) = Mixer::new(&programme).controlled();
    let mut out = vec![[0.0; 2]; 6_000];
    mixer.render_stereo(&mut out[..1_000]);
    controller.set(STRIP, Setting { pan: 1.0, ..Setting::default() }).expect("room");
    mixer.render_stereo(&mut out[1_000..3_000]);
    assert_eq!(out[2_999], [0.0, 0.5 * std::f32::consts::SQRT_2]);
    controller.set(STRIP, Setting { pan: 1.0, muted: true, ..Setting::default() }).expect("room");
    mixer.render_stereo(&mut out[3_000..4_500]);
    assert_eq!(out[4_499], [0.0, 0.0]);
    controller.set_level(STRIP, 0.5).expect("room");
    controller.set(STRIP, Setting::at_level(0.5)).expect("room");
    mixer.render_stereo(&mut out[4_500..]);
    assert_eq!(out[5_999], [0.25, 0.25]);
    let step = 0.5 * std::f32::consts::SQRT_2 / Frames::of(LEVEL_RAMP, RATE).count() as f32 * 1.01;
    for side in 0..2 {
        assert!(out.windows(2).all(|pair| (pair[0][side] - pair[1][side]).abs() <= step), "side {side}");
    }
    let error = controller.set(STRIP, Setting { pan: 2.0, ..Setting::default() }).expect_err("too far");
    assert!(error.to_string().contains("2 is not a place between left and right"), "{error}");
}

#[test]
fn a_sustained_sound_lasts_as_long_as_its_event() {
    let (bank, ids) = bank();
    let event = SoundEvent {
        length: Some(Frames::new(100_000)),
        fade: Frames::new(1_000),
        ..SoundEvent::new(Frame::new(10), ids[1], STRIP)
    };
    let rendered =
        whole(Mixer::new(&Programme::new(bank.clone(), vec![event], Frames::ZERO).expect("playable")));
    assert_eq!(rendered.len(), 100_010);
    let data = bank.sample(ids[1]).expect("in the bank").data();
    assert_eq!(rendered[10..260], *data);
    assert!(rendered[260..99_010].chunks_exact(150).all(|round| *round == data[100..]));
    assert!(rendered[99_010..].iter().all(|frame| frame.abs() <= 0.02));
    assert!(
        Sample::sustained(vec![0.0; 4], 4)
            .expect_err("no frame")
            .to_string()
            .contains("goes on from frame 4")
    );
}
