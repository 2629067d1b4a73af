//! Text in lines.

use engrave::{Anchor, Ink, Item, Weight, text_width};

use crate::document::{Part, Role};
use crate::flow::Block;

/// Sizes of text, the em in staff spaces.
pub(crate) const TITLE: f64 = 3.4;
pub(crate) const HEADING: f64 = 2.3;
pub(crate) const BODY: f64 = 2.0;
pub(crate) const SMALL: f64 = 1.6;

/// From line to line, of the em.
pub(crate) const LEADING: f64 = 1.4;
/// From the top of a line to its base line, of the em.
pub(crate) const RISE: f64 = 1.0;

/// How text is set.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Type {
    pub(crate) size: f64,
    pub(crate) weight: Weight,
    pub(crate) ink: Ink,
}

impl Type {
    pub(crate) const fn regular(size: f64) -> Self {
        Self { size, weight: Weight::Regular, ink: Ink::Main }
    }

    pub(crate) const fn bold(size: f64) -> Self {
        Self { size, weight: Weight::Bold, ink: Ink::Main }
    }

    pub(crate) const fn soft(size: f64) -> Self {
        Self { size, weight: Weight::Regular, ink: Ink::Soft }
    }

    pub(crate) fn item(self, text: impl Into<String>, x: f64, base: f64) -> Item {
        Item::text(text, (x, base), self.size, self.weight, Anchor::Start, self.ink)
    }

    pub(crate) fn width(self, text: &str) -> f64 {
        text_width(text, self.size, self.weight)
    }
}

/// A text in lines of at most `width`, broken at blanks, and inside a word only where one is too long.
pub(crate) fn wrapped(text: &str, set: Type, width: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if set.width(&format!("{line} {word}")) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.extend(pieces(word, set, width)),
        }
    }
    lines
}

/// A word, cut where it is wider than a line.
fn pieces(word: &str, set: Type, width: f64) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for character in word.chars() {
        let piece = pieces.last_mut().expect("there is always one");
        if !piece.is_empty() && set.width(&format!("{piece}{character}")) > width {
            pieces.push(character.to_string());
        } else {
            piece.push(character);
        }
    }
    pieces
}

/// A paragraph as a block, its first line at the block's top, `indent` from the left edge of the measure.
pub(crate) fn paragraph(text: &str, role: Role, set: Type, left: f64, width: f64) -> Block {
    let step = set.size * LEADING;
    let lines = wrapped(text, set, width);
    let height = step * lines.len() as f64;
    let items = (0..)
        .zip(lines)
        .map(|(number, line)| set.item(line, left, step * f64::from(number) + set.size * RISE));
    Block::new(height, vec![Part::new(role, items.collect())])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_full_and_nothing_is_lost() {
        let check = |text: &str, width: f64, expected: &[&str]| {
            let lines = wrapped(text, Type::regular(1.0), width);
            assert_eq!(lines, expected);
            assert!(lines.iter().all(|line| Type::regular(1.0).width(line) <= width));
        };
        check("", 10.0, &[]);
        check("one two three", 100.0, &["one two three"]);
        check("one two three", 4.5, &["one two", "three"]);
        check("mmmmmm", 2.9, &["mmm", "mmm"]);
    }
}
