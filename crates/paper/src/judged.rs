use std::iter::Peekable;

use engrave::{Engraving, Ink, Item, Layout, Paint, PrintSize, Scene};
use kurbo::Vec2;
use picture::{Mark, Row, Side};
use rhythm::AttackId;

use crate::document::{Date, Document, Part, Role};
use crate::flow::{Block, moved, pages};
use crate::lines::{BODY, LEADING, RISE, Type, paragraph};
use crate::sheet::{heading, said};
use crate::strips::{cut, placed, reach};
use crate::{Error, Print};

/// A take on paper.
#[derive(Clone, Copy, Debug)]
pub struct Judged<'a> {
    /// What was played.
    pub title: &'a str,
    /// Its tempo, the tolerance and the like, in a line.
    pub about: &'a str,
    /// The day that is printed on it, if one is.
    pub date: Option<Date>,
    /// The rhythm, laid out with [`judged_layout`] and the rows' room.
    pub engraving: &'a Engraving,
    /// The picture over it.
    pub scene: &'a Scene,
    /// The picture's rows, from the top.
    pub rows: &'a [Row],
    /// What is told of each player, in the order of the rows.
    pub players: &'a [Told],
}

/// What is told of one player.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// A code, not a name.
    pub label: String,
    /// Bias, spread and drift, in a line.
    pub sums: String,
    /// The findings, the most useful first.
    pub findings: Vec<Remark>,
}

/// A finding as it is printed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// What it says, a sentence.
    pub says: String,
    /// The count that it is about; `None` where it is about the whole take.
    pub place: Option<AttackId>,
}

/// Under a picture, and between two players.
const GAP: f64 = 1.6;
/// From the left edge of what is told to the words of a finding.
const INDENT: f64 = 1.4;
/// How much of the page's width the column of findings takes. In large print it would hold three words in a line: there the
/// findings stand under their system.
const COLUMN: f64 = 0.3;
/// Between the staves and that column: beads of late attacks lean out over a staff's end.
const GUTTER: f64 = 5.0;
/// At the end of the staves in large print, for such beads.
const BEADS: f64 = 1.5;
/// The em of what is said in the column.
const ASIDE: f64 = 1.8;
/// From the line before the column to its words.
const RULE_GAP: f64 = 0.8;
/// Thickness of that line.
const RULE: f64 = 0.06;

/// The layout that leaves room for findings beside the music, in the usual print; `picture::layout` adds what the rows
/// need.
#[must_use]
pub fn judged_layout(print: Print) -> Layout {
    let width = music(print) + 2.0 * Layout::MARGIN;
    Layout { width, head: false, print: print.print_size(), ..Layout::default() }
}

/// How wide the music is, in staff spaces.
fn music(print: Print) -> f64 {
    match print.print_size() {
        PrintSize::Usual => print.measure() * (1.0 - COLUMN) - GUTTER,
        PrintSize::Large => print.measure() - BEADS,
    }
}

/// The picture of a take, and beside every system what is told of it; what is about the whole take where there is room,
/// from the first system on. In large print what is told of a system stands under it, and what is about the whole take at
/// the end.
///
/// # Errors
/// [`Error::TooHigh`] if a system with its rows is higher than a page: print smaller.
pub fn judged(take: &Judged<'_>, print: Print) -> Result<Document, Error> {
    let title = if take.title.is_empty() { "A rhythm" } else { take.title };
    let mut blocks = vec![heading(title, print), said(take.about, print)];
    if let Some(date) = take.date {
        blocks.push(said(&date.to_string(), print));
    }
    blocks.extend(systems(take, print));
    let foot = "A take is a pupil's record: the school and local rules decide who sees it.";
    Ok(Document {
        title: format!("{title}, as it was played"),
        description: "A rhythm, where each attack landed, and what to fix.".to_owned(),
        space_pt: print.space_pt(),
        date: take.date,
        pages: pages(blocks, print, foot)?,
    })
}

/// Each system with its rows and what is told of it, and the legend.
fn systems(take: &Judged<'_>, print: Print) -> Vec<Block> {
    let cut = cut(take.scene, take.engraving.systems());
    // Wider than its part of the page where a bar is: all of it smaller, then.
    let wide = take.scene.width - 2.0 * Layout::MARGIN;
    let factor = (music(print) / wide).min(1.0);
    let words = in_words(take);
    let below = (!cut.below.is_empty()).then(|| (cut.below, legend_words()));
    let strips = cut.strips.into_iter().zip(words).map(|(strip, words)| (strip.items, words));
    let systems = take.engraving.systems().len();
    let mut of_whole = take.players.iter().peekable();
    let mut blocks = Vec::new();
    for (number, (items, alt)) in strips.chain(below).enumerate() {
        let (top, bottom) = reach(&items);
        let by = Vec2::new(print.edge() - Layout::MARGIN * factor, -top * factor);
        let items = items.into_iter().map(|item| placed(item, factor, by)).collect();
        let mut parts = vec![Part::new(Role::Figure { alt }, items)];
        let mut height = (bottom - top) * factor;
        let mut under = Vec::new();
        match print.print_size() {
            _ if number >= systems => {}
            PrintSize::Large => under = of_system(take, number, print).blocks,
            PrintSize::Usual => {
                let room = if number + 1 == systems { f64::INFINITY } else { height };
                let column = column(take, number, &mut of_whole, room, print);
                if !column.blocks.is_empty() {
                    height = height.max(column.height());
                    let x = print.edge() + music(print) + GUTTER - RULE_GAP;
                    let line = Item::line((x, 0.0), (x, height), RULE, Ink::Faint);
                    parts.push(Part::new(Role::Decoration, vec![line]));
                }
                parts.extend(column.into_parts());
            }
        }
        let name = format!("system {} with its players' rows and findings", number + 1);
        let system = Block::new(height, parts).after(GAP).named(name);
        blocks.push(system.keeping_next(!under.is_empty()));
        blocks.extend(under);
    }
    if print.print_size() == PrintSize::Large {
        blocks.extend(of_whole.flat_map(|player| of_whole_take(player, print).after(2.0 * GAP).blocks));
    }
    blocks
}

/// What is told beside a system: of each player the findings whose place is there, and as much of what is about the whole
/// take, player by player, as there is room for; what is left waits for the next system.
fn column<'a>(
    take: &Judged<'a>,
    system: usize,
    of_whole: &mut Peekable<impl Iterator<Item = &'a Told>>,
    room: f64,
    print: Print,
) -> Column {
    let here = of_system(take, system, print);
    let mut column = Column::new(print);
    while let Some(player) = of_whole.peek() {
        let told = of_whole_take(player, print);
        let needed = column.height() + GAP + told.height() + GAP + here.height();
        // A player alone, the first of several, and whoever is left at the end, is told at any rate.
        let opens = system == 0 && column.blocks.is_empty();
        if needed > room && take.players.len() > 1 && !opens {
            break;
        }
        column.join(told);
        of_whole.next();
    }
    column.join(here);
    column
}

/// What is told of a system: of each player the findings whose place is there.
fn of_system(take: &Judged<'_>, system: usize, print: Print) -> Column {
    let mut column = Column::new(print);
    for player in take.players {
        let mut own = player.findings.iter().filter(|remark| {
            remark.place.is_some() && system_of(take.engraving, remark).unwrap_or(0) == system
        });
        let Some(first) = own.next() else { continue };
        if take.players.len() > 1 {
            column.head(&player.label, Role::Text, Type::bold(print.em(ASIDE)), GAP / 2.0);
        }
        [first].into_iter().chain(own).for_each(|remark| column.item(&remark.says));
    }
    column
}

/// A player's code, sums, and what is about no place.
fn of_whole_take(player: &Told, print: Print) -> Column {
    let mut column = Column::new(print);
    let role = Role::Heading { level: 2, text: player.label.clone() };
    column.head(&player.label, role, Type::bold(print.em(BODY)), 0.0);
    let mut whole = player.findings.iter().filter(|remark| remark.place.is_none()).peekable();
    let set = Type::soft(print.em(ASIDE));
    if player.findings.is_empty() {
        column.head(&player.sums, Role::Text, set, 0.0);
        column.push("No finding.", Role::Text, set, 0.4);
    } else if whole.peek().is_some() {
        column.head(&player.sums, Role::Text, set, 0.0);
    } else {
        column.push(&player.sums, Role::Text, set, 0.0);
    }
    whole.for_each(|remark| column.item(&remark.says));
    column
}

/// The system that a finding's place stands in: that of its count, or of its bar where nothing stands at the count.
fn system_of(engraving: &Engraving, remark: &Remark) -> Option<usize> {
    let id = remark.place?;
    let of_bar = || {
        let bar = |place: &&engrave::Place| (place.id.bar, place.id.pass) == (id.bar, id.pass);
        engraving.places().iter().find(bar)
    };
    engraving.place(id).or_else(of_bar).map(|place| place.system)
}

/// Paragraphs one under the other.
struct Column {
    left: f64,
    width: f64,
    print: Print,
    blocks: Vec<Block>,
}

impl Column {
    /// An empty one at the right of the page; in large print over its whole width.
    fn new(print: Print) -> Self {
        let share = match print.print_size() {
            PrintSize::Usual => COLUMN,
            PrintSize::Large => 1.0,
        };
        let width = print.measure() * share;
        let left = print.edge() + print.measure() - width;
        Self { left, width, print, blocks: Vec::new() }
    }

    /// The same with so much kept free over it.
    fn after(mut self, gap: f64) -> Self {
        if !self.blocks.is_empty() {
            let first = self.blocks.remove(0);
            self.blocks.insert(0, first.after(gap));
        }
        self
    }

    /// Puts another under this one.
    fn join(&mut self, other: Self) {
        self.blocks.extend(other.after(GAP).blocks);
    }

    fn push(&mut self, text: &str, role: Role, set: Type, gap: f64) {
        self.blocks.push(paragraph(text, role, set, self.left, self.width).after(gap));
    }

    /// What stands over what is told of a player: never alone at the foot of a page.
    fn head(&mut self, text: &str, role: Role, set: Type, gap: f64) {
        self.blocks.push(paragraph(text, role, set, self.left, self.width).after(gap).heading_next());
    }

    /// A finding, with a bullet before it.
    fn item(&mut self, text: &str) {
        let set = Type::regular(self.print.em(ASIDE));
        let block = paragraph(text, Role::Item, set, self.left + INDENT, self.width - INDENT);
        let at = (self.left + 0.5, set.size * (RISE - 0.3));
        let bullet = Item::disc(at, 0.25, Paint::Fill, Ink::Main);
        self.blocks.push(block.with_mark(bullet).after(set.size * (LEADING - 1.0)));
    }

    /// How high it is, without what is kept free over it.
    fn height(&self) -> f64 {
        let gaps: f64 = self.blocks.iter().skip(1).map(Block::gap).sum();
        self.blocks.iter().map(Block::height).sum::<f64>() + gaps
    }

    /// Its parts, from its top.
    fn into_parts(self) -> impl Iterator<Item = Part> {
        let mut reached = 0.0;
        self.blocks.into_iter().enumerate().flat_map(move |(index, block)| {
            let top = if index == 0 { 0.0 } else { reached + block.gap() };
            reached = top + block.height();
            block.into_parts().into_iter().map(move |part| moved(part, Vec2::new(0.0, top)))
        })
    }
}

fn legend_words() -> String {
    "Legend: a pin stands at every written attack; its bead to the left is early, to the right late; a dashed pin is a \
     missed attack, a hollow bead an extra one."
        .to_owned()
}

/// Of each system, player by player, what its pins show beyond the tolerance.
fn in_words(take: &Judged<'_>) -> Vec<String> {
    let systems = take.engraving.systems().len();
    (0..systems)
        .map(|system| {
            let rows = take.rows.iter().map(|row| row_in_words(take.engraving, row, system));
            let bars = bars(take.engraving, system);
            format!("{bars}. {}", rows.collect::<Vec<_>>().join(" "))
        })
        .collect()
}

/// `Bars 1 to 3`.
fn bars(engraving: &Engraving, system: usize) -> String {
    let numbers =
        || engraving.places().iter().filter(|place| place.system == system).map(|place| place.id.bar);
    match (numbers().min(), numbers().max()) {
        (Some(first), Some(last)) if first < last => format!("Bars {first} to {last}"),
        (Some(first), _) => format!("Bar {first}"),
        _ => "No bar".to_owned(),
    }
}

fn row_in_words(engraving: &Engraving, row: &Row, system: usize) -> String {
    let here = |id| engraving.place(id).filter(|place| place.system == system);
    let mut struck = 0_usize;
    let mut off = Vec::new();
    let (mut extra, mut missed) = (0_usize, 0_usize);
    for mark in &row.marks {
        match *mark {
            Mark::Pin { id, lean_ms, beyond } => {
                let Some(place) = here(id) else { continue };
                struck += 1;
                let side = match beyond {
                    None => continue,
                    Some(Side::Early) => "early",
                    Some(Side::Late) => "late",
                };
                off.push((place.position, format!("{}, {:.0} ms {side}", named(place), lean_ms.abs())));
            }
            Mark::Missed { id } => {
                if let Some(place) = here(id) {
                    off.push((place.position, format!("{}, missed", named(place))));
                }
            }
            Mark::Beat { system: other, lean_ms, .. } if other == system => match lean_ms {
                Some(_) => struck += 1,
                None => missed += 1,
            },
            Mark::Beat { .. } => {}
            Mark::Extra { system: other, .. } => extra += usize::from(other == system),
        }
    }
    off.sort();
    let mut words = vec![format!("{struck} struck")];
    words.extend(off.into_iter().map(|(_, words)| words));
    if missed > 0 {
        words.push(format!("{missed} missed"));
    }
    if extra > 0 {
        words.push(format!("{extra} extra"));
    }
    format!("{}: {}.", row.label, words.join("; "))
}

/// `bar 2 count 3`.
fn named(place: &engrave::Place) -> String {
    let word = place.count.as_ref().and_then(|count| count.say.as_ref());
    match word {
        Some(word) => format!("bar {} count {word}", place.id.bar),
        None => format!("bar {}", place.id.bar),
    }
}
