/// What sounds of a rhythm, and how. How loud each is, and whether it is muted, is for [`Levels`](crate::Levels).
///
/// The default is what a class begins with: a click on every felt beat, the counts as the counting system says them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Choice {
    /// Where it clicks.
    pub click: ClickOn,
    /// What is counted aloud, of what the count line has.
    pub count: CountOn,
    /// How counts inside a held note are said.
    pub holds: Aside,
    /// How counts inside a silence are said. The count-in is no silence: it is said aloud.
    pub rests: Aside,
    /// The words before the entry.
    pub entry: Entry,
}

/// Where it clicks. Count 1 is always accented, and so is, a little less, the beginning of a group where a meter has
/// groups of units that begin on beats (7/8 in 2+2+3).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum ClickOn {
    /// On every felt beat: on dotted quarters in 6/8, on eighths in 6/8 in six.
    #[default]
    Beats,
    /// On felt beats and, lower and softer, on what they divide in: eighths in 4/4 and in 6/8, quarters in 2/2.
    Divisions,
    /// On count 1 alone.
    Downbeats,
    /// Where a group begins, in meters with groups; in others on the beats.
    Groups,
}

/// What is counted aloud.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum CountOn {
    /// Every count of the count line.
    #[default]
    Everything,
    /// The beats alone.
    Beats,
    /// What is struck alone.
    Attacks,
}

/// How a count is said that nothing is struck on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Aside {
    /// As the counting has it: aloud, softer, or not at all where it is only thought.
    #[default]
    AsCounted,
    /// As loud as the others.
    Aloud,
    /// [`SOFTER_DB`](crate::limits::SOFTER_DB) below the others.
    Softer,
    /// Without pitch, and as much softer.
    Whispered,
    /// Not said.
    Silent,
}

/// How a count is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Speech {
    /// Aloud.
    Aloud,
    /// Softer than the others.
    Softer,
    /// Whispered.
    Whispered,
}

/// What is said on the last two beats of the count-in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Entry {
    /// Their numbers.
    #[default]
    Numbers,
    /// "ready, play": one, two, ready, play.
    ReadyPlay,
    /// "ready, go".
    ReadyGo,
}

impl ClickOn {
    /// Every choice with its word on the command line.
    pub const NAMED: [(&'static str, Self); 4] = [
        ("beats", Self::Beats),
        ("divisions", Self::Divisions),
        ("downbeats", Self::Downbeats),
        ("groups", Self::Groups),
    ];
}

impl CountOn {
    /// Every choice with its word on the command line.
    pub const NAMED: [(&'static str, Self); 3] =
        [("everything", Self::Everything), ("beats", Self::Beats), ("attacks", Self::Attacks)];
}

impl Aside {
    /// Every choice with its word on the command line.
    pub const NAMED: [(&'static str, Self); 5] = [
        ("as-counted", Self::AsCounted),
        ("aloud", Self::Aloud),
        ("softer", Self::Softer),
        ("whispered", Self::Whispered),
        ("silent", Self::Silent),
    ];
}

impl Entry {
    /// Every choice with its word on the command line.
    pub const NAMED: [(&'static str, Self); 3] =
        [("numbers", Self::Numbers), ("ready-play", Self::ReadyPlay), ("ready-go", Self::ReadyGo)];

    /// The words for the last two beats, if they are not their numbers: a voice must have them.
    #[must_use]
    pub const fn words(self) -> Option<[&'static str; 2]> {
        match self {
            Self::Numbers => None,
            Self::ReadyPlay => Some(["ready", "play"]),
            Self::ReadyGo => Some(["ready", "go"]),
        }
    }
}
