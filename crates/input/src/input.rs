use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender, bounded};
use timebase::{HostTime, Seconds};

use crate::desk::{Desk, Fetched};
use crate::house::House;
use crate::{
    Controls, Echoes, Error, Grouping, HeldBack, Instrument, MidiSystem, Notice, Order, PlayerId, Players,
    Port, Replay, RetriggerMask, Roster, SourceKind, Stroke, Tap, TouchedAt,
};

/// How often it looks which devices are gone and which are back. midir tells of neither.
const LOOK_EVERY: Duration = Duration::from_nanos(Input::NOTICED_WITHIN.as_nanos().unsigned_abs());

/// How strokes are told apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputSettings {
    /// What makes one player, where the list says nothing.
    pub grouping: Grouping,
    /// Who plays on what, as far as it is known beforehand.
    pub roster: Roster,
    /// What is no stroke but an order.
    pub controls: Controls,
    /// How soon after a stroke the same pad's next one is its own bouncing; zero marks none.
    pub retrigger: Seconds,
}

impl Default for InputSettings {
    fn default() -> Self {
        Self {
            grouping: Grouping::ByPort,
            roster: Roster::default(),
            controls: Controls::default(),
            retrigger: RetriggerMask::USUAL,
        }
    }
}

/// Everything that can be struck, and the one queue its strokes come out of.
///
/// Without a MIDI system it still takes the keyboard's strokes and replays takes. With one, a thread of its own looks
/// once a second whether devices have gone or come back.
#[derive(Debug)]
pub struct Input {
    desk: Arc<Desk>,
    fetched: Fetched,
    house: Option<Arc<Mutex<House>>>,
    watch: Option<Watch>,
    /// The keyboard's number and player, from its first stroke.
    keyboard: Option<(u16, PlayerId)>,
}

/// Looks at an [`Input`] from another thread.
#[derive(Clone, Debug)]
pub struct View {
    desk: Arc<Desk>,
}

impl View {
    /// Who plays on what, as of now.
    #[must_use]
    pub fn players(&self) -> Players {
        self.desk.players()
    }

    /// How many strokes were lost because nobody fetched the ones before.
    #[must_use]
    pub fn lost(&self) -> u64 {
        self.desk.lost()
    }

    /// What this player plays on.
    #[must_use]
    pub fn instrument(&self, player: PlayerId) -> Instrument {
        self.desk.instrument(player)
    }

    /// Tells `echoes` of the blows that gave orders since it was last asked: they are no strokes, but a soft one before them may be their
    /// echo. Whoever lets strokes wait calls it before asking which are due.
    pub fn tell_of_orders(&self, echoes: &mut Echoes) {
        self.desk.tell_of_orders(echoes);
    }

    /// Puts orders by soft blows into their queue that nothing has shown to be another pad's blow by `now`: whoever fetches orders calls it
    /// before, since an order by a pad that may have been shaken waits for [`CROSSTALK_WAIT`](crate::limits::CROSSTALK_WAIT).
    pub fn settle_orders(&self, now: HostTime) {
        self.desk.settle_orders(now);
    }

    /// How many messages were held back because a device sent more than hands can strike.
    #[must_use]
    pub fn held(&self) -> u64 {
        self.desk.held()
    }

    /// Which floods of a device are over at `now`, or all until now, each once. The sum of their messages is [`View::held`].
    #[must_use]
    pub fn held_back(&self, now: HostTime, all: bool) -> Vec<HeldBack> {
        self.desk.held_back(now, all)
    }

    /// Which floods go on, each with what was held back of it so far.
    #[must_use]
    pub fn holding_back(&self) -> Vec<HeldBack> {
        self.desk.holding_back()
    }
}

/// The thread that looks after the house. Ends when this is dropped.
#[derive(Debug)]
struct Watch {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Input {
    /// How late it may be noticed that a device has gone.
    pub const NOTICED_WITHIN: Seconds = Seconds::from_nanos(1_000_000_000);

    /// An input without devices.
    #[must_use]
    pub fn new(settings: &InputSettings) -> Self {
        let (desk, fetched) = Desk::new(settings);
        Self { desk, fetched, house: None, watch: None, keyboard: None }
    }

    /// Gives it a MIDI system, from [`midi_system`](crate::midi_system). One it had before is closed.
    pub fn attach(&mut self, system: Box<dyn MidiSystem>) {
        self.watch = None;
        let house = Arc::new(Mutex::new(House::new(system, Arc::clone(&self.desk))));
        self.watch = Watch::new(Arc::clone(&house));
        self.house = Some(house);
    }

    /// What the MIDI system is called, if there is one.
    #[must_use]
    pub fn system_name(&self) -> Option<&'static str> {
        self.house().ok().map(|house| house.system_name())
    }

    /// The ports that are there now.
    ///
    /// # Errors
    /// Without a MIDI system, or if it has gone.
    pub fn ports(&self) -> Result<Vec<Port>, Error> {
        self.house()?.ports()
    }

    /// Listens to one port. One that was open before has the player it had.
    ///
    /// # Errors
    /// If it cannot be opened, or is open already.
    pub fn open(&self, port: &Port) -> Result<(), Error> {
        self.house()?.open(port)
    }

    /// Listens to every port that has a device behind it and is not open yet, and to every one that is plugged in later;
    /// returns those it opened. One that cannot be opened does not stand in the way of the others: a notice tells of it, and
    /// it is tried again every second.
    ///
    /// # Errors
    /// Without a MIDI system, or if it has gone.
    pub fn open_all(&self) -> Result<Vec<Port>, Error> {
        self.house()?.open_all()
    }

    /// Looks at once which devices have gone or come back; else that is done once a second.
    ///
    /// # Errors
    /// Without a MIDI system.
    pub fn look(&self) -> Result<(), Error> {
        self.house()?.look();
        Ok(())
    }

    /// Stops listening to a port. Its player stays in the table.
    ///
    /// # Errors
    /// Without a MIDI system.
    pub fn close(&self, port: &Port) -> Result<(), Error> {
        self.house()?.close(port);
        Ok(())
    }

    /// A stroke on the computer's keyboard. The keyboard is a player of its own from its first stroke.
    pub fn strike_key(&mut self, stamp: HostTime, resolution: Seconds) -> PlayerId {
        let desk = &self.desk;
        let (source, player) = *self.keyboard.get_or_insert_with(|| {
            let source = desk.enter(SourceKind::Keyboard, "keyboard");
            (source, desk.keyboard_at(source))
        });
        desk.pass(Stroke::of_key(player, source, stamp, resolution));
        player
    }

    /// A source that plays recorded bytes, a player of its own (or several, where channels are).
    #[must_use]
    pub fn replay(&self, name: &str) -> Replay {
        let source = self.desk.enter(SourceKind::Replay, name);
        self.desk.admit(source);
        Replay::new(Tap::new(Arc::clone(&self.desk), source))
    }

    /// The queue of strokes, in the order in which they were read. Clone it to fetch on another thread.
    #[must_use]
    pub const fn strokes(&self) -> &Receiver<Stroke> {
        &self.fetched.strokes
    }

    /// What was asked for by a pad, a pedal or a key, once [`View::settle_orders`] has let it through.
    #[must_use]
    pub const fn orders(&self) -> &Receiver<Order> {
        &self.fetched.orders
    }

    /// From now on, or no longer, [`Input::touches`] tells what is struck and trodden on, and none of it is a stroke or an
    /// order: for whoever learns what somebody plays on.
    pub fn ask_touches(&self, asks: bool) {
        self.desk.ask_touches(asks);
    }

    /// What was touched while it was asked for.
    #[must_use]
    pub const fn touches(&self) -> &Receiver<TouchedAt> {
        &self.fetched.touches
    }

    /// What happened to devices.
    #[must_use]
    pub const fn notices(&self) -> &Receiver<Notice> {
        &self.fetched.notices
    }

    /// Who plays on what, as of now.
    #[must_use]
    pub fn players(&self) -> Players {
        self.desk.players()
    }

    /// Looks at who plays on what from another thread than the one that owns the input.
    #[must_use]
    pub fn view(&self) -> View {
        View { desk: Arc::clone(&self.desk) }
    }

    /// How many strokes were lost because nobody fetched the ones before.
    #[must_use]
    pub fn lost(&self) -> u64 {
        self.desk.lost()
    }

    /// How many messages were held back because a device sent more than hands can strike.
    #[must_use]
    pub fn held(&self) -> u64 {
        self.desk.held()
    }

    /// Who of the list is to play, and what is to be asked for, on a device that was never seen, each with the name it goes by:
    /// mistyped, or not plugged in yet.
    #[must_use]
    pub fn unseen(&self) -> Vec<(String, String)> {
        self.desk.unseen()
    }

    fn house(&self) -> Result<MutexGuard<'_, House>, Error> {
        let house = self.house.as_ref().ok_or(Error::NotAttached)?;
        // The house puts itself right at every look.
        Ok(house.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Watch {
    /// `None` if no thread can be had: everything works, but a device that comes back is not noticed.
    fn new(house: Arc<Mutex<House>>) -> Option<Self> {
        let (stop, stopped) = bounded::<()>(0);
        let look = move || {
            use crossbeam_channel::RecvTimeoutError::Timeout;
            while stopped.recv_timeout(LOOK_EVERY) == Err(Timeout) {
                house.lock().unwrap_or_else(PoisonError::into_inner).look();
            }
        };
        let thread = thread::Builder::new().name("midi devices".to_owned()).spawn(look).ok()?;
        Some(Self { stop: Some(stop), thread: Some(thread) })
    }
}

impl Drop for Watch {
    fn drop(&mut self) {
        // Without a sender the thread's waiting ends at once.
        self.stop = None;
        if let Some(thread) = self.thread.take() {
            thread.join().ok();
        }
    }
}

#[cfg(test)]
mod tests;
