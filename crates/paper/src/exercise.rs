use counting::CountLine;
use engrave::{
    Anchor, CountStyle, CountsShown, Engraving, Ink, Item, Layout, Staff, System, Weight, WritingRoom,
    engrave_staves,
};
use kurbo::{Point, Vec2};
use rhythm::Rhythm;

use crate::document::{Part, Role};
use crate::flow::{Block, page_room};
use crate::lines::{BODY, HEADING, LEADING, RISE, Type, wrapped};
use crate::strips::{placed, reach};
use crate::words::systems_in_words;
use crate::{Answers, Error, Print};

/// One rhythm of a sheet, or the parts of a piece joined.
#[derive(Clone, Debug)]
pub struct Exercise<'a> {
    /// What it is called; empty for nothing but its number.
    pub title: &'a str,
    /// What is written, from the top, and how it is counted: what the key tells. A staff without a count line is not
    /// asked for.
    pub staves: Vec<Staff<'a>>,
}

impl<'a> Exercise<'a> {
    /// One rhythm with its counting.
    #[must_use]
    pub fn new(title: &'a str, rhythm: &'a Rhythm, counting: &'a CountLine) -> Self {
        Self {
            title,
            staves: vec![Staff { name: None, rhythm, countings: vec![counting], shares_line: false }],
        }
    }
}

/// What is kept free under the counts so that a hand has room to write there: with the counts' own room about 9 mm
/// in the usual print, as ruled paper for schools has it (common practice, no source).
const ANSWER_ROOM: f64 = 1.0;
/// From the base line of counts down to the line that the engraving rules in their place.
const RULE_DROP: f64 = 0.3;
/// From the bottom of a system up to the line to write on.
const ANSWER_LINE: f64 = 0.7;
/// Thickness of the line to write on.
const RULE: f64 = 0.1;
/// How far the marks of the bars reach up from the line to write on.
const BAR_MARK: f64 = 1.1;
/// Between what stands highest in a system and its heading.
const CLEAR: f64 = 0.4;
/// Over an exercise.
const BEFORE: f64 = 1.1;
/// Under a heading of another making.
const UNDER_HEADING: f64 = 0.3;
/// Between two systems of an exercise.
const BETWEEN: f64 = 1.2;
/// An exercise that is no higher than this part of a page is kept whole.
const KEPT_WHOLE: f64 = 0.5;
/// As many systems of a longer one stand together at least.
const SYSTEMS_TOGETHER: usize = 2;

/// How an exercise is shown.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shown {
    pub(crate) print: Print,
    pub(crate) answers: Answers,
    /// Whether its tempo stands at its head.
    pub(crate) tempo: bool,
    /// Whether a line to write on stands under each system that shows no answer.
    pub(crate) lines: bool,
}

/// An exercise as blocks: its head with its first system, then the other systems.
pub(crate) fn blocks(exercise: &Exercise<'_>, heading: &str, shown: Shown) -> Result<Vec<Block>, Error> {
    let print = shown.print;
    let (engraving, factor) = engraved(exercise, shown)?;
    let words = systems_in_words(&engraving, &exercise.staves, shown.answers == Answers::Key);
    let rhythm = exercise.staves[0].rhythm;
    let head = head(exercise, heading, shown);
    let headed = head.is_some();
    let mut blocks: Vec<Block> = head.map(|block| block.after(BEFORE).heading_next()).into_iter().collect();
    let systems: Vec<Block> = (engraving.bands().iter())
        .zip(words)
        .enumerate()
        .map(|(number, (band, words))| {
            let staves = || engraving.staves().iter().map(|staff| &staff.systems()[number]);
            let items = engraving.scene().items[band.items.clone()].iter();
            let is_rule = |item: &Item| staves().any(|system| is_rule(item, system));
            let items: Vec<Item> = items.filter(|item| !is_rule(item)).cloned().collect();
            let ruled = shown.lines && shown.answers == Answers::Blank;
            let counted = staves().filter(|system| ruled && !system.count_lines.is_empty());
            let rules = counted.flat_map(answer_line).collect();
            let first = engraving.systems()[number].staff;
            let top = reach(&items).0.min(first) - CLEAR;
            let by = Vec2::new(print.edge() - Layout::MARGIN * factor, -top * factor);
            let placed =
                |items: Vec<Item>| items.into_iter().map(|item| placed(item, factor, by)).collect::<Vec<_>>();
            // The tempo stands in the head, and is read with the first system.
            let words = if number == 0 && shown.tempo {
                format!("Tempo: {}. {words}", rhythm.tempo())
            } else {
                words
            };
            let parts = vec![
                Part::new(Role::Figure { alt: words }, placed(items)),
                Part::new(Role::Decoration, placed(rules)),
            ];
            let parts = parts.into_iter().filter(|part| !part.items.is_empty()).collect();
            let gap = match (number, headed) {
                (0, true) => 0.0,
                (0, false) => UNDER_HEADING,
                _ => BETWEEN,
            };
            Block::new((band.bottom - top) * factor, parts)
                .after(gap)
                .named(format!("one system of {}", if heading.is_empty() { "the exercise" } else { heading }))
        })
        .collect();
    let height: f64 = systems.iter().map(|block| block.height() + BETWEEN).sum();
    let whole = height <= page_room(print) * KEPT_WHOLE;
    let of = systems.len();
    blocks.extend(systems.into_iter().enumerate().map(|(number, block)| {
        let (before, after) = (number + 1, of - number - 1);
        let may_part = !whole && before >= SYSTEMS_TOGETHER && after >= SYSTEMS_TOGETHER;
        block.keeping_next(after > 0 && !may_part)
    }));
    Ok(blocks)
}

/// The exercise in systems of the page's width; where a bar is wider than the page, all of it smaller by the factor.
fn engraved(exercise: &Exercise<'_>, shown: Shown) -> Result<(Engraving, f64), Error> {
    let print = shown.print;
    let wide = print.measure() + 2.0 * Layout::MARGIN;
    let writing = if shown.lines {
        WritingRoom { below: ANSWER_ROOM, step: print.writing_step() }
    } else {
        WritingRoom::default()
    };
    // Both take the same room, so that the sheet and its key are alike, system for system and page for page.
    let counts = match shown.answers {
        Answers::Blank => CountsShown::Ruled,
        Answers::Key => CountsShown::Written,
    };
    let count_style = CountStyle { shown: counts, ..CountStyle::default() };
    let at = |width: f64| {
        let size = print.print_size();
        let layout = Layout { width, head: false, count_style, writing, print: size, ..Layout::default() };
        engrave_staves(&exercise.staves, &layout)
            .map_err(|why| Error::Engraving { title: exercise.title.to_owned(), why })
    };
    let engraving = at(wide)?;
    let needed = engraving.scene().width;
    if needed <= wide + 1e-9 {
        return Ok((engraving, 1.0));
    }
    let engraving = at(needed)?;
    let factor = (print.measure() / (engraving.scene().width - 2.0 * Layout::MARGIN)).min(1.0);
    Ok((engraving, factor))
}

/// Whether it is the line that the engraving rules in the place of the counts: too near the notes for a hand to write
/// on, so that another stands at the foot of the system.
fn is_rule(item: &Item, system: &System) -> bool {
    matches!(item, Item::Line { from, to, .. } if from.y == to.y
        && (from.x, to.x) == (system.left, system.right)
        && system.count_lines.iter().any(|y| (from.y - y - RULE_DROP).abs() < 1e-9))
}

/// The line to write the counts on, with a mark under every bar line.
fn answer_line(system: &System) -> Vec<Item> {
    let y = system.bottom - ANSWER_LINE;
    let mut items = vec![Item::line((system.left, y), (system.right, y), RULE, Ink::Soft)];
    let ends = system.bar_lines.iter().copied().chain([system.left]);
    items.extend(ends.map(|x| Item::line((x, y - BAR_MARK), (x, y), RULE, Ink::Soft)));
    items
}

/// What stands over an exercise, if anything does: number and title, in more lines than one where they are long, and the
/// tempo at the right end of the first.
fn head(exercise: &Exercise<'_>, heading: &str, shown: Shown) -> Option<Block> {
    let print = shown.print;
    let (size, rhythm) = (print.em(HEADING), exercise.staves[0].rhythm);
    let tempo = if shown.tempo {
        engrave::tempo_mark(rhythm.tempo(), Point::ZERO, print.em(BODY))
    } else {
        Vec::new()
    };
    let width = tempo.iter().map(|item| item.bounds().x1).fold(0.0, f64::max);
    let lines = wrapped(heading, Type::bold(size), print.measure() - width - 2.0);
    if lines.is_empty() && tempo.is_empty() {
        return None;
    }
    let step = size * LEADING;
    let items: Vec<Item> = (0..)
        .zip(&lines)
        .map(|(number, line)| {
            let base = step * f64::from(number) + size * RISE;
            Item::text(line, (print.edge(), base), size, Weight::Bold, Anchor::Start, Ink::Main)
        })
        .collect();
    let height = step * lines.len().max(1) as f64;
    let by = Vec2::new(print.page().0 - print.edge() - width, size * RISE);
    let tempo = tempo.into_iter().map(|item| item.moved(by)).collect();
    let role = Role::Heading { level: 2, text: heading.to_owned() };
    let parts = [Part::new(role, items), Part::new(Role::Decoration, tempo)];
    Some(Block::new(height, parts.into_iter().filter(|part| !part.items.is_empty()).collect()))
}
