use kurbo::Point;
use rhythm::Rhythm;
use rhythm::spelling::Value;
use timebase::{Span, Tempo};

use super::Pen;
use crate::font::{Weight, text_width};
use crate::metrics::{TEMPO_SIZE, TITLE_SIZE};
use crate::{Anchor, Glyph, Ink, Item, Layout};

/// Line height of the title, of its em.
const TITLE_LINE: f64 = 1.25;
/// Room of the tempo mark.
const TEMPO_ROOM: f64 = 4.2;

/// Title and tempo at the top of the page; returns where the first system may begin.
pub(crate) fn head(pen: &mut Pen, rhythm: &Rhythm, layout: &Layout) -> f64 {
    let left = layout.staff_left();
    let mut y = Layout::MARGIN;
    for line in wrapped(rhythm.title().unwrap_or_default(), layout.staff_right() - left) {
        let at = (left, y + TITLE_SIZE);
        pen.add(Item::text(line, at, TITLE_SIZE, Weight::Bold, Anchor::Start, Ink::Main));
        y += TITLE_SIZE * TITLE_LINE;
    }
    for item in tempo_mark(rhythm.tempo(), Point::new(left, y + TEMPO_ROOM - 0.6)) {
        pen.add(item);
    }
    y + TEMPO_ROOM
}

/// A note, an equals sign and the beats a minute, from `at` to the right: the left end, and the line the note stands on.
#[must_use]
pub fn tempo_mark(tempo: Tempo, at: Point) -> Vec<Item> {
    let text = tempo.to_string();
    let bpm = text.rsplit(" = ").next().unwrap_or_default();
    let (mut x, y) = (at.x, at.y);
    let mut items = Vec::new();
    let words = if let Some((glyph, dots)) = beat_symbol(tempo.beat()) {
        items.push(Item::glyph(glyph, (x, y), Ink::Main));
        x += glyph.bounds().width() + 0.3;
        for _ in 0..dots {
            items.push(Item::glyph(Glyph::TempoDot, (x, y), Ink::Main));
            x += Glyph::TempoDot.advance() + 0.2;
        }
        format!("= {bpm}")
    } else {
        text
    };
    items.push(Item::text(words, (x + 0.2, y + 0.35), TEMPO_SIZE, Weight::Regular, Anchor::Start, Ink::Main));
    items
}

/// The tempo mark's note for a beat, if one symbol shows it.
fn beat_symbol(beat: Span) -> Option<(Glyph, u8)> {
    let of = |value: Value| match value {
        Value::Whole => Some(Glyph::TempoWhole),
        Value::Half => Some(Glyph::TempoHalf),
        Value::Quarter => Some(Glyph::TempoQuarter),
        Value::Eighth => Some(Glyph::TempoEighth),
        Value::Sixteenth => Some(Glyph::TempoSixteenth),
        Value::ThirtySecond | Value::SixtyFourth => None,
    };
    [Value::Whole, Value::Half, Value::Quarter, Value::Eighth, Value::Sixteenth].into_iter().find_map(
        |value| {
            let dots = match beat {
                beat if beat == value.span() => 0,
                beat if beat * 2 == value.span() * 3 => 1,
                _ => return None,
            };
            Some((of(value)?, dots))
        },
    )
}

/// A text in lines of at most `width`, broken at blanks, and inside a word only where one is too long.
fn wrapped(text: &str, width: f64) -> Vec<String> {
    let fits = |line: &str| text_width(line, TITLE_SIZE, Weight::Bold) <= width;
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
        let check = |text: &str, width: f64, expected: &[&str]| assert_eq!(wrapped(text, width), expected);
        check("", 20.0, &[]);
        check("Tin Roof", 20.0, &["Tin Roof"]);
        check("Tin Roof", 8.0, &["Tin", "Roof"]);
        assert!(wrapped(&"m".repeat(200), 40.0).len() > 5);
    }
}
