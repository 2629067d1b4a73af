//! How high a system is, and at which height what stands in it.

use timebase::Position;

use crate::draw::bar::BarInk;
use crate::draw::hands::MARK;
use crate::draw::over::{ending_rise, print_room};
use crate::engraving::System;
use crate::font::{CAP_HEIGHT, DESCENT};
use crate::metrics::{
    BELOW, ENDING_RISE, HELD_DROP, HELD_LINE, MARK_ROOM, PART_GAP, PRINT_GAP, ROW_GAP, UNDER,
};
use crate::placing::{Frame, Row};
use crate::plan::Plan;
use crate::plan::over::Over;
use crate::voice::Voice;
use crate::{Glyph, Layout, StickingAt};

/// Base lines of what stands under a staff, measured from its line: the same in all systems, so that they are told at
/// a glance.
#[derive(Clone, Debug)]
pub(crate) struct Under {
    sticking: Option<f64>,
    dynamics: Option<f64>,
    counts: Vec<f64>,
    hands: Option<f64>,
    feet: Option<f64>,
    rows: f64,
    /// The lower end of all that belongs to it.
    bottom: f64,
}

impl Under {
    /// Of every staff; `inks` are the bars of all rows, by row and staff. What stands under the lower of two voices on a
    /// line stands under what stands under the upper.
    pub(crate) fn all(plans: &[Plan], inks: &[Vec<Vec<BarInk>>], layout: &Layout) -> Vec<Self> {
        let staves = plans.first().map_or(0, |plan| plan.parts.len());
        let lowest = |staff: usize| {
            let bars = inks.iter().flat_map(|row| &row[staff]);
            bars.map(|ink| ink.bottom).fold(UNDER, f64::max)
        };
        let mut all: Vec<Self> = Vec::with_capacity(staves);
        for (staff, part) in plans.first().into_iter().flat_map(|plan| &plan.parts).enumerate() {
            let from = match (part.voice, all.last()) {
                (Voice::Lower, Some(upper)) => upper.bottom - BELOW,
                (Voice::Upper, _) => lowest(staff + 1),
                _ => lowest(staff),
            };
            all.push(Self::of(plans, staff, from, layout));
        }
        all
    }

    fn of(plans: &[Plan], staff: usize, from: f64, layout: &Layout) -> Self {
        let parts = || plans.iter().map(|plan| &plan.parts[staff]);
        let is_lower = parts().next().is_some_and(|part| part.voice == Voice::Lower);
        let mut reached = from;
        let mut below = |rise: f64, fall: f64| {
            let base = reached + ROW_GAP + rise;
            reached = base + fall;
            base
        };
        let has_sticking = parts().any(|part| part.signs.iter().any(|sign| sign.marks.sticking.is_some()));
        let sticking = (has_sticking && (is_lower || layout.sticking == StickingAt::Under))
            .then(|| below(CAP_HEIGHT * layout.print.sticking(), DESCENT * layout.print.sticking()));
        let letters = |loud: fn(&rhythm::Dynamics) -> bool| parts().any(|part| loud(&part.dynamics));
        let forte = Glyph::F.bounds();
        let dynamics = letters(|dynamics| *dynamics != rhythm::Dynamics::NONE)
            .then(|| below(-forte.y0, Glyph::Mf.bounds().y1.max(forte.y1)));
        let size = layout.print.count();
        let lines = parts().next().map_or(0, |part| part.counts.len());
        let counts: Vec<f64> =
            (0..lines).map(|_| below(CAP_HEIGHT * size, HELD_DROP * size + HELD_LINE)).collect();
        let hands = (layout.counts && layout.count_style.hands).then(|| below(MARK, MARK));
        let feet = parts().any(|part| !part.feet.is_empty()).then(|| below(MARK, MARK));
        let rows = reached + BELOW;
        let writing = if counts.is_empty() { 0.0 } else { layout.writing.below };
        let bottom = rows + layout.room_below + writing;
        Self { sticking, dynamics, counts, hands, feet, rows, bottom }
    }

    /// How many count lines there are.
    pub(crate) fn lines(&self) -> usize {
        self.counts.len()
    }
}

/// The staves of one row from `top` on.
pub(crate) fn systems(
    plans: &[Plan],
    row: &Row,
    inks: &[Vec<BarInk>],
    under: &[Under],
    (frame, layout, top): (Frame, &Layout, f64),
) -> Vec<System> {
    let mut top = top;
    let mut systems: Vec<System> = Vec::with_capacity(inks.len());
    for (staff, (inks, under)) in inks.iter().zip(under).enumerate() {
        let shares = row.bars.iter().any(|bar| plans[bar.index].parts[staff].voice == Voice::Lower);
        let system = match systems.last().filter(|_| shares) {
            Some(upper) => with_rows(upper.clone(), under),
            None => system(plans, row, (staff, inks), under, (frame, layout, top)),
        };
        top = system.bottom + PART_GAP;
        systems.push(system);
    }
    systems
}

/// A staff with these rows under its line.
fn with_rows(system: System, under: &Under) -> System {
    let line = system.staff;
    let down = |base: &f64| line + base;
    System {
        counts: under.counts.first().map_or(line + under.rows - BELOW, down),
        count_lines: under.counts.iter().map(down).collect(),
        hands: under.hands.as_ref().map(down),
        feet: under.feet.as_ref().map(down),
        sticking: under.sticking.as_ref().map(down),
        dynamics: under.dynamics.as_ref().map(down),
        rows: line + under.rows,
        bottom: line + under.bottom,
        ..system
    }
}

fn system(
    plans: &[Plan],
    row: &Row,
    (staff, inks): (usize, &[BarInk]),
    under: &Under,
    (frame, layout, top): (Frame, &Layout, f64),
) -> System {
    let bars = || row.bars.iter().map(|bar| &plans[bar.index]);
    let mut reach = inks.iter().map(|ink| -ink.top).fold(0.0, f64::max);
    let over = bars().any(|plan| plan.parts[staff].signs.iter().any(|sign| sign.marks.sticking.is_some()));
    let sticking_over = (over && layout.sticking == StickingAt::Over).then(|| {
        let rise = reach + ROW_GAP + DESCENT * layout.print.sticking();
        reach = rise + CAP_HEIGHT * layout.print.sticking();
        rise
    });
    let (rise, room) = if staff == 0 {
        let room = bars().map(|plan| print_room(plan, layout)).fold(0.0, f64::max);
        let rise = bars().map(|plan| ending_rise(plan, layout)).fold(ENDING_RISE, f64::max);
        (rise, if room > 0.0 { room + rise - ENDING_RISE } else { 0.0 })
    } else {
        (ENDING_RISE, 0.0)
    };
    // What hangs under the base line of small print is clear of what stands under it.
    let gap = PRINT_GAP.max(DESCENT * Over::TIMES * layout.print.small() + 0.05);
    let above = reach + MARK_ROOM + room + gap - PRINT_GAP;
    let line = top + above;
    let first = bars().find_map(|plan| plan.played.first());
    let last = bars().rev().find_map(|plan| plan.played.first());
    let system = System {
        top,
        mark: line - above + 0.3,
        print: line - reach - gap,
        endings: line - reach - gap - rise,
        staff: line,
        counts: line,
        count_lines: Vec::new(),
        hands: None,
        feet: None,
        sticking: None,
        dynamics: None,
        rows: line,
        bottom: line,
        left: frame.left,
        right: row.right,
        start: first.map_or(Position::ZERO, |bar| bar.start),
        end: last.map_or(Position::ZERO, |bar| bar.end),
        bar_lines: row.bars.iter().map(|bar| bar.right).collect(),
    };
    let system = with_rows(system, under);
    System { sticking: sticking_over.map(|rise| line - rise).or(system.sticking), ..system }
}
