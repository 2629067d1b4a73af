//! Blocks from top to bottom, and where a page ends.

use engrave::{Anchor, Item};
use kurbo::Vec2;

use crate::document::{Page, Part, Role};
use crate::lines::{SMALL, Type, wrapped};
use crate::{Error, Print};

/// What is never parted: a heading, a paragraph, a system with its answer line.
#[derive(Clone, Debug)]
pub(crate) struct Block {
    /// How high it is.
    height: f64,
    /// What is kept free over it, unless it begins a page.
    gap: f64,
    /// Its parts, y from its top, x from the left edge of the page.
    parts: Vec<Part>,
    /// How it keeps to the block after it.
    keeps: Keeps,
    /// What it is called where it does not fit a page.
    name: String,
}

/// How a block keeps to the one after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Keeps {
    /// Not.
    Apart,
    /// On the same page, if all that keeps together fits one.
    Together,
    /// Always on the same page: a heading with what it stands over.
    Heading,
}

impl Block {
    pub(crate) fn new(height: f64, parts: Vec<Part>) -> Self {
        Self { height, gap: 0.0, parts, keeps: Keeps::Apart, name: "a block of text".to_owned() }
    }

    pub(crate) fn after(self, gap: f64) -> Self {
        Self { gap, ..self }
    }

    /// The same, on the page of the block after it if `keeps_next`, as far as such blocks together fit a page.
    pub(crate) fn keeping_next(self, keeps_next: bool) -> Self {
        Self { keeps: if keeps_next { Keeps::Together } else { Keeps::Apart }, ..self }
    }

    /// The same as a heading: always on the page of the block after it.
    pub(crate) fn heading_next(self) -> Self {
        Self { keeps: Keeps::Heading, ..self }
    }

    pub(crate) fn named(self, name: impl Into<String>) -> Self {
        Self { name: name.into(), ..self }
    }

    /// The same with a mark that belongs to its first part.
    pub(crate) fn with_mark(mut self, mark: Item) -> Self {
        if let Some(part) = self.parts.first_mut() {
            part.items.insert(0, mark);
        }
        self
    }

    pub(crate) fn into_parts(self) -> Vec<Part> {
        self.parts
    }

    pub(crate) fn height(&self) -> f64 {
        self.height
    }

    /// What is kept free over it.
    pub(crate) fn gap(&self) -> f64 {
        self.gap
    }
}

/// Less than anybody sees: sums of the same heights differ by their rounding.
const SLACK: f64 = 1e-6;
/// Room at the foot of a page for its number.
const FOOT: f64 = 3.0;
/// From line to line there, of the em.
const FOOT_LEADING: f64 = 1.15;

/// How much of a page's height is for blocks.
pub(crate) fn page_room(print: Print) -> f64 {
    print.page().1 - 2.0 * print.edge() - print.em(FOOT)
}

/// Fills pages with blocks from the top, each page numbered, with `foot` at the left of its number.
///
/// Blocks that keep together begin a new page where they do not fit on this one; only where together they are higher
/// than a page are they parted, and then never a heading from what it stands over, unless those two alone are.
///
/// # Errors
/// If one block alone is higher than a page.
pub(crate) fn pages(blocks: Vec<Block>, print: Print, foot: &str) -> Result<Vec<Page>, Error> {
    let room = page_room(print);
    if let Some(block) = blocks.iter().find(|block| block.height > room) {
        return Err(Error::TooHigh { what: block.name.clone() });
    }
    let mut sheets: Vec<Vec<Part>> = Vec::new();
    let mut y = f64::INFINITY;
    for group in runs(blocks, |keeps| keeps != Keeps::Apart) {
        let whole = together(&group) <= room + SLACK;
        // What is higher than a page is parted where it has to be, and begins where its first piece has room.
        let pieces = if whole { vec![group] } else { runs(group, |keeps| keeps == Keeps::Heading) };
        for piece in pieces {
            // A piece that no page holds begins a page, and a later one with the first of its blocks from which on it fits.
            let needed: Vec<f64> = (0..piece.len()).map(|first| together(&piece[first..])).collect();
            for (number, (block, needed)) in piece.into_iter().zip(needed).enumerate() {
                let needed = if number > 0 && needed > room + SLACK { block.height } else { needed };
                if y + block.gap + needed > room + SLACK {
                    sheets.push(Vec::new());
                    y = 0.0;
                } else {
                    y += block.gap;
                }
                let sheet = sheets.last_mut().expect("the first block opens a page");
                sheet.extend(
                    block.parts.into_iter().map(|part| moved(part, Vec2::new(0.0, print.edge() + y))),
                );
                y += block.height;
            }
        }
    }
    let of = sheets.len();
    Ok((1..).zip(sheets).map(|(number, parts)| page(parts, print, foot, number, of)).collect())
}

/// Blocks in runs, each ending with the first that does not keep to the next in that way.
fn runs(blocks: Vec<Block>, keeps: impl Fn(Keeps) -> bool) -> Vec<Vec<Block>> {
    let mut runs: Vec<Vec<Block>> = Vec::new();
    let mut goes_on = false;
    for block in blocks {
        let next = keeps(block.keeps);
        match runs.last_mut().filter(|_| goes_on) {
            Some(run) => run.push(block),
            None => runs.push(vec![block]),
        }
        goes_on = next;
    }
    runs
}

/// How high blocks are that stand one under the other.
fn together(blocks: &[Block]) -> f64 {
    let gaps: f64 = blocks.iter().skip(1).map(|block| block.gap).sum();
    blocks.iter().map(|block| block.height).sum::<f64>() + gaps
}

pub(crate) fn moved(part: Part, by: Vec2) -> Part {
    Part { items: part.items.into_iter().map(|item| item.moved(by)).collect(), ..part }
}

fn page(mut parts: Vec<Part>, print: Print, foot: &str, number: usize, of: usize) -> Page {
    let ((width, height), edge) = (print.page(), print.edge());
    let (base, set) = (height - edge, Type::soft(print.em(SMALL)));
    let number = format!("{number} of {of}");
    // What does not fit beside the number is parted in lines, the last on the number's.
    let beside = print.measure() - set.width(&number) - 2.0;
    let lines = wrapped(foot, set, beside);
    let first = base - set.size * FOOT_LEADING * lines.len().saturating_sub(1) as f64;
    let items: Vec<Item> = (0..)
        .zip(&lines)
        .map(|(line, words)| set.item(words, edge, first + set.size * FOOT_LEADING * f64::from(line)))
        .collect();
    if !items.is_empty() {
        parts.push(Part::new(Role::Decoration, items));
    }
    let number = Item::text(number, (width - edge, base), set.size, set.weight, Anchor::End, set.ink);
    parts.push(Part::new(Role::Decoration, vec![number]));
    Page { width, height, parts }
}

#[cfg(test)]
mod tests {
    use engrave::{Ink, Weight};

    use super::*;

    fn block(name: &str, height: f64) -> Block {
        let item = Item::text(name, (0.0, 0.0), 1.0, Weight::Regular, Anchor::Start, Ink::Main);
        Block::new(height, vec![Part::new(Role::Text, vec![item])])
    }

    /// Which blocks stand on each page.
    fn check(blocks: Vec<Block>, expected: &[&str]) {
        let pages = pages(blocks, Print::default(), "").expect("they fit");
        let texts: Vec<String> = pages
            .iter()
            .map(|page| {
                let texts = page.parts.iter().filter(|part| part.role == Role::Text);
                texts.map(Part::words).collect::<String>()
            })
            .collect();
        assert_eq!(texts, expected);
        for page in pages {
            assert!(page.parts.iter().filter_map(Part::bounds).all(|bounds| bounds.y1 <= page.height));
        }
    }

    #[test]
    fn what_keeps_together_goes_to_the_next_page_together() {
        let room = page_room(Print::default());
        let part = |share: f64| room * share;
        check(vec![block("a", part(0.5)), block("b", part(0.5)), block("c", part(0.1))], &["ab", "c"]);
        check(
            vec![block("a", part(0.8)), block("h", part(0.1)).keeping_next(true), block("b", part(0.3))],
            &["a", "hb"],
        );
        // Together they are higher than a page, so they are parted, and fill the page that is begun.
        check(
            vec![block("a", part(0.3)), block("b", part(0.6)).keeping_next(true), block("c", part(0.6))],
            &["ab", "c"],
        );
        // A heading is not left behind by what it stands over, though all that keeps together is higher than a page.
        check(
            vec![
                block("a", part(0.5)),
                block("h", part(0.05)).heading_next(),
                block("t", part(0.05)).heading_next(),
                block("b", part(0.5)).keeping_next(true),
                block("c", part(0.5)),
            ],
            &["a", "htb", "c"],
        );
        // It begins on this page where the first system still fits.
        check(
            vec![
                block("a", part(0.3)),
                block("h", part(0.1)).heading_next(),
                block("b", part(0.5)).keeping_next(true),
                block("c", part(0.5)),
            ],
            &["ahb", "c"],
        );
        // No page holds the title, the heading and the system: the heading goes with the system.
        check(
            vec![
                block("a", part(0.1)),
                block("t", part(0.15)).heading_next(),
                block("h", part(0.1)).heading_next(),
                block("b", part(0.8)),
            ],
            &["a", "t", "hb"],
        );
        check(vec![block("a", part(0.5)).after(9.0), block("b", part(0.5)).after(0.1)], &["a", "b"]);
        check(Vec::new(), &[]);
    }

    #[test]
    fn what_no_page_holds_is_an_error_that_names_it() {
        let tower = block("a", page_room(Print::default()) + 0.1).named("a tower");
        let error = pages(vec![tower], Print::default(), "").expect_err("too high");
        assert!(error.to_string().contains("a tower"), "{error}");
    }
}
