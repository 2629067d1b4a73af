use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crossbeam_channel::{Receiver, Sender, bounded};
use timebase::{HostTime, Seconds};

use crate::parser::NoteMessage;
use crate::{DriverStamp, Grouping, Pad, Parser, PlayerId, Players, RetriggerMask, SourceKind, Stroke};

/// Strokes that may wait to be fetched: at a roll of 20 a second by 40 players, five seconds.
const QUEUE: usize = 4096;

/// Where the notes of every source come together and become strokes. Ordinary threads only.
#[derive(Debug)]
pub(crate) struct Desk {
    ledger: Mutex<Ledger>,
    strokes: Sender<Stroke>,
    lost: AtomicU64,
}

#[derive(Debug)]
struct Ledger {
    players: Players,
    mask: RetriggerMask,
}

/// A note with its stamps, on its way from a driver's callback to the desk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Hit {
    pub(crate) note: NoteMessage,
    pub(crate) stamp: HostTime,
    pub(crate) driver: Option<DriverStamp>,
}

impl Desk {
    pub(crate) fn new(grouping: Grouping, retrigger: Seconds) -> (Arc<Self>, Receiver<Stroke>) {
        let (strokes, fetched) = bounded(QUEUE);
        let ledger = Ledger { players: Players::new(grouping), mask: RetriggerMask::new(retrigger) };
        (Arc::new(Self { ledger: Mutex::new(ledger), strokes, lost: AtomicU64::new(0) }), fetched)
    }

    pub(crate) fn enter(&self, kind: SourceKind, name: &str) -> u16 {
        self.ledger().players.enter(kind, name)
    }

    pub(crate) fn admit(&self, source: u16) {
        self.ledger().players.admit(source);
    }

    pub(crate) fn player_at(&self, source: u16) -> PlayerId {
        self.ledger().players.at(source, 0)
    }

    pub(crate) fn players(&self) -> Players {
        self.ledger().players.clone()
    }

    pub(crate) fn lost(&self) -> u64 {
        self.lost.load(Ordering::Relaxed)
    }

    pub(crate) fn count_lost(&self, more: u64) {
        self.lost.fetch_add(more, Ordering::Relaxed);
    }

    /// Makes a note a stroke and puts it into the queue. Where there is no room it is counted as lost.
    pub(crate) fn receive(&self, source: u16, hit: Hit, resolution: Seconds) {
        let NoteMessage { kind, channel, note, velocity } = hit.note;
        let mut ledger = self.ledger();
        let player = ledger.players.at(source, channel);
        let retrigger =
            kind == crate::StrokeKind::On && ledger.mask.marks(Pad { source, channel, note }, hit.stamp);
        drop(ledger);
        let (stamp, driver) = (hit.stamp, hit.driver);
        self.pass(Stroke { player, kind, note, velocity, stamp, resolution, driver, retrigger });
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
        self.parser.feed(bytes, |note| desk.receive(source, Hit { note, stamp, driver }, resolution));
    }

    /// Takes a note that a real-time thread has read already.
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
mod tests {
    use super::*;
    use crate::StrokeKind;

    #[test]
    fn a_full_queue_loses_strokes_and_counts_them() {
        let (desk, fetched) = Desk::new(Grouping::ByPort, Seconds::ZERO);
        let source = desk.enter(SourceKind::Port, "Pad");
        let mut tap = Tap::new(Arc::clone(&desk), source);
        for at in 0..5_000 {
            tap.feed(&[0x90, 38, 100], HostTime::from_nanos(at), Seconds::ZERO, None);
        }
        assert_eq!(desk.lost(), 5_000 - 4_096);
        assert_eq!(fetched.try_iter().count(), 4_096);
    }

    #[test]
    fn several_messages_in_one_portion_share_its_stamp() {
        let (desk, fetched) = Desk::new(Grouping::ByPort, RetriggerMask::USUAL);
        let source = desk.enter(SourceKind::Port, "Pad");
        let mut tap = Tap::new(desk, source);
        let stamp = HostTime::from_nanos(5);
        let driver = Some(DriverStamp::from_micros(7));
        tap.feed(&[0x99, 38, 100, 40, 90, 38, 0], stamp, Seconds::from_millis(1), driver);
        let found: Vec<_> = fetched.try_iter().collect();
        let kinds: Vec<_> = found.iter().map(|stroke| (stroke.note, stroke.kind)).collect();
        assert_eq!(kinds, [(38, StrokeKind::On), (40, StrokeKind::On), (38, StrokeKind::Off)]);
        assert!(found.iter().all(|stroke| stroke.stamp == stamp && stroke.driver == driver));
        assert!(found.iter().all(|stroke| stroke.resolution == Seconds::from_millis(1)));
    }
}
