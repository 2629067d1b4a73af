use kurbo::Point;
use rhythm::Rhythm;

use crate::font::{Weight, text_width};
use crate::tempo_words::TempoWords;
use crate::{Anchor, Ink, Item, Layout};

/// Line height of the title, of its em.
const TITLE_LINE: f64 = 1.25;
/// Room of the tempo mark, of its em.
const TEMPO_ROOM: f64 = 4.2 / 1.8;
/// From the base line of the tempo mark to the end of its room, of its em.
const TEMPO_DROP: f64 = 0.26;

/// Title and tempo at the top of the page; returns where the first system may begin.
pub(crate) fn head(items: &mut Vec<Item>, rhythm: &Rhythm, layout: &Layout) -> f64 {
    let left = layout.staff_left();
    let mut y = Layout::MARGIN;
    let size = layout.print.title();
    for line in wrapped(rhythm.title().unwrap_or_default(), layout.staff_right() - left, size) {
        items.push(Item::text(line, (left, y + size), size, Weight::Bold, Anchor::Start, Ink::Main));
        y += size * TITLE_LINE;
    }
    let size = layout.print.tempo();
    y += TEMPO_ROOM * size;
    let at = Point::new(left, y - TEMPO_DROP * size);
    items.extend(TempoWords::tempo(rhythm.tempo()).items(at, size, Ink::Main));
    y
}

/// A text in lines of at most `width`, broken at blanks, and inside a word only where one is too long.
fn wrapped(text: &str, width: f64, size: f64) -> Vec<String> {
    let fits = |line: &str| text_width(line, size, Weight::Bold) <= width;
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let joined = lines.last().map(|line| format!("{line} {word}"));
        match joined.filter(|line| fits(line)) {
            Some(line) => {
                lines.pop();
                lines.push(line);
            }
            None => {
                let mut line = String::new();
                for character in word.chars() {
                    if !fits(&format!("{line}{character}")) && !line.is_empty() {
                        lines.push(std::mem::take(&mut line));
                    }
                    line.push(character);
                }
                lines.push(line);
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_title_is_broken_at_blanks() {
        let check =
            |text: &str, width: f64, expected: &[&str]| assert_eq!(wrapped(text, width, 2.6), expected);
        check("", 20.0, &[]);
        check("Tin Roof", 20.0, &["Tin Roof"]);
        check("Tin Roof", 8.0, &["Tin", "Roof"]);
        assert!(wrapped(&"m".repeat(200), 40.0, 2.6).len() > 5);
    }
}
