//! Symbols, bars and what stands around them in plain words, for someone who does not see the page.

mod around;
mod marks;

use std::collections::BTreeSet;

pub use self::around::{Around, bars_in_words};
pub use self::marks::with_marks;
use super::{Note, Value, spell};
use crate::{Bar, Deed, Marks};

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

/// Notes in words: `dotted quarter tied to eighth, quarter rest`, `triplet of quarter, eighth`. Every tuplet is told by
/// itself, and where one that holds another ends.
#[must_use]
pub fn words(notes: &[Note]) -> String {
    said(notes, &[])
}

/// The notes of a bar in words, with what stands on them and whether its first is tied from the bar before:
/// `tied from the bar before: quarter, half right hand with accent`.
#[must_use]
pub fn bar_words(bar: &Bar) -> String {
    let notes = spell(bar);
    let tied = notes.first().is_some_and(Note::is_tied);
    let said = said(&notes, &marks::on(&notes, bar));
    if tied { format!("tied from the bar before: {said}") } else { said }
}

/// `marks` are those of each note, or none at all.
fn said(notes: &[Note], marks: &[Marks]) -> String {
    let outer = notes.iter().filter_map(|note| note.tuplet?.outer.map(|outer| outer.index)).collect();
    let mut groups = Groups { outer, open: Vec::new() };
    let mut text = String::new();
    for (index, note) in notes.iter().enumerate() {
        let now = Group::around(note);
        let ended = groups.close(&now, &mut text);
        let begins = now.len() > groups.open.len();
        if index > 0 {
            text.push_str(match (note.is_tied(), ended, begins || ended) {
                (true, true, _) => "; tied to ",
                (true, false, _) => " tied to ",
                (false, _, true) => "; ",
                (false, _, false) => ", ",
            });
        }
        groups.open(&now, &mut text);
        text.push_str(&with_marks(&name(note), marks.get(index).copied().unwrap_or_default()));
    }
    groups.close(&[], &mut text);
    text
}

/// A tuplet as it is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Group {
    index: usize,
    actual: u32,
    normal: u32,
}

impl Group {
    /// The tuplets that a note stands in, the outer one first.
    fn around(note: &Note) -> Vec<Self> {
        let Some(tuplet) = note.tuplet else { return Vec::new() };
        let outer =
            tuplet.outer.map(|outer| Self { index: outer.index, actual: outer.actual, normal: outer.normal });
        let own = Self { index: tuplet.index, actual: tuplet.actual, normal: tuplet.normal };
        outer.into_iter().chain([own]).collect()
    }

    fn name(self) -> String {
        match (self.actual, self.normal) {
            (3, 2) => "triplet".to_owned(),
            (actual, normal) => format!("{actual} in the time of {normal}"),
        }
    }
}

/// The tuplets that are open while notes are told one after the other.
struct Groups {
    /// Those that hold another.
    outer: BTreeSet<usize>,
    open: Vec<Group>,
}

impl Groups {
    /// Closes those that `now` is not in, and tells whether there were any.
    fn close(&mut self, now: &[Group], text: &mut String) -> bool {
        let many = self.open.len();
        while let Some(last) = self.open.last().filter(|last| !now.contains(last)) {
            if self.outer.contains(&last.index) {
                text.push_str(&format!("; end of outer {}", last.name()));
            }
            self.open.pop();
        }
        self.open.len() < many
    }

    /// Opens those of `now` that are not open.
    fn open(&mut self, now: &[Group], text: &mut String) {
        for group in &now[self.open.len()..] {
            let name = group.name();
            text.push_str(&match (self.outer.contains(&group.index), name.as_str()) {
                (true, _) => format!("outer {name}: "),
                (false, "triplet") => "triplet of ".to_owned(),
                (false, _) => format!("{name}: "),
            });
            self.open.push(*group);
        }
    }
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
