use rhythm::AttackId;

/// What one player did, ready to be drawn.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Who: a code, a pad, a section.
    pub label: String,
    /// What is to be known of the player besides, in a word or two under the label; empty where there is nothing.
    pub state: String,
    /// The player's bias in milliseconds, negative ahead of the click; `None` where too little was played to say.
    pub bias_ms: Option<f64>,
    /// What happened, in any order.
    pub marks: Vec<Mark>,
}

/// One attack, written or played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mark {
    /// A written attack was struck.
    Pin {
        /// Which.
        id: AttackId,
        /// How far it leans in milliseconds; negative is early.
        lean_ms: f64,
        /// On which side it lies beyond the tolerance, if it does.
        beyond: Option<Side>,
    },
    /// A written attack was not struck.
    Missed {
        /// Which.
        id: AttackId,
    },
    /// A felt beat, in the row of one who keeps the pulse: nothing need be written there.
    Beat {
        /// In which system of the engraving it lies, from 0.
        system: usize,
        /// Where, in staff spaces from the left edge of the page.
        x: f64,
        /// How far the stroke leans in milliseconds, negative is early; `None` where the beat was missed.
        lean_ms: Option<f64>,
        /// On which side it lies beyond the tolerance, if it does.
        beyond: Option<Side>,
    },
    /// An attack that answers no written one.
    Extra {
        /// In which system of the engraving it fell, from 0.
        system: usize,
        /// Where it fell, in staff spaces from the left edge of the page.
        x: f64,
    },
}

/// Before or behind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// Before the note: the bead to the left.
    Early,
    /// Behind the note: the bead to the right.
    Late,
}

/// How far the players' attacks lie apart at one written attack.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Which.
    pub id: AttackId,
    /// Their standard deviation in milliseconds.
    pub ms: f64,
}
