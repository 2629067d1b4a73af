//! Rhythm text from a rhythm.

mod bar;
mod lines;

pub(super) use self::lines::Comments;
use self::lines::Lines;
use crate::{Bar, Part, Piece, Rhythm};

/// Writes a rhythm as rhythm text: the head, then four bars a line, with lines of marks under them. What was read
/// is written so that it is read as the same rhythm again; a `%` is written out.
///
/// A bar in counts that has a place without a word is written in lengths. A rhythm from elsewhere may have a bar that
/// cannot be written ([`can_write`]): it is written so that one sees what it was, and reading tells where it stands.
#[must_use]
pub fn write(rhythm: &Rhythm) -> String {
    let mut text = head(rhythm);
    text.push('\n');
    Lines::of(rhythm, &Comments::default()).write(&mut text);
    text
}

/// Whether rhythm text has words for what is played in this bar. It has for what is read from one. A bar from elsewhere may
/// have lengths that no text has: finer than a sixty-fourth with two dots, or odd parts of a beat that make no whole tuplet.
#[must_use]
pub fn can_write(bar: &Bar) -> bool {
    bar::can_write(bar)
}

/// Writes a piece of any number of parts, as [`write()`] does: one part behind the other.
#[must_use]
pub fn write_piece(piece: &Piece) -> String {
    write_with_comments(piece, &[])
}

/// Writes a piece with the comments of each of its parts.
pub(super) fn write_with_comments(piece: &Piece, comments: &[Comments]) -> String {
    let mut text = head(&piece.parts()[0].rhythm);
    let mut comments = comments.iter();
    for (index, Part { name, rhythm, shares_line }) in piece.parts().iter().enumerate() {
        text.push('\n');
        let none = Comments::default();
        let comments = comments.next().unwrap_or(&none);
        comments.write_head(&mut text);
        if let Some(name) = name {
            line(&mut text, &format!("part: {name}"));
        }
        if let Some(before) = index.checked_sub(1).filter(|_| *shares_line) {
            let known = piece.parts()[before].name.clone().unwrap_or_else(|| index.to_string());
            line(&mut text, &format!("line: {known}"));
        }
        Lines::of(rhythm, comments).write(&mut text);
    }
    text
}

fn head(rhythm: &Rhythm) -> String {
    let mut text = String::new();
    if let Some(title) = rhythm.title() {
        line(&mut text, &format!("title: {title}"));
    }
    line(&mut text, &format!("meter: {}", rhythm.bars()[0].meter()));
    if let Some(tempo) = rhythm.written_tempo() {
        line(&mut text, &format!("tempo: {tempo}"));
    }
    text
}

fn line(text: &mut String, content: &str) {
    text.push_str(content);
    text.push('\n');
}
