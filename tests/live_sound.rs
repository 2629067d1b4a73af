//! Sound and MIDI on a real JACK server, on its driver that needs no sound card.
//!
//! What is played is recorded again and compared by the sample; a robot that hears the click and strikes
//! a known number of frames from it finds wrong latencies and wrong signs; strokes at frames known
//! beforehand tell how exact the stamps are.
//!
//! The estimators here (first sample over a threshold, sorted percentiles) share no code with the program.
#![cfg(target_os = "linux")]
#![expect(clippy::print_stdout, clippy::print_stderr, reason = "what was measured is printed")]

use std::time::{Duration, Instant};

use audio::{Capture, CaptureDevice, DeviceSettings, Event, Output, OutputDevice, SoundSystem};
use input::{Input, InputSettings, Stroke, SystemChoice, find_port, midi_system, open_output, output_ports};
use live::{ClickOut, TimedMessage};
use mixer::{Bank, Mixer, Programme, Sample, SoundEvent, StripId};
use tests::jackd::{
    Dropout, Listener, Received, Robot, RobotPlan, connect, on_server_of_blocks, undisturbed, wait_for_port,
};
use timebase::{Anchored, ClockFit, Frame, Frames, HostOrigin, Moment, SampleRate, Seconds};

const RATE: SampleRate = SampleRate::HZ_48000;

/// A click of our own: full at its first sample, so that its onset is exactly one frame.
fn click() -> Sample {
    let decay =
        (0..480u16).map(|n| 0.8 * (-f32::from(n) / 60.0).exp() * if n % 24 < 12 { 1.0 } else { -1.0 });
    Sample::new(decay.collect::<Vec<f32>>()).expect("finite")
}

fn clicking(clicks: &[i64]) -> Mixer {
    let mut bank = Bank::new(RATE);
    let click = bank.add(click());
    let events = clicks.iter().map(|&at| SoundEvent::new(Frame::new(at), click, StripId::new(0))).collect();
    Mixer::new(&Programme::new(bank, events, Frames::new(48_000)).expect("a programme"))
}

fn on_jack() -> DeviceSettings {
    DeviceSettings { system: SoundSystem::Jack, ..DeviceSettings::default() }
}

/// A device with the map from its frames to the computer's clock. Dropouts end the measurement.
struct Running<D> {
    device: D,
    fit: ClockFit,
    anchors: u64,
}

trait Device {
    fn anchor(&mut self) -> Option<timebase::Anchor>;
    fn event(&mut self) -> Option<Event>;
}

impl Device for Output {
    fn anchor(&mut self) -> Option<timebase::Anchor> {
        self.next_anchor()
    }
    fn event(&mut self) -> Option<Event> {
        self.next_event()
    }
}

impl Device for Capture {
    fn anchor(&mut self) -> Option<timebase::Anchor> {
        self.next_anchor()
    }
    fn event(&mut self) -> Option<Event> {
        self.next_event()
    }
}

impl<D: Device> Running<D> {
    fn new(device: D) -> Self {
        Self { device, fit: ClockFit::new(RATE), anchors: 0 }
    }

    /// Lets the server get over the joining and wiring of clients, which may cost it a cycle, and begins anew.
    fn settled(mut self) -> Self {
        std::thread::sleep(Duration::from_millis(300));
        while self.device.event().is_some() || self.device.anchor().is_some() {}
        self
    }

    fn follow(&mut self) -> Result<(), Dropout> {
        while let Some(event) = self.device.event() {
            match event {
                Event::Dropout => return Err(Dropout("the driver said so".to_owned())),
                Event::NotRealTime { why } => eprintln!("no real-time priority: {why}"),
                other => panic!("{other:?}"),
            }
        }
        while let Some(anchor) = self.device.anchor() {
            self.anchors += 1;
            match self.fit.add(anchor) {
                Anchored::Kept => {}
                Anchored::Jumped(by) => return Err(Dropout(format!("the frames jumped by {by}"))),
                Anchored::Doubted | Anchored::Refused if self.anchors < 16 => {}
                fate @ (Anchored::Doubted | Anchored::Refused) => eprintln!("an anchor was {fate:?}"),
            }
        }
        Ok(())
    }
}

fn percentile(sorted: &[f64], percent: usize) -> f64 {
    sorted[(sorted.len() * percent / 100).min(sorted.len() - 1)]
}

/// Frames a block: long ones outlast a busy machine's pauses.
const BLOCK: u32 = 512;

/// What is played comes back with every interval exact, and both clocks agree on when.
#[test]
fn the_loop_is_exact_to_the_sample() {
    on_server_of_blocks(BLOCK, "the_loop_is_exact_to_the_sample", || undisturbed(loop_once));
}

fn loop_once() -> Result<(), Dropout> {
    // Intervals of no round number, so that a shift by a block cannot pass for exactness.
    let clicks: Vec<i64> = (0..50).map(|n| 60_000 + n * 3_601 + (n * n) % 97).collect();
    let origin = HostOrigin::at(Instant::now());
    let capture = CaptureDevice::find(&on_jack()).expect("JACK records").start(origin).expect("it opens");
    let device = OutputDevice::find(&on_jack()).expect("JACK plays");
    assert_eq!(device.rate(), RATE);
    let output = device.start(clicking(&clicks), origin).expect("it opens");
    assert_eq!(output.block(), Frames::new(BLOCK.into()));
    let (wiring, _) = jack::Client::new("wiring", jack::ClientOptions::NO_START_SERVER).expect("a server");
    connect(&wiring, &wait_for_port(&wiring, "_out:out_0$"), &wait_for_port(&wiring, "_in:in_0$"));
    // Its other channel too must have no microphone, or the driver counts the microphone's latency for both.
    connect(&wiring, &wait_for_port(&wiring, "_out:out_1$"), &wait_for_port(&wiring, "_in:in_1$"));
    let (mut capture, mut output) = (Running::new(capture).settled(), Running::new(output).settled());

    let wanted = usize::try_from(clicks[49]).expect("positive") + 30_000;
    let mut recorded: Vec<f32> = Vec::new();
    let begun = Instant::now();
    while recorded.len() < wanted {
        assert!(begun.elapsed() < Duration::from_secs(30), "only {} frames came in", recorded.len());
        std::thread::sleep(Duration::from_millis(20));
        output.follow()?;
        capture.follow()?;
        while let Some(chunk) = capture.device.next_chunk() {
            assert_eq!(
                chunk.first(),
                Frame::new(i64::try_from(recorded.len()).expect("small")),
                "a chunk was lost"
            );
            recorded.extend_from_slice(chunk.samples());
        }
    }
    let onsets = onsets(&recorded);
    assert_eq!(onsets.len(), clicks.len(), "as many clicks came back as were played");
    let begins = onsets[0] - clicks[0];
    let worst = onsets.iter().zip(&clicks).map(|(onset, click)| (onset - click - begins).abs()).max();
    assert_eq!(worst, Some(0), "every interval is exact to the sample");

    // The loop is closed inside the server: a frame comes in when it goes out, one playback latency before it is heard.
    let latency = output.device.latency();
    let mut errors = Vec::new();
    for (&onset, &click) in onsets.iter().zip(&clicks) {
        let came_in = capture.fit.host_at(Frame::new(onset)).expect("anchors came");
        let heard = output.fit.host_at(Frame::new(click)).expect("anchors came");
        errors.push(((heard - came_in).as_millis_f64() - f64::from(BLOCK) / 48.0).abs());
    }
    errors.sort_by(f64::total_cmp);
    let worst_ms = percentile(&errors, 100);
    println!(
        "{} clicks, 0 samples of error; clocks of both sides agree within {:.1} µs; the driver says {:.2} ms of latency; \
         scatter {:.1} µs out, {:.1} µs in; {:.1} ppm",
        clicks.len(),
        worst_ms * 1e3,
        latency.as_millis_f64(),
        output.fit.scatter().expect("anchors came").as_nanos() as f64 / 1e3,
        capture.fit.scatter().expect("anchors came").as_nanos() as f64 / 1e3,
        output.fit.rate_ppm().expect("anchors came"),
    );
    assert!(worst_ms < 0.1, "the two clocks disagree by {worst_ms} ms");
    assert_wall_time(&output, begun.elapsed());
    Ok(())
}

/// Frames go by as fast as time does: a driver that does not keep time would prove nothing.
fn assert_wall_time(output: &Running<Output>, elapsed: Duration) {
    let frames = output.anchors as f64 * output.device.block().count() as f64;
    let expected = elapsed.as_secs_f64() * 48_000.0;
    assert!((frames / expected - 1.0).abs() < 0.05, "{frames} frames in {elapsed:?}");
}

/// First samples over a threshold, 2,000 frames apart at least.
fn onsets(recorded: &[f32]) -> Vec<i64> {
    let mut found: Vec<i64> = Vec::new();
    for (frame, sample) in (0..).zip(recorded) {
        if sample.abs() > 0.3 && found.last().is_none_or(|last| frame - last > 2_000) {
            found.push(frame);
        }
    }
    found
}

/// A robot strikes a known number of frames after, and before, the click is at the loudspeaker; another of
/// its pads strikes at frames known beforehand.
#[test]
fn attacks_are_stamped_where_they_fell() {
    on_server_of_blocks(BLOCK, "attacks_are_stamped_where_they_fell", || undisturbed(robot_once));
}

fn robot_once() -> Result<(), Dropout> {
    const EVERY: u64 = 4_800;
    const CLICKS: u64 = 30;
    // 20 ms late, 10 ms early, as near as the robot can, 62.5 ms late, 31.25 ms early.
    const STRIKES: [i64; 5] = [960, -480, 0, 3_000, -1_500];
    let clicks: Vec<i64> = (0..CLICKS).map(|n| 60_000 + (n * EVERY).cast_signed()).collect();
    let origin = HostOrigin::at(Instant::now());
    // Steps of no round number walk through every place of a block.
    let stimulus: Vec<u64> = (0..1_100).map(|n| 72_000 + n * 149 + (n * n) % 97).collect();
    let mut robot = Robot::start(RobotPlan {
        name: "robot".to_owned(),
        threshold: 0.3,
        deaf: 2_000,
        click_every: EVERY,
        strikes: STRIKES.to_vec(),
        stimulus: stimulus.clone(),
    });
    let mut input = Input::new(&InputSettings::default());
    input.attach(midi_system(SystemChoice::Jack, origin).expect("a server answers"));
    let opened = input.open_all().expect("the robot's ports can be opened");
    assert_eq!(opened.len(), 2, "{opened:?}");
    let device = OutputDevice::find(&on_jack()).expect("JACK plays");
    let output = device.start(clicking(&clicks), origin).expect("it opens");
    connect(robot.client(), &wait_for_port(robot.client(), "_out:out_0$"), "robot:ear");
    let mut output = Running::new(output).settled();
    let skipped = robot.skipped();

    let begun = Instant::now();
    let (mut heard, mut struck, mut strokes) = (Vec::new(), Vec::new(), Vec::new());
    while begun.elapsed() < Duration::from_millis(5_300) {
        std::thread::sleep(Duration::from_millis(20));
        output.follow()?;
        heard.extend(std::iter::from_fn(|| robot.next_heard()));
        struck.extend(std::iter::from_fn(|| robot.next_struck()));
        strokes.extend(input.strokes().try_iter());
    }
    if robot.skipped() > skipped {
        return Err(Dropout(format!("the server left {} frames out", robot.skipped() - skipped)));
    }
    assert_eq!(input.lost(), 0);
    assert_eq!(heard.len(), clicks.len(), "the robot heard every click");
    assert_wall_time(&output, begun.elapsed());

    // The server's frame in which the mixer's frame 0 went out; the same for every click.
    let zero = heard[0].frame.cast_signed() - clicks[0];
    assert!(heard.iter().zip(&clicks).all(|(heard, click)| heard.frame.cast_signed() - click == zero));

    let of_pad = |player: &str| -> Vec<Stroke> {
        strokes.iter().filter(|stroke| stroke.player.to_string() == player).copied().collect()
    };
    let names: Vec<_> = input.players().all().iter().map(|player| player.name.clone()).collect();
    assert_eq!(names, ["robot:pad", "robot:stimulus"]);
    signs(&mut output.fit, &clicks, &STRIKES, &of_pad("P1"));
    let expected: Vec<i64> = struck
        .iter()
        .filter(|struck| struck.of_stimulus)
        // What is struck at a server's frame falls together with the sound that went out one latency before.
        .map(|struck| struck.frame.cast_signed() - zero - i64::from(BLOCK))
        .collect();
    assert_eq!(expected.len(), stimulus.len());
    exactness(&mut output.fit, &expected, &of_pad("P2"));
    Ok(())
}

/// Every click is answered where the plan says, early or late, by the sign and the size.
fn signs(fit: &mut ClockFit, clicks: &[i64], strikes: &[i64], strokes: &[Stroke]) {
    let mut worst_us = 0.0f64;
    let mut expected: Vec<i64> = Vec::new();
    for (&click, &strike) in clicks.iter().zip(strikes.iter().cycle()) {
        // An early one can only be early for the click after.
        expected.push(if strike < 0 { click + 4_800 + strike } else { click + strike });
    }
    expected.sort_unstable();
    assert_eq!(strokes.len(), expected.len(), "one stroke a click");
    for (stroke, &frame) in strokes.iter().zip(&expected) {
        let played = fit.moment_struck(stroke.stamp, stroke.place).expect("anchors came");
        let off = (played - Frame::new(frame).moment(RATE)).as_nanos() as f64 / 1e3;
        worst_us = worst_us.max(off.abs());
        assert!(off.abs() < 500.0, "{off} µs off at frame {frame}");
    }
    println!("robot: {} strokes early and late, none off by more than {worst_us:.1} µs", strokes.len());
}

/// Stamps against frames that are known: within 0.1 ms at the 99th percentile.
fn exactness(fit: &mut ClockFit, expected: &[i64], strokes: &[Stroke]) {
    assert_eq!(strokes.len(), expected.len(), "every stroke of the stimulus came");
    let mut errors_us: Vec<f64> = strokes
        .iter()
        .zip(expected)
        // The first ones fall before the sound device's map has settled.
        .filter(|(_, frame)| **frame > 24_000)
        .map(|(stroke, &frame)| {
            assert_eq!(stroke.resolution, Seconds::from_nanos(20_833));
            let played = fit.moment_struck(stroke.stamp, stroke.place).expect("anchors came");
            (played - Frame::new(frame).moment(RATE)).as_nanos() as f64 / 1e3
        })
        .collect();
    let mean = errors_us.iter().sum::<f64>() / errors_us.len() as f64;
    errors_us.iter_mut().for_each(|error| *error = error.abs());
    errors_us.sort_by(f64::total_cmp);
    println!(
        "stimulus: {} strokes, mean {mean:.1} µs, median of the size {:.1}, 99 % within {:.1}, worst {:.1} µs",
        errors_us.len(),
        percentile(&errors_us, 50),
        percentile(&errors_us, 99),
        percentile(&errors_us, 100),
    );
    assert!(errors_us.len() > 1_000);
    assert!(percentile(&errors_us, 99) < 100.0);
}

/// The click sent to a device: every message comes, in order, at the frame of its time, however the sending thread was woken.
#[test]
fn a_click_goes_out_on_its_frames() {
    on_server_of_blocks(BLOCK, "a_click_goes_out_on_its_frames", || undisturbed(click_out_once));
}

fn click_out_once() -> Result<(), Dropout> {
    let mut listener = Listener::start("drum machine");
    let ports = output_ports(SystemChoice::Jack).expect("a server answers");
    let port = find_port(&ports, "drum machine").expect("the listener's port").clone();
    // Four seconds, a note every 50 ms and a bit, ended half-way.
    let messages: Vec<TimedMessage> = (0..80_i64)
        .flat_map(|n| {
            let at = Moment::ZERO + Seconds::from_micros(50_013 * n);
            [(at, [0x99, 76, 100]), (at + Seconds::from_micros(25_000), [0x89, 76, 0])]
        })
        .collect();
    let origin = HostOrigin::at(Instant::now());
    let outlet = open_output(SystemChoice::Jack, &port, origin).expect("it opens");
    // The joining of clients may cost the server a cycle, and its clock some time to settle.
    std::thread::sleep(Duration::from_secs(1));
    let lost = listener.lost();
    let zero = origin.time(Instant::now()) + Seconds::from_millis(500);
    let report = ClickOut::start(outlet, messages.clone(), zero, origin).expect("a thread").finish();
    assert_eq!((report.notes, &report.failed), (80, &None));

    let received: Vec<Received> = std::iter::from_fn(|| listener.next_received()).collect();
    let came: Vec<[u8; 3]> = received.iter().map(|received| received.message).collect();
    let sent: Vec<[u8; 3]> = messages.iter().map(|(_, message)| *message).chain([[0xB9, 123, 0]]).collect();
    assert_eq!(came, sent);
    if listener.lost() > lost {
        return Err(Dropout(format!("the server was late {} times", listener.lost() - lost)));
    }
    if report.missed > 0 {
        return Err(Dropout(format!("{} messages came after their cycle", report.missed)));
    }
    // Against the written times: a constant distance, and what the server's clock and ours make of each other.
    let mut off: Vec<f64> = received
        .iter()
        .zip(&messages)
        .map(|(received, (at, _))| received.frame as f64 / 48.0 - at.as_millis_f64())
        .collect();
    off.sort_by(f64::total_cmp);
    let middle = percentile(&off, 50);
    let mut apart: Vec<f64> = off.iter().map(|off| (off - middle).abs()).collect();
    apart.sort_by(f64::total_cmp);
    println!(
        "MIDI out through JACK: {} messages, off their time by {:.3} ms at the median, {:.3} at p99, {:.3} at most",
        apart.len(),
        percentile(&apart, 50),
        percentile(&apart, 99),
        apart[apart.len() - 1]
    );
    if percentile(&apart, 99) > 0.5 {
        return Err(Dropout(format!("p99 is {:.3} ms", percentile(&apart, 99))));
    }
    Ok(())
}
