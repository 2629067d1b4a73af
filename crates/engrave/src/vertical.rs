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
}

impl Under {
    pub(crate) fn of(plans: &[Plan], staff: usize, layout: &Layout) -> Self {
        let parts = || plans.iter().map(|plan| &plan.parts[staff]);
        let mut reached = UNDER;
        let mut below = |rise: f64, fall: f64| {
            let base = reached + ROW_GAP + rise;
            reached = base + fall;
            base
        };
        let has_sticking = parts().any(|part| part.signs.iter().any(|sign| sign.marks.sticking.is_some()));
        let sticking = (has_sticking && layout.sticking == StickingAt::Under)
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
        Self { sticking, dynamics, counts, hands, feet, rows: reached + BELOW }
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
    let staves = inks.iter().zip(under).enumerate();
    staves
        .map(|(staff, (inks, under))| {
            let system = system(plans, row, (staff, inks), under, (frame, layout, top));
            top = system.bottom + PART_GAP;
            system
        })
        .collect()
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
    let down = |base: &f64| line + base;
    System {
        top,
        mark: line - above + 0.3,
        print: line - reach - gap,
        endings: line - reach - gap - rise,
        staff: line,
        counts: under.counts.first().map_or(line + under.rows - BELOW, down),
        count_lines: under.counts.iter().map(down).collect(),
        hands: under.hands.as_ref().map(down),
        feet: under.feet.as_ref().map(down),
        sticking: sticking_over.map(|rise| line - rise).or(under.sticking.as_ref().map(down)),
        dynamics: under.dynamics.as_ref().map(down),
        rows: line + under.rows,
        bottom: line + under.rows + layout.room_below,
        left: frame.left,
        right: row.right,
        start: first.map_or(Position::ZERO, |bar| bar.start),
        end: last.map_or(Position::ZERO, |bar| bar.end),
        bar_lines: row.bars.iter().map(|bar| bar.right).collect(),
    }
}
