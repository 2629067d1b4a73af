use super::{Note, Value};
use crate::Deed;

impl Value {
    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Whole => "whole",
            Self::Half => "half",
            Self::Quarter => "quarter",
            Self::Eighth => "eighth",
            Self::Sixteenth => "sixteenth",
            Self::ThirtySecond => "thirty-second",
            Self::SixtyFourth => "sixty-fourth",
        }
    }
}

/// Notes in words: `dotted quarter tied to eighth, quarter rest`, `quarter, eighth (3:2)`.
#[must_use]
pub fn words(notes: &[Note]) -> String {
    let mut text = String::new();
    for (index, note) in notes.iter().enumerate() {
        if index > 0 {
            text.push_str(if note.deed == Deed::Hold { " tied to " } else { ", " });
        }
        text.push_str(&name(note));
        let ratio = |note: &Note| note.tuplet.map(|tuplet| tuplet.product());
        let ends = notes.get(index + 1).is_none_or(|next| ratio(next) != ratio(note));
        if let Some((actual, normal)) = ratio(note).filter(|_| ends) {
            text.push_str(&format!(" ({actual}:{normal})"));
        }
    }
    text
}

fn name(note: &Note) -> String {
    if note.whole_bar {
        return "whole-bar rest".to_owned();
    }
    let dots = match note.dots {
        0 => "",
        1 => "dotted ",
        _ => "double-dotted ",
    };
    let rest = if note.deed == Deed::Rest { " rest" } else { "" };
    format!("{dots}{}{rest}", note.value.name())
}
