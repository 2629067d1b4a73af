use rhythm::Deed;
use rhythm::spelling::{Note, Value};

use super::{Pen, note_columns};
use crate::Glyph;
use crate::metrics::{BEAM_STEP, HALF_HEAD, STEM, STEM_FROM, STEM_LENGTH};
use crate::placing::Placed;
use crate::plan::{DOT_GAP, Plan, is_flagged};

/// Dots stand in the space over the line.
const DOT_RISE: f64 = 0.5;

/// Heads, stems, flags, rests and dots. Beamed stems end at their beam.
pub(super) fn notes(pen: &mut Pen, plan: &Plan, bar: &Placed, y: f64) {
    for (note, x) in plan.notes.iter().zip(note_columns(plan, bar)) {
        if note.whole_bar {
            let middle = f64::midpoint(bar.inner_left, bar.right);
            pen.glyph_about(Glyph::RestWhole, middle, y);
        } else if note.deed == Deed::Rest {
            let glyph = Glyph::rest(note.value);
            // The longest rest would reach down into the counts.
            let rise = if note.value == Value::SixtyFourth { 1.0 } else { 0.0 };
            pen.glyph_about(glyph, x, y - rise);
            dots(pen, note, x + glyph.bounds().width() / 2.0, y);
        } else {
            head_and_stem(pen, note, plan, x, y);
        }
    }
}

fn head_and_stem(pen: &mut Pen, note: &Note, plan: &Plan, x: f64, y: f64) {
    let head = Glyph::head(note.value);
    pen.glyph_about(head, x, y);
    let mut right = x + head.bounds().width() / 2.0;
    if note.value > Value::Whole {
        let top = y - stem_length(plan, note);
        pen.line((stem_x(x), y + STEM_FROM), (stem_x(x), top), STEM);
        if let Some(flag) = Glyph::flag(note.value).filter(|_| is_flagged(note)) {
            // The font's anchor `stemUpNW`: the flag is hung on the left edge of the stem's end, from
            // which stems with three flags and more are already longer.
            let end = y - STEM_LENGTH;
            pen.glyph(flag, stem_x(x) - STEM / 2.0, end);
            right = stem_x(x) + flag.bounds().width();
        }
    }
    dots(pen, note, right, y);
}

/// The middle of the stem of a note whose head is at `x`.
pub(super) fn stem_x(x: f64) -> f64 {
    x + HALF_HEAD - STEM / 2.0
}

/// How long a note's stem is: longer where three beams or more hang on it, the same for all of a beam.
pub(super) fn stem_length(plan: &Plan, note: &Note) -> f64 {
    let flags = match note.beam {
        None => note.value.flags(),
        Some(beam) => {
            let under =
                plan.notes.iter().filter(|other| other.beam == Some(beam) && other.deed != Deed::Rest);
            under.map(|other| other.value.flags()).max().unwrap_or(0)
        }
    };
    STEM_LENGTH + BEAM_STEP * f64::from(flags.saturating_sub(2))
}

fn dots(pen: &mut Pen, note: &Note, right: f64, y: f64) {
    let mut x = right;
    for _ in 0..note.dots {
        x += DOT_GAP;
        pen.glyph(Glyph::Dot, x, y - DOT_RISE);
        x += Glyph::Dot.bounds().width();
    }
}
