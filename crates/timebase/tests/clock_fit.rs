//! The map between a device's frames and the computer's clock, held against simulated cards whose
//! true clock is known.

use proptest::prelude::*;
use timebase::{Anchor, Anchored, ClockFit, Frame, Frames, HostTime, SampleRate, Seconds};

/// A sound card: its first frame is heard at `begins_ns`, and it runs `ppm` faster than 48,000 frames a second.
#[derive(Clone, Copy, Debug)]
struct Card {
    begins_ns: i64,
    ppm: i64,
    block: i64,
}

impl Card {
    /// When `frame` is truly heard, in whole numbers throughout.
    fn host_ns(self, frame: i64) -> i64 {
        let millionths = i128::from(frame) * 1_000_000_000 * 1_000_000;
        let nanos = millionths / (48_000 * i128::from(1_000_000 + self.ppm));
        self.begins_ns + i64::try_from(nanos).expect("a short simulation")
    }

    fn anchor(self, block: i64, late_ns: i64) -> Anchor {
        let frame = block * self.block;
        Anchor {
            frame: Frame::new(frame),
            host: HostTime::from_nanos(self.host_ns(frame) + late_ns),
            server: None,
        }
    }
}

fn card() -> impl Strategy<Value = Card> {
    (0i64..1_000_000_000_000, -200i64..=200, prop::sample::select(vec![64i64, 128, 256, 441, 1024]))
        .prop_map(|(begins_ns, ppm, block)| Card { begins_ns, ppm, block })
}

fn jitter(width_ns: i64, blocks: usize) -> impl Strategy<Value = Vec<i64>> {
    prop::collection::vec(-width_ns..=width_ns, blocks)
}

fn fed(card: Card, jitter: &[i64]) -> ClockFit {
    let mut fit = ClockFit::new(SampleRate::HZ_48000);
    for (block, &late) in (0..).zip(jitter) {
        fit.add(card.anchor(block, late));
    }
    fit
}

fn error_ns(fit: &ClockFit, card: Card, frame: i64) -> i64 {
    let found = fit.host_at(Frame::new(frame)).expect("anchors were added");
    found.as_nanos() - card.host_ns(frame)
}

proptest! {
    /// Stamps that scatter evenly by ±60 µs have a standard deviation of 35 µs; the end of a line through 64 of them has
    /// 2·35/√64 = 8.7 µs, and so has each end of the stretch from which the rate is told, the first one, of 16, 17 µs. Six
    /// standard deviations are allowed, so that chance does not fail the test.
    #[test]
    fn converges_under_jitter(card in card(), jitter in jitter(60_000, 300)) {
        let fit = fed(card, &jitter);
        let newest = 299 * card.block;
        prop_assert!(error_ns(&fit, card, newest).abs() < 52_000, "{} ns", error_ns(&fit, card, newest));
        let stretch_us = 283.0 * card.block as f64 / 48e3 * 1e6;
        let allowed_ppm = 6.0 * 8.7f64.hypot(17.0) / stretch_us * 1e6;
        let off = fit.rate_ppm().expect("many anchors") - card.ppm as f64;
        prop_assert!(off.abs() < allowed_ppm, "{off} ppm off, {allowed_ppm} allowed");
        let scatter = fit.scatter().expect("many anchors").as_nanos();
        prop_assert!((15_000..80_000).contains(&scatter), "{scatter} ns of scatter");
    }

    /// Without jitter the map is exact to the rounding of a stamp, at every frame from the settling on.
    #[test]
    fn exact_stamps_give_an_exact_map(card in card(), into in 0i64..100) {
        let fit = fed(card, &[0; 400]);
        for block in [100, 250, 398] {
            let frame = block * card.block + into.min(card.block - 1);
            prop_assert!(error_ns(&fit, card, frame).abs() <= 2, "{} ns", error_ns(&fit, card, frame));
            let host = HostTime::from_nanos(card.host_ns(frame));
            prop_assert_eq!(fit.frame_at(host), Some(Frame::new(frame)));
        }
        prop_assert!((fit.rate_ppm().expect("many anchors") - card.ppm as f64).abs() < 0.1);
    }

    /// Time rises with frames and frames with time, also outside the anchors and across dropouts of either sign.
    #[test]
    fn the_map_rises(
        card in card(),
        jitter in jitter(400_000, 120),
        jumps in prop::collection::vec((0usize..120, 0i64..100_000_000), 0..3),
        frames in prop::collection::vec(-50_000i64..200_000, 2..40),
    ) {
        let mut late = jitter;
        for (at, jump) in jumps {
            late[at..].iter_mut().for_each(|late| *late += jump);
        }
        let fit = fed(card, &late);
        let mut frames = frames;
        frames.sort_unstable();
        frames.dedup();
        let hosts: Vec<_> =
            frames.iter().map(|&frame| fit.host_at(Frame::new(frame)).expect("fed")).collect();
        prop_assert!(hosts.is_sorted());
        let moments: Vec<_> = hosts.iter().map(|&host| fit.moment_at(host).expect("fed")).collect();
        prop_assert!(moments.is_sorted());
    }

    /// What was answered for the past is answered again after more anchors.
    #[test]
    fn the_past_stands(card in card(), jitter in jitter(100_000, 200), place in 0i64..20_000_000) {
        let mut fit = ClockFit::new(SampleRate::HZ_48000);
        let mut answers = Vec::new();
        for (block, &late) in (0..).zip(&jitter) {
            let anchor = card.anchor(block, late);
            fit.add(anchor);
            // A stroke comes in while later frames have their stamps already.
            let host = anchor.host - Seconds::from_nanos(place + 1_000_000);
            if block > 20 {
                answers.push((host, fit.moment_at(host)));
            }
        }
        for (host, answer) in answers {
            prop_assert_eq!(fit.moment_at(host), answer);
        }
    }

    /// One block or many are lost: the jump is told once, with its size, and both sides of it stay right.
    #[test]
    fn survives_a_dropout(card in card(), jitter in jitter(20_000, 600), lost_ms in 3i64..2_000, reported: bool) {
        let mut fit = ClockFit::new(SampleRate::HZ_48000);
        let lost_ns = lost_ms * 1_000_000;
        let mut jumps = Vec::new();
        for (block, &late) in (0..).zip(&jitter) {
            if block == 300 && reported {
                fit.expect_jump();
            }
            let mut anchor = card.anchor(block, late);
            if block >= 300 {
                anchor.host = anchor.host + Seconds::from_nanos(lost_ns);
            }
            match fit.add(anchor) {
                Anchored::Kept => prop_assert!(!(300..302).contains(&block) || reported),
                Anchored::Doubted => prop_assert!((300..302).contains(&block) && !reported),
                Anchored::Jumped(jump) => jumps.push((block, jump)),
                Anchored::Refused => prop_assert!(false, "a rising stamp was refused"),
            }
        }
        prop_assert_eq!(jumps.len(), 1);
        prop_assert_eq!(jumps[0].0, if reported { 300 } else { 302 });
        prop_assert!((jumps[0].1.as_nanos() - lost_ns).abs() < 100_000);
        prop_assert!(error_ns(&fit, card, 290 * card.block).abs() < 20_000);
        prop_assert!((error_ns(&fit, card, 599 * card.block) - lost_ns).abs() < 15_000);
    }

    /// Wild stamps, however wild, neither move the map nor count as dropouts while they come alone.
    #[test]
    fn a_wild_stamp_is_left_out(card in card(), wild in prop::collection::vec(-1_000_000_000i64..3_600_000_000_000, 10)) {
        let mut fit = ClockFit::new(SampleRate::HZ_48000);
        for block in 0..400i64 {
            let nth = usize::try_from(block / 40).expect("positive");
            let is_wild = block % 40 == 39 && wild[nth].abs() > 3_000_000;
            let fate = fit.add(card.anchor(block, if is_wild { wild[nth] } else { 0 }));
            if is_wild {
                prop_assert!(matches!(fate, Anchored::Doubted | Anchored::Refused));
            } else {
                prop_assert_eq!(fate, Anchored::Kept);
            }
        }
        prop_assert!(error_ns(&fit, card, 399 * card.block).abs() <= 2);
    }

    /// No series of anchors, however mad, makes the map fall or panic.
    #[test]
    fn madness_is_survived(anchors in prop::collection::vec((any::<i64>(), any::<i64>()), 0..80)) {
        let mut fit = ClockFit::new(SampleRate::HZ_48000);
        for (frame, host) in anchors {
            fit.add(Anchor { frame: Frame::new(frame), host: HostTime::from_nanos(host), server: None });
            let a = fit.host_at(Frame::new(0)).expect("an anchor was added");
            let b = fit.host_at(Frame::new(1_000_000)).expect("an anchor was added");
            prop_assert!(a <= b);
        }
    }
}

#[test]
fn nothing_is_known_before_the_first_anchor() {
    let fit = ClockFit::new(SampleRate::HZ_48000);
    assert_eq!(fit.host_at(Frame::ZERO), None);
    assert_eq!(fit.frame_at(HostTime::from_nanos(0)), None);
    assert_eq!((fit.rate_ppm(), fit.scatter()), (None, None));
}

#[test]
fn stamps_that_go_back_are_refused() {
    let card = Card { begins_ns: 0, ppm: 0, block: 256 };
    let mut fit = fed(card, &[0; 50]);
    let check = |fit: &mut ClockFit, frame: i64, host_ns: i64| {
        let anchor = Anchor { frame: Frame::new(frame), host: HostTime::from_nanos(host_ns), server: None };
        assert_eq!(fit.add(anchor), Anchored::Refused, "{anchor:?}");
    };
    let (frame, host_ns) = (49 * 256, card.host_ns(49 * 256));
    check(&mut fit, frame, host_ns + 1_000);
    check(&mut fit, frame - 1, host_ns + 1_000);
    check(&mut fit, frame + 256, host_ns);
    check(&mut fit, frame + 512, host_ns - 1);
}

/// A first stamp from the far future must not lock every later one out.
#[test]
fn a_map_in_the_future_is_begun_again() {
    let card = Card { begins_ns: 0, ppm: 0, block: 256 };
    let mut fit = ClockFit::new(SampleRate::HZ_48000);
    fit.add(card.anchor(0, 3_600_000_000_000));
    let fates: Vec<_> = (1..200).map(|block| fit.add(card.anchor(block, 0))).collect();
    assert_eq!(fates.iter().filter(|fate| matches!(fate, Anchored::Jumped(_))).count(), 1);
    assert_eq!(fates.last(), Some(&Anchored::Kept));
    assert!(error_ns(&fit, card, 199 * 256).abs() <= 2);
}

/// A driver that filters its stamps (here as JACK does, each error shrinking by 0.6 % a cycle) and began 1 ms off comes back
/// to the truth within seconds; the map goes along with its stamps within 20 µs.
#[test]
fn filtered_stamps_are_followed() {
    let card = Card { begins_ns: 0, ppm: 0, block: 256 };
    let mut fit = ClockFit::new(SampleRate::HZ_48000);
    let mut off_ns = 1_000_000.0f64;
    let mut worst = 0;
    for block in 0..1_000 {
        let off = Seconds::from_secs_f64(off_ns / 1e9).as_nanos();
        assert_eq!(fit.add(card.anchor(block, off)), Anchored::Kept);
        if block > 64 {
            worst = worst.max((error_ns(&fit, card, block * 256) - off).abs());
        }
        off_ns *= 0.994;
    }
    assert!(worst < 20_000, "{worst} ns");
}

/// Fifty hours into a run the sums are still exact: nothing is added up from the beginning.
#[test]
fn a_long_run_stays_exact() {
    let card = Card { begins_ns: 7, ppm: 37, block: 256 };
    let first = 50 * 3_600 * 48_000 / 256;
    let mut fit = ClockFit::new(SampleRate::HZ_48000);
    for block in first..first + 300 {
        fit.add(card.anchor(block, 0));
    }
    let frame = Frame::new((first + 299) * 256);
    let host = HostTime::from_nanos(card.host_ns(frame.index()));
    assert_eq!(fit.frame_at(host), Some(frame));
    assert_eq!(
        fit.frame_at(host + Frames::new(100).seconds(SampleRate::HZ_48000)),
        Some(frame + Frames::new(100))
    );
}
