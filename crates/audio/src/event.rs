use cpal::ErrorKind;
use rtrb::{Consumer, Producer, RingBuffer};
use timebase::Frames;

/// Events that may wait to be fetched.
const QUEUE: usize = 64;

/// Something a sound device reports while it runs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// Sound was lost: the program or the machine was too slow. Whatever is recorded across it is disturbed.
    Dropout,
    /// The stream has ended: the device was unplugged, or its server has stopped. Open one again.
    Gone {
        /// What the driver said.
        why: String,
    },
    /// The system moved the stream to another device. The stream goes on; its latency may be another.
    Moved,
    /// The system refused real-time priority. Sound plays on, but may drop out when the machine is busy.
    NotRealTime {
        /// What the system said.
        why: String,
    },
    /// The device would not take the block size asked for and chose its own.
    OwnBlock {
        /// The size asked for.
        asked: Frames,
    },
    /// Anything else.
    Other {
        /// What the driver said.
        why: String,
    },
}

impl Event {
    /// Whether the stream has ended with it.
    #[must_use]
    pub const fn is_end(&self) -> bool {
        matches!(self, Self::Gone { .. })
    }
}

impl From<cpal::Error> for Event {
    fn from(error: cpal::Error) -> Self {
        let why = error.to_string();
        match error.kind() {
            ErrorKind::Xrun => Self::Dropout,
            ErrorKind::DeviceChanged => Self::Moved,
            ErrorKind::RealtimeDenied => Self::NotRealTime { why },
            ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable | ErrorKind::StreamInvalidated => {
                Self::Gone { why }
            }
            _ => Self::Other { why },
        }
    }
}

/// The program's end of the queue of events.
#[derive(Debug)]
pub(crate) struct Events {
    /// Known before the stream ran.
    first: Option<Event>,
    queue: Consumer<cpal::Error>,
}

/// The driver's end: a driver may report on its real-time thread, so errors are moved and not looked at.
#[derive(Debug)]
pub(crate) struct Reporter(Producer<cpal::Error>);

pub(crate) fn events() -> (Reporter, Events) {
    let (producer, queue) = RingBuffer::new(QUEUE);
    (Reporter(producer), Events { first: None, queue })
}

impl Reporter {
    /// Real-time: no lock, I/O or panic, and no allocation of its own. Where there is no room the error is dropped.
    pub(crate) fn report(&mut self, error: cpal::Error) {
        self.0.push(error).ok();
    }
}

impl Events {
    pub(crate) fn with_first(mut self, event: Option<Event>) -> Self {
        self.first = event;
        self
    }

    pub(crate) fn next(&mut self) -> Option<Event> {
        self.first.take().or_else(|| self.queue.pop().ok().map(Event::from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_driver_error_becomes_what_to_do_about_it() {
        let check = |kind: ErrorKind, expected: Event, is_end: bool| {
            let (mut reporter, mut events) = events();
            reporter.report(cpal::Error::with_message(kind, "x"));
            let event = events.next().expect("reported");
            assert_eq!(event, expected);
            assert_eq!(event.is_end(), is_end);
            assert_eq!(events.next(), None);
        };
        let why = "x".to_owned();
        check(ErrorKind::Xrun, Event::Dropout, false);
        check(ErrorKind::DeviceNotAvailable, Event::Gone { why: why.clone() }, true);
        check(ErrorKind::StreamInvalidated, Event::Gone { why: why.clone() }, true);
        check(ErrorKind::DeviceChanged, Event::Moved, false);
        check(ErrorKind::RealtimeDenied, Event::NotRealTime { why: why.clone() }, false);
        check(ErrorKind::BackendError, Event::Other { why }, false);
    }

    #[test]
    fn a_full_queue_drops_the_newest() {
        let (mut reporter, mut events) = events();
        for _ in 0..100 {
            reporter.report(cpal::Error::new(ErrorKind::Xrun));
        }
        assert_eq!(std::iter::from_fn(|| events.next()).count(), QUEUE);
    }
}
