//! MusicXML in and out.
//!
//! Every rhythm of a file is read, part by part and voice by voice: bars, meters, pickups, ties, tuplets, repeats
//! and marks. Pitches are not. What a rhythm has no place for is listed in [`Import::unkept`] with its bars.

mod bars;
mod container;
mod direction;
mod document;
mod encoding;
mod for_text;
mod import;
mod line;
mod measure;
mod note;
mod number;
mod route;
mod score;
mod tuplets;
mod unkept;
mod write;
mod xml;

pub use import::{Choice, Import, PartContents, VoiceContents, contents, read};
pub use unkept::Unkept;
pub use write::{write, write_mxl};

/// A text in one line without doubled blanks, at most so many characters long.
fn one_line(text: &str, most: usize) -> String {
    let mut line = String::new();
    for (index, word) in text.split_whitespace().enumerate() {
        if index > 0 {
            line.push(' ');
        }
        line.push_str(
            &word[..word.len().min(word.char_indices().nth(most).map_or(word.len(), |(at, _)| at))],
        );
        if line.len() > most * 4 {
            break;
        }
    }
    line.chars().filter(|c| !c.is_control()).take(most).collect::<String>().trim_end().to_owned()
}
