use crate::binding::Bindings;
use crate::place::Touched;
use crate::{Place, SourceKind};

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

    pub(crate) fn order(&self, source: u16, channel: u8, touched: Touched) -> Option<Order> {
        let places = &self.controls.places;
        let meant = places.iter().find(|(_, place)| {
            self.bindings.source(place.port_name()) == Some(source) && place.holds(channel, touched)
        });
        meant.map(|&(order, _)| order)
    }
}
