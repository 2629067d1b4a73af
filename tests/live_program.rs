//! The whole program on a real JACK server: a robot that hears its click and strikes back, a take that is killed.
#![cfg(target_os = "linux")]
#![expect(clippy::print_stdout, reason = "what was measured is printed")]

use std::ffi::OsStr;
use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Child, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering};
use std::time::{Duration, Instant};

use serde_json::Value;
use tests::jackd::{
    Dropout, Listener, Robot, RobotPlan, Server, connect, on_named_server, on_server, on_server_of_blocks,
    undisturbed, wait_for_port,
};
use tests::program;

/// Beats 0.3 s apart, twelve of them after four of count-in: what answers the last of these lies before what is recorded.
const RHYTHM: &str = "meter: 4/4\ntempo: quarter = 200\n| 1 2 3 4 | 1 2 3 4 | 1 2 3 4 |";

/// 0.3 s in frames of the server.
const BEAT: u64 = 14_400;

/// Frames in a block of the server, a 47th of a second: what is tested here holds at any length of block, and a machine that
/// does other work beside loses fewer of the long ones.
const BLOCK: u32 = 1_024;

fn listen(folder: &Path, more: &[&str]) -> Child {
    let rhythm = folder.join("beats.rhythm");
    fs::write(&rhythm, RHYTHM).expect("the rhythm is written");
    let take = folder.join("take");
    let mut call =
        program::call(["listen", "--system", "jack", "--json", "--mute", "count", "--mute", "clap"]);
    call.arg("--take").arg(&take).args(more).arg(&rhythm);
    call.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("countline runs")
}

fn robot(strikes: &[i64]) -> Robot {
    Robot::start(RobotPlan {
        name: "robot".to_owned(),
        threshold: 0.005,
        deaf: 9_600,
        click_every: BEAT,
        strikes: strikes.to_vec(),
        stimulus: Vec::new(),
    })
}

fn wire(robot: &Robot) {
    let program = wait_for_port(robot.client(), "countline.*:out_0$|cpal.*:out_0$");
    connect(robot.client(), &program, "robot:ear");
}

/// Everything that was said and judged, once the drill has ended; a take in which sound was lost is a dropout.
fn judged(child: Child) -> Result<Value, Dropout> {
    let output = child.wait_with_output().expect("countline ends");
    let said = String::from_utf8(output.stderr).expect("UTF-8");
    assert!(output.status.success(), "{said}");
    if said.contains("disturbed") {
        return Err(Dropout(said));
    }
    Ok(serde_json::from_slice(&output.stdout).expect("JSON"))
}

/// What the robot strikes a known number of frames after (before) the click is heard, is judged that much late
/// (early): a program with the sign of a latency wrong would be found out here.
#[test]
fn a_late_stroke_is_judged_late() {
    on_server_of_blocks(BLOCK, "a_late_stroke_is_judged_late", || undisturbed(|| struck(1_440, 30.0)));
}

#[test]
fn an_early_stroke_is_judged_early() {
    on_server_of_blocks(BLOCK, "an_early_stroke_is_judged_early", || undisturbed(|| struck(-960, -20.0)));
}

#[test]
fn a_stroke_with_the_click_is_on_it() {
    on_server_of_blocks(BLOCK, "a_stroke_with_the_click_is_on_it", || undisturbed(sent_through));
}

/// What the robot strikes is also sent on to a device, and every note is ended there.
fn sent_through() -> Result<(), Dropout> {
    let mut module = Listener::start("sound module");
    struck_with(0, 0.0, &["--through", "sound module"])?;
    let received: Vec<_> = std::iter::from_fn(|| module.next_received()).collect();
    let of =
        |status: u8| received.iter().filter(move |received| received.message[0] & 0xF0 == status).count();
    assert!(of(0x90) >= 12, "{received:?}");
    assert_eq!(of(0x90), of(0x80), "{received:?}");
    Ok(())
}

fn struck(frames: i64, expected_ms: f64) -> Result<(), Dropout> {
    struck_with(frames, expected_ms, &[])
}

fn struck_with(frames: i64, expected_ms: f64, more: &[&str]) -> Result<(), Dropout> {
    let folder = tempfile::tempdir().expect("a folder");
    let robot = robot(&[frames]);
    let child = listen(folder.path(), more);
    wire(&robot);
    let judgement = judged(child)?;
    let players = judgement["players"].as_array().expect("players");
    // The robot has a second pad, which it does not strike: everything is listened to that is there.
    assert_eq!(players.len(), 2, "{players:?}");
    let offsets: Vec<f64> = players[0]["attacks"]
        .as_array()
        .expect("attacks")
        .iter()
        // An early robot expects one click more than there are: that stroke answers nothing.
        .filter_map(|attack| attack["offset_ms"].as_f64())
        .collect();
    assert_eq!(offsets.len(), 12, "every written attack was struck: {judgement:#}");
    assert_eq!(players[0]["missed"].as_array().map(Vec::len), Some(0));
    let mut errors: Vec<f64> = offsets.iter().map(|offset| (offset - expected_ms).abs()).collect();
    errors.sort_by(f64::total_cmp);
    assert!(errors[11] <= 0.1, "struck {expected_ms} ms off, judged {offsets:?}");
    recorded(&folder.path().join("take"), frames);
    Ok(())
}

/// A loop closed inside the server comes one block of 1,024 frames earlier than the driver reckons with a loudspeaker: measured to
/// the frame, kept for this device, rate and block size, and told by the next drill.
#[test]
fn a_loopback_is_measured_and_applied() {
    on_server_of_blocks(BLOCK, "a_loopback_is_measured_and_applied", || undisturbed(looped));
}

fn looped() -> Result<(), Dropout> {
    let folder = tempfile::tempdir().expect("a folder");
    let call = |arguments: &[&str]| {
        let mut call = program::call(arguments);
        call.env("COUNTLINE_SETTINGS", folder.path()).stdout(Stdio::piped()).stderr(Stdio::piped());
        call.spawn().expect("countline runs")
    };
    let mut child = call(&["calibrate", "loopback", "--system", "jack"]);
    let (wiring, _) = jack::Client::new("wiring", jack::ClientOptions::NO_START_SERVER).expect("a server");
    // The devices are opened twice or three times, and with each its connections are gone.
    while child.try_wait().expect("it is ours").is_none() {
        for side in ["0", "1"] {
            let port = |end: &str| {
                let name = format!("(countline|cpal).*_{end}_{side}$");
                wiring.ports(Some(&name), None, jack::PortFlags::empty()).pop()
            };
            let (Some(out), Some(input)) = (port("out:out"), port("in:in")) else { continue };
            let there = wiring.port_by_name(&input).map(|port| port.get_connections()).unwrap_or_default();
            // Ports of devices that are being closed are seen a while longer and connect to nothing.
            for other in there.iter().filter(|other| **other != out) {
                wiring.disconnect_ports_by_name(other, &input).ok();
            }
            if !there.contains(&out) {
                wiring.connect_ports_by_name(&out, &input).ok();
            }
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    let output = child.wait_with_output().expect("countline ends");
    let (out, err) = (String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    if err.contains("sound was lost") {
        return Err(Dropout(err.into_owned()));
    }
    assert!(output.status.success(), "{out}{err}");
    println!("{out}");
    assert!(out.contains("21.33 ms earlier than the drivers say"), "{out}");
    let kept = fs::read_to_string(folder.path().join("latency.toml")).expect("it is kept");
    let late = kept.lines().find_map(|line| line.strip_prefix("late_ms = ")).expect("a number");
    let late: f64 = late.parse().expect("a number");
    assert!((late + f64::from(BLOCK) / 48.0).abs() < 0.1, "{late} ms\n{out}");

    let rhythm = folder.path().join("beat.rhythm");
    fs::write(&rhythm, "meter: 1/4\ntempo: quarter = 240\n| 1 |\n").expect("the rhythm is written");
    let path = rhythm.to_string_lossy().into_owned();
    let drill =
        call(&["listen", "--system", "jack", "--no-take", &path]).wait_with_output().expect("countline ends");
    let said = String::from_utf8_lossy(&drill.stderr).into_owned();
    assert!(said.contains("latency: −21.3 ms (by loopback)"), "{said}");
    Ok(())
}

/// The take's WAV file: the model's clicks exactly a beat apart, the player's strokes where they were struck.
fn recorded(take: &Path, frames: i64) {
    let mut wav = hound::WavReader::open(take.join("take.wav")).expect("the take's sound");
    assert_eq!((wav.spec().channels, wav.spec().sample_rate), (2, 48_000));
    let scale = f64::from(1 << (wav.spec().bits_per_sample - 1));
    let samples: Vec<f64> = wav.samples::<i32>().map(|s| f64::from(s.expect("whole")) / scale).collect();
    let onsets = |channel: usize, threshold: f64| {
        let mut found: Vec<i64> = Vec::new();
        for (frame, sample) in (0..).zip(samples.iter().skip(channel).step_by(2)) {
            if sample.abs() > threshold && found.last().is_none_or(|last| frame - last > 9_600) {
                found.push(frame);
            }
        }
        found
    };
    let clicks = onsets(0, 0.02);
    assert_eq!(clicks.len(), 16, "four of count-in, twelve of the rhythm");
    // Each kind of click rises over the threshold at its own frame: compare like with like.
    for kind in [0, 1] {
        let alike: Vec<i64> = clicks.iter().skip(kind).step_by(4).copied().collect();
        assert!(alike.windows(2).all(|pair| pair[1] - pair[0] == 4 * BEAT.cast_signed()), "{clicks:?}");
    }
    let strokes = onsets(1, 0.02);
    assert_eq!(strokes.len(), 12 + usize::from(frames < 0), "one more where the robot is early");
    let late: Vec<i64> = strokes.iter().zip(&clicks[4..]).map(|(stroke, click)| stroke - click).collect();
    assert!(
        late.iter().all(|late| (late - frames).abs() <= 96),
        "struck {frames} frames off, recorded {late:?}"
    );
}

/// Killed in the middle, all but the last second is there and opens.
#[test]
fn a_drill_that_is_killed_leaves_its_take() {
    on_server_of_blocks(BLOCK, "a_drill_that_is_killed_leaves_its_take", || {
        undisturbed(|| {
            let folder = tempfile::tempdir().expect("a folder");
            let robot = robot(&[480]);
            let mut child = listen(folder.path(), &[]);
            wire(&robot);
            let take = folder.path().join("take");
            let begun = Instant::now();
            // Count-in and one and a half bars.
            while journal_strokes(&take) < 6 {
                assert!(begun.elapsed() < Duration::from_secs(30), "no strokes came");
                std::thread::sleep(Duration::from_millis(20));
            }
            child.kill().expect("it ran");
            child.wait().expect("it is dead");
            let kept = take::Take::open(&take).expect("the take opens");
            let strokes = kept.players()[0].strokes.len();
            assert!(strokes >= 6, "{strokes} strokes are left");
            let last = kept.players()[0].strokes[strokes - 1].at.as_secs_f64();
            let mut wav = hound::WavReader::open(take.join("take.wav")).expect("the sound opens");
            let seconds = f64::from(wav.duration()) / 48_000.0;
            assert!(seconds >= last - 1.4, "{seconds} s of sound are left of {last} s");
            assert!(wav.samples::<i32>().all(|sample| sample.is_ok()));
            // And the judge reads it.
            let rhythm = folder.path().join("beats.rhythm");
            let judged =
                program::run(["judge".as_ref(), rhythm.as_os_str(), take.as_os_str(), "--json".as_ref()])
                    .done();
            let judged: Value = serde_json::from_str(&judged).expect("JSON");
            assert_eq!(judged["players"][0]["attacks"].as_array().map(Vec::len), Some(strokes));
            Ok(())
        });
    });
}

fn journal_strokes(take: &Path) -> usize {
    fs::read_to_string(take.join("journal.jsonl")).unwrap_or_default().matches("\"stroke\"").count()
}

/// The server dies in the first one's turn: the take is kept up to there, the sound is waited for, and the next one plays.
#[test]
fn turns_go_on_when_the_sound_is_back() {
    on_named_server("turns_go_on_when_the_sound_is_back", |name| {
        let server = Server::of_blocks(BLOCK, name);
        let folder = tempfile::tempdir().expect("a folder");
        let first = robot(&[480]);
        let child = listen(folder.path(), &["--turns", "P1=K1,K2"]);
        wire(&first);
        let take = folder.path().join("take");
        let begun = Instant::now();
        while journal_strokes(&take.join("1")) < 3 {
            assert!(begun.elapsed() < Duration::from_secs(30), "no strokes came");
            std::thread::sleep(Duration::from_millis(20));
        }
        drop(server);
        drop(first);
        std::thread::sleep(Duration::from_millis(1_500));
        let _server = Server::of_blocks(BLOCK, name);
        let second = robot(&[480]);
        wire(&second);
        let output = child.wait_with_output().expect("countline ends");
        let said = String::from_utf8(output.stderr).expect("UTF-8");
        assert!(output.status.success(), "{said}");
        for word in ["the sound device has gone", "sound plays again through", "K2"] {
            assert!(said.contains(word), "{word}: {said}");
        }
        let strokes = |turn: &str| {
            let take = take::Take::open(&take.join(turn)).expect("the take opens");
            take.players().first().map_or(0, |player| player.strokes.len())
        };
        assert!(strokes("1") >= 3 && strokes("2") >= 3, "{} and {}: {said}", strokes("1"), strokes("2"));
    });
}

/// Click and clap sent to a device: every note of General MIDI's keys on its beat, each ended, and "all notes off" last.
#[test]
fn the_click_is_sent_to_a_device() {
    on_server("the_click_is_sent_to_a_device", || undisturbed(sent_once));
}

fn sent_once() -> Result<(), Dropout> {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythm = folder.path().join("short.rhythm");
    fs::write(&rhythm, "meter: 2/4\ntempo: quarter = 120\n| 1 & 2 |").expect("the rhythm is written");
    let mut listener = Listener::start("drum machine");
    let call = ["sound", "--system", "jack", "--midi-out", "drum machine"].map(OsStr::new);
    let out = program::run(call.into_iter().chain([rhythm.as_os_str()])).done();
    assert!(out.starts_with("sent 7 notes; "), "{out}");
    let received: Vec<_> = std::iter::from_fn(|| listener.next_received()).collect();
    assert_eq!(received.last().map(|last| last.message), Some([0xB9, 123, 0]));
    let of = |status: u8| received.iter().filter(move |received| received.message[0] == status);
    assert_eq!((of(0x99).count(), of(0x89).count()), (7, 7));
    let first = of(0x99).next().expect("seven").frame;
    let mut came: Vec<(u8, u64)> = of(0x99).map(|on| (on.message[1], on.frame - first)).collect();
    came.sort_unstable();
    // The clap, the accented and the plain click, in eighths of 12,000 frames from the count-in on.
    let eighths = [(39, 4), (39, 5), (39, 6), (76, 0), (76, 4), (77, 2), (77, 6)];
    for ((key, frame), (expected, eighth)) in came.iter().zip(eighths) {
        assert_eq!(*key, expected, "{came:?}");
        let off = frame.abs_diff(eighth * 12_000);
        // A client that joins may cost the server a cycle, after which its frames stand otherwise to the time of day: how exact messages
        // are is tested where that can be kept out, this is about which note stands on which beat.
        if off > 240 {
            let lost = listener.lost();
            return Err(Dropout(format!("key {key} is {off} frames off, the server was late {lost} times")));
        }
    }
    Ok(())
}

/// Ctrl-C in the middle of a note: every note that was begun is ended, and "all notes off" comes last.
#[test]
fn an_interrupted_click_ends_its_notes() {
    on_server("an_interrupted_click_ends_its_notes", || {
        let folder = tempfile::tempdir().expect("a folder");
        let rhythm = folder.path().join("long.rhythm");
        fs::write(&rhythm, "meter: 4/4\ntempo: quarter = 240\n|: 1 & 2 & 3 & 4 & :| 20 times")
            .expect("written");
        let mut listener = Listener::start("drum machine");
        let mut call = program::call(["sound", "--system", "jack", "--midi-out", "drum machine"]);
        let child = call.arg(&rhythm).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("it runs");
        let begun = Instant::now();
        let mut received = Vec::new();
        while received.len() < 9 {
            received.extend(std::iter::from_fn(|| listener.next_received()));
            assert!(begun.elapsed() < Duration::from_secs(30), "notes come: {received:?}");
            std::thread::sleep(Duration::from_millis(1));
        }
        let process = rustix::process::Pid::from_child(&child);
        rustix::process::kill_process(process, rustix::process::Signal::INT).expect("it is there");
        let output = child.wait_with_output().expect("countline ends");
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success() && said.contains("every note is ended"), "{said}");
        received.extend(std::iter::from_fn(|| listener.next_received()));
        assert_eq!(received.last().map(|last| last.message), Some([0xB9, 123, 0]));
        let mut sounding: Vec<u8> = Vec::new();
        for [status, key, _] in received.iter().map(|received| received.message) {
            match status {
                0x99 => sounding.push(key),
                0x89 => sounding.retain(|other| *other != key),
                _ => {}
            }
        }
        assert!(sounding.is_empty(), "{sounding:?} sound on");
        assert!(received.len() < 400, "it did not play on to its end");
    });
}

/// Ctrl-C while the next word is waited for: the words that were recorded are kept, in a voice that can be used.
#[test]
fn an_interrupted_recording_keeps_its_words() {
    on_server_of_blocks(BLOCK, "an_interrupted_recording_keeps_its_words", || undisturbed(recorded_in_part));
}

fn recorded_in_part() -> Result<(), Dropout> {
    let folder = tempfile::tempdir().expect("a folder");
    let voice = folder.path().join("mine");
    let (singer, _) = jack::Client::new("singer", jack::ClientOptions::NO_START_SERVER).expect("a server");
    let mut mouth = singer.register_port("mouth", jack::AudioOut::default()).expect("a port");
    let begins = Arc::new(AtomicBool::new(false));
    let (asked, mut frame) = (Arc::clone(&begins), usize::MAX);
    let sing = move |_: &jack::Client, scope: &jack::ProcessScope| {
        if asked.swap(false, Ordering::Relaxed) {
            frame = 0;
        }
        for sample in mouth.as_mut_slice(scope) {
            *sample = sung(frame);
            frame = frame.saturating_add(1);
        }
        jack::Control::Continue
    };
    let singer =
        singer.activate_async((), jack::contrib::ClosureProcessHandler::new(sing)).expect("it sings");
    let mut call = program::call(["voice", "record", "--system", "jack", "--words", "1 2 3"]);
    call.arg(&voice).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = call.spawn().expect("countline runs");
    let ear = wait_for_port(singer.as_client(), "(countline|cpal).*:in_0$");
    connect(singer.as_client(), "singer:mouth", &ear);
    let mut typed = child.stdin.take().expect("a pipe");
    let mut said = BufReader::new(child.stderr.take().expect("a pipe")).lines().map_while(Result::ok);
    let mut heard = String::new();
    for prompt in ["1 of 3", "2 of 3", "3 of 3"] {
        let line = said.by_ref().inspect(|line| heard += line).find(|line| line.starts_with(prompt));
        if heard.contains("lost some of it") {
            child.kill().expect("it runs");
            child.wait().expect("it ends");
            return Err(Dropout(heard));
        }
        assert!(line.is_some(), "{prompt}: {heard}");
        if prompt != "3 of 3" {
            begins.store(true, Ordering::Relaxed);
            typed.write_all(b"\n").expect("it listens");
        }
    }
    let process = rustix::process::Pid::from_child(&child);
    rustix::process::kill_process(process, rustix::process::Signal::INT).expect("it is there");
    let output = child.wait_with_output().expect("countline ends");
    let said: String = said.collect();
    assert!(output.status.success() && said.contains("what was recorded is kept"), "{heard}{said}");
    let voice = voice.to_string_lossy().into_owned();
    let check = program::run(["voice", "check", &voice]).done();
    assert!(check.contains("one") && check.contains("two") && !check.contains("three "), "{check}");
    Ok(())
}

/// A sung vowel of 0.2 s, half a second after the first frame, at 48,000 frames a second.
fn sung(frame: usize) -> f32 {
    let Some(frame) = frame.checked_sub(24_000).and_then(|frame| u16::try_from(frame).ok()) else {
        return 0.0;
    };
    let time = f32::from(frame) / 48_000.0;
    let level = (time / 0.02).clamp(0.0, 1.0) * ((0.2 - time) / 0.02).clamp(0.0, 1.0);
    let partials = (1..9_u8).map(|n| (std::f32::consts::TAU * 150.0 * f32::from(n) * time).sin());
    0.05 * level * partials.sum::<f32>()
}

/// A drill plan whose tempo steps up: a robot that strikes 30 ms after every click, in calls and count-ins too, is judged in
/// its responses only, at both tempos.
#[test]
fn a_plan_is_answered_at_the_tempo_it_steps_to() {
    on_server_of_blocks(BLOCK, "a_plan_is_answered_at_the_tempo_it_steps_to", || undisturbed(planned));
}

fn planned() -> Result<(), Dropout> {
    let folder = tempfile::tempdir().expect("a folder");
    let plan = folder.path().join("step.drill");
    fs::write(folder.path().join("one.rhythm"), "meter: 4/4\ntempo: quarter = 200\n| 1 2 3 4 |")
        .expect("written");
    let text = "rhythms = [\"one.rhythm\"]\ntimes = 2\n[tempo]\nstep = 40\nfastest = 240\nup-after = 1\n";
    fs::write(&plan, text).expect("written");
    let robot = robot(&[1_440]);
    let take = folder.path().join("take");
    let mut call =
        program::call(["listen", "--system", "jack", "--json", "--mute", "count", "--mute", "clap"]);
    call.arg("--take").arg(&take).arg(&plan).stdout(Stdio::piped()).stderr(Stdio::piped());
    let child = call.spawn().expect("countline runs");
    wire(&robot);
    let output = child.wait_with_output().expect("countline ends");
    let said = String::from_utf8(output.stderr).expect("UTF-8");
    assert!(output.status.success(), "{said}");
    if said.contains("disturbed") {
        return Err(Dropout(said));
    }
    println!("{said}");
    for line in [
        "round 1: quarter = 200",
        "round 2: quarter = 240",
        "listen",
        "your turn",
        "round 2: good (4 of 4 on time)",
    ] {
        assert!(said.contains(line), "{line}: {said}");
    }
    let check = |judged: &Value| {
        let rounds = judged["rounds"].as_array().expect("rounds");
        assert_eq!(rounds.len(), 2);
        for round in rounds {
            let players = round["responses"][0]["judgement"]["players"].as_array().expect("players");
            let attacks = players[0]["attacks"].as_array().expect("attacks");
            let offsets: Vec<f64> =
                attacks.iter().filter_map(|attack| attack["offset_ms"].as_f64()).collect();
            assert_eq!((offsets.len(), attacks.len()), (4, 4), "{round:#}");
            assert!(offsets.iter().all(|offset| (offset - 30.0).abs() <= 0.1), "{offsets:?}");
        }
    };
    check(&serde_json::from_slice(&output.stdout).expect("JSON"));
    let again =
        program::run(["judge".as_ref(), plan.as_os_str(), take.as_os_str(), "--json".as_ref()]).done();
    check(&serde_json::from_str(&again).expect("JSON"));
    Ok(())
}

/// Pads that somebody strikes: what is asked for goes out in the next block.
fn hand() -> (impl AsRef<jack::Client>, Arc<AtomicU8>) {
    let (client, _) = jack::Client::new("hand", jack::ClientOptions::NO_START_SERVER).expect("a server");
    let mut port = client.register_port("pads", jack::MidiOut::default()).expect("a port");
    let note = Arc::new(AtomicU8::new(0));
    let asked = Arc::clone(&note);
    let strike = move |_: &jack::Client, scope: &jack::ProcessScope| {
        // What was written in a block before goes out again unless the port is taken anew.
        let mut pads = port.writer(scope);
        let note = asked.swap(0, Ordering::Relaxed);
        if note > 0 {
            pads.write(&jack::RawMidi { time: 0, bytes: &[0x99, note, 100] }).ok();
        }
        jack::Control::Continue
    };
    let handler = jack::contrib::ClosureProcessHandler::new(strike);
    (Hand(client.activate_async((), handler).expect("it plays")), note)
}

struct Hand<F: Send + FnMut(&jack::Client, &jack::ProcessScope) -> jack::Control>(
    jack::AsyncClient<(), jack::contrib::ClosureProcessHandler<(), F>>,
);

impl<F: Send + FnMut(&jack::Client, &jack::ProcessScope) -> jack::Control> AsRef<jack::Client> for Hand<F> {
    fn as_ref(&self) -> &jack::Client {
        self.0.as_client()
    }
}

/// `again` between turns repeats the one who has just played, whoever was stopped is called again and `next` passes over them, and
/// each take has a folder of its own.
#[test]
fn a_turn_is_played_again_and_a_stopped_one_is_not_lost() {
    on_server_of_blocks(BLOCK, "a_turn_is_played_again_and_a_stopped_one_is_not_lost", || {
        let folder = tempfile::tempdir().expect("a folder");
        let (_hand, note) = hand();
        let rhythm = folder.path().join("beats.rhythm");
        fs::write(&rhythm, "meter: 2/4\ntempo: quarter = 120\n| 1 2 | 1 2 |").expect("written");
        let mut call = program::call(["listen", "--system", "jack", "--turns", "P1=K1,K2,K3"]);
        for control in ["again=hand,note=50", "next=hand,note=51", "stop=hand,note=52"] {
            call.args(["--control", control]);
        }
        call.arg("--take").arg(folder.path().join("take")).arg(&rhythm);
        let mut child = call.stdout(Stdio::null()).stderr(Stdio::piped()).spawn().expect("it runs");
        let lines = BufReader::new(child.stderr.take().expect("a pipe")).lines().map_while(Result::ok);
        let (again, next, stop) = (50, 51, 52);
        // Who plays, whether they are stopped, and what is struck then.
        let mut turns = [
            ("K1", false, again),
            ("K1", true, again),
            ("K1", false, next),
            ("K2", true, next),
            ("K3", true, again),
            ("K3", false, again),
            ("K3", false, next),
            ("K1", false, stop),
        ]
        .into_iter();
        let (mut said, mut now) = (String::new(), None);
        let strike = |asked: u8| {
            std::thread::sleep(Duration::from_millis(300));
            note.store(asked, Ordering::Relaxed);
        };
        for line in lines {
            println!("{line}");
            said += &line;
            said.push('\n');
            if line.contains("turn") && line.starts_with("P1: it is") {
                now = turns.next();
                assert!(now.is_some_and(|(who, ..)| line.contains(who)), "{now:?}: {said}");
            } else if line == "play" && now.is_some_and(|(_, stops, _)| stops) {
                strike(stop);
            } else if line.contains("hand, note 50") && line.contains("once more") {
                for part in ["next (hand", "again (hand", "stop (hand"] {
                    assert!(line.contains(part), "{part}: {line}");
                }
                strike(now.expect("a turn").2);
            }
        }
        assert!(child.wait().expect("it ends").success(), "{said}");
        assert_eq!(turns.next(), None, "{said}");
        for turn in 1..=8 {
            let take = folder.path().join(format!("take/{turn}"));
            assert!(take.join("take.json").exists(), "{turn}: {said}");
        }
        assert!(!folder.path().join("take/9").exists(), "{said}");
    });
}

/// Where the sound's file, or every file, may grow no further, it is told at the end up to where the take is kept, and with the first
/// stroke what a player plays on.
#[test]
fn a_take_that_is_cut_off_is_told_at_the_end() {
    on_server_of_blocks(BLOCK, "a_take_that_is_cut_off_is_told_at_the_end", || {
        for (blocks, told) in [(1_500, "the sound of the take in "), (5, "the take in ")] {
            let folder = tempfile::tempdir().expect("a folder");
            let robot = robot(&[480]);
            let rhythm = folder.path().join("beats.rhythm");
            fs::write(&rhythm, RHYTHM).expect("written");
            let mut call = std::process::Command::new("sh");
            call.args(["-c", &format!("ulimit -f {blocks}; exec \"$0\" \"$@\"")]).arg(program::path());
            call.args(["listen", "--system", "jack", "--mute", "count", "--mute", "clap", "--take"]);
            call.arg(folder.path().join("take")).arg(&rhythm).stdout(Stdio::piped()).stderr(Stdio::piped());
            let child = call.spawn().expect("it runs");
            wire(&robot);
            let output = child.wait_with_output().expect("it ends");
            let said = String::from_utf8_lossy(&output.stderr);
            assert!(output.status.success(), "{said}");
            println!("{said}");
            let last = said.trim_end().lines().last().unwrap_or_default();
            assert!(last.starts_with(told) && last.contains(" is kept up to "), "{said}");
            assert!(["bar ", "the count-in"].iter().any(|place| last.contains(place)), "{last}");
            assert_eq!(said.lines().filter(|line| *line == "P1 plays on robot:pad").count(), 1, "{said}");
        }
    });
}
