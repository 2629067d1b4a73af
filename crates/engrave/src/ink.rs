/// What a mark on the page is for. Exporters turn it into a colour with a [`crate::Theme`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Ink {
    /// Notes, staff, struck counts, pins within the tolerance.
    Main,
    /// What is read second: held counts, rests in parentheses, bar numbers, labels.
    Soft,
    /// Lines that only lead the eye: from a note down to its pins, under a row.
    Faint,
    /// The pale column under the playhead.
    Column,
    /// An attack earlier than the tolerance.
    Early,
    /// An attack later than the tolerance.
    Late,
    /// An attack that answers no written note.
    Extra,
    /// How far a section's attacks lie apart.
    Spread,
    /// The page itself, where something has to stand clear of what is under it.
    Paper,
}

impl Ink {
    /// Every ink.
    pub const ALL: [Self; 9] = [
        Self::Main,
        Self::Soft,
        Self::Faint,
        Self::Column,
        Self::Early,
        Self::Late,
        Self::Extra,
        Self::Spread,
        Self::Paper,
    ];
}
