use engrave::{Engraving, Ink, Item, Layout, Paint, Scene};
use kurbo::Vec2;
use picture::{Mark, Row, Side};

use crate::document::{Date, Document, Part, Role};
use crate::flow::{Block, pages};
use crate::lines::{BODY, HEADING, LEADING, RISE, SMALL, Type, paragraph};
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
    /// The findings, a sentence each, the most useful first.
    pub findings: Vec<String>,
}

/// Under a picture, and between two players.
const GAP: f64 = 1.6;
/// From the left edge to the words of a finding.
const INDENT: f64 = 1.8;

/// The layout that fills a page's width; `picture::layout` adds what the rows need.
#[must_use]
pub fn judged_layout(print: Print) -> Layout {
    Layout { width: print.measure() + 2.0 * Layout::MARGIN, head: false, ..Layout::default() }
}

/// The picture of a take, and under it what is told of each player.
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
    for player in take.players {
        blocks.extend(told(player, print));
    }
    let foot = "A take is a pupil's record: the school and local rules decide who sees it.";
    Ok(Document {
        title: format!("{title}, as it was played"),
        description: "A rhythm, where each attack landed, and what to fix.".to_owned(),
        space_pt: print.space_pt(),
        date: take.date,
        pages: pages(blocks, print, foot)?,
    })
}

/// Each system with its rows, and the legend.
fn systems(take: &Judged<'_>, print: Print) -> Vec<Block> {
    let cut = cut(take.scene, take.engraving.systems());
    // Wider than the page where a bar is: all of it smaller, then.
    let wide = take.scene.width - 2.0 * Layout::MARGIN;
    let factor = (print.measure() / wide).min(1.0);
    let words = in_words(take);
    let below = (!cut.below.is_empty()).then(|| (cut.below, legend_words()));
    let strips = cut.strips.into_iter().zip(words).map(|(strip, words)| (strip.items, words));
    strips
        .chain(below)
        .enumerate()
        .map(|(number, (items, alt))| {
            let (top, bottom) = reach(&items);
            let by = Vec2::new(print.edge() - Layout::MARGIN * factor, -top * factor);
            let items = items.into_iter().map(|item| placed(item, factor, by)).collect();
            Block::new((bottom - top) * factor, vec![Part::new(Role::Figure { alt }, items)])
                .after(GAP)
                .named(format!("system {} with its players' rows", number + 1))
        })
        .collect()
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
    let mut extra = 0_usize;
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
            Mark::Extra { system: other, .. } => extra += usize::from(other == system),
        }
    }
    off.sort();
    let mut words = vec![format!("{struck} struck")];
    words.extend(off.into_iter().map(|(_, words)| words));
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

/// A player's code, sums and findings.
fn told(player: &Told, print: Print) -> Vec<Block> {
    let role = Role::Heading { level: 2, text: player.label.clone() };
    let left = print.edge();
    let mut blocks = vec![
        paragraph(&player.label, role, Type::bold(HEADING), left, print.measure())
            .after(GAP)
            .keeping_next(true),
        paragraph(&player.sums, Role::Text, Type::soft(BODY), left, print.measure())
            .keeping_next(!player.findings.is_empty()),
    ];
    for finding in &player.findings {
        let width = print.measure() - INDENT;
        let block = paragraph(finding, Role::Item, Type::regular(BODY), left + INDENT, width);
        let bullet = Item::disc((left + 0.6, BODY * (RISE - 0.3)), 0.3, Paint::Fill, Ink::Main);
        blocks.push(block.with_mark(bullet).after(BODY * (LEADING - 1.0)));
    }
    if player.findings.is_empty() {
        let nothing = "No finding.";
        blocks.push(paragraph(nothing, Role::Text, Type::soft(SMALL), left, print.measure()));
    }
    blocks
}
