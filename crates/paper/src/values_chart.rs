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

/// The values in use, from the longest.
const VALUES: [Value; 7] = [
    Value::Whole,
    Value::Half,
    Value::Quarter,
    Value::Eighth,
    Value::Sixteenth,
    Value::ThirtySecond,
    Value::SixtyFourth,
];

/// What a row of the table is high: the stem of a note with four flags, and what hangs under a rest.
const ROW: f64 = 7.4;
/// From a row's top down to the line its notes stand on.
const LINE: f64 = 5.7;
/// Thickness of the lines between the rows.
const RULE: f64 = 0.06;
/// Over a heading under a table.
const SECTION_GAP: f64 = 3.2;
/// What is kept free between two columns at least.
const COLUMN_GAP: f64 = 1.0;
/// From a note's head to the next that stands clear of it with its flags.
const NOTE_STEP: f64 = 1.9;
/// From the left edge of a column to the middle of a note's head or of a rest in it.
const SYMBOL: f64 = 1.2;
/// From the middle of a dotted note's head to that of the rest beside it.
const REST_BESIDE: f64 = 5.0;
/// Between a symbol and its dot, and between two dots, as `engrave` sets them.
const DOT_GAP: f64 = 0.25;

/// A column of the table of values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Column {
    Name,
    Note,
    Rest,
    Fill,
    /// Note and rest with so many dots.
    Dotted(u8),
    /// How long they are with so many.
    Quarters(u8),
}

impl Column {
    const PLAIN: [Self; 5] = [Self::Name, Self::Note, Self::Rest, Self::Fill, Self::Quarters(0)];
    const DOTTED: [Self; 4] = [Self::Dotted(1), Self::Quarters(1), Self::Dotted(2), Self::Quarters(2)];

    /// Its head in lines.
    fn head(self) -> &'static [&'static str] {
        match self {
            Self::Name => &["value"],
            Self::Note => &["note"],
            Self::Rest => &["rest"],
            Self::Fill => &["fill a", "whole"],
            Self::Quarters(_) => &["in", "quarters"],
            Self::Dotted(1) => &["one dot"],
            Self::Dotted(_) => &["two dots"],
        }
    }

    /// The least width of what stands under its head.
    fn least(self, print: Print) -> f64 {
        match self {
            Self::Name => {
                let set = Type::bold(print.em(BODY));
                VALUES.iter().map(|value| set.width(value.name())).fold(0.0, f64::max)
            }
            Self::Note => 2.8,
            Self::Rest => 2.4,
            Self::Fill | Self::Quarters(_) => {
                let set = Type::regular(print.em(BODY));
                VALUES.iter().map(|value| set.width(&self.words(*value))).fold(0.0, f64::max)
            }
            Self::Dotted(dots) => SYMBOL + REST_BESIDE + 0.8 + 0.65 * f64::from(dots),
        }
    }

    fn width(self, print: Print) -> f64 {
        let set = Type::soft(print.em(SMALL));
        self.head().iter().map(|line| set.width(line)).fold(self.least(print), f64::max)
    }

    /// What it says of a value; nothing where it shows a symbol.
    fn words(self, value: Value) -> String {
        match self {
            Self::Name => value.name().to_owned(),
            Self::Fill => quotient(Span::WHOLE, value.span()),
            // A dot adds half of what is there: 3/2, then 7/4 of the value.
            Self::Quarters(dots) => quotient(value.span() * ((2 << dots) - 1), Span::QUARTER * (1 << dots)),
            Self::Note | Self::Rest | Self::Dotted(_) => String::new(),
        }
    }

    /// What stands in it, from its left edge.
    fn items(self, value: Value, left: f64, print: Print) -> Vec<Item> {
        let x = left + SYMBOL;
        match self {
            Self::Name => vec![Type::bold(print.em(BODY)).item(self.words(value), left, LINE)],
            Self::Fill | Self::Quarters(_) => {
                vec![Type::regular(print.em(BODY)).item(self.words(value), left, LINE)]
            }
            Self::Note => single_note(value, x, LINE),
            Self::Rest => rest(value, 0, x),
            Self::Dotted(dots) => {
                let mut items = single_note(value, x, LINE);
                let flag = Glyph::flag(value).map_or(0.0, |flag| flag.bounds().width());
                let right = x + Glyph::head(value).bounds().width() / 2.0 + flag;
                items.extend(with_dots(dots, right, LINE - 0.5));
                items.extend(rest(value, dots, x + REST_BESIDE));
                items
            }
        }
    }
}

/// A rest about `x` with its dots. Off a staff a whole and a half rest are told apart by a line of their own, and the
/// longest stands higher, as it does on a staff.
fn rest(value: Value, dots: u8, x: f64) -> Vec<Item> {
    let rise = if value == Value::SixtyFourth { 2.0 } else { 1.0 };
    let (glyph, y) = (Glyph::rest_apart(value), LINE - rise);
    let bounds = glyph.bounds();
    let mut items = vec![Item::glyph(glyph, (x - bounds.center().x, y), Ink::Main)];
    items.extend(with_dots(dots, x + bounds.width() / 2.0, y - 0.5));
    items
}

/// Dots behind what ends at `right`.
fn with_dots(dots: u8, right: f64, y: f64) -> impl Iterator<Item = Item> {
    let step = DOT_GAP + Glyph::Dot.bounds().width();
    (0..dots).map(move |dot| {
        let x = right + DOT_GAP + step * f64::from(dot);
        Item::glyph(Glyph::Dot, (x, y), Ink::Main)
    })
}

/// Columns and where each begins: each as wide as it needs to be, and what is left of the page parted among them.
#[derive(Clone, Debug)]
struct Table(Vec<(Column, f64)>);

impl Table {
    /// One table, or in large print one without dots and one with them.
    fn all(print: Print) -> Vec<Self> {
        let whole: Vec<Column> = Column::PLAIN.into_iter().chain(Column::DOTTED).collect();
        if Self::gap(&whole, print) >= COLUMN_GAP {
            return vec![Self::of(&whole, print)];
        }
        let dotted: Vec<Column> = [Column::Name].into_iter().chain(Column::DOTTED).collect();
        vec![Self::of(&Column::PLAIN, print), Self::of(&dotted, print)]
    }

    fn gap(columns: &[Column], print: Print) -> f64 {
        let taken: f64 = columns.iter().map(|column| column.width(print)).sum();
        (print.measure() - taken) / (columns.len() - 1) as f64
    }

    fn of(columns: &[Column], print: Print) -> Self {
        let gap = Self::gap(columns, print);
        let mut left = print.edge();
        let placed = columns.iter().map(|column| {
            let at = left;
            left += column.width(print) + gap;
            (*column, at)
        });
        Self(placed.collect())
    }

    fn blocks(&self, print: Print) -> Vec<Block> {
        let rows = (1..).zip(VALUES).map(|(number, value)| self.row(value, number, print));
        [self.heads(print)].into_iter().chain(rows).collect()
    }

    fn heads(&self, print: Print) -> Block {
        let set = Type::soft(print.em(SMALL));
        let step = set.size * 1.2;
        let height = 2.0 * step + 0.9;
        let parts = self.0.iter().map(|(column, left)| {
            let lines = column.head();
            let items = (2 - lines.len()..)
                .zip(lines)
                .map(|(row, line)| set.item(*line, *left, set.size * RISE + step * row as f64));
            Part::new(Role::Cell { row: 0, head: Some(HeadOf::Column) }, items.collect())
        });
        let parts = parts.chain([rule(height - 0.3, print)]).collect();
        Block::new(height, parts).after(1.6).heading_next()
    }

    fn row(&self, value: Value, number: usize, print: Print) -> Block {
        let cells = self.0.iter().map(|(column, left)| {
            let head = (*column == Column::Name).then_some(HeadOf::Row);
            Part::new(Role::Cell { row: number, head }, column.items(value, *left, print))
        });
        let parts = cells.chain([rule(ROW - 0.3, print)]).collect();
        Block::new(ROW, parts).keeping_next(number < VALUES.len())
    }
}

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
            "Each value lasts half as long as the one before it. A dot makes a note or rest half as long again, two dots make \
             it three quarters as long again.",
            print,
        ),
    ];
    for (number, table) in Table::all(print).iter().enumerate() {
        if number > 0 {
            blocks.push(section("With dots", print).after(SECTION_GAP));
        }
        blocks.extend(table.blocks(print));
    }
    blocks.push(section("How they divide a whole note", print).after(SECTION_GAP));
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
        .heading_next()
}

fn rule(y: f64, print: Print) -> Part {
    let line = Item::line((print.edge(), y), (print.page().0 - print.edge(), y), RULE, Ink::Soft);
    Part::new(Role::Decoration, vec![line])
}

/// How many times `part` goes into `whole`: `4`, `1 1/2`, `3/16`.
fn quotient(whole: Span, part: Span) -> String {
    let ratio: Ratio<i64> = whole.in_units_of(part);
    let (number, rest) = (ratio.to_integer(), ratio.fract());
    match (number, *rest.numer()) {
        (number, 0) => number.to_string(),
        (0, _) => rest.to_string(),
        (number, _) => format!("{number} {rest}"),
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
    use crate::PaperSize;

    #[test]
    fn lengths_are_told_as_people_say_them() {
        let check = |whole: Span, part: Span, expected: &str| assert_eq!(quotient(whole, part), expected);
        check(Span::WHOLE, Span::SIXTEENTH, "16");
        check(Span::HALF * 3, Span::QUARTER * 2, "3");
        check(Span::QUARTER * 3, Span::QUARTER * 2, "1 1/2");
        check(Span::EIGHTH, Span::QUARTER, "1/2");
        check(Span::EIGHTH * 3, Span::QUARTER * 2, "3/4");
        check(Span::new(3, 32), Span::HALF, "3/16");
    }

    /// Half, three quarters and seven eighths of the next longer value (common practice, no source).
    #[test]
    fn dots_make_longer() {
        let check = |value: Value, expected: [&str; 3]| {
            let lengths = [0, 1, 2].map(|dots| Column::Quarters(dots).words(value));
            assert_eq!(lengths, expected, "{}", value.name());
        };
        check(Value::Whole, ["4", "6", "7"]);
        check(Value::Quarter, ["1", "1 1/2", "1 3/4"]);
        check(Value::Sixteenth, ["1/4", "3/8", "7/16"]);
        check(Value::SixtyFourth, ["1/16", "3/32", "7/64"]);
    }

    /// Every value that is engraved has its row with its rest and its dots, each cell clear of the others, on one page in
    /// the usual print.
    #[test]
    fn the_chart_is_whole() {
        for (print, tables) in [
            (Print::default(), 1),
            (Print::new(PaperSize::Letter), 1),
            (Print::default().large(), 2),
            (Print::new(PaperSize::Letter).large(), 2),
        ] {
            let chart = values_chart(print).expect("a chart");
            assert!(tables > 1 || chart.pages.len() == 1);
            let cells: Vec<(usize, &Part)> = chart
                .pages
                .iter()
                .enumerate()
                .flat_map(|(number, page)| page.parts.iter().map(move |part| (number, part)))
                .filter(|(_, part)| matches!(part.role, Role::Cell { .. }))
                .collect();
            let boxes = |part: &Part| part.items.iter().map(Item::bounds).collect::<Vec<_>>();
            for (index, (page, cell)) in cells.iter().enumerate() {
                let bounds = cell.bounds().expect("nothing is empty");
                assert!(bounds.x0 >= 0.0 && bounds.x1 <= print.page().0 - print.edge() + 0.01, "{bounds}");
                for (_, other) in cells[index + 1..].iter().filter(|(other, _)| other == page) {
                    let clear = |a: &kurbo::Rect, b: &kurbo::Rect| {
                        let both = a.intersect(*b);
                        both.width() <= 0.01 || both.height() <= 0.01
                    };
                    let all = boxes(cell).iter().all(|a| boxes(other).iter().all(|b| clear(a, b)));
                    assert!(all, "{:?} {:?}", cell.words(), other.words());
                }
            }
            let glyphs: Vec<Glyph> = (cells.iter().flat_map(|(_, part)| &part.items))
                .filter_map(|item| if let Item::Glyph { glyph, .. } = item { Some(*glyph) } else { None })
                .collect();
            for value in VALUES {
                let rests = glyphs.iter().filter(|glyph| **glyph == Glyph::rest_apart(value)).count();
                assert_eq!(rests, 3, "{}: plain, with a dot, with two", value.name());
            }
            let dots = glyphs.iter().filter(|glyph| **glyph == Glyph::Dot).count();
            assert_eq!(dots, VALUES.len() * 2 * 3);
            assert!(glyphs.contains(&Glyph::FlagSixtyFourth));
        }
    }
}
