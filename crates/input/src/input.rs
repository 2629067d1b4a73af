use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender, bounded};
use timebase::{HostTime, Seconds};

use crate::desk::Desk;
use crate::house::{House, Notice};
use crate::{
    Error, Grouping, MidiSystem, PlayerId, Players, Port, Replay, RetriggerMask, SourceKind, Stroke, Tap,
};

/// How often it looks which devices are gone and which are back. midir tells of neither.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// Notices that may wait to be fetched; later ones are dropped.
const NOTICES: usize = 256;

/// How strokes are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InputSettings {
    /// What makes one player.
    pub grouping: Grouping,
    /// How soon after a stroke the same pad's next one is its own bouncing; zero marks none.
    pub retrigger: Seconds,
}

impl Default for InputSettings {
    fn default() -> Self {
        Self { grouping: Grouping::ByPort, retrigger: RetriggerMask::USUAL }
    }
}

/// Everything that can be struck, and the one queue its strokes come out of.
///
/// Without a MIDI system it still takes the keyboard's strokes and replays takes. With one, a thread of its own looks
/// once a second whether devices have gone or come back.
#[derive(Debug)]
pub struct Input {
    desk: Arc<Desk>,
    strokes: Receiver<Stroke>,
    notice: Sender<Notice>,
    notices: Receiver<Notice>,
    house: Option<Arc<Mutex<House>>>,
    watch: Option<Watch>,
    keyboard: Option<PlayerId>,
}

/// The thread that looks after the house. Ends when this is dropped.
#[derive(Debug)]
struct Watch {
    stop: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Input {
    /// An input without devices.
    #[must_use]
    pub fn new(settings: InputSettings) -> Self {
        let (desk, strokes) = Desk::new(settings.grouping, settings.retrigger);
        let (notice, notices) = bounded(NOTICES);
        Self { desk, strokes, notice, notices, house: None, watch: None, keyboard: None }
    }

    /// Gives it a MIDI system, from [`midi_system`](crate::midi_system). One it had before is closed.
    pub fn attach(&mut self, system: Box<dyn MidiSystem>) {
        self.watch = None;
        let house = House::new(system, Arc::clone(&self.desk), self.notice.clone());
        let house = Arc::new(Mutex::new(house));
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

    /// Listens to every port that has a device behind it and is not open yet; returns those it opened.
    ///
    /// # Errors
    /// If one cannot be opened. Those opened before it stay open.
    pub fn open_all(&self) -> Result<Vec<Port>, Error> {
        let mut house = self.house()?;
        let mut opened = Vec::new();
        for port in house.ports()? {
            if !port.is_through() && !house.is_open(&port) {
                house.open(&port)?;
                opened.push(port);
            }
        }
        Ok(opened)
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
        let player = *self.keyboard.get_or_insert_with(|| {
            let source = desk.enter(SourceKind::Keyboard, "keyboard");
            desk.player_at(source)
        });
        desk.pass(Stroke::of_key(player, stamp, resolution));
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
        &self.strokes
    }

    /// What happened to devices.
    #[must_use]
    pub const fn notices(&self) -> &Receiver<Notice> {
        &self.notices
    }

    /// Who plays on what, as of now.
    #[must_use]
    pub fn players(&self) -> Players {
        self.desk.players()
    }

    /// Asks who plays on what, from another thread than the one that owns the input.
    pub fn players_view(&self) -> impl Fn() -> Players + Send + use<> {
        let desk = Arc::clone(&self.desk);
        move || desk.players()
    }

    /// How many strokes were lost because nobody fetched the ones before.
    #[must_use]
    pub fn lost(&self) -> u64 {
        self.desk.lost()
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
mod tests {
    use super::*;
    use crate::StrokeKind;

    const MS: Seconds = Seconds::from_millis(1);

    fn at(ms: i64) -> HostTime {
        HostTime::from_nanos(ms * 1_000_000)
    }

    #[test]
    fn a_replayed_take_comes_out_as_strokes() {
        let input = Input::new(InputSettings::default());
        let (mut a, mut b) = (input.replay("take, track 1"), input.replay("take, track 2"));
        a.send(&[0x99, 38, 100], at(0), MS);
        b.send(&[0x99, 38, 90], at(3), MS);
        a.send(&[0x89, 38, 0, 0x99, 38, 20], at(10), MS);
        a.send(&[0x99, 38, 80], at(500), MS);
        let strokes: Vec<_> = input.strokes().try_iter().collect();
        let told: Vec<_> = strokes
            .iter()
            .map(|stroke| (stroke.player.to_string(), stroke.kind, stroke.velocity, stroke.retrigger))
            .collect();
        assert_eq!(
            told,
            [
                ("P1".to_owned(), StrokeKind::On, 100, false),
                ("P2".to_owned(), StrokeKind::On, 90, false),
                ("P1".to_owned(), StrokeKind::Off, 0, false),
                ("P1".to_owned(), StrokeKind::On, 20, true),
                ("P1".to_owned(), StrokeKind::On, 80, false),
            ]
        );
        assert_eq!(input.lost(), 0);
        assert_eq!(input.players().all()[1].name, "take, track 2");
    }

    #[test]
    fn channels_of_a_replay_are_players_where_asked_for() {
        let settings = InputSettings { grouping: Grouping::ByChannel, ..InputSettings::default() };
        let mut input = Input::new(settings);
        input.strike_key(at(0), MS);
        let mut take = input.replay("take");
        take.send(&[0x91, 38, 100, 0x90, 38, 100, 0x91, 40, 100], at(1), MS);
        let players: Vec<_> = input.strokes().try_iter().map(|stroke| stroke.player.to_string()).collect();
        assert_eq!(players, ["P1", "P2", "P3", "P2"]);
    }

    #[test]
    fn the_keyboard_is_one_player() {
        let mut input = Input::new(InputSettings::default());
        let resolution = Seconds::from_millis(17);
        let first = input.strike_key(at(1), resolution);
        assert_eq!(input.strike_key(at(2), resolution), first);
        let stroke = input.strokes().try_recv().expect("a stroke");
        assert_eq!((stroke.stamp, stroke.resolution, stroke.is_attack()), (at(1), resolution, true));
    }

    #[test]
    fn without_a_system_there_are_no_ports() {
        let input = Input::new(InputSettings::default());
        assert_eq!(input.ports(), Err(Error::NotAttached));
        assert_eq!(input.open_all(), Err(Error::NotAttached));
        assert_eq!(input.system_name(), None);
    }
}
