//! The clocks that the drill's thread reads: the computer's own, or one that a harness moves.

use std::fmt::Debug;
use std::time::{Instant, SystemTime};

use timebase::{HostOrigin, HostTime, Seconds};

/// Something that knows what time it is.
pub(crate) trait Clock: Debug + Send {
    /// Now, on the clock of the stamps. It never goes back; whether it goes on while the computer sleeps is the system's.
    fn now(&self) -> HostTime;

    /// Now, by the calendar's clock, from some beginning. It goes on while the computer sleeps, and people can set it.
    fn wall(&self) -> Seconds;
}

/// The computer's clocks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ComputersClock {
    origin: HostOrigin,
}

impl ComputersClock {
    pub(crate) const fn new(origin: HostOrigin) -> Self {
        Self { origin }
    }
}

impl Clock for ComputersClock {
    fn now(&self) -> HostTime {
        self.origin.time(Instant::now())
    }

    fn wall(&self) -> Seconds {
        let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
        Seconds::from_nanos(i64::try_from(since.as_nanos()).unwrap_or(i64::MAX))
    }
}

/// How much further the calendar's clock than the stamps' must have gone, from one look to the next, for the computer to
/// have slept. A clock that is set while a drill runs moves by less, or is set by a person.
const ASLEEP: Seconds = Seconds::from_millis(2_000);

/// Notices that the computer has slept.
#[derive(Debug)]
pub(crate) struct SleepWatch {
    last: Option<(HostTime, Seconds)>,
}

impl SleepWatch {
    pub(crate) const fn new() -> Self {
        Self { last: None }
    }

    /// How long the computer slept since the last look, if it did.
    pub(crate) fn look(&mut self, clock: &dyn Clock) -> Option<Seconds> {
        let (host, wall) = (clock.now(), clock.wall());
        let (last_host, last_wall) = self.last.replace((host, wall))?;
        let slept = (wall - last_wall) - (host - last_host);
        (slept >= ASLEEP).then_some(slept)
    }
}
