use engrave::{Anchor, Glyph, Ink, Item, Weight};
use kurbo::Point;
use rhythm::spelling::Value;
use timebase::{Ratio, Span};

use crate::document::{Document, HeadOf, Part, Role};
use crate::flow::{Block, pages};
use crate::lines::{BODY, HEADING, LEADING, RISE, SMALL, Type, paragraph};
use crate::sheet::{heading, said};
use crate::strips::single_note;
use crate::{Error, Print};

/// The values in use, from the longest; shorter ones go on the same way.
const VALUES: [Value; 6] =
    [Value::Whole, Value::Half, Value::Quarter, Value::Eighth, Value::Sixteenth, Value::ThirtySecond];

/// What a row of the table is high.
const ROW: f64 = 5.6;
/// From a row's top down to the line its notes stand on.
const LINE: f64 = 4.2;
/// Thickness of the lines between the rows.
const RULE: f64 = 0.06;
/// The heads of the columns, each in two lines at most, and the least width of what stands under them, in staff spaces.
const COLUMNS: [(&str, f64); 7] = [
    ("value", 0.0),
    ("note", 2.6),
    ("rest", 2.0),
    ("fill a whole", 0.0),
    ("in quarters", 0.0),
    ("dotted", 3.6),
    ("in quarters", 0.0),
];
/// What is kept free between two columns at least.
const COLUMN_GAP: f64 = 1.0;
/// From a note's head to the next that stands clear of it with its flags.
const NOTE_STEP: f64 = 1.9;

/// The sheet of note values and rests: names, symbols, how long they last, and how they divide a whole note. Names,
/// symbols and lengths are those the program spells and engraves with.
///
/// # Errors
/// If it is printed so large that a part of it is higher than a page.
pub fn values_chart(print: Print) -> Result<Document, Error> {
    let title = "Note values and rests";
    let mut blocks = vec![
        heading(title, print),
        said(
            "Each value lasts half as long as the one before it. A dot makes a note or rest half as long again.",
            print,
        ),
        heads(print),
    ];
    blocks.extend((1..).zip(VALUES).map(|(number, value)| row(value, number, print)));
    blocks.push(section("How they divide a whole note", print));
    let shown = VALUES.iter().take_while(|value| note_step(**value, print) >= NOTE_STEP);
    let shown: Vec<Value> = shown.copied().collect();
    blocks.extend(shown.iter().map(|value| division(*value, shown.last() == Some(value), print)));
    Ok(Document {
        title: title.to_owned(),
        description: "Names, symbols and lengths of notes and rests.".to_owned(),
        space_pt: print.space_pt(),
        date: None,
        pages: pages(blocks, print, "")?,
    })
}

pub(crate) fn section(text: &str, print: Print) -> Block {
    let role = Role::Heading { level: 2, text: text.to_owned() };
    paragraph(text, role, Type::bold(print.em(HEADING)), print.edge(), print.measure())
        .after(1.6)
        .keeping_next(true)
}

/// The words of a column's head in lines.
fn head_lines(name: &str) -> Vec<&str> {
    name.rsplitn(2, ' ').collect::<Vec<_>>().into_iter().rev().collect()
}

/// Where the columns begin: each as wide as it needs to be, and what is left parted among them.
fn columns(print: Print) -> [f64; 7] {
    let head = Type::soft(print.em(SMALL));
    let name = Type::bold(print.em(BODY));
    let names = VALUES.iter().map(|value| name.width(value.name())).fold(0.0, f64::max);
    let widths = COLUMNS.map(|(words, least)| {
        head_lines(words).into_iter().map(|line| head.width(line)).fold(least, f64::max)
    });
    let taken = widths.iter().sum::<f64>() + (names - widths[0]).max(0.0);
    let gap = ((print.measure() - taken) / 6.0).max(COLUMN_GAP);
    let mut x = print.edge();
    let mut starts = [x; 7];
    for (number, width) in widths.into_iter().enumerate() {
        starts[number] = x;
        x += gap + if number == 0 { width.max(names) } else { width };
    }
    starts
}

fn column(number: usize, print: Print) -> f64 {
    columns(print)[number]
}

fn heads(print: Print) -> Block {
    let set = Type::soft(print.em(SMALL));
    let step = set.size * 1.2;
    let height = 2.0 * step + 0.9;
    let parts = COLUMNS.iter().enumerate().map(|(number, (name, _))| {
        let lines = head_lines(name);
        let first = 2 - lines.len();
        let items = lines
            .into_iter()
            .zip(first..)
            .map(|(line, row)| set.item(line, column(number, print), set.size * RISE + step * row as f64));
        Part::new(Role::Cell { row: 0, head: Some(HeadOf::Column) }, items.collect())
    });
    let parts = parts.chain([rule(height - 0.3, print)]).collect();
    Block::new(height, parts).after(1.6).keeping_next(true)
}

fn rule(y: f64, print: Print) -> Part {
    let line = Item::line((print.edge(), y), (print.page().0 - print.edge(), y), RULE, Ink::Soft);
    Part::new(Role::Decoration, vec![line])
}

fn row(value: Value, number: usize, print: Print) -> Block {
    let text = |words: String, column_number: usize, set: Type| {
        vec![set.item(words, column(column_number, print), LINE)]
    };
    let head = |items| Part::new(Role::Cell { row: number, head: Some(HeadOf::Row) }, items);
    let cell = |items| Part::new(Role::Cell { row: number, head: None }, items);
    let symbol = |column_number: usize| column(column_number, print) + 1.2;
    let regular = Type::regular(print.em(BODY));
    let mut dotted = single_note(value, symbol(5), LINE);
    // Behind the head, or behind the flag.
    let behind = if Glyph::flag(value).is_some() { 1.8 } else { 1.1 };
    dotted.push(Item::glyph(Glyph::Dot, (symbol(5) + behind, LINE - 0.5), Ink::Main));
    // Off a staff a whole and a half rest are told apart by a line of their own.
    let rest = Glyph::rest_apart(value);
    let rest = Item::glyph(rest, (symbol(2) - rest.bounds().center().x, LINE - 1.0), Ink::Main);
    let parts = vec![
        head(text(value.name().to_owned(), 0, Type::bold(print.em(BODY)))),
        cell(single_note(value, symbol(1), LINE)),
        cell(vec![rest]),
        cell(text(quotient(Span::WHOLE, value.span()), 3, regular)),
        cell(text(quotient(value.span(), Span::QUARTER), 4, regular)),
        cell(dotted),
        cell(text(quotient(value.span() * 3, Span::QUARTER * 2), 6, regular)),
        rule(ROW - 0.3, print),
    ];
    Block::new(ROW, parts).keeping_next(number < VALUES.len())
}

/// How many times `part` goes into `whole`: `4`, `1½`, `3/16`.
fn quotient(whole: Span, part: Span) -> String {
    let ratio: Ratio<i64> = whole.in_units_of(part);
    let (number, rest) = (ratio.to_integer(), ratio.fract());
    let fraction = match (*rest.numer(), *rest.denom()) {
        (0, _) => String::new(),
        (1, 2) => "½".to_owned(),
        (1, 4) => "¼".to_owned(),
        (3, 4) => "¾".to_owned(),
        (numerator, denominator) => format!("{numerator}/{denominator}"),
    };
    match (number, fraction.is_empty()) {
        (0, false) => fraction,
        (number, _) => format!("{number}{fraction}"),
    }
}

/// The room that the names take before the divided whole note.
fn named(print: Print) -> f64 {
    let set = Type::regular(print.em(BODY));
    VALUES.iter().map(|value| set.width(value.name())).fold(0.16 * print.measure(), f64::max) + 1.0
}

/// From note to note where a whole note's time is filled with this value.
fn note_step(value: Value, print: Print) -> f64 {
    let many = Span::WHOLE.in_units_of(value.span()).to_integer();
    (print.measure() - named(print) - 1.2) / many as f64
}

/// A whole note's time filled with this value, each where its time begins.
fn division(value: Value, is_last: bool, print: Print) -> Block {
    let many = Span::WHOLE.in_units_of(value.span()).to_integer();
    let named = named(print);
    let (left, width) = (print.edge() + named, print.measure() - named);
    let mut items = vec![Item::line((left, LINE), (left + width, LINE), 0.13, Ink::Faint)];
    for number in 0..many {
        let part = number as f64 / many as f64;
        items.extend(single_note(value, left + 1.2 + (width - 1.2) * part, LINE));
    }
    let name = Item::text(
        value.name(),
        Point::new(print.edge(), LINE + 0.7),
        print.em(BODY),
        Weight::Regular,
        Anchor::Start,
        Ink::Main,
    );
    items.push(name);
    let plural = if many == 1 { "note fills" } else { "notes fill" };
    let alt = format!("{many} {} {plural} the time of a whole note.", value.name());
    Block::new(ROW - 0.4, vec![Part::new(Role::Figure { alt }, items)])
        .after(BODY * (LEADING - 1.0))
        .keeping_next(!is_last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_told_as_people_say_them() {
        let check = |whole: Span, part: Span, expected: &str| assert_eq!(quotient(whole, part), expected);
        check(Span::WHOLE, Span::SIXTEENTH, "16");
        check(Span::HALF * 3, Span::QUARTER * 2, "3");
        check(Span::QUARTER * 3, Span::QUARTER * 2, "1½");
        check(Span::EIGHTH, Span::QUARTER, "½");
        check(Span::EIGHTH * 3, Span::QUARTER * 2, "¾");
        check(Span::new(3, 32), Span::HALF, "3/16");
    }
}
