//! Pieces as MusicXML 4.0, by parts, on one-line percussion staves.

mod bar;
mod note;
mod sign;
mod tempo;

use std::fmt::Write;

use rhythm::{Deed, Part, Piece, Rhythm, spelling};
use timebase::Span;

use self::bar::BarWriter;
use super::container;
use crate::Error;
use crate::limits::DIVISIONS;

/// Divisions of a quarter that hold for a whole part, if they need be no more; else every bar has its own.
const FOR_A_PART: i64 = 16_384;

/// Writes a piece as an unpacked MusicXML file.
///
/// What is written is read as the same piece, each bar in the note values that [`spelling::spell`] gives it; what
/// MusicXML has no sign for is written in words (`in 6`, `by group`).
///
/// # Errors
/// If a length or a tempo has no value that MusicXML can write.
pub fn write(piece: &Piece) -> Result<String, Error> {
    let mut out = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
         \"http://www.musicxml.org/dtds/partwise.dtd\">\n<score-partwise version=\"4.0\">\n",
    );
    if let Some(title) = piece.parts()[0].rhythm.title() {
        line(&mut out, format_args!("<work><work-title>{}</work-title></work>", escaped(title)));
    }
    out.push_str("<identification>\n<encoding>\n<supports element=\"beam\" type=\"yes\"/>\n</encoding>\n</identification>\n");
    out.push_str("<part-list>\n");
    for (part, number) in piece.parts().iter().zip(1..) {
        let name = escaped(part.name.as_deref().unwrap_or_default());
        line(
            &mut out,
            format_args!("<score-part id=\"P{number}\">\n<part-name>{name}</part-name>\n</score-part>"),
        );
    }
    out.push_str("</part-list>\n");
    for (part, number) in piece.parts().iter().zip(1..) {
        line(&mut out, format_args!("<part id=\"P{number}\">"));
        write_part(&mut out, part, number == 1)?;
        out.push_str("</part>\n");
    }
    out.push_str("</score-partwise>\n");
    Ok(out)
}

/// Writes a piece as a packed MusicXML file, `.mxl`.
///
/// # Errors
/// As [`write()`].
pub fn write_mxl(piece: &Piece) -> Result<Vec<u8>, Error> {
    container::pack(&write(piece)?)
}

fn write_part(out: &mut String, part: &Part, is_first: bool) -> Result<(), Error> {
    let rhythm = &part.rhythm;
    let for_all = divisions(rhythm, 0..rhythm.bars().len()).filter(|&needed| needed <= FOR_A_PART);
    let mut writer = BarWriter::new(rhythm, is_first);
    for (index, bar) in rhythm.bars().iter().enumerate() {
        let own = || divisions(rhythm, index..index + 1).filter(|&needed| DIVISIONS.holds(needed));
        let needed = for_all.or_else(own).ok_or_else(|| Error::Unwritable {
            bar: bar.number(),
            what: "a length finer than MusicXML files measure".to_owned(),
        })?;
        let notes = spelling::spell(bar);
        let next = rhythm.bars().get(index + 1).and_then(|next| next.events().first());
        let goes_on = next.is_some_and(|event| event.deed == Deed::Hold);
        writer.bar(out, index, needed, &notes, goes_on)?;
    }
    Ok(())
}

/// The least number of divisions of a quarter in which all lengths of some bars are whole.
fn divisions(rhythm: &Rhythm, bars: std::ops::Range<usize>) -> Option<i64> {
    let mut needed: i64 = 1;
    for event in rhythm.bars()[bars].iter().flat_map(|bar| bar.events()) {
        let of_quarter = event.length.in_units_of(Span::QUARTER);
        let lower = *of_quarter.denom();
        needed = (needed / gcd(needed, lower)).checked_mul(lower)?;
        // Notes that a spelling parts an event into are at most as fine as its place and length.
        let lower = *event.at.in_units_of(Span::QUARTER).denom();
        needed = (needed / gcd(needed, lower)).checked_mul(lower)?;
        if needed > DIVISIONS.most {
            return None;
        }
    }
    // Sixty-fourths, into which a spelling may part a length by itself, are whole too.
    (needed / gcd(needed, 16)).checked_mul(16)
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Text as it may stand in an element or an attribute.
fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            // XML has no way to write most of them.
            control if control.is_control() => escaped.push(' '),
            other => escaped.push(other),
        }
    }
    escaped
}

fn line(out: &mut String, text: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = out.write_fmt(text);
    out.push('\n');
}
