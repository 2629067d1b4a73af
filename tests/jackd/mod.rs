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
/// active, and until then the server connects nothing to them.
///
/// # Panics
/// If JACK still refuses after five seconds.
pub fn connect(client: &jack::Client, from: &str, to: &str) {
    let port = client.port_by_name(to).expect("the port was found");
    for other in port.get_connections() {
        client.disconnect_ports_by_name(&other, to).expect("a connection can be undone");
    }
    let begun = Instant::now();
    while let Err(error) = client.connect_ports_by_name(from, to) {
        assert!(begun.elapsed() < Duration::from_secs(5), "{from} cannot be connected: {error}");
        sleep(Duration::from_millis(20));
    }
}
