//! Lengths made note values: which symbol, how many dots, tied or not, in which tuplet, under which beam.
//!
//! [`spell`] turns the events of a bar into [`Note`]s. A bar written in lengths keeps its author's values
//! wherever one symbol can show them; a bar written in counts is spelled by these rules (read in open
//! teaching texts, or from memory where it says so):
//!
//! - A length keeps one symbol if it crosses no boundary of the meter stronger than the one it begins at;
//!   else it is cut at the strongest boundary inside, the parts again, and tied (from memory). So nothing
//!   crosses the middle of 4/4 unless it begins with the bar.
//! - Accepted all the same (from memory): short, long, short, where the long note fills the middle of a
//!   whole bar in two or four, of half a bar or of a beat (quarter, half, quarter; eighth, quarter, eighth);
//!   and short, long within a beat (sixteenth, dotted eighth).
//! - Rests show each beat. No half rest in 3/4; in 4/4 only on beats 1–2 or 3–4. Inside a beat they fill
//!   to the half beat. In compound meter: a dotted quarter rest for a beat, inside it a quarter and an
//!   eighth. A silent full bar is one whole-bar rest in any meter.
//! - Thirds and sixths of a beat that divides in two stand in a triplet or sextuplet that begins and ends
//!   with the beat, or with its half; a note that enters or leaves it is cut there.
//! - Beams join by beat. Two beats of a half bar share one beam if they are four plain eighths, never
//!   across the middle of 4/4; 6/8, 9/8 and 12/8 in threes (from memory). A bar of five or seven units
//!   whose grouping nobody declared is beamed by the unit. A beam passes over a rest that lies inside it
//!   and is shorter than a beat, never over a longer one.
//!
//! ```
//! use rhythm::spelling::{Value, spell};
//!
//! let reading = rhythm::text::read("meter: 4/4\n| 1 & 2 3 & 4 & |");
//! let notes = spell(&reading.rhythm.expect("no errors").bars()[0]);
//! assert_eq!((notes[0].value, notes[0].beam), (Value::Eighth, Some(0)));
//! assert_eq!((notes[2].value, notes[2].beam), (Value::Quarter, None));
//! ```

mod beam;
mod cell;
mod cut;
mod note;
mod symbol;
#[cfg(test)]
mod tests;
mod tuplet;

use timebase::Span;

use self::cell::Cell;
use self::cut::{Piece, Rules};
pub use self::note::{Note, Tuplet, Value};
use self::symbol::Symbol;
use self::tuplet::Region;
use crate::{Bar, Deed, Event, Form};

/// The finest denominator that is spelled by the rules. It leaves room for sixty-fourths in tuplets of
/// any size in use and keeps all sums far inside the limit of musical time; beyond it every event gets
/// one symbol.
const FINEST: i64 = 4_096;

/// The symbols of a bar in order: their lengths fill it, and every event begins with a symbol.
///
/// An attack that needs several symbols is an attack followed by holds tied to it. Every note's
/// `length` is its value with its dots, times `normal / actual` of its tuplet; only a whole-bar rest lasts
/// as long as its bar. A length that no dotted value shows (a fifth of a whole note by itself, or anything
/// shorter than a sixty-fourth) gets a tuplet of its own that makes it exact.
#[must_use]
pub fn spell(bar: &Bar) -> Vec<Note> {
    if let [event] = bar.events()
        && event.deed == Deed::Rest
        && event.at == Span::ZERO
    {
        return vec![Note {
            at: event.at,
            length: event.length,
            deed: Deed::Rest,
            value: Value::Whole,
            dots: 0,
            tuplet: None,
            beam: None,
            whole_bar: true,
        }];
    }
    let events = bar.events();
    let plain = |event: &Event| event.at.denominator() <= FINEST && event.length.denominator() <= FINEST;
    let regions = if events.iter().all(plain) { tuplet::regions(bar, events) } else { None };
    let mut notes = Vec::with_capacity(events.len());
    match &regions {
        None => {
            for (index, event) in events.iter().enumerate() {
                let symbol = Symbol::of(event.length, 1).unwrap_or_else(|| Symbol::exact(event.length));
                notes.push(symbol.note(event.at, event.length, event.deed, None, index));
            }
        }
        Some(regions) => {
            let mut spare = regions.len();
            for event in events {
                for (piece, region) in at_edges(event, regions) {
                    spell_piece(
                        bar,
                        piece,
                        region.map(|index| (index, &regions[index])),
                        &mut spare,
                        &mut notes,
                    );
                }
            }
            tuplet::number_sextuplets(regions, &mut notes);
        }
    }
    let broken: Vec<Span> = events.iter().filter(|event| event.beam_broken).map(|event| event.at).collect();
    beam::beam(bar, regions.as_deref().unwrap_or(&[]), &broken, &mut notes);
    notes
}

/// An event cut where it enters or leaves a tuplet, each piece with the index of the tuplet it lies in.
fn at_edges(event: &Event, regions: &[Region]) -> Vec<(Piece, Option<usize>)> {
    let mut edges: Vec<Span> = regions.iter().flat_map(|region| [region.at, region.end()]).collect();
    edges.retain(|&edge| event.at < edge && edge < event.end());
    edges.sort();
    edges.dedup();
    edges.push(event.end());
    let mut rest = Piece { at: event.at, length: event.length, deed: event.deed };
    edges
        .into_iter()
        .map(|end| {
            let (piece, after) = rest.parted(end);
            rest = after;
            (piece, regions.iter().position(|region| region.at <= piece.at && piece.at < region.end()))
        })
        .collect()
}

/// Spells what lies wholly inside or wholly outside a tuplet; `spare` is the next free tuplet index.
fn spell_piece(
    bar: &Bar,
    piece: Piece,
    region: Option<(usize, &Region)>,
    spare: &mut usize,
    notes: &mut Vec<Note>,
) {
    // Inside a tuplet everything is measured as it is written, from where the tuplet begins.
    let (grid, rules, local) = match region {
        None => (Cell::bar(bar.meter()), Rules::bar(bar.meter()), piece),
        Some((_, region)) => {
            let at = region.written(piece.at - region.at);
            let local = Piece { at, length: region.written(piece.length), deed: piece.deed };
            (region.cell(), Rules::tuplet(region.cell()), local)
        }
    };
    let most_dots = match bar.form() {
        Form::Lengths => 2,
        Form::Counts => 1,
    };
    let as_written = bar.form() == Form::Lengths && Symbol::of(local.length, most_dots).is_some();
    let parts = if as_written { vec![local] } else { cut::cut(grid, rules, local) };
    for part in parts {
        let symbol = Symbol::of(part.length, most_dots).unwrap_or_else(|| Symbol::exact(part.length));
        let (at, length) = match region {
            None => (part.at, part.length),
            Some((_, region)) => (region.at + region.sounding(part.at), region.sounding(part.length)),
        };
        notes.push(symbol.note(at, length, part.deed, region, *spare));
        if symbol.is_odd() {
            *spare += 1;
        }
    }
}
