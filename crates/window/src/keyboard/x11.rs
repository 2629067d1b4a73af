//! The X server's own stamps of the space bar, over a connection of our own: the window's connection tells of keys
//! when it is read, which can be a frame late.
//!
//! Raw keys are told whichever window has the keyboard; they are passed on only while ours has it and a drill runs
//! ([`KeyWatch`]), and no other key is looked at.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Instant;

use timebase::Seconds;
use x11rb::connection::Connection;
use x11rb::errors::ReplyOrIdError;
use x11rb::protocol::Event;
use x11rb::protocol::xinput::{self, ConnectionExt as _};
use x11rb::protocol::xproto::{
    AtomEnum, ClientMessageEvent, ConnectionExt as _, CreateWindowAux, EventMask, PropMode, Window,
    WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

use super::server_clock::ServerClock;
use super::{KeyStroke, KeyWatch};

/// The keysym of the space bar (X11 keysyms follow Latin-1 here).
const SPACE: u32 = 0x20;

/// Questions of the server's time at the beginning; each takes some tens of microseconds.
const QUESTIONS: usize = 64;

/// The thread that hears raw keys. Ends when dropped.
#[derive(Debug)]
pub(super) struct Listener {
    connection: Arc<RustConnection>,
    window: Window,
    ended: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Listener {
    /// `None` where there is no X server, or one that does not tell of raw keys: then the event loop stamps.
    pub(super) fn start(watch: KeyWatch, wake: impl Fn() + Send + 'static) -> Option<Self> {
        // In a Wayland session an X server may be there for others; it hears no key of ours.
        let on_wayland = std::env::var_os("WAYLAND_DISPLAY").is_some_and(|name| !name.is_empty());
        if on_wayland { None } else { Self::on(None, watch, wake) }
    }

    /// On this display, or on the one that the environment names.
    fn on(display: Option<&str>, watch: KeyWatch, wake: impl Fn() + Send + 'static) -> Option<Self> {
        let ear = Ear::open(display).ok()?;
        let (connection, window) = (Arc::clone(&ear.connection), ear.window);
        let ended = Arc::new(AtomicBool::new(false));
        let until = Arc::clone(&ended);
        watch.by_server.store(true, Ordering::Release);
        let thread = std::thread::Builder::new()
            .name("keys".to_owned())
            .spawn(move || {
                // A connection that breaks leaves the stamping to the event loop.
                let _ = ear.listen(&watch, &wake, &until);
                watch.by_server.store(false, Ordering::Release);
            })
            .ok()?;
        Some(Self { connection, window, ended, thread: Some(thread) })
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.ended.store(true, Ordering::Release);
        // Any event wakes the thread; a server that is gone has woken it already.
        let message = ClientMessageEvent::new(32, self.window, AtomEnum::STRING, [0_u32; 5]);
        let woken = self.connection.send_event(false, self.window, EventMask::NO_EVENT, message).is_ok()
            && self.connection.flush().is_ok();
        if let (true, Some(thread)) = (woken, self.thread.take()) {
            let _ = thread.join();
        }
    }
}

struct Ear {
    connection: Arc<RustConnection>,
    /// A window that is never shown, on which the server can be asked for its time.
    window: Window,
    space: Vec<u8>,
    clock: ServerClock,
    heard: Vec<Event>,
}

impl Ear {
    fn open(display: Option<&str>) -> Result<Self, Box<dyn std::error::Error>> {
        let (connection, screen) = RustConnection::connect(display)?;
        connection.xinput_xi_query_version(2, 2)?.reply()?;
        let root = connection.setup().roots[screen].root;
        let window = hidden_window(&connection, root)?;
        let space = keycodes(&connection, SPACE)?;
        if space.is_empty() {
            return Err("no key of this keyboard is a space bar".into());
        }
        let mask = xinput::XIEventMask::RAW_KEY_PRESS | xinput::XIEventMask::RAW_KEY_RELEASE;
        let events = xinput::EventMask { deviceid: xinput::Device::ALL_MASTER.into(), mask: vec![mask] };
        connection.xinput_xi_select_events(root, &[events])?.check()?;
        let connection = Arc::new(connection);
        let mut heard = Vec::new();
        let (asked, server, answered) = ask(&connection, window, &mut heard)?;
        let mut ear =
            Self { connection, window, space, clock: ServerClock::new(asked, server, answered), heard };
        for _ in 1..QUESTIONS {
            ear.ask()?;
        }
        Ok(ear)
    }

    fn ask(&mut self) -> Result<(), ReplyOrIdError> {
        let (asked, server, answered) = ask(&self.connection, self.window, &mut self.heard)?;
        self.clock.add(asked, server, answered);
        Ok(())
    }

    fn listen(mut self, watch: &KeyWatch, wake: &dyn Fn(), ended: &AtomicBool) -> Result<(), ReplyOrIdError> {
        let mut down = false;
        while !ended.load(Ordering::Acquire) {
            let event = match self.heard.is_empty() {
                true => self.connection.wait_for_event()?,
                false => self.heard.remove(0),
            };
            match event {
                Event::XinputRawKeyPress(key) if self.is_space(key.detail) => {
                    // A key that is held down is one stroke, however often it repeats.
                    if !down && !key.flags.contains(xinput::KeyEventFlags::KEY_REPEAT) {
                        let at = self.clock.instant(key.time);
                        watch.send(KeyStroke { at, resolution: Seconds::from_millis(1) });
                        wake();
                        self.ask()?;
                    }
                    down = true;
                }
                Event::XinputRawKeyRelease(key) if self.is_space(key.detail) => down = false,
                _ => {}
            }
        }
        Ok(())
    }

    fn is_space(&self, keycode: u32) -> bool {
        self.space.iter().any(|&space| u32::from(space) == keycode)
    }
}

fn hidden_window(connection: &RustConnection, root: Window) -> Result<Window, ReplyOrIdError> {
    let window = connection.generate_id()?;
    let watched = CreateWindowAux::new().event_mask(EventMask::PROPERTY_CHANGE);
    connection.create_window(0, window, root, -1, -1, 1, 1, 0, WindowClass::INPUT_ONLY, 0, &watched)?;
    Ok(window)
}

fn keycodes(connection: &RustConnection, keysym: u32) -> Result<Vec<u8>, ReplyOrIdError> {
    let (first, last) = (connection.setup().min_keycode, connection.setup().max_keycode);
    let mapping = connection.get_keyboard_mapping(first, last - first + 1)?.reply()?;
    let rows = mapping.keysyms.chunks(usize::from(mapping.keysyms_per_keycode.max(1)));
    Ok((first..=last)
        .zip(rows)
        .filter(|(_, row)| row.first() == Some(&keysym))
        .map(|(code, _)| code)
        .collect())
}

/// The server's time, as it stamps a change of a property, and when it was asked and had answered. Other events that come
/// in between are put by.
fn ask(
    connection: &RustConnection,
    window: Window,
    heard: &mut Vec<Event>,
) -> Result<(Instant, u32, Instant), ReplyOrIdError> {
    let asked = Instant::now();
    connection.change_property8(PropMode::REPLACE, window, AtomEnum::WM_NAME, AtomEnum::STRING, b"keys")?;
    connection.flush()?;
    loop {
        match connection.wait_for_event()? {
            Event::PropertyNotify(answer) if answer.window == window => {
                return Ok((asked, answer.time, Instant::now()));
            }
            other => heard.push(other),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Read as _;
    use std::process::{Child, Command, Stdio};
    use std::time::Duration;

    use x11rb::protocol::xproto::{KEY_PRESS_EVENT, KEY_RELEASE_EVENT};
    use x11rb::protocol::xtest::ConnectionExt as _;

    use super::*;
    use crate::keyboard::KeyTimes;

    /// An X server without a screen, on the first free display.
    struct Server(Child, String);

    impl Server {
        fn start() -> Self {
            let mut process = Command::new("Xvfb")
                .args(["-displayfd", "1", "-screen", "0", "64x64x24", "-nolisten", "tcp"])
                .stdin(Stdio::null())
                .stdout(Stdio::piped())
                .stderr(Stdio::null())
                .spawn()
                .expect("Xvfb runs: install it (on Debian: xvfb)");
            let (mut number, mut byte) = (String::new(), [0]);
            let out = process.stdout.as_mut().expect("the output is piped");
            while !number.ends_with('\n') {
                assert_eq!(out.read(&mut byte).expect("Xvfb tells its display"), 1, "Xvfb ended at once");
                number.push(char::from(byte[0]));
            }
            Self(process, format!(":{}", number.trim()))
        }
    }

    impl Drop for Server {
        fn drop(&mut self) {
            self.0.kill().ok();
            self.0.wait().ok();
        }
    }

    /// A key is pressed through the server's own test extension between two of our instants; its stamp lies between
    /// them, give or take half a tick of the server's clock and what its distance from ours is unsure by.
    #[test]
    fn a_stroke_is_stamped_when_it_fell() {
        let server = Server::start();
        let times = KeyTimes::new();
        let listener = Listener::on(Some(&server.1), times.watch(), || {}).expect("Xvfb tells of raw keys");
        times.listen(true);
        assert_eq!(times.resolution(), Seconds::from_millis(1));

        let (robot, screen) = RustConnection::connect(Some(&server.1)).expect("a second connection");
        let root = robot.setup().roots[screen].root;
        let key = |kind: u8, code: u8| {
            robot.xtest_fake_input(kind, code, 0, root, 0, 0, 0).expect("sent");
            // Answered when the key has been seen to.
            robot.get_input_focus().expect("asked").reply().expect("answered");
        };
        let space = keycodes(&robot, SPACE).expect("a keyboard")[0];
        let other = keycodes(&robot, 0x61).expect("a keyboard")[0];
        let slack = Duration::from_micros(700);
        for _ in 0..40 {
            key(KEY_PRESS_EVENT, other);
            key(KEY_RELEASE_EVENT, other);
            let before = Instant::now();
            key(KEY_PRESS_EVENT, space);
            let after = Instant::now();
            key(KEY_RELEASE_EVENT, space);
            let stroke = times.strokes.recv_timeout(Duration::from_secs(10)).expect("the stroke is heard of");
            assert!(stroke.at + slack >= before, "{:?} too early", before - stroke.at);
            assert!(stroke.at <= after + slack, "{:?} too late", stroke.at - after);
            assert_eq!(stroke.resolution, Seconds::from_millis(1));
        }
        assert_eq!(times.strokes().count(), 0, "one stroke a key, and none for other keys");

        // A server that is gone leaves the stamping to the event loop.
        drop(server);
        let begun = Instant::now();
        while times.resolution() != super::super::A_FRAME {
            assert!(begun.elapsed() < Duration::from_secs(10), "the loss is noticed");
            std::thread::yield_now();
        }
        drop(listener);
    }

    #[test]
    fn a_listener_ends_when_it_is_dropped() {
        let server = Server::start();
        let times = KeyTimes::new();
        let listener = Listener::on(Some(&server.1), times.watch(), || {}).expect("Xvfb tells of raw keys");
        drop(listener);
        assert_eq!(times.resolution(), super::super::A_FRAME);
        assert!(Listener::on(Some(":9999"), times.watch(), || {}).is_none(), "no server, no stamps");
    }
}
