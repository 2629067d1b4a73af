//! When the space bar was struck: from the X server's own stamps where there is one, elsewhere from the moment at which
//! the event loop first sees the key.

mod event_loop;
#[cfg(target_os = "linux")]
mod server_clock;
#[cfg(target_os = "linux")]
mod x11;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use crossbeam_channel::{Receiver, Sender, unbounded};
use timebase::Seconds;

pub(crate) use event_loop::Watched;

/// How late the event loop may see a key: it is painting a frame meanwhile.
pub(crate) const A_FRAME: Seconds = Seconds::from_millis(17);

/// One stroke on the space bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct KeyStroke {
    /// When.
    pub(crate) at: Instant,
    /// How far that may be from the truth.
    pub(crate) resolution: Seconds,
}

/// Where strokes come from. Whoever stamps them holds a [`KeyWatch`].
#[derive(Debug)]
pub(crate) struct KeyTimes {
    strokes: Receiver<KeyStroke>,
    watch: KeyWatch,
    #[cfg(target_os = "linux")]
    _server: Option<x11::Listener>,
}

/// The stamping end: strokes are passed on only while somebody listens to them.
#[derive(Clone, Debug)]
pub(crate) struct KeyWatch {
    sender: Sender<KeyStroke>,
    listening: Arc<AtomicBool>,
    /// Whether the X server stamps, so that the event loop need not.
    by_server: Arc<AtomicBool>,
}

impl KeyTimes {
    /// Strokes as the event loop sees them, through the [`KeyWatch`] given to it.
    pub(crate) fn new() -> Self {
        let (sender, strokes) = unbounded();
        let watch = KeyWatch { sender, listening: Arc::default(), by_server: Arc::default() };
        Self {
            strokes,
            watch,
            #[cfg(target_os = "linux")]
            _server: None,
        }
    }

    /// Asks the X server for stamps too, if this is an X11 session and its server tells of raw keys; `wake` is called
    /// after every stroke, on a thread of its own.
    #[cfg(target_os = "linux")]
    pub(crate) fn with_server(mut self, wake: impl Fn() + Send + 'static) -> Self {
        self._server = x11::Listener::start(self.watch.clone(), wake);
        self
    }

    /// The end for whoever stamps.
    pub(crate) fn watch(&self) -> KeyWatch {
        self.watch.clone()
    }

    /// Whether strokes are wanted: only while a drill runs and the window has the keyboard.
    pub(crate) fn listen(&self, listening: bool) {
        self.watch.listening.store(listening, Ordering::Release);
    }

    /// The strokes since the last time.
    pub(crate) fn strokes(&self) -> impl Iterator<Item = KeyStroke> {
        self.strokes.try_iter()
    }

    /// What the stamps are worth.
    pub(crate) fn resolution(&self) -> Seconds {
        if self.watch.by_server.load(Ordering::Acquire) { Seconds::from_millis(1) } else { A_FRAME }
    }
}

impl KeyWatch {
    /// Stamps a stroke that the event loop sees now, unless the server stamps it.
    pub(crate) fn seen(&self, at: Instant) {
        if !self.by_server.load(Ordering::Acquire) {
            self.send(KeyStroke { at, resolution: A_FRAME });
        }
    }

    fn send(&self, stroke: KeyStroke) {
        if self.listening.load(Ordering::Acquire) {
            // Nobody is left to tell when the window is closing.
            let _ = self.sender.send(stroke);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn strokes_pass_only_while_somebody_listens_and_are_stamped_once() {
        let times = KeyTimes::new();
        let watch = times.watch();
        // Any instant serves: nothing depends on which.
        let at = Instant::now();
        let check = |expected: usize| {
            watch.seen(at);
            assert_eq!(times.strokes().count(), expected);
        };
        check(0);
        times.listen(true);
        check(1);
        assert_eq!(times.resolution(), A_FRAME);
        watch.by_server.store(true, Ordering::Release);
        check(0);
        assert_eq!(times.resolution(), Seconds::from_millis(1));
    }
}
