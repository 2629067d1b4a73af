//! Where there is too little to be judged, and what of the writing was not asked.

use std::fmt::Write as _;

use rhythm::Roll;

use super::Evidence;
use crate::own_tempo::FEWEST_FOR_TEMPO;
use crate::{Finding, FindingKind, TempoOf};

/// With so many notes written, a single stroke is no attempt at them.
const MANY_FOR_ONE: usize = 4;

impl Evidence<'_> {
    /// A take of so few strokes that nothing can be said of it: a single one, and without a click fewer than make a tempo.
    pub(super) fn too_few(&self) -> Option<Finding> {
        let (strokes, notes) = (self.attacks.len(), self.notes.len());
        let most = match self.settings.tempo_of() {
            TempoOf::Click => 1,
            TempoOf::Player | TempoOf::Written => FEWEST_FOR_TEMPO - 1,
        };
        let few = (1..=most).contains(&strokes) && notes >= MANY_FOR_ONE.max(strokes + 1);
        if !self.complete || !few || !self.alignment.unheard.iter().all(|unheard| !unheard) {
            return None;
        }
        let says = match strokes {
            1 => "one stroke: nothing can be said of it".to_owned(),
            _ => format!("{strokes} strokes: too few for anything to be said of them"),
        };
        Some(Finding::of_all(FindingKind::Unclear, says))
    }

    /// A good take in which buzz rolls were not played says so: their strokes are no attacks, so none of them is missed. Graces may have
    /// been taken for one attack with their notes before the judge heard of them, and are not spoken of.
    pub(super) fn without_rolls(&self, found: &mut [Finding]) {
        let Some(good) = found.iter_mut().find(|finding| finding.kind == FindingKind::GoodTake) else {
            return;
        };
        let counts = self.written.notes.iter().map(|&note| &self.written.counts[note]);
        let rolled = counts.filter(|count| count.marks.roll == Some(Roll::Unmeasured));
        let (mut all, mut plain) = (0, 0);
        for count in rolled {
            all += 1;
            plain += usize::from(!self.attacks.iter().any(|attack| attack.ornament == Some(count.id)));
        }
        match (plain, all) {
            (0, _) => {}
            (_, 1) => good.says.push_str("; the written roll was not played as one"),
            (plain, all) if plain == all => {
                good.says.push_str("; none of the written rolls was played as one");
            }
            (plain, all) => {
                let _ = write!(good.says, "; {plain} of the {all} written rolls were not played as such");
            }
        }
    }
}
