use std::collections::{BTreeMap, HashMap};

use timebase::{HostTime, Seconds};

use crate::limits::{AT_ONCE_OF_A_PAD, FLOOD_CALM, MESSAGES_A_SECOND, STROKES_OF_A_PAD};
use crate::place::Touched;
use crate::{Pad, PlayerId, Stroke, StrokeKind};

/// Floods that are over and wait to be asked for; nobody asks where no drill runs.
const KEPT: usize = 32;

const SECOND_NS: i64 = 1_000_000_000;

/// How fast something sends: every message fills it, time empties it. What fills it to the brim is wild until it is half empty.
#[derive(Clone, Copy, Debug)]
struct Meter {
    message_ns: i64,
    full_ns: i64,
    level_ns: i64,
    last: Option<HostTime>,
    /// The first message since it was empty.
    first: Option<HostTime>,
    wild: bool,
}

impl Meter {
    const fn new(a_second: i64, at_once: i64) -> Self {
        let message_ns = SECOND_NS / a_second;
        Self { message_ns, full_ns: message_ns * at_once, level_ns: 0, last: None, first: None, wild: false }
    }

    /// Whether a message goes through. One that does not keeps it full: whoever goes on like that is not heard.
    fn admit(&mut self, stamp: HostTime) -> bool {
        // A stamp that goes back empties nothing.
        let since = self.last.map_or(0, |last| (stamp - last).as_nanos().clamp(0, self.full_ns));
        self.last = Some(self.last.map_or(stamp, |last| last.max(stamp)));
        self.level_ns = (self.level_ns - since).max(0);
        if self.level_ns == 0 {
            self.first = Some(stamp);
        }
        self.wild &= self.level_ns * 2 > self.full_ns;
        self.wild |= self.level_ns + self.message_ns > self.full_ns;
        self.level_ns = (self.level_ns + self.message_ns).min(self.full_ns);
        !self.wild
    }
}

/// What devices send faster than hands can strike is held back: a pad that goes wild by itself, so that the others on its module are
/// heard, and a whole device where all its pads together do.
#[derive(Clone, Debug, Default)]
pub(crate) struct Floods {
    devices: HashMap<u16, Device>,
    over: Vec<Flood>,
    /// How many there were.
    floods: u64,
}

#[derive(Clone, Debug)]
struct Device {
    meter: Meter,
    pads: HashMap<(u8, Touched), PadFlow>,
    now: Option<Flood>,
}

#[derive(Clone, Copy, Debug)]
struct PadFlow {
    meter: Meter,
    /// Whether it was struck and not let go since: that release goes through, however wild it is.
    is_down: bool,
}

/// A stretch of time in which a device's messages were held back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Flood {
    pub(crate) number: u64,
    pub(crate) source: u16,
    /// The channels and the pads, each with its own stretch.
    pub(crate) pads: BTreeMap<(u8, Touched), Stretch>,
    /// The last that was held back.
    pub(crate) to: HostTime,
    pub(crate) messages: u64,
}

/// From the first message of what became a flood, which may have been let through, to the last that was held back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stretch {
    pub(crate) from: HostTime,
    pub(crate) to: HostTime,
}

impl Flood {
    /// The first message of any of its pads.
    pub(crate) fn from(&self) -> HostTime {
        self.pads.values().map(|stretch| stretch.from).min().unwrap_or(self.to)
    }

    fn hold(&mut self, pad: (u8, Touched), first: HostTime, stamp: HostTime) {
        self.to = self.to.max(stamp);
        self.messages += 1;
        let stretch = self.pads.entry(pad).or_insert(Stretch { from: first, to: stamp });
        stretch.to = stretch.to.max(stamp);
    }
}

/// What becomes of a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Flow {
    /// It is let through.
    Through,
    /// It is held back; the first of this flood.
    FirstHeld,
    /// It is held back too.
    Held,
}

impl Floods {
    /// A pad of the device was struck or let go.
    pub(crate) fn admit(
        &mut self,
        source: u16,
        pad: (u8, Touched),
        kind: StrokeKind,
        stamp: HostTime,
    ) -> Flow {
        let device = self.devices.entry(source).or_insert_with(Device::new);
        let flow = device.pads.entry(pad).or_insert_with(PadFlow::new);
        if kind == StrokeKind::Off && std::mem::take(&mut flow.is_down) {
            return Flow::Through;
        }
        // A pad that is held back by itself takes nothing from the others.
        let pad_passes = flow.meter.admit(stamp);
        if pad_passes && device.meter.admit(stamp) {
            flow.is_down = kind == StrokeKind::On;
            return Flow::Through;
        }
        // What is wild by itself has been since its own first message, else all together since theirs.
        let first = if pad_passes { device.meter.first } else { flow.meter.first }.unwrap_or(stamp);
        if let Some(now) = device.now.as_mut().filter(|now| stamp - now.to < FLOOD_CALM) {
            now.hold(pad, first, stamp);
            return Flow::Held;
        }
        let mut flood = Flood { number: self.floods, source, pads: BTreeMap::new(), to: stamp, messages: 0 };
        self.floods += 1;
        flood.hold(pad, first, stamp);
        let over = device.now.replace(flood);
        if self.over.len() < KEPT {
            self.over.extend(over);
        }
        Flow::FirstHeld
    }

    /// The floods that go on.
    pub(crate) fn now(&self) -> impl Iterator<Item = &Flood> {
        self.devices.values().filter_map(|device| device.now.as_ref())
    }

    /// The floods that are over at `now`, and where all are wanted, up to now also those that go on. Each is told once.
    pub(crate) fn take(&mut self, now: HostTime, all: bool) -> Vec<Flood> {
        for device in self.devices.values_mut() {
            if device.now.as_ref().is_some_and(|flood| all || now - flood.to >= FLOOD_CALM) {
                self.over.extend(device.now.take());
            }
        }
        let mut over = std::mem::take(&mut self.over);
        over.sort_by_key(|flood| (flood.from(), flood.source));
        over
    }
}

impl Device {
    fn new() -> Self {
        Self { meter: Meter::new(MESSAGES_A_SECOND, MESSAGES_A_SECOND), pads: HashMap::new(), now: None }
    }
}

impl PadFlow {
    const fn new() -> Self {
        Self { meter: Meter::new(STROKES_OF_A_PAD, AT_ONCE_OF_A_PAD), is_down: false }
    }
}

/// What a device sent was held back, because hands cannot strike as much.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HeldBack {
    /// Which flood this is, from 0; the same while it goes on.
    pub number: u64,
    /// The device, by its number.
    pub source: u16,
    /// Its name.
    pub device: String,
    /// The same, with the channel and the note where it was one pad only: `Module, channel 10, note 38`.
    pub name: String,
    /// Whose strokes may be among what was held back.
    pub players: Vec<PlayerId>,
    /// The pads and pedals that sent it.
    pub pads: Vec<WildPad>,
    /// When its first message came: the first ones were let through, before it was known what they were.
    pub from: HostTime,
    /// The last that was held back.
    pub to: HostTime,
    /// How many were held back.
    pub messages: u64,
}

/// A pad that sent more than hands can strike. None of its strokes in the stretch is a hand's, also those that were let through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WildPad {
    /// Which, as strokes name it.
    pub pad: Pad,
    /// Whose it is, if it is known.
    pub player: Option<PlayerId>,
    /// Its first message in the flood, and the last that was held back.
    pub from: HostTime,
    /// The last.
    pub to: HostTime,
}

impl WildPad {
    /// Whether the pad itself sent this stroke, in its flood.
    #[must_use]
    pub fn sent(&self, stroke: &Stroke) -> bool {
        self.pad == stroke.pad()
            && self.player == Some(stroke.player)
            && (self.from..=self.to).contains(&stroke.stamp)
    }
}

impl HeldBack {
    /// The players whose pads it was, each with when their first pad began to send it and the last of it was held back.
    #[must_use]
    pub fn stretches(&self) -> Vec<(PlayerId, HostTime, HostTime)> {
        let stretch = |&player: &PlayerId| {
            let own = self.pads.iter().filter(|wild| wild.player == Some(player));
            let ends = own.map(|wild| (wild.from, wild.to));
            let (from, to) = ends.reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))?;
            Some((player, from, to))
        };
        self.players.iter().filter_map(stretch).collect()
    }

    /// How long it lasted.
    #[must_use]
    pub fn length(&self) -> Seconds {
        self.to - self.from
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ON: StrokeKind = StrokeKind::On;
    const OFF: StrokeKind = StrokeKind::Off;

    fn at(ns: i64) -> HostTime {
        HostTime::from_nanos(ns)
    }

    fn pad(note: u8) -> (u8, Touched) {
        (9, Touched::Note(note))
    }

    /// How many of so many messages a second on so many pads in turn, for so many seconds, go through, and how often it is said.
    fn check(a_second: i64, pads: i64, seconds: i64, through: std::ops::RangeInclusive<i64>, said: i64) {
        let mut floods = Floods::default();
        let (mut passed, mut told) = (0, 0);
        for number in 0..a_second * seconds {
            let note = u8::try_from(number % pads).expect("a note");
            match floods.admit(0, pad(note), ON, at(number * SECOND_NS / a_second)) {
                Flow::Through => passed += 1,
                Flow::FirstHeld => told += 1,
                Flow::Held => {}
            }
        }
        assert!(through.contains(&passed), "{a_second} a second for {seconds} s: {passed}");
        assert_eq!(told, said);
    }

    #[test]
    fn hands_pass_and_a_wild_device_is_held() {
        // Thirty-two players at sixteen strokes a second on one port; a roll of fifty a second on one pad.
        check(512, 32, 600, 307_200..=307_200, 0);
        check(50, 1, 600, 30_000..=30_000, 0);
        check(10_000, 1, 10, 32..=33, 1);
        // On a hundred pads in turn no pad is wild, and the device is.
        check(8_000, 100, 10, 1_600..=2_100, 1);
    }

    #[test]
    fn a_wild_pad_takes_nothing_from_the_others_and_its_release_is_heard() {
        let mut floods = Floods::default();
        let mut flow = |note, kind, ns| floods.admit(0, pad(note), kind, at(ns));
        assert_eq!(flow(38, ON, 0), Flow::Through);
        let passed = (0..50_000).filter(|number| flow(60, ON, number * 100_000) == Flow::Through).count();
        assert!(passed < 40, "{passed}");
        assert_eq!(flow(60, OFF, 5_000_000_000), Flow::Through, "of what went through before");
        assert_ne!(flow(60, OFF, 5_000_000_001), Flow::Through, "of what was held back");
        assert_eq!(flow(38, OFF, 5_000_000_002), Flow::Through);
        assert_eq!(flow(38, ON, 5_000_000_003), Flow::Through);
        assert_eq!(flow(60, ON, 5_500_000_000), Flow::Through, "it has calmed down");
    }

    #[test]
    fn a_chord_at_once_passes_and_a_stamp_that_goes_back_is_no_harm() {
        let mut floods = Floods::default();
        for note in 0..120 {
            assert_eq!(floods.admit(0, pad(note), ON, at(5)), Flow::Through);
        }
        assert_eq!(floods.admit(0, pad(0), ON, at(0)), Flow::Through);
    }

    /// Hands strike a pad, and half a second later it goes wild; another pad of the device joins in still later.
    #[test]
    fn a_flood_begins_with_its_own_first_message() {
        let mut floods = Floods::default();
        let mut strike = |note, ms: i64| floods.admit(0, pad(note), ON, at(ms * 1_000_000));
        for ms in [0, 150, 300, 500] {
            assert_eq!(strike(38, ms), Flow::Through);
        }
        for ms in 1_000..1_400 {
            strike(38, ms);
        }
        for ms in 1_400..1_600 {
            strike(38, ms);
            strike(40, ms);
        }
        let told = floods.take(at(9_000_000_000), true);
        let [flood] = &told[..] else { panic!("{told:?}") };
        let stretches: Vec<_> = flood.pads.values().map(|stretch| [stretch.from, stretch.to]).collect();
        let ms = |ms: i64| at(ms * 1_000_000);
        assert_eq!(stretches, [[ms(1_000), ms(1_599)], [ms(1_400), ms(1_599)]]);
        assert_eq!(flood.from(), ms(1_000));
    }

    #[test]
    fn a_flood_is_told_with_its_length_and_number() {
        let mut floods = Floods::default();
        let mut flood = |source, note: fn(i64) -> u8, from_ms: i64| {
            for number in 0..100 {
                floods.admit(source, pad(note(number)), ON, at((from_ms + number) * 1_000_000));
            }
        };
        flood(1, |_| 38, 0);
        flood(1, |_| 38, 5_000);
        flood(2, |number| if number % 2 == 0 { 60 } else { 61 }, 5_500);
        let told = floods.take(at(6_098_000_000), false);
        let seen: Vec<_> =
            told.iter().map(|flood| (flood.source, flood.pads.len(), flood.messages > 40)).collect();
        assert_eq!(seen, [(1, 1, true)], "the second goes on as far as is known");
        let told = floods.take(at(6_100_000_000), true);
        let seen: Vec<_> = told.iter().map(|flood| (flood.source, flood.pads.len())).collect();
        assert_eq!(seen, [(1, 1), (2, 2)]);
        // From the first message on, though thirty more were let through.
        assert_eq!((told[0].from(), told[0].to), (at(5_000_000_000), at(5_099_000_000)), "{told:?}");
        assert!(floods.take(at(9_000_000_000), true).is_empty(), "each is told once");
    }
}
