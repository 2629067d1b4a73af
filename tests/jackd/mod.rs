//! A JACK server without a sound card, a robot that plays on it, and the wiring of clients. Linux only.
//!
//! - [`Server`], [`on_server`], [`on_server_of_blocks`], [`on_named_server`], [`undisturbed`]: a server for one test, and what to do about dropouts.
//! - [`Robot`]: hears a click on its audio input and strikes a known number of frames later (or
//!   earlier) than the click is at the loudspeaker; and, on a port of its own, strikes at frames known beforehand.
//! - [`Listener`]: writes down which MIDI messages come in at which frames.
//! - [`connect`], [`wait_for_port`]: for ports of other clients, this program's or another's.

mod listener;
mod robot;
mod server;

use std::thread::sleep;
use std::time::{Duration, Instant};

pub use listener::{Listener, Received};
pub use robot::{Heard, Robot, RobotPlan, Struck};
pub use server::{Dropout, Server, end, on_named_server, on_server, on_server_of_blocks, undisturbed};

/// The one port whose name matches `pattern`, once it is there.
///
/// # Panics
/// If it does not appear within ten seconds, or there are several.
#[must_use]
pub fn wait_for_port(client: &jack::Client, pattern: &str) -> String {
    let begun = Instant::now();
    loop {
        let mut names = client.ports(Some(pattern), None, jack::PortFlags::empty());
        assert!(names.len() < 2, "several ports match {pattern}: {names:?}");
        if let Some(name) = names.pop() {
            return name;
        }
        assert!(begun.elapsed() < Duration::from_secs(10), "no port matches {pattern}");
        sleep(Duration::from_millis(20));
    }
}

/// Connects two ports and removes every other connection of the second. A client's ports are there a moment before it is
/// active, and until then the server connects nothing to them; and what was connected or undone is seen only when the server's next
/// block has begun, so it is looked at until it is as wanted: a port that is wired to something else too is told another latency.
///
/// # Panics
/// If it is not so after five seconds.
pub fn connect(client: &jack::Client, from: &str, to: &str) {
    let port = client.port_by_name(to).expect("the port was found");
    let begun = Instant::now();
    loop {
        let there = port.get_connections();
        if there == [from] {
            return;
        }
        for other in there.iter().filter(|other| *other != from) {
            // Undone already, perhaps, and still seen.
            client.disconnect_ports_by_name(other, to).ok();
        }
        if !there.iter().any(|other| other == from) {
            client.connect_ports_by_name(from, to).ok();
        }
        assert!(
            begun.elapsed() < Duration::from_secs(5),
            "{from} cannot be connected to {to} alone: {there:?}"
        );
        sleep(Duration::from_millis(20));
    }
}
