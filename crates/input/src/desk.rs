use std::collections::HashSet;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crossbeam_channel::{Receiver, Sender, bounded};
use timebase::{HostTime, Seconds};

use crate::controls::BoundControls;
use crate::flood::{Flood, Flow};
use crate::limits::PEDAL_DOWN;
use crate::parser::{ControlMessage, NoteMessage};
use crate::place::Touched;
use crate::{
    Crosstalk, DriverStamp, InputSettings, Instrument, Message, Notice, Order, Pad, Parser, PlayerId,
    Players, RetriggerMask, SourceKind, Stroke, StrokeKind, TouchedAt,
};

/// Strokes that may wait to be fetched: at a roll of 20 a second by 40 players, five seconds.
const QUEUE: usize = 4096;

/// Orders that may wait to be fetched.
const ORDERS: usize = 64;

/// Touches that may wait to be fetched, while they are asked for.
const TOUCHES: usize = 256;

/// Notices that may wait to be fetched; later ones are dropped.
const NOTICES: usize = 256;

/// Where the notes of every source come together and become strokes. Ordinary threads only.
#[derive(Debug)]
pub(crate) struct Desk {
    ledger: Mutex<Ledger>,
    strokes: Sender<Stroke>,
    orders: Sender<Order>,
    notices: Sender<Notice>,
    touches: Sender<TouchedAt>,
    /// Whether somebody asks what is touched; then nothing is a stroke or an order.
    asks: AtomicBool,
    lost: AtomicU64,
    held: AtomicU64,
}

/// The other ends of a desk's queues.
#[derive(Debug)]
pub(crate) struct Fetched {
    pub(crate) strokes: Receiver<Stroke>,
    pub(crate) orders: Receiver<Order>,
    pub(crate) notices: Receiver<Notice>,
    pub(crate) touches: Receiver<TouchedAt>,
}

#[derive(Debug)]
struct Ledger {
    players: Players,
    controls: BoundControls,
    mask: RetriggerMask,
    crosstalk: Crosstalk,
    /// How each source flows, by its number.
    floods: Vec<Flood>,
    /// Pedals that are down: source, channel and controller.
    down: HashSet<(u16, u8, u8)>,
}

/// A message with its stamps, on its way from a driver's callback to the desk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Hit {
    pub(crate) message: Message,
    pub(crate) stamp: HostTime,
    pub(crate) driver: Option<DriverStamp>,
}

impl Desk {
    pub(crate) fn new(settings: &InputSettings) -> (Arc<Self>, Fetched) {
        let (strokes, fetched_strokes) = bounded(QUEUE);
        let (orders, fetched_orders) = bounded(ORDERS);
        let (notices, fetched_notices) = bounded(NOTICES);
        let (touches, fetched_touches) = bounded(TOUCHES);
        let ledger = Ledger {
            players: Players::listed(settings.grouping, settings.roster.clone()).beside(&settings.controls),
            controls: BoundControls::new(settings.controls.clone()),
            mask: RetriggerMask::new(settings.retrigger),
            crosstalk: Crosstalk::new(),
            floods: Vec::new(),
            down: HashSet::new(),
        };
        let (lost, held) = (AtomicU64::new(0), AtomicU64::new(0));
        let asks = AtomicBool::new(false);
        let desk = Self { ledger: Mutex::new(ledger), strokes, orders, notices, touches, asks, lost, held };
        let fetched = Fetched {
            strokes: fetched_strokes,
            orders: fetched_orders,
            notices: fetched_notices,
            touches: fetched_touches,
        };
        (Arc::new(desk), fetched)
    }

    pub(crate) fn enter(&self, kind: SourceKind, name: &str) -> u16 {
        let mut ledger = self.ledger();
        let source = ledger.players.enter(kind, name);
        let called =
            ledger.players.source(source).map_or_else(|| name.to_owned(), |known| known.name.clone());
        ledger.controls.bind(kind, &called, source);
        drop(ledger);
        if called != name {
            self.notice(Notice::Twice { name: called });
        }
        source
    }

    pub(crate) fn admit(&self, source: u16) {
        self.ledger().players.admit(source);
    }

    /// Notes that a device has gone or is back.
    pub(crate) fn mark(&self, source: u16, is_there: bool) {
        self.ledger().players.mark(source, is_there);
    }

    /// Whoever strikes the computer's keyboard.
    pub(crate) fn keyboard_at(&self, source: u16) -> PlayerId {
        let touched = Touched::Note(Stroke::KEYBOARD_NOTE);
        self.ledger().players.at(source, 0, touched).unwrap_or(PlayerId::new(0))
    }

    pub(crate) fn players(&self) -> Players {
        self.ledger().players.clone()
    }

    pub(crate) fn lost(&self) -> u64 {
        self.lost.load(Ordering::Relaxed)
    }

    pub(crate) fn held(&self) -> u64 {
        self.held.load(Ordering::Relaxed)
    }

    pub(crate) fn count_lost(&self, more: u64) {
        self.lost.fetch_add(more, Ordering::Relaxed);
    }

    /// From now on, or no longer, it is told what is touched instead of making it strokes and orders.
    pub(crate) fn ask_touches(&self, asks: bool) {
        self.asks.store(asks, Ordering::Relaxed);
    }

    /// Tells of a device. Nobody is left to tell when nobody fetched the notices before.
    pub(crate) fn notice(&self, notice: Notice) {
        self.notices.try_send(notice).ok();
    }

    /// Makes a message a stroke or an order and puts it into its queue. A stroke for which there is no room is counted as lost.
    pub(crate) fn receive(&self, source: u16, hit: Hit, resolution: Seconds) {
        let mut ledger = self.ledger();
        let flow = ledger.flow(source, hit.stamp);
        if flow != Flow::Through {
            let name = ledger.players.source(source).map_or_else(String::new, |known| known.name.clone());
            drop(ledger);
            self.held.fetch_add(1, Ordering::Relaxed);
            if flow == Flow::FirstHeld {
                self.notice(Notice::Flood { name });
            }
            return;
        }
        if self.asks.load(Ordering::Relaxed) {
            let touch = ledger.touch(source, hit);
            drop(ledger);
            // Somebody learns by it; what finds no room is struck once more.
            if let Some(touch) = touch {
                self.touches.try_send(touch).ok();
            }
            return;
        }
        let made = match hit.message {
            Message::Note(note) => Some(ledger.note(source, note, hit, resolution)),
            Message::Control(control) => ledger.control(source, control, hit, resolution),
        };
        drop(ledger);
        match made {
            Some(Made::Stroke(stroke)) => self.pass(stroke),
            // Orders come from a person; one that finds sixty-four before it is none.
            Some(Made::Order(order)) => drop(self.orders.try_send(order)),
            Some(Made::Nothing) | None => {}
        }
    }

    pub(crate) fn pass(&self, stroke: Stroke) {
        if self.strokes.try_send(stroke).is_err() {
            self.count_lost(1);
        }
    }

    fn ledger(&self) -> MutexGuard<'_, Ledger> {
        // Nothing in a ledger can be left half done by a panic.
        self.ledger.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// What a message was made.
#[derive(Clone, Copy, Debug)]
enum Made {
    Stroke(Stroke),
    Order(Order),
    Nothing,
}

impl Ledger {
    fn flow(&mut self, source: u16, stamp: HostTime) -> Flow {
        let kind = self.players.source(source).map(|known| known.kind);
        if kind != Some(SourceKind::Port) {
            return Flow::Through;
        }
        let index = usize::from(source);
        if index >= self.floods.len() {
            self.floods.resize(index + 1, Flood::new());
        }
        self.floods[index].admit(stamp)
    }

    fn note(&mut self, source: u16, message: NoteMessage, hit: Hit, resolution: Seconds) -> Made {
        let NoteMessage { kind, channel, note, velocity } = message;
        if let Some(order) = self.controls.order(source, channel, Touched::Note(note)) {
            return if kind == StrokeKind::On { Made::Order(order) } else { Made::Nothing };
        }
        let Some(player) = self.players.at(source, channel, Touched::Note(note)) else {
            return Made::Nothing;
        };
        let (own_mask, instrument) = self
            .players
            .player(player)
            .map_or((None, Instrument::Pad), |player| (player.retrigger, player.instrument));
        let pad = Pad { source, channel, note };
        let (mut retrigger, mut crosstalk) = (false, false);
        if kind == StrokeKind::On {
            retrigger = match own_mask {
                Some(span) => self.mask.marks_within(span, pad, hit.stamp),
                None => self.mask.marks(pad, hit.stamp),
            };
            // Keys do not shake one another.
            crosstalk =
                !retrigger && instrument == Instrument::Pad && self.crosstalk.marks(pad, hit.stamp, velocity);
        }
        let (stamp, driver) = (hit.stamp, hit.driver);
        Made::Stroke(Stroke {
            player,
            source,
            kind,
            channel,
            note,
            velocity,
            stamp,
            resolution,
            driver,
            retrigger,
            crosstalk,
        })
    }

    /// What was struck or trodden on; nothing for what comes up, a pad's own bouncing and another pad's blow.
    fn touch(&mut self, source: u16, hit: Hit) -> Option<TouchedAt> {
        let (channel, touched) = match hit.message {
            Message::Note(NoteMessage { kind, channel, note, velocity }) => {
                let pad = Pad { source, channel, note };
                let is_meant = kind == StrokeKind::On
                    && !self.mask.marks(pad, hit.stamp)
                    && !self.crosstalk.marks(pad, hit.stamp, velocity);
                is_meant.then_some((channel, Touched::Note(note)))?
            }
            Message::Control(message) => {
                let went_down = self.pedal_goes(source, message)?;
                went_down.then_some((message.channel, Touched::Pedal(message.controller)))?
            }
        };
        let port = self.players.source(source)?.name.clone();
        Some(TouchedAt { port, channel, touched })
    }

    /// Whether a pedal goes down (or else up); nothing where it is as it was.
    fn pedal_goes(&mut self, source: u16, message: ControlMessage) -> Option<bool> {
        let key = (source, message.channel, message.controller);
        let is_down = message.value >= PEDAL_DOWN;
        let changed = if is_down { self.down.insert(key) } else { self.down.remove(&key) };
        changed.then_some(is_down)
    }

    /// A pedal strikes when it goes down and lets go when it comes up; what it says in between is nothing.
    fn control(
        &mut self,
        source: u16,
        message: ControlMessage,
        hit: Hit,
        resolution: Seconds,
    ) -> Option<Made> {
        let ControlMessage { channel, controller, value } = message;
        let is_down = self.pedal_goes(source, message)?;
        let touched = Touched::Pedal(controller);
        if let Some(order) = self.controls.order(source, channel, touched) {
            return is_down.then_some(Made::Order(order));
        }
        let player = self.players.at(source, channel, touched)?;
        let kind = if is_down { StrokeKind::On } else { StrokeKind::Off };
        let (stamp, driver) = (hit.stamp, hit.driver);
        Some(Made::Stroke(Stroke {
            player,
            source,
            kind,
            channel,
            note: Stroke::PEDAL_NOTE,
            velocity: value,
            stamp,
            resolution,
            driver,
            retrigger: false,
            crosstalk: false,
        }))
    }
}

/// The program's end of one source of MIDI bytes: reads them and hands the notes to the desk.
///
/// A [`MidiSystem`](crate::MidiSystem) is given one for each port it connects.
#[derive(Debug)]
pub struct Tap {
    desk: Arc<Desk>,
    source: u16,
    parser: Parser,
}

impl Tap {
    pub(crate) fn new(desk: Arc<Desk>, source: u16) -> Self {
        Self { desk, source, parser: Parser::new() }
    }

    /// Takes bytes that arrived at `stamp`. `resolution` is what that stamp is worth; `driver` is the
    /// driver's own stamp. For ordinary threads: it takes a lock for a moment.
    pub fn feed(&mut self, bytes: &[u8], stamp: HostTime, resolution: Seconds, driver: Option<DriverStamp>) {
        let (desk, source) = (&self.desk, self.source);
        self.parser.feed(bytes, |message| desk.receive(source, Hit { message, stamp, driver }, resolution));
    }

    /// Takes a message that a real-time thread has read already.
    #[cfg(all(target_os = "linux", feature = "jack"))]
    pub(crate) fn receive(&self, hit: Hit, resolution: Seconds) {
        self.desk.receive(self.source, hit, resolution);
    }

    #[cfg(all(target_os = "linux", feature = "jack"))]
    pub(crate) fn count_lost(&self, more: u64) {
        self.desk.count_lost(more);
    }
}

#[cfg(test)]
mod tests;
