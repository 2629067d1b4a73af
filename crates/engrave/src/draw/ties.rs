use kurbo::{Affine, BezPath, Point};
use rhythm::Deed;

use super::Sheets;
use crate::metrics::{TIE_END, TIE_MIDDLE};
use crate::plan::part::Sign;
use crate::voice::Voice;
use crate::{Ink, Item, Paint};

/// From the staff's line down to the ends of a tie.
const DROP: f64 = 0.75;
/// Between a head and the tie's end.
const GAP: f64 = 0.12;
/// How deep the longest tie is.
const DEEPEST: f64 = 1.1;
/// How long the half of a tie is that has no head on its other side.
const HALF_TIE: f64 = 2.2;

/// Between the first half of a tie and the bar line behind it.
const END_CLEAR: f64 = 0.3;

/// A symbol and where it stands.
#[derive(Clone, Copy)]
struct Standing<'a> {
    sign: &'a Sign,
    row: usize,
    x: f64,
    bar: usize,
    /// Where its bar begins.
    left: f64,
    /// Where the signs at the beginning of its bar end.
    clear: f64,
}

/// Ties to every held note from the note before it; over the end of a system, and before and behind a meter, both halves;
/// and a half where a repeat comes back to a held note.
pub(crate) fn ties(sheets: &mut Sheets<'_>, staff: usize) {
    let mut before: Option<Standing<'_>> = None;
    // Whether the passage that is repeated begins with a held note.
    let mut comes_back = false;
    for row in 0..sheets.rows.len() {
        for bar in &sheets.rows[row].bars {
            let plan = &sheets.plans[bar.index];
            let signs = &plan.parts[staff].signs;
            for sign in signs {
                let x = bar.columns[sign.column];
                let here = Standing { sign, row, x, bar: bar.index, left: bar.left, clear: bar.inner_left };
                if let Some(before) = before {
                    between(sheets, staff, before, here);
                }
                before = Some(here);
            }
            if plan.opens_repeat {
                comes_back = signs.first().is_some_and(|sign| sign.note.deed == Deed::Hold);
            }
            if let (Some(last), true, Some(_)) = (before, comes_back, plan.closes_repeat)
                && last.bar == bar.index
                && !last.sign.is_rest()
            {
                let from = right_of(last);
                tie(sheets, staff, row, from, from + HALF_TIE);
            }
        }
    }
}

fn between(sheets: &mut Sheets<'_>, staff: usize, before: Standing<'_>, here: Standing<'_>) {
    if here.sign.note.deed != Deed::Hold {
        return;
    }
    let to = left_of(here);
    let half = here.clear.max(to - HALF_TIE);
    let is_new_bar = here.bar != before.bar;
    let plan = &sheets.plans[here.bar];
    if plan.stands_apart && is_new_bar {
        // What it is tied to stands elsewhere: before the first ending, or where the coda is left for.
        tie(sheets, staff, here.row, half, to);
    } else if before.sign.is_rest() {
        // Nothing to be tied to: a rest goes on.
    } else if before.row != here.row {
        let bars = &sheets.rows[before.row].bars;
        let end = bars.last().map_or(before.x, |last| last.right) - END_CLEAR;
        tie(sheets, staff, before.row, right_of(before), end);
        tie(sheets, staff, here.row, half, to);
    } else if plan.shows_meter && is_new_bar {
        // It does not run through the digits of a meter.
        tie(sheets, staff, here.row, right_of(before), here.left - END_CLEAR);
        tie(sheets, staff, here.row, half, to);
    } else {
        tie(sheets, staff, here.row, right_of(before), to);
    }
}

/// Ties begin and end under the heads, a little inside of their edges, so that short ones have room. Of two voices they
/// stand on the side of the stems, and so between all that stands at both notes.
fn right_of(standing: Standing<'_>) -> f64 {
    match standing.sign.voice {
        Voice::Alone => standing.x + standing.sign.half_head() * 0.5 + GAP,
        Voice::Upper | Voice::Lower => standing.x + standing.sign.extent().1 + GAP,
    }
}

fn left_of(standing: Standing<'_>) -> f64 {
    match standing.sign.voice {
        Voice::Alone => standing.x - standing.sign.half_head() * 0.5 - GAP,
        Voice::Upper | Voice::Lower => standing.x - standing.sign.extent().0 - GAP,
    }
}

/// How high ties of the upper of two voices reach over the staff's line.
pub(super) fn highest() -> f64 {
    -(Voice::Upper.off_line() + DROP + DEEPEST + TIE_MIDDLE)
}

/// A crescent that hangs under the line of a staff, or stands over that of an upper voice.
fn tie(sheets: &mut Sheets<'_>, staff: usize, row: usize, from: f64, to: f64) {
    let line = sheets.systems[row][staff].staff;
    let voice = sheets.plans.first().map_or(Voice::Alone, |plan| plan.parts[staff].voice);
    let side = if voice == Voice::Upper { -1.0 } else { 1.0 };
    let y = voice.off_line() + DROP;
    let length = (to - from).max(0.5);
    let depth = (0.3 + length * 0.07).clamp(0.4, DEEPEST);
    // A cubic with its controls at 4/3 of the depth is as deep as the depth in its middle.
    let inset = (length * 0.3).min(1.6);
    let control = |x: f64, half: f64| Point::new(x, y + (depth + half) * 4.0 / 3.0);
    let (thin, thick) = (TIE_END / 2.0, TIE_MIDDLE / 2.0);
    let mut path = BezPath::new();
    path.move_to((from, y - thin));
    path.curve_to(control(from + inset, -thick), control(to - inset, -thick), Point::new(to, y - thin));
    path.line_to((to, y + thin));
    path.curve_to(control(to - inset, thick), control(from + inset, thick), Point::new(from, y + thin));
    path.close_path();
    path.apply_affine(Affine::translate((0.0, line)) * Affine::scale_non_uniform(1.0, side));
    sheets.items[row].push(Item::Path { path, paint: Paint::Fill, ink: Ink::Main });
}
