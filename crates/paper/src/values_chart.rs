use engrave::{Anchor, Glyph, Ink, Item, Weight};
use kurbo::Point;
use rhythm::spelling::Value;
use timebase::{Ratio, Span};

use crate::document::{Document, HeadOf, Part, Role};
use crate::flow::{Block, pages};
use crate::lines::{BODY, HEADING, LEADING, RISE, Type, paragraph};
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
/// What the heads of the columns take.
const HEADS: f64 = 3.0;
/// Thickness of the lines between the rows.
const RULE: f64 = 0.06;
/// Where the columns begin, in parts of the measure: name, note, rest, how many in a whole, quarters, dotted.
const COLUMNS: [(f64, &str); 7] = [
    (0.0, "value"),
    (0.18, "note"),
    (0.29, "rest"),
    (0.41, "fill a whole"),
    (0.58, "in quarters"),
    (0.74, "dotted"),
    (0.86, "in quarters"),
];

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
    blocks.extend(VALUES.iter().map(|value| division(*value, print)));
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
    paragraph(text, role, Type::bold(HEADING), print.edge(), print.measure()).after(1.6).keeping_next(true)
}

fn column(number: usize, print: Print) -> f64 {
    print.edge() + COLUMNS[number].0 * print.measure()
}

fn heads(print: Print) -> Block {
    let parts = COLUMNS.iter().enumerate().map(|(number, (_, name))| {
        let item = Type::soft(BODY).item(*name, column(number, print), BODY * RISE);
        Part::new(Role::Cell { row: 0, head: Some(HeadOf::Column) }, vec![item])
    });
    let parts = parts.chain([rule(HEADS - 0.3, print)]).collect();
    Block::new(HEADS, parts).after(1.6).keeping_next(true)
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
    let regular = Type::regular(BODY);
    let mut dotted = single_note(value, symbol(5), LINE);
    // Behind the head, or behind the flag.
    let behind = if Glyph::flag(value).is_some() { 1.8 } else { 1.1 };
    dotted.push(Item::glyph(Glyph::Dot, (symbol(5) + behind, LINE - 0.5), Ink::Main));
    let rest = Glyph::rest(value);
    let rest = Item::glyph(rest, (symbol(2) - rest.bounds().center().x, LINE - 1.0), Ink::Main);
    let parts = vec![
        head(text(value.name().to_owned(), 0, Type::bold(BODY))),
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

/// A whole note's time filled with this value, each where its time begins.
fn division(value: Value, print: Print) -> Block {
    let many = Span::WHOLE.in_units_of(value.span()).to_integer();
    let named = 0.16 * print.measure();
    let (left, width) = (print.edge() + named, print.measure() - named);
    let mut items = vec![Item::line((left, LINE), (left + width, LINE), 0.13, Ink::Faint)];
    for number in 0..many {
        let part = number as f64 / many as f64;
        items.extend(single_note(value, left + 1.2 + (width - 1.2) * part, LINE));
    }
    let name = Item::text(
        value.name(),
        Point::new(print.edge(), LINE + 0.7),
        BODY,
        Weight::Regular,
        Anchor::Start,
        Ink::Main,
    );
    items.push(name);
    let plural = if many == 1 { "note fills" } else { "notes fill" };
    let alt = format!("{many} {} {plural} the time of a whole note.", value.name());
    Block::new(ROW - 0.4, vec![Part::new(Role::Figure { alt }, items)])
        .after(BODY * (LEADING - 1.0))
        .keeping_next(value != Value::ThirtySecond)
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
