use crate::Voicing;

/// How much is counted, and how.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Settings {
    /// What is counted.
    pub say: Say,
    /// Whether the foot's way is told under the counts.
    pub feet: bool,
    /// How counts inside a held note are said; `None` leaves it to the system.
    pub holds: Option<Voicing>,
    /// How counts inside a silence are said; `None` leaves it to the system.
    pub rests: Option<Voicing>,
}

/// What is counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Say {
    /// Every beat, and between the beats what begins there.
    #[default]
    Beats,
    /// Every division of the smallest value present in the bar: with one eighth in it, `1 & 2 & 3 & 4 &`. A beat that
    /// is divided otherwise than the bar (a triplet) is counted in its own divisions.
    Divisions,
    /// What is struck, and nothing else.
    Attacks,
}

impl Say {
    /// Every choice with its word on the command line.
    pub const NAMED: [(&'static str, Self); 3] =
        [("beats", Self::Beats), ("divisions", Self::Divisions), ("attacks", Self::Attacks)];
}
