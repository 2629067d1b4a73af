use kurbo::Point;
use rhythm::Swell;

use super::Sheets;
use crate::metrics::{HAIRPIN, HALF_HEAD};
use crate::{Glyph, Ink, Item};

/// How far a hairpin is open at its wide end.
const OPEN: f64 = 1.2;
/// From the base line of the letters to a hairpin's middle line.
const RISE: f64 = 0.5;
/// What is kept free between letters and hairpins.
const CLEAR: f64 = 0.6;

/// A hairpin that goes on.
struct Growing {
    swell: Swell,
    /// The systems it goes through, and from where to where.
    stretches: Vec<(usize, f64, f64)>,
}

/// Letters of loudness under the beginning of their bars, and hairpins from there to the next letters or hairpin.
pub(crate) fn dynamics(sheets: &mut Sheets<'_>, staff: usize) {
    let mut growing: Option<Growing> = None;
    for row in 0..sheets.rows.len() {
        let Some(y) = sheets.systems[row][staff].dynamics else { return };
        let right = sheets.systems[row][staff].right;
        if let (Some(growing), Some(first)) = (&mut growing, sheets.rows[row].bars.first()) {
            growing.stretches.push((row, first.inner_left + CLEAR, right - CLEAR));
        }
        for index in 0..sheets.rows[row].bars.len() {
            let bar = &sheets.rows[row].bars[index];
            let part = &sheets.plans[bar.index].parts[staff];
            let dynamics = part.dynamics;
            if dynamics.level.is_none() && dynamics.swell.is_none() {
                continue;
            }
            let first = bar.columns.first().copied().unwrap_or(bar.inner_left);
            let mut left = first - HALF_HEAD;
            if index == 0 {
                // What ends where a system begins has ended with the one before: here is no room for more than a stub.
                growing.iter_mut().for_each(|growing| growing.stretches.retain(|stretch| stretch.0 != row));
            }
            close(sheets, growing.take(), row, left - CLEAR, staff);
            if let Some(glyph) = dynamics.level.map(Glyph::loudness) {
                let bounds = glyph.bounds();
                let at = Point::new(left - bounds.x0, y);
                sheets.items[row].push(Item::glyph(glyph, at, Ink::Main));
                left += bounds.width() + CLEAR;
            }
            growing =
                dynamics.swell.map(|swell| Growing { swell, stretches: vec![(row, left, right - CLEAR)] });
        }
    }
    if let Some(last) = sheets.rows.len().checked_sub(1) {
        let right = sheets.systems[last][staff].right;
        close(sheets, growing, last, right - CLEAR, staff);
    }
}

/// Draws a hairpin that ends in this system at `right`, over the ends of systems as if it were one.
fn close(sheets: &mut Sheets<'_>, growing: Option<Growing>, row: usize, right: f64, staff: usize) {
    let Some(Growing { swell, mut stretches }) = growing else { return };
    if let Some(last) = stretches.last_mut().filter(|last| last.0 == row) {
        last.2 = right;
    }
    stretches.retain(|(_, left, right)| right > left);
    let whole: f64 = stretches.iter().map(|(_, left, right)| right - left).sum();
    let open = |part: f64| match swell {
        Swell::Crescendo => OPEN / 2.0 * part / whole,
        Swell::Decrescendo => OPEN / 2.0 * (1.0 - part / whole),
    };
    let mut done = 0.0;
    for (row, left, right) in stretches {
        let Some(y) = sheets.systems[row][staff].dynamics.map(|y| y - RISE) else { return };
        let (from, to) = (open(done), open(done + right - left));
        for side in [-1.0, 1.0] {
            let ends = ((left, y + side * from), (right, y + side * to));
            sheets.items[row].push(Item::line(ends.0, ends.1, HAIRPIN, Ink::Main));
        }
        done += right - left;
    }
}
