//! The adapter to midir, run for once: built on JACK, because the sequencer it is made for needs a kernel
//! that has one. In a call of its own, for midir is built anew:
//! `cargo test -p input --features midir-jack --test midir_adapter`.
//!
//! midir on JACK stamps a note when the cycle is processed that brings it, so a stamp may be one cycle late.

#[expect(dead_code, unreachable_pub, unused_imports, reason = "shared with the tests of the whole house")]
#[path = "../../../tests/jackd/mod.rs"]
mod jackd;

use std::time::{Duration, Instant};

use input::{
    Input, InputSettings, StrokeKind, SystemChoice, find_port, midi_system, open_output, output_ports,
};
use jackd::{Dropout, Listener, Robot, RobotPlan, on_server, undisturbed};
use timebase::{HostOrigin, Seconds};

#[test]
fn strokes_come_through_midir() {
    on_server("strokes_come_through_midir", || undisturbed(come_through));
}

#[expect(clippy::print_stdout, reason = "what was measured is printed")]
fn come_through() -> Result<(), Dropout> {
    // It is told when the server is late.
    let witness = Listener::start("witness");
    let origin = HostOrigin::at(Instant::now());
    // Short, so that a busy server leaves it alone; 1,201 frames apart, which falls everywhere in a cycle.
    let stimulus: Vec<u64> = (0..80).map(|n| 48_000 + n * 1_201).collect();
    let mut robot = Robot::start(RobotPlan {
        name: "robot".to_owned(),
        threshold: 1.0,
        deaf: 0,
        click_every: 0,
        strikes: Vec::new(),
        stimulus: stimulus.clone(),
    });
    let mut input = Input::new(&InputSettings::default());
    input.attach(midi_system(SystemChoice::Native, origin).expect("midir finds the server"));
    assert_eq!(input.system_name(), Some("JACK through midir"));
    let ports = input.ports().expect("it lists them");
    let port = input::find_port(&ports, "stimulus").expect("the robot's port");
    input.open(port).expect("it opens");
    // That a server is late while clients come to it disturbs nothing.
    let (late_before, skipped_before) = (witness.lost(), robot.skipped());

    let (mut strokes, mut struck) = (Vec::new(), Vec::new());
    let begun = Instant::now();
    while strokes.len() < stimulus.len() {
        assert!(begun.elapsed() < Duration::from_secs(15), "only {} strokes came", strokes.len());
        std::thread::sleep(Duration::from_millis(20));
        strokes.extend(input.strokes().try_iter());
        struck.extend(std::iter::from_fn(|| robot.next_struck()));
    }
    assert!(strokes.iter().all(|stroke| stroke.kind == StrokeKind::On));
    assert!(strokes.iter().zip((40..48).cycle()).all(|(stroke, note)| stroke.note == note));
    assert!(strokes.iter().all(|stroke| stroke.velocity == 100 && !stroke.retrigger));
    assert!(strokes.iter().all(|stroke| stroke.resolution == Seconds::from_millis(1)));
    assert!(strokes.is_sorted_by_key(|stroke| stroke.stamp));
    let players = input.players();
    assert_eq!(players.all().len(), 1);
    assert_eq!(players.all()[0].name, "robot:stimulus");

    let late_since = witness.lost() - late_before;
    if late_since > 0 || robot.skipped() > skipped_before {
        return Err(Dropout(format!("the server was late {late_since} times")));
    }
    // Against the frames: a constant distance and up to one cycle, 5.3 ms. A busy machine adds to single ones.
    let mut late: Vec<f64> = strokes
        .iter()
        .zip(&struck)
        .map(|(stroke, struck)| stroke.stamp.as_nanos() as f64 / 1e6 - struck.frame as f64 / 48.0)
        .collect();
    late.sort_by(f64::total_cmp);
    let spread_ms = late[late.len() * 9 / 10] - late[late.len() / 10];
    println!("{} strokes; between the first and the last tenth {spread_ms:.2} ms", strokes.len());
    assert!((1.0..7.0).contains(&spread_ms), "{spread_ms} ms");
    Ok(())
}

#[test]
fn messages_go_out_through_midir() {
    on_server("messages_go_out_through_midir", || {
        let origin = HostOrigin::at(Instant::now());
        let mut listener = Listener::start("drum machine");
        let ports = output_ports(SystemChoice::Native).expect("midir finds the server");
        let port = find_port(&ports, "drum machine").expect("the listener's port");
        let mut outlet = open_output(SystemChoice::Native, port, origin).expect("it opens");
        assert_eq!(outlet.ahead(), Seconds::ZERO);
        let messages: Vec<[u8; 3]> = (0..100).map(|n| [0x99, n, 100]).chain([[0xB9, 123, 0]]).collect();
        for message in &messages {
            outlet.send(*message, origin.time(Instant::now())).expect("it takes it");
            std::thread::sleep(Duration::from_millis(5));
        }
        assert_eq!(outlet.drain(), 0);
        let (mut came, begun) = (Vec::new(), Instant::now());
        while came.len() < messages.len() {
            assert!(begun.elapsed() < Duration::from_secs(5), "only {} messages came", came.len());
            came.extend(std::iter::from_fn(|| listener.next_received()).map(|received| received.message));
        }
        assert_eq!(came, messages);
    });
}
