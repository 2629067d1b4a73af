//! Pieces as MusicXML 4.0, by parts, on one-line percussion staves.

mod bar;
mod note;
mod sign;
mod tempo;

use std::fmt::Write;

use rhythm::{Deed, Part, Piece, Rhythm, spelling};
use timebase::Span;

use self::bar::BarWriter;
use self::note::Voice;
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
    let staves = staves(piece);
    for (staff, number) in staves.iter().zip(1..) {
        line(&mut out, format_args!("<score-part id=\"P{number}\">"));
        let names: Vec<String> =
            staff.iter().map(|part| escaped(part.name.as_deref().unwrap_or_default())).collect();
        line(&mut out, format_args!("<part-name>{}</part-name>", names.join(", ")));
        for (name, voice) in names.iter().zip(1..).filter(|_| names.len() > 1) {
            let id = note::instrument(number, voice);
            let name = format!("<instrument-name>{name}</instrument-name>");
            line(&mut out, format_args!("<score-instrument id=\"{id}\">\n{name}\n</score-instrument>"));
        }
        out.push_str("</score-part>\n");
    }
    out.push_str("</part-list>\n");
    for (staff, number) in staves.iter().zip(1..) {
        line(&mut out, format_args!("<part id=\"P{number}\">"));
        write_staff(&mut out, staff, number)?;
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

/// The parts, those together that share a line.
fn staves(piece: &Piece) -> Vec<Vec<&Part>> {
    let mut staves: Vec<Vec<&Part>> = Vec::with_capacity(piece.parts().len());
    for part in piece.parts() {
        match staves.last_mut().filter(|_| part.shares_line) {
            Some(staff) => staff.push(part),
            None => staves.push(vec![part]),
        }
    }
    staves
}

/// One part, or two as the voices of one: bar by bar the upper voice, then back and the lower.
fn write_staff(out: &mut String, staff: &[&Part], number: usize) -> Result<(), Error> {
    let rhythms: Vec<&Rhythm> = staff.iter().map(|part| &part.rhythm).collect();
    let bars = rhythms[0].bars().len();
    let for_all = divisions(&rhythms, 0..bars).filter(|&needed| needed <= FOR_A_PART);
    let voices = [Voice::upper(number), Voice::lower(number)];
    let mut writers: Vec<BarWriter<'_>> = rhythms
        .iter()
        .zip(voices)
        .map(|(rhythm, voice)| {
            let voice = if rhythms.len() > 1 { voice } else { Voice::ALONE };
            BarWriter::new(rhythm, number == 1, voice)
        })
        .collect();
    for index in 0..bars {
        let own = || divisions(&rhythms, index..index + 1).filter(|&needed| DIVISIONS.holds(needed));
        let needed = for_all.or_else(own).ok_or_else(|| Error::Unwritable {
            bar: rhythms[0].bars()[index].number(),
            what: "a length finer than MusicXML files measure".to_owned(),
        })?;
        let rest = |rhythm: &&Rhythm| rhythm.bars()[index].rest();
        let rests = rhythms.iter().all(|rhythm| rest(rhythm) == rest(&rhythms[0]));
        writers[0].begin(out, index, needed, rests)?;
        for (voice, (writer, rhythm)) in writers.iter_mut().zip(&rhythms).enumerate() {
            let notes = spelling::spell(&rhythm.bars()[index]);
            let next = rhythm.bars().get(index + 1).and_then(|next| next.events().first());
            let goes_on = next.is_some_and(|event| event.deed == Deed::Hold);
            if voice > 0 {
                writer.back(out, index, needed)?;
            }
            writer.sounds(out, index, needed, &notes, goes_on)?;
        }
        writers[0].jump(out, index);
        writers.iter().for_each(|writer| writer.ends(out, index));
        writers[0].end(out, index);
    }
    Ok(())
}

/// The least number of divisions of a quarter in which all lengths of some bars are whole.
fn divisions(rhythms: &[&Rhythm], bars: std::ops::Range<usize>) -> Option<i64> {
    let mut needed: i64 = 1;
    for event in rhythms.iter().flat_map(|rhythm| &rhythm.bars()[bars.clone()]).flat_map(|bar| bar.events()) {
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
