use kurbo::{Point, Rect};
use rhythm::Roll;
use rhythm::spelling::Value;

use super::canvas::Canvas;
use crate::metrics::{BEAM, BEAM_STEP, HALF_HEAD, STEM, STEM_FROM};
use crate::placing::Placed;
use crate::plan::part::{DOT_GAP, GRACE_SCALE, GRACE_STEM, GRACE_STEP, HEAD_TOP, ROLL_GAP, Sign};
use crate::voice::Voice;
use crate::{Glyph, Ink, Item};

/// Dots of what stands on the line stand in the space over it.
const DOT_RISE: f64 = 0.5;

/// Heads, stems, flags, rests and dots, the signs of rolls and grace notes. Beamed stems end at their beam.
pub(super) fn notes(canvas: &mut Canvas, signs: &[Sign], bar: &Placed) {
    for sign in signs {
        let (note, x) = (&sign.note, bar.columns[sign.column]);
        if note.whole_bar {
            canvas.glyph_about(sign.rest(), middle(bar), -sign.rest_rise());
        } else if sign.is_rest() {
            let (glyph, rise) = (sign.rest(), sign.rest_rise());
            canvas.glyph_about(glyph, x, -rise);
            // A rest is not turned, so that its dot stands at the same place of it everywhere.
            let dot = match sign.voice {
                Voice::Lower => glyph.bounds().y0 + glyph.bounds().y1 + DOT_RISE,
                Voice::Alone | Voice::Upper => -DOT_RISE,
            };
            dots(canvas, sign, x + glyph.bounds().width() / 2.0, dot - rise);
        } else {
            head_and_stem(canvas, sign, x);
            graces(canvas, sign, x);
            if let Some(roll) = sign.roll {
                slashes(canvas, sign, roll, x);
            }
        }
    }
}

/// The middle of a bar, where the rest of a whole bar stands.
pub(super) fn middle(bar: &Placed) -> f64 {
    f64::midpoint(bar.inner_left, bar.right)
}

fn head_and_stem(canvas: &mut Canvas, sign: &Sign, x: f64) {
    let value = sign.note.value;
    let head = Glyph::head(value);
    canvas.glyph_about(head, x, 0.0);
    let mut right = x + head.bounds().width() / 2.0;
    if value > Value::Whole {
        let stem_x = sign.stem_x(x);
        canvas.line((stem_x, STEM_FROM), (stem_x, -sign.stem), STEM);
        if let Some(flag) = Glyph::flag(value).filter(|_| sign.is_flagged()) {
            // The font's anchor `stemUpNW`: the flag is hung on the left edge of the stem's end, from
            // which stems with three flags and more are already longer.
            let longer = BEAM_STEP * f64::from(value.flags().saturating_sub(2));
            canvas.glyph(flag, stem_x - STEM / 2.0, longer - sign.stem);
            right = right.max(stem_x + flag.bounds().width());
        }
    }
    // Beside a head on the line in the space over it, beside one in a space in the same.
    let dot = if sign.voice == Voice::Alone { -DOT_RISE } else { 0.0 };
    dots(canvas, sign, right, dot);
}

fn dots(canvas: &mut Canvas, sign: &Sign, right: f64, y: f64) {
    let mut x = right;
    for _ in 0..sign.note.dots {
        x += DOT_GAP;
        canvas.glyph(Glyph::Dot, x, y);
        x += Glyph::Dot.bounds().width();
    }
}

/// A roll's sign through the stem, in the middle of what beams leave free; inside the bow of flags; over a whole note.
fn slashes(canvas: &mut Canvas, sign: &Sign, roll: Roll, x: f64) {
    let glyph = Glyph::roll(roll);
    let lowest = HEAD_TOP + ROLL_GAP + glyph.bounds().height() / 2.0;
    let (x, rise) = if sign.note.value == Value::Whole {
        (x, lowest)
    } else if sign.is_flagged() {
        (sign.stem_x(x), lowest)
    } else {
        (sign.stem_x(x), f64::midpoint(HEAD_TOP, sign.free).max(lowest))
    };
    canvas.glyph(glyph, x, -rise - glyph.bounds().center().y);
}

/// Grace notes before the head: one with a slash through its stem, two and three under two beams.
fn graces(canvas: &mut Canvas, sign: &Sign, x: f64) {
    let strokes = sign.marks.grace.strokes();
    let left = x - sign.half_head() - sign.grace_width();
    match strokes {
        0 => {}
        1 => canvas.glyph(Glyph::GraceFlam, left, 0.0),
        _ => {
            let side = HALF_HEAD + sign.stem_x(0.0);
            let stem = |index: u8| left + f64::from(index) * GRACE_STEP + side * GRACE_SCALE;
            for index in 0..strokes {
                let at = Point::new(left + f64::from(index) * GRACE_STEP, 0.0);
                canvas.solid(Item::Glyph { glyph: Glyph::NoteBlack, at, scale: GRACE_SCALE, ink: Ink::Main });
                let x = stem(index);
                canvas.line((x, STEM_FROM * GRACE_SCALE), (x, -GRACE_STEM), STEM * GRACE_SCALE);
            }
            let half = STEM * GRACE_SCALE / 2.0;
            for beam in 0..2 {
                let top = f64::from(beam) * BEAM_STEP * GRACE_SCALE - GRACE_STEM;
                let rect = Rect::new(stem(0) - half, top, stem(strokes - 1) + half, top + BEAM * GRACE_SCALE);
                canvas.solid(Item::block(rect, Ink::Main));
            }
        }
    }
}
