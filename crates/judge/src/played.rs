use timebase::Moment;

/// One attack of a player.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Played {
    /// When it fell, from count 1 of bar 1, the latency of pad and speaker already taken out.
    pub at: Moment,
    /// How hard, 1 to 127 as MIDI has it; `None` where the source does not tell (the space bar).
    pub velocity: Option<u8>,
}

impl Played {
    /// An attack at this moment, nothing known of how hard.
    #[must_use]
    pub const fn new(at: Moment) -> Self {
        Self { at, velocity: None }
    }

    /// The same attack, so hard.
    #[must_use]
    pub const fn with_velocity(self, velocity: u8) -> Self {
        Self { velocity: Some(velocity), ..self }
    }
}
