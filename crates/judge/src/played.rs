use timebase::Moment;

/// One attack of a player.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Played {
    /// When it fell, from count 1 of bar 1, the latency of pad and speaker already taken out.
    pub at: Moment,
    /// How hard, 1 to 127 as MIDI has it; `None` where the source does not tell (the space bar).
    pub velocity: Option<u8>,
    /// When it was let go, on the same clock; `None` where the source does not tell or lets go at once, as a pad does.
    pub released: Option<Moment>,
    /// Which hand struck; `None` where the pads do not tell left from right.
    pub hand: Option<Hand>,
}

/// The hand that struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Hand {
    /// The right one.
    Right,
    /// The left one.
    Left,
}

impl Played {
    /// An attack at this moment, nothing else known of it.
    #[must_use]
    pub const fn new(at: Moment) -> Self {
        Self { at, velocity: None, released: None, hand: None }
    }

    /// The same attack, so hard.
    #[must_use]
    pub const fn with_velocity(self, velocity: u8) -> Self {
        Self { velocity: Some(velocity), ..self }
    }

    /// The same attack, let go at a moment of the same clock: for keyboards. What a pad calls a release means nothing.
    #[must_use]
    pub const fn with_release(self, released: Moment) -> Self {
        Self { released: Some(released), ..self }
    }

    /// The same attack with this hand.
    #[must_use]
    pub const fn with_hand(self, hand: Hand) -> Self {
        Self { hand: Some(hand), ..self }
    }
}
