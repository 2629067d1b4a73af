use rhythm::AttackId;

/// Something to tell the player, in a teacher's words.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Finding {
    /// What kind of thing.
    pub kind: FindingKind,
    /// Where: the count it is about, or the one it follows; `None` where it is about the whole take or lies before the first count.
    pub place: Option<AttackId>,
    /// One sentence that names the deed and the place, without a capital and a full stop.
    pub says: String,
}

/// The kinds of finding, the most useful first: what was struck that should not be, what was not struck that should
/// be, then the pulse, then single attacks, then what is no fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FindingKind {
    /// A held or tied note was struck again.
    HoldStruck,
    /// A rest was struck.
    RestStruck,
    /// A written attack was not struck; a run of them is one finding.
    AttackMissed,
    /// An attack where nothing is counted, or a second one for the same note.
    ExtraAttack,
    /// The pulse grew faster than written.
    Rushing,
    /// The pulse grew slower than written.
    Dragging,
    /// The attacks scatter.
    Unsteady,
    /// A single attack far ahead of the player's own pulse.
    EarlyAttack,
    /// A single attack far behind the player's own pulse.
    LateAttack,
    /// All was struck, nothing else, and steadily.
    GoodTake,
    /// The pulse lies steadily ahead of the click.
    SteadyLead,
    /// The pulse lies steadily behind the click.
    SteadyLag,
}

impl FindingKind {
    /// Every kind, the most useful first.
    pub const ALL: [Self; 12] = [
        Self::HoldStruck,
        Self::RestStruck,
        Self::AttackMissed,
        Self::ExtraAttack,
        Self::Rushing,
        Self::Dragging,
        Self::Unsteady,
        Self::EarlyAttack,
        Self::LateAttack,
        Self::GoodTake,
        Self::SteadyLead,
        Self::SteadyLag,
    ];

    /// Its stable name, as it stands in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::HoldStruck => "hold-struck",
            Self::RestStruck => "rest-struck",
            Self::AttackMissed => "attack-missed",
            Self::ExtraAttack => "extra-attack",
            Self::Rushing => "rushing",
            Self::Dragging => "dragging",
            Self::Unsteady => "unsteady",
            Self::EarlyAttack => "early-attack",
            Self::LateAttack => "late-attack",
            Self::GoodTake => "good-take",
            Self::SteadyLead => "steady-lead",
            Self::SteadyLag => "steady-lag",
        }
    }

    /// Whether it is a mistake. A good take, and a steady distance from the click, are not.
    #[must_use]
    pub const fn is_mistake(self) -> bool {
        !matches!(self, Self::GoodTake | Self::SteadyLead | Self::SteadyLag)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_differ_and_all_is_in_order() {
        assert!(FindingKind::ALL.is_sorted());
        let mut names: Vec<_> = FindingKind::ALL.iter().map(|kind| kind.name()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), FindingKind::ALL.len());
    }
}
