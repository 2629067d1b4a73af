use timebase::HostTime;

use crate::binding::Bindings;
use crate::crosstalk::Blow;
use crate::limits::{BLOWS_OF_AN_ORDER, CROSSTALK_WAIT};
use crate::place::Touched;
use crate::{Pad, Place, Roster, SourceKind};

/// What can be asked for without touching the computer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Order {
    /// Begin the drill.
    Start,
    /// End it.
    Stop,
    /// Go on to the next player, or the next rhythm.
    Next,
    /// Play the same once more.
    Again,
}

/// Which pads, pedals and keys ask for what. What is an order is no stroke.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Controls {
    places: Vec<(Order, Place)>,
}

impl Controls {
    /// These places ask for these orders; of two that hold the same touch the first counts.
    #[must_use]
    pub fn new(places: Vec<(Order, Place)>) -> Self {
        Self { places }
    }

    /// Whether nothing is assigned.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.places.is_empty()
    }

    /// Those of the list all of whose strokes at a place would be orders, with that place and the order.
    #[must_use]
    pub fn swallowed<'a>(&'a self, roster: &'a Roster) -> Vec<(&'a str, &'a Place, Order)> {
        let mut swallowed = Vec::new();
        for entry in roster.entries() {
            for place in &entry.places {
                let name = place.port_name().to_lowercase();
                let of = self.places.iter().find(|(_, control)| {
                    let other = control.port_name().to_lowercase();
                    (name.contains(&other) || other.contains(&name)) && place.is_within(control)
                });
                swallowed.extend(of.map(|(order, _)| (entry.code.as_str(), place, *order)));
            }
        }
        swallowed
    }

    /// What is assigned to what.
    #[must_use]
    pub fn places(&self) -> &[(Order, Place)] {
        &self.places
    }
}

impl Order {
    /// Its name in files and calls.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Stop => "stop",
            Self::Next => "next",
            Self::Again => "again",
        }
    }

    /// The order of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        [Self::Start, Self::Stop, Self::Next, Self::Again].into_iter().find(|order| order.name() == name)
    }
}

/// The controls with the devices that their names mean.
#[derive(Clone, Debug)]
pub(crate) struct BoundControls {
    controls: Controls,
    bindings: Bindings,
}

impl BoundControls {
    pub(crate) fn new(controls: Controls) -> Self {
        let bindings = Bindings::of(controls.places.iter().map(|(_, place)| place.port_name()));
        Self { controls, bindings }
    }

    pub(crate) fn bind(&mut self, kind: SourceKind, device: &str, source: u16) {
        self.bindings.bind(kind, device, source);
    }

    pub(crate) const fn bindings(&self) -> &Bindings {
        &self.bindings
    }

    /// What is to be asked for at a device that was never seen, and its name.
    pub(crate) fn unseen(&self) -> impl Iterator<Item = (String, String)> {
        let unseen =
            self.controls.places.iter().filter(|(_, place)| !self.bindings.is_seen(place.port_name()));
        unseen.map(|(order, place)| (order.name().to_owned(), place.port_name().to_owned()))
    }

    pub(crate) fn order(&self, source: u16, channel: u8, touched: Touched) -> Option<Order> {
        let places = &self.controls.places;
        let meant = places.iter().find(|(_, place)| {
            self.bindings.source(place.port_name()) == Some(source) && place.holds(channel, touched)
        });
        meant.map(|&(order, _)| order)
    }
}

/// Orders that wait until it is known whether a hand gave them: a soft blow may be the echo of a hard one on another pad of the module that
/// is heard of only afterwards, and any may be the first of a pad that has gone wild. An order can wait some milliseconds, and one that
/// nobody gave may stop a drill.
#[derive(Debug, Default)]
pub(crate) struct WaitingOrders {
    waiting: Vec<Waiting>,
}

#[derive(Clone, Copy, Debug)]
struct Waiting {
    order: Order,
    blow: Blow,
    /// How often its pad was struck since, itself and the pad's bouncing included.
    blows: u32,
}

impl WaitingOrders {
    pub(crate) fn take(&mut self, order: Order, blow: Blow) {
        self.waiting.push(Waiting { order, blow, blows: 1 });
    }

    /// The pad of an order was struck once more: beyond what a hand strikes and a pad bounces, nobody gave it.
    pub(crate) fn struck(&mut self, pad: Pad) {
        self.waiting
            .iter_mut()
            .filter(|waiting| waiting.blow.pad == pad)
            .for_each(|waiting| waiting.blows += 1);
        self.waiting.retain(|waiting| waiting.blows <= BLOWS_OF_AN_ORDER);
    }

    /// The pad has gone wild.
    pub(crate) fn drop_of(&mut self, pad: Pad) {
        self.waiting.retain(|waiting| waiting.blow.pad != pad);
    }

    /// Whether an order waits by a soft blow on the same pad, to which this harder one is the blow itself.
    pub(crate) fn has_softer(&self, blow: &Blow) -> bool {
        self.waiting.iter().any(|waiting| waiting.is_softer(blow))
    }

    /// The order is this harder blow's.
    pub(crate) fn harden(&mut self, blow: Blow) {
        self.waiting
            .iter_mut()
            .filter(|waiting| waiting.is_softer(&blow))
            .for_each(|waiting| waiting.blow = blow);
    }

    /// Drops what waits and was the echo of this blow, and gives it back.
    pub(crate) fn show(&mut self, hard: &Blow) -> Vec<Blow> {
        self.waiting
            .extract_if(.., |waiting| waiting.blow.is_echo_of(hard))
            .map(|waiting| waiting.blow)
            .collect()
    }

    /// Those that nothing has shown to be nobody's by `now`, in the order in which they were given.
    pub(crate) fn due(&mut self, now: HostTime) -> Vec<Order> {
        let is_due = |waiting: &mut Waiting| now - waiting.blow.stamp >= CROSSTALK_WAIT;
        self.waiting.extract_if(.., is_due).map(|waiting| waiting.order).collect()
    }
}

impl Waiting {
    fn is_softer(&self, blow: &Blow) -> bool {
        self.blow.pad == blow.pad && self.blow.may_be_echo() && self.blow.velocity < blow.velocity
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Entry, NoteRange, Touch};

    /// A pad that is given to an order as a whole is nobody's any more; a note or a pedal of it takes nothing else away.
    #[test]
    fn orders_that_leave_a_player_nothing_are_found() {
        let pad = |name: &str| Place::port(name).expect("a name");
        let touch = |touch| pad("Pad").with_touch(touch).expect("a touch");
        let note = Touch::Notes(NoteRange::new(51, 51).expect("a note"));
        let roster = Roster::new(vec![
            Entry::new("K1", vec![pad("Pad")]),
            Entry::new("beat", vec![touch(Touch::Pedal(64))]),
        ])
        .expect("apart");
        let check = |control: Place, expected: &[&str]| {
            let controls = Controls::new(vec![(Order::Next, control)]);
            let found: Vec<_> = controls.swallowed(&roster).iter().map(|(code, ..)| *code).collect();
            assert_eq!(found, expected);
        };
        check(pad("Pad"), &["K1"]);
        check(pad("big pad"), &["K1"]);
        check(pad("Other"), &[]);
        check(touch(note), &[]);
        check(touch(Touch::Pedal(64)), &["beat"]);
        check(touch(Touch::Pedal(4)), &[]);
    }
}
