//! What is written under a note.

use counting::{Count, Voicing};
use rhythm::{Deed, Sticking};

use crate::font::Weight;
use crate::{Layout, RestWords};

/// What is written for a count: silent or only thought in parentheses; `None` where there is no word.
pub(crate) fn count_words(count: &Count, layout: &Layout) -> Option<String> {
    let word = count.say.as_ref()?.as_str();
    let parted = match count.deed {
        Deed::Attack => false,
        Deed::Rest => layout.count_style.rests == RestWords::Parentheses,
        Deed::Hold => count.voicing == Voicing::Parentheses,
    };
    Some(if parted { format!("({word})") } else { word.to_owned() })
}

/// Struck counts are bold.
pub(crate) fn count_weight(count: &Count) -> Weight {
    if count.deed == Deed::Attack { Weight::Bold } else { Weight::Regular }
}

/// The letter of a hand.
pub(crate) const fn sticking(hand: Sticking) -> &'static str {
    match hand {
        Sticking::Right => "R",
        Sticking::Left => "L",
        Sticking::Both => "B",
    }
}
