use super::Note;
use crate::{Accent, Bar, Grace, Marks, Roll, Sticking};

/// A note or a count with what stands on it: `quarter right hand with flam and accent`, `hold 4 with fermata`.
#[must_use]
pub fn with_marks(said: &str, marks: Marks) -> String {
    let hand = match marks.sticking {
        None => "",
        Some(Sticking::Right) => " right hand",
        Some(Sticking::Left) => " left hand",
        Some(Sticking::Both) => " both hands",
    };
    let grace = Grace::NAMED.iter().find(|(_, grace)| *grace == marks.grace);
    let roll = marks.roll.map(|roll| match roll {
        Roll::Unmeasured => "buzz roll".to_owned(),
        Roll::Measured(1) => "roll of one slash".to_owned(),
        Roll::Measured(slashes) => format!("roll of {slashes} slashes"),
    });
    let accent = marks.accent.map(|accent| match accent {
        Accent::Accent => "accent".to_owned(),
        Accent::Strong => "strong accent".to_owned(),
    });
    let fermata = marks.fermata.then(|| "fermata".to_owned());
    let all: Vec<String> = (grace.map(|(name, _)| (*name).to_owned()).into_iter())
        .chain(roll)
        .chain(accent)
        .chain(fermata)
        .collect();
    let with = if all.is_empty() { "" } else { " with " };
    format!("{said}{hand}{with}{}", all.join(" and "))
}

/// The marks of every symbol of a bar: they stand on the first of their event, a fermata on its last.
pub(super) fn on(notes: &[Note], bar: &Bar) -> Vec<Marks> {
    let mut all = vec![Marks::NONE; notes.len()];
    let mut events = bar.events().iter().peekable();
    let mut first = 0;
    while let Some(event) = events.next() {
        let end = events.peek().map_or(notes.len(), |next| {
            first + notes[first..].iter().take_while(|note| note.at < next.at).count()
        });
        if let Some(inside) = all.get_mut(first..end).filter(|inside| !inside.is_empty()) {
            inside[0] = Marks { fermata: false, ..event.marks };
            inside[end - first - 1].fermata = event.marks.fermata;
        }
        first = end;
    }
    all
}
