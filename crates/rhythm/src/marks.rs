/// What stands on a note beside its value.
///
/// None of it moves the note in musical time: grace strokes and the strokes of a roll lie around or inside it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Marks {
    /// The grace strokes before it.
    pub grace: Grace,
    /// The roll it is played as.
    pub roll: Option<Roll>,
    /// Its accent.
    pub accent: Option<Accent>,
    /// The hand it is struck with.
    pub sticking: Option<Sticking>,
    /// Whether it is held, or the silence kept, as long as the leader wishes.
    pub fermata: bool,
}

impl Marks {
    /// No mark at all.
    pub const NONE: Self =
        Self { grace: Grace::None, roll: None, accent: None, sticking: None, fermata: false };

    /// Whether they can only stand on a note that is struck.
    #[must_use]
    pub fn need_an_attack(self) -> bool {
        Self { fermata: false, ..self } != Self::NONE
    }
}

/// Strokes that lead into a note and take no time of their own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grace {
    /// None.
    #[default]
    None,
    /// One.
    Flam,
    /// Two.
    Drag,
    /// Three, as in a ruff of four strokes.
    Ruff,
}

impl Grace {
    /// Every kind that has a stroke, with its word in rhythm text.
    pub const NAMED: [(&'static str, Self); 3] =
        [("flam", Self::Flam), ("drag", Self::Drag), ("ruff", Self::Ruff)];

    /// How many strokes lead in: 0 to 3.
    #[must_use]
    pub fn strokes(self) -> u8 {
        match self {
            Self::None => 0,
            Self::Flam => 1,
            Self::Drag => 2,
            Self::Ruff => 3,
        }
    }

    /// The kind with so many strokes; `None` above three.
    #[must_use]
    pub fn of_strokes(strokes: usize) -> Option<Self> {
        [Self::None, Self::Flam, Self::Drag, Self::Ruff].get(strokes).copied()
    }
}

/// How the time of a note is filled with strokes. A note that is tied to this one goes on with the roll.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Roll {
    /// So many slashes through the stem, 1 to 4: each halves the value of the strokes, from the eighth.
    Measured(u8),
    /// As many as it takes: a buzz roll, written z.
    Unmeasured,
}

/// How much louder than its neighbours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Accent {
    /// `>`
    Accent,
    /// `^`, stronger.
    Strong,
}

/// The hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sticking {
    /// R
    Right,
    /// L
    Left,
    /// B: both hands at once.
    Both,
}

/// How loud a bar is, from its beginning.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Dynamics {
    /// The loudness that holds from here on.
    pub level: Option<Loudness>,
    /// Whether it grows or falls from here to the next level.
    pub swell: Option<Swell>,
}

impl Dynamics {
    /// Nothing written.
    pub const NONE: Self = Self { level: None, swell: None };
}

/// The steps of loudness.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Loudness {
    /// As soft as possible.
    Ppp,
    /// Very soft.
    Pp,
    /// Soft.
    P,
    /// Rather soft.
    Mp,
    /// Rather loud.
    Mf,
    /// Loud.
    F,
    /// Very loud.
    Ff,
    /// As loud as possible.
    Fff,
}

impl Loudness {
    /// Every step from the softest, with its sign.
    pub const NAMED: [(&'static str, Self); 8] = [
        ("ppp", Self::Ppp),
        ("pp", Self::Pp),
        ("p", Self::P),
        ("mp", Self::Mp),
        ("mf", Self::Mf),
        ("f", Self::F),
        ("ff", Self::Ff),
        ("fff", Self::Fff),
    ];
}

/// A change of loudness over some time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Swell {
    /// Growing.
    Crescendo,
    /// Falling.
    Decrescendo,
}
