//! What the hands do, in marks of our own: a strike is a bead, what is held a thread from it with a knot at every
//! held count, silence an empty ring. A sound that is over before the next count has no thread.

use counting::Foot;
use kurbo::Point;
use rhythm::Deed;

use super::Sheets;
use crate::placing::Placed;
use crate::plan::part::PartBar;
use crate::{Ink, Item, Paint};

/// How far marks reach to all sides.
pub(crate) const MARK: f64 = 0.45;
/// Radius of a ring's middle line.
const RING: f64 = 0.36;
/// Thickness of rings.
const RING_LINE: f64 = 0.14;
/// Thickness of threads.
const THREAD: f64 = 0.16;
/// Half the height of a knot.
const KNOT: f64 = 0.32;
/// A bead, a knot or a ring.
pub(super) fn mark(items: &mut Vec<Item>, deed: Deed, at: Point) {
    items.push(match deed {
        Deed::Attack => Item::disc(at, MARK, Paint::Fill, Ink::Main),
        Deed::Hold => Item::line(at - (0.0, KNOT), at + (0.0, KNOT), THREAD, Ink::Main),
        Deed::Rest => Item::disc(at, RING, Paint::Outline(RING_LINE), Ink::Soft),
    });
}

/// A thread from a bead.
pub(super) fn thread(items: &mut Vec<Item>, from: f64, to: f64, y: f64) {
    if to > from {
        items.push(Item::line((from, y), (to, y), THREAD, Ink::Main));
    }
}

/// The row of what the hands do, through all systems.
pub(crate) fn hands(sheets: &mut Sheets<'_>, staff: usize) {
    let told = told(sheets, staff);
    // Which of them sound, and where the thread of the sound that goes on begins.
    let mut sounding = vec![false; told.len()];
    let mut from: Option<f64> = None;
    for row in 0..sheets.rows.len() {
        let Some(y) = sheets.systems[row][staff].hands else { return };
        let items = &mut sheets.items[row];
        let bars = &sheets.rows[row].bars;
        if let (Some(from), Some(first)) = (&mut from, bars.first()) {
            *from = first.inner_left;
        }
        for bar in bars {
            let plan = &sheets.plans[bar.index];
            if plan.stands_apart {
                from = Some(bar.inner_left);
            }
            let mut parts: Vec<_> =
                told.iter().map(|&part| plan.parts[part].signs.iter().peekable()).collect();
            let mut counted = plan.parts[staff].counts.first().into_iter().flatten().peekable();
            for (column, &x) in bar.columns.iter().enumerate() {
                let here = parts
                    .iter_mut()
                    .map(|signs| signs.next_if(|sign| sign.column == column).map(|sign| sign.note.deed));
                let done = all_as_one(here, &mut sounding);
                let count = counted.next_if(|count| count.column == column).map(|at| at.count.deed);
                let Some(deed) = done.or(count) else { continue };
                match deed {
                    Deed::Attack => from = Some(x + MARK),
                    Deed::Rest => from = None,
                    // Between the counts nothing is done.
                    Deed::Hold if count.is_none() => continue,
                    Deed::Hold => {
                        thread(items, from.unwrap_or(x), x, y);
                        from = Some(x);
                    }
                }
                mark(items, deed, Point::new(x, y));
            }
        }
    }
}

/// The staves whose deeds the row under one shows: that one, and all where its counts are the only ones, for they are then
/// those of all together.
fn told(sheets: &Sheets<'_>, staff: usize) -> Vec<usize> {
    let parts = sheets.plans.first().map_or(&[][..], |plan| &plan.parts);
    let others = parts.iter().enumerate().filter(|(index, _)| *index != staff);
    let has_counts = |part: &PartBar| !part.counts.is_empty();
    if parts.get(staff).is_some_and(has_counts) && !others.into_iter().any(|(_, part)| has_counts(part)) {
        (0..parts.len()).collect()
    } else {
        vec![staff]
    }
}

/// What parts do together at a place where any of them begins something: it is struck where one strikes, held where one
/// sounds on, and silent where all are.
fn all_as_one(here: impl Iterator<Item = Option<Deed>>, sounding: &mut [bool]) -> Option<Deed> {
    let mut together = None;
    for (deed, sounds) in here.zip(sounding.iter_mut()) {
        let Some(deed) = deed else { continue };
        *sounds = deed != Deed::Rest;
        together = if deed == Deed::Attack { Some(deed) } else { together.or(Some(deed)) };
    }
    let goes_on = sounding.iter().any(|sounds| *sounds);
    together.map(|deed| match deed {
        Deed::Attack => deed,
        Deed::Hold | Deed::Rest if goes_on => Deed::Hold,
        Deed::Hold | Deed::Rest => Deed::Rest,
    })
}

/// The foot's way in one bar: arrows down and up.
pub(super) fn feet(items: &mut Vec<Item>, part: &PartBar, bar: &Placed, y: f64) {
    for &(foot, column) in &part.feet {
        let x = bar.columns[column];
        let (tail, tip) = match foot {
            Foot::Down => (y - MARK, y + MARK),
            Foot::Up => (y + MARK, y - MARK),
        };
        let back = tip + (tail - tip) * 0.55;
        items.push(Item::line((x, tail), (x, back), THREAD, Ink::Soft));
        let corners = [Point::new(x, tip), Point::new(x - 0.3, back), Point::new(x + 0.3, back)];
        items.push(Item::polygon(&corners, Paint::Fill, Ink::Soft));
    }
}
