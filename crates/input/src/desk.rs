use std::collections::{HashMap, HashSet, VecDeque};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crossbeam_channel::{Receiver, Sender, bounded};
use timebase::{BlockPlace, HostTime, Seconds};

use crate::controls::{BoundControls, WaitingOrders};
use crate::crosstalk::Blow;
use crate::flood::{Flood, Floods, Flow, HeldBack, Stretch, WildPad};
use crate::insistence::Insistence;
use crate::limits::{ORDER_SPAN, PEDAL_DOWN};
use crate::parser::{ControlMessage, NoteMessage};
use crate::place::Touched;
use crate::{
    Crosstalk, Echoes, InputSettings, Instrument, Message, Notice, Order, Pad, Parser, PlayerId, Players,
    RetriggerMask, SourceKind, Stroke, StrokeKind, TouchedAt,
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
    /// How soon after a stroke on it a pad bounces, where the player has no span of their own.
    span: Seconds,
    crosstalk: Crosstalk,
    waiting_orders: WaitingOrders,
    /// Which blows follow others too fast to be orders.
    insistence: Insistence,
    /// The last blows that gave orders, until somebody asks whose echoes were strokes.
    order_blows: VecDeque<Blow>,
    /// The last of each pad's strokes that were another's blow, with how hard they were felt.
    echoes: HashMap<Pad, Blow>,
    floods: Floods,
    /// Pedals that are down: source, channel and controller.
    down: HashSet<(u16, u8, u8)>,
    /// When pedals came up last.
    up: HashMap<Pad, HostTime>,
}

/// What a message says of a pad or a pedal.
#[derive(Clone, Copy, Debug)]
struct Deed {
    kind: StrokeKind,
    channel: u8,
    touched: Touched,
    velocity: u8,
}

impl Deed {
    fn blow(&self, source: u16, stamp: HostTime) -> Blow {
        Blow { pad: self.pad(source), stamp, velocity: self.velocity }
    }

    /// What was touched, as the masks tell pads apart. Pedals stand beside the notes, beyond the last.
    const fn pad(&self, source: u16) -> Pad {
        let note = match self.touched {
            Touched::Note(note) => note,
            Touched::Pedal(controller) => 0x80 | controller,
        };
        Pad { source, channel: self.channel, note }
    }

    fn at(&self, port: String) -> TouchedAt {
        TouchedAt { port, channel: self.channel, touched: self.touched }
    }
}

/// A message with its stamps, on its way from a driver's callback to the desk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Hit {
    pub(crate) message: Message,
    pub(crate) stamp: HostTime,
    pub(crate) place: Option<BlockPlace>,
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
            span: settings.retrigger,
            crosstalk: Crosstalk::new(),
            waiting_orders: WaitingOrders::default(),
            insistence: Insistence::default(),
            order_blows: VecDeque::new(),
            echoes: HashMap::new(),
            floods: Floods::default(),
            down: HashSet::new(),
            up: HashMap::new(),
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
        let parts = ledger.parts_of(kind, &called, source);
        drop(ledger);
        if called != name {
            self.notice(Notice::Twice { name: called });
        }
        parts.into_iter().for_each(|part| self.notice(part));
        source
    }

    /// Whoever is listed, and whatever is to be asked for, at a device that nobody has seen, each with the name it goes by.
    pub(crate) fn unseen(&self) -> Vec<(String, String)> {
        let ledger = self.ledger();
        let mut unseen = ledger.players.unseen();
        unseen.extend(ledger.controls.unseen());
        unseen
    }

    pub(crate) fn admit(&self, source: u16) {
        self.ledger().players.admit(source);
    }

    /// Notes that a device has gone or is back.
    pub(crate) fn mark(&self, source: u16, is_there: bool) {
        self.ledger().players.mark(source, is_there);
    }

    /// What this player plays on.
    pub(crate) fn instrument(&self, player: PlayerId) -> Instrument {
        self.ledger().players.player(player).map_or(Instrument::Pad, |player| player.instrument)
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

    /// Which floods are over at `now`, or all until now. Each is told once.
    pub(crate) fn held_back(&self, now: HostTime, all: bool) -> Vec<HeldBack> {
        let mut ledger = self.ledger();
        let floods = ledger.floods.take(now, all);
        floods.iter().map(|flood| ledger.held_back(flood)).collect()
    }

    /// Which floods go on.
    pub(crate) fn holding_back(&self) -> Vec<HeldBack> {
        let ledger = self.ledger();
        ledger.floods.now().map(|flood| ledger.held_back(flood)).collect()
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
        let Some(deed) = ledger.deed(source, hit.message) else { return };
        let flow = ledger.flow(source, deed, hit.stamp);
        if flow != Flow::Through {
            ledger.waiting_orders.drop_of(deed.pad(source));
            let name = ledger.flooded(source, Some((deed.channel, deed.touched)));
            drop(ledger);
            self.held.fetch_add(1, Ordering::Relaxed);
            if flow == Flow::FirstHeld {
                self.notice(Notice::Flood { name });
            }
            return;
        }
        if self.asks.load(Ordering::Relaxed) {
            let touch = ledger.touch(source, deed, hit.stamp);
            drop(ledger);
            // Somebody learns by it; what finds no room is struck once more.
            if let Some(touch) = touch {
                self.touches.try_send(touch).ok();
            }
            return;
        }
        let made = ledger.make(source, deed, hit, resolution);
        drop(ledger);
        match made {
            Made::Stroke(stroke) => self.pass(stroke),
            Made::Nothing => {}
        }
    }

    /// Tells of the blows that gave orders since it was last asked.
    pub(crate) fn tell_of_orders(&self, echoes: &mut Echoes) {
        let blows = std::mem::take(&mut self.ledger().order_blows);
        blows.into_iter().for_each(|blow| echoes.order(blow));
    }

    /// Lets orders through that nothing has shown to be another pad's blow or a wild pad's by `now`.
    pub(crate) fn settle_orders(&self, now: HostTime) {
        let due = self.ledger().waiting_orders.due(now);
        due.into_iter().for_each(|order| self.give(order));
    }

    fn give(&self, order: Order) {
        // Orders come from a person; one that finds sixty-four before it is none.
        self.orders.try_send(order).ok();
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

/// The key number of strokes on this.
const fn sent_as(touched: Touched) -> u8 {
    match touched {
        Touched::Note(note) => note,
        Touched::Pedal(_) => Stroke::PEDAL_NOTE,
    }
}

/// What a message was made.
#[derive(Clone, Copy, Debug)]
enum Made {
    Stroke(Stroke),
    Nothing,
}

impl Ledger {
    /// What a message says; nothing where a pedal is as it was.
    fn deed(&mut self, source: u16, message: Message) -> Option<Deed> {
        match message {
            Message::Note(NoteMessage { kind, channel, note, velocity }) => {
                Some(Deed { kind, channel, touched: Touched::Note(note), velocity })
            }
            Message::Control(ControlMessage { channel, controller, value }) => {
                let key = (source, channel, controller);
                let is_down = value >= PEDAL_DOWN;
                let changed = if is_down { self.down.insert(key) } else { self.down.remove(&key) };
                let kind = if is_down { StrokeKind::On } else { StrokeKind::Off };
                changed.then_some(Deed {
                    kind,
                    channel,
                    touched: Touched::Pedal(controller),
                    velocity: value,
                })
            }
        }
    }

    fn flow(&mut self, source: u16, deed: Deed, stamp: HostTime) -> Flow {
        let kind = self.players.source(source).map(|known| known.kind);
        if kind != Some(SourceKind::Port) {
            return Flow::Through;
        }
        self.floods.admit(source, (deed.channel, deed.touched), deed.kind, stamp)
    }

    /// Whose strokes may be among what was held back, and on what.
    fn held_back(&self, flood: &Flood) -> HeldBack {
        let Flood { number, source, pads, to, messages } = flood;
        let one = pads.keys().next().copied().filter(|_| pads.len() == 1);
        let wild = |(&(channel, touched), &Stretch { from, to }): (&(u8, Touched), &Stretch)| WildPad {
            pad: Pad { source: *source, channel, note: sent_as(touched) },
            player: self.players.known_at(*source, channel, touched),
            from,
            to,
        };
        let pads: Vec<WildPad> = pads.iter().map(wild).collect();
        let mut players: Vec<PlayerId> = pads.iter().filter_map(|wild| wild.player).collect();
        players.sort_unstable();
        players.dedup();
        let (device, name) = (self.flooded(*source, None), self.flooded(*source, one));
        HeldBack {
            number: *number,
            source: *source,
            device,
            name,
            players,
            pads,
            from: flood.from(),
            to: *to,
            messages: *messages,
        }
    }

    /// What a person calls the device, or the pad of it, that floods.
    fn flooded(&self, source: u16, pad: Option<(u8, Touched)>) -> String {
        let port = self.players.source(source).map_or_else(String::new, |known| known.name.clone());
        match pad {
            Some((channel, touched)) => TouchedAt { port, channel, touched }.to_string(),
            None => port,
        }
    }

    /// Names in lists that are a part of this device's and of that of another, which they go by.
    fn parts_of(&self, kind: SourceKind, device: &str, source: u16) -> Vec<Notice> {
        let names = self.players.bindings().also(kind, device, source);
        let mut parts: Vec<(String, u16)> =
            names.chain(self.controls.bindings().also(kind, device, source)).collect();
        parts.sort_unstable();
        parts.dedup();
        let told = parts.into_iter().filter_map(|(part, meant)| {
            let meant = self.players.source(meant)?.name.clone();
            Some(Notice::Ambiguous { part, meant, other: device.to_owned() })
        });
        told.collect()
    }

    /// Whether a stroke is its pad's own bouncing, where the mask is of this span. One that is none, nor another pad's blow, is to be
    /// [counted](RetriggerMask::count).
    fn bounces(&self, source: u16, deed: Deed, stamp: HostTime, span: Seconds) -> bool {
        self.rebounds(source, deed, stamp, span) || self.mask.is_within(span, deed.pad(source), stamp)
    }

    /// Whether a stroke is the bouncing of what was none: of a pedal that came up, or of an echo.
    fn rebounds(&self, source: u16, deed: Deed, stamp: HostTime, span: Seconds) -> bool {
        let pad = deed.pad(source);
        // A pedal's contact bounces when it opens as when it closes.
        let up = self.up.get(&pad).is_some_and(|&up| (stamp - up).abs() < span.min(RetriggerMask::USUAL));
        // An echo masks nothing but its own bouncing, which is no harder.
        let echo = self.echoes.get(&pad).is_some_and(|echo| {
            deed.velocity <= echo.velocity && (stamp - echo.stamp).abs() < span.min(RetriggerMask::USUAL)
        });
        up || echo
    }

    /// Whether a stroke is another pad's blow. Pedals are not shaken. One that is none may show strokes and orders before it to have been
    /// its echoes, which mask nothing any more.
    fn is_shaken(&mut self, source: u16, deed: Deed, stamp: HostTime) -> bool {
        if !matches!(deed.touched, Touched::Note(_)) {
            return false;
        }
        let blow = deed.blow(source, stamp);
        let is_shaken = self.crosstalk.feels(blow);
        let shown = if is_shaken {
            vec![blow]
        } else {
            let mut shown = self.crosstalk.show(&blow);
            shown.extend(self.waiting_orders.show(&blow));
            shown
        };
        for echo in shown {
            self.mask.forget(echo.pad, echo.stamp);
            self.insistence.forget(echo.pad, echo.stamp);
            self.echoes.insert(echo.pad, echo);
        }
        is_shaken
    }

    /// Whether a stroke is another pad's blow, as [`Self::is_shaken`] says it, with nothing kept.
    fn feels(&self, deed: &Deed, blow: &Blow) -> bool {
        matches!(deed.touched, Touched::Note(_)) && self.crosstalk.is_felt(blow)
    }

    /// Notes that a pedal came up.
    fn let_go(&mut self, source: u16, deed: Deed, stamp: HostTime) {
        if matches!(deed.touched, Touched::Pedal(_)) {
            self.up.insert(deed.pad(source), stamp);
        }
    }

    /// What a pad or a pedal does is an order, somebody's stroke or nothing. A pedal strikes when it goes down and lets go when it
    /// comes up.
    fn make(&mut self, source: u16, deed: Deed, hit: Hit, resolution: Seconds) -> Made {
        let Deed { kind, channel, touched, velocity } = deed;
        let (stamp, place) = (hit.stamp, hit.place);
        if let Some(order) = self.controls.order(source, channel, touched) {
            self.order(source, deed, stamp, order);
            return Made::Nothing;
        }
        let Some(player) = self.players.at(source, channel, touched) else {
            return Made::Nothing;
        };
        let (own_span, instrument) = self
            .players
            .player(player)
            .map_or((None, Instrument::Pad), |player| (player.retrigger, player.instrument));
        let (mut retrigger, mut crosstalk) = (false, false);
        if kind == StrokeKind::On {
            retrigger = self.bounces(source, deed, stamp, own_span.unwrap_or(self.span));
            // Keys do not shake one another.
            crosstalk = !retrigger && instrument == Instrument::Pad && self.is_shaken(source, deed, stamp);
            if !retrigger && !crosstalk {
                self.mask.count(deed.pad(source), stamp);
            }
        } else {
            self.let_go(source, deed, stamp);
        }
        let note = sent_as(touched);
        Made::Stroke(Stroke {
            player,
            source,
            kind,
            channel,
            note,
            velocity,
            stamp,
            resolution,
            place,
            retrigger,
            crosstalk,
        })
    }

    /// One blow or tread is one order, and another pad's blow is none. It waits until it is known what it was; a harder blow on the pad
    /// meanwhile is what a soft one came before.
    fn order(&mut self, source: u16, deed: Deed, stamp: HostTime, order: Order) {
        if deed.kind == StrokeKind::Off {
            self.let_go(source, deed, stamp);
            return;
        }
        let blow = deed.blow(source, stamp);
        self.waiting_orders.struck(blow.pad);
        let hardens = self.waiting_orders.has_softer(&blow);
        // Another pad's blow, and what bounces of it, prolongs nothing.
        let is_own = !self.rebounds(source, deed, stamp, ORDER_SPAN) && !self.feels(&deed, &blow);
        let follows = is_own && self.insistence.follows(blow.pad, stamp);
        let bounces = follows || self.bounces(source, deed, stamp, ORDER_SPAN);
        if !hardens && bounces || self.is_shaken(source, deed, stamp) {
            return;
        }
        self.mask.count(blow.pad, stamp);
        if matches!(deed.touched, Touched::Note(_)) {
            self.order_blows.push_back(blow);
            self.order_blows.drain(..self.order_blows.len().saturating_sub(ORDERS));
        }
        if hardens {
            self.waiting_orders.harden(blow);
        } else {
            self.waiting_orders.take(order, blow);
        }
    }

    /// What was struck or trodden on; nothing for what comes up, a pad's own bouncing and another pad's blow.
    fn touch(&mut self, source: u16, deed: Deed, stamp: HostTime) -> Option<TouchedAt> {
        if deed.kind == StrokeKind::Off {
            self.let_go(source, deed, stamp);
            return None;
        }
        let is_meant = !self.bounces(source, deed, stamp, self.span) && !self.is_shaken(source, deed, stamp);
        if is_meant {
            self.mask.count(deed.pad(source), stamp);
        }
        let port = self.players.source(source)?.name.clone();
        is_meant.then(|| deed.at(port))
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

    /// Takes bytes that arrived at `stamp`. `resolution` is what that stamp is worth. For ordinary
    /// threads: it takes a lock for a moment.
    pub fn feed(&mut self, bytes: &[u8], stamp: HostTime, resolution: Seconds) {
        let (desk, source) = (&self.desk, self.source);
        self.parser
            .feed(bytes, |message| desk.receive(source, Hit { message, stamp, place: None }, resolution));
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
