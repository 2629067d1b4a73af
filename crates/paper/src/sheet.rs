use engrave::{Ink, Item};

use crate::document::{Date, Document, Part, Role};
use crate::exercise::{Exercise, Shown, blocks};
use crate::flow::{Block, pages};
use crate::limits::EXERCISES_MOST;
use crate::lines::{BODY, RISE, TITLE, Type, paragraph};
use crate::{Error, Print, Version};

/// Whether the counts stand under the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Answers {
    /// A line to write them on.
    Blank,
    /// The counts.
    Key,
}

/// How a sheet is laid out.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetOptions {
    /// On what paper, and how large.
    pub print: Print,
    /// For the pupil or for the teacher.
    pub answers: Answers,
    /// What stands at its top.
    pub title: String,
    /// The day that is printed on it; `None` leaves a line for it.
    pub date: Option<Date>,
    /// Which of several versions it is.
    pub version: Option<Version>,
    /// What is said of the counting under the key's title; empty for nothing.
    pub counting: String,
}

impl SheetOptions {
    /// A sheet without a title, a day and versions.
    #[must_use]
    pub const fn new(print: Print, answers: Answers) -> Self {
        Self { print, answers, title: String::new(), date: None, version: None, counting: String::new() }
    }
}

/// How long the lines for date and code are.
const FIELD: f64 = 18.0;
/// Between the two.
const FIELD_GAP: f64 = 4.0;
/// Thickness of these lines.
const RULE: f64 = 0.1;

/// Exercises on pages, in the order given; the sheet and its key are alike, page for page and system for system.
///
/// An exercise of no more than half a page stands on one page; a longer one is parted between systems, two at least
/// on either side. A system and the line under it are never parted.
///
/// # Errors
/// If there is no exercise or there are too many, or one cannot be engraved or is higher than a page.
pub fn sheet(exercises: &[Exercise<'_>], options: &SheetOptions) -> Result<Document, Error> {
    if exercises.is_empty() {
        return Err(Error::NoExercise);
    }
    if exercises.len() > EXERCISES_MOST {
        return Err(Error::TooManyExercises { given: exercises.len() });
    }
    options.print.fitting(|print| laid_out(exercises, options, print))
}

fn laid_out(exercises: &[Exercise<'_>], options: &SheetOptions, print: Print) -> Result<Document, Error> {
    let title = full_title(options);
    let mut all = vec![heading(&title, print), under_title(options, print)];
    let several = exercises.len() > 1;
    for (number, exercise) in (1_usize..).zip(exercises) {
        let heading = match (several, exercise.title.is_empty() || exercise.title == title) {
            (true, true) => number.to_string(),
            (true, false) => format!("{number}  {}", exercise.title),
            (false, true) => String::new(),
            (false, false) => exercise.title.to_owned(),
        };
        let shown = Shown { print, answers: options.answers, tempo: true, lines: true };
        all.extend(blocks(exercise, &heading, shown)?);
    }
    let foot = options.version.map_or_else(String::new, |version| version.to_string());
    let what = match options.answers {
        Answers::Blank => "Rhythms to write the counting under.",
        Answers::Key => "Rhythms with their counting.",
    };
    let named = if title.is_empty() { "Rhythms".to_owned() } else { title };
    Ok(Document {
        title: if options.answers == Answers::Key { format!("{named}, answer key") } else { named },
        description: what.to_owned(),
        space_pt: print.space_pt(),
        date: options.date,
        pages: pages(all, print, &foot)?,
    })
}

/// The title, and which version it is.
fn full_title(options: &SheetOptions) -> String {
    let version = options.version.map(|version| format!("version {}", version.letter()));
    let title = (!options.title.is_empty()).then(|| options.title.clone());
    [title, version].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// What stands under the title: the lines for date and code, or that it is the key and how it counts. Both are given
/// the room of the higher one, so that the pages under them are alike.
fn under_title(options: &SheetOptions, print: Print) -> Block {
    let (fields, fields_height) = fields(options.date, print);
    let date = options.date.map(|date| format!("{date}."));
    let counting = (!options.counting.is_empty()).then(|| options.counting.clone());
    let said =
        [Some("Answer key.".to_owned()), date, counting].into_iter().flatten().collect::<Vec<_>>().join(" ");
    let key = paragraph(&said, Role::Text, Type::soft(print.em(BODY)), print.edge(), print.measure());
    let height = fields_height.max(key.height());
    let parts = match options.answers {
        Answers::Blank => fields,
        Answers::Key => key.into_parts(),
    };
    Block::new(height, parts).heading_next()
}

/// A line of text under the title.
pub(crate) fn said(text: &str, print: Print) -> Block {
    paragraph(text, Role::Text, Type::soft(print.em(BODY)), print.edge(), print.measure())
        .after(0.4)
        .heading_next()
}

/// The title of a document.
pub(crate) fn heading(title: &str, print: Print) -> Block {
    let named = if title.is_empty() { "Rhythms" } else { title };
    let role = Role::Heading { level: 1, text: named.to_owned() };
    paragraph(named, role, Type::bold(print.em(TITLE)), print.edge(), print.measure()).heading_next()
}

/// `Date` and `Code`, each with a line to write on. A code, not a name: sheets are pupils' records.
fn fields(date: Option<Date>, print: Print) -> (Vec<Part>, f64) {
    let set = Type::regular(print.em(BODY));
    let base = 1.2 + set.size * RISE;
    let mut x = print.edge();
    let mut parts = Vec::new();
    for (label, filled) in [("Date", date.map(|date| date.to_string())), ("Code", None)] {
        let words = filled.as_ref().map_or_else(|| label.to_owned(), |day| format!("{label} {day}"));
        let end = x + set.width(&words);
        parts.push(Part::new(Role::Text, vec![set.item(words, x, base)]));
        x = end;
        if filled.is_none() {
            let length = FIELD.min(print.measure() / 2.0 - set.width(label) - FIELD_GAP);
            let line = Item::line((x + 0.6, base + 0.4), (x + 0.6 + length, base + 0.4), RULE, Ink::Soft);
            parts.push(Part::new(Role::Decoration, vec![line]));
            x += 0.6 + length;
        }
        x += FIELD_GAP;
    }
    (parts, base + 0.8)
}
