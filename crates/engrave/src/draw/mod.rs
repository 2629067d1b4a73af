//! Placed bars made items of a scene.

pub(crate) mod bar;
mod beams;
mod bracket;
mod canvas;
pub(crate) mod counts;
pub(crate) mod dynamics;
pub(crate) mod hands;
mod head;
mod legend;
mod marks;
mod notes;
pub(crate) mod over;
mod rest;
mod staff;
pub(crate) mod ties;
mod tuplets;

use kurbo::Vec2;

use self::bar::{BarInk, Standing};
pub(crate) use self::head::head;
pub(crate) use self::legend::legend;
pub(crate) use self::staff::number_width;
use crate::engraving::System;
use crate::metrics::THIN_BAR;
use crate::placing::Row;
use crate::plan::Plan;
use crate::{CountsShown, Ink, Item, Layout, Staff};

/// The systems of a page and what is drawn in each.
#[derive(Debug)]
pub(crate) struct Sheets<'a> {
    pub(crate) plans: &'a [Plan],
    pub(crate) rows: &'a [Row],
    /// By row, then by staff.
    pub(crate) systems: &'a [Vec<System>],
    pub(crate) layout: &'a Layout,
    /// What is drawn, by row.
    pub(crate) items: Vec<Vec<Item>>,
}

/// The bars of one row around their lines, by staff; behind them the meter that is told at its end, if one is.
pub(crate) fn bars(plans: &[Plan], row: &Row, staves: &[Staff<'_>], layout: &Layout) -> Vec<Vec<BarInk>> {
    let lines = staves.iter().filter(|staff| !staff.shares_line).count();
    let of_staff = |staff: usize| {
        let bars = row.bars.iter().enumerate().map(|(number, placed)| {
            let standing = Standing { staff, lines, is_first: number == 0 };
            bar::bar(&plans[placed.index], placed, standing, layout)
        });
        let told = row.told.map(|(next, x)| bar::told(&plans[next], x, staff, layout));
        bars.chain(told).collect()
    };
    (0..staves.len()).map(of_staff).collect()
}

/// Everything of one row but what goes on from row to row. `inks` are its bars as [`bars`] drew them.
pub(crate) fn row(
    plans: &[Plan],
    row: &Row,
    inks: Vec<Vec<BarInk>>,
    systems: &[System],
    staves: &[Staff<'_>],
    layout: &Layout,
) -> Vec<Item> {
    let mut items = Vec::new();
    let lines = systems.iter().zip(staves).filter(|(_, staff)| !staff.shares_line);
    lines.for_each(|(system, _)| staff::line(&mut items, system));
    bracket::bracket(&mut items, systems, staves, layout);
    let Some((upper, lower)) = systems.first().zip(systems.last()) else { return items };
    for (number, bar) in row.bars.iter().enumerate() {
        let plan = &plans[bar.index];
        staff::bar_lines(&mut items, plan, bar, number == 0, (upper.staff, lower.staff));
        over::print(&mut items, plan, bar, upper, layout);
    }
    for (staff, (system, inks)) in systems.iter().zip(inks).enumerate() {
        let down = Vec2::new(0.0, system.staff);
        items.extend(inks.into_iter().flat_map(|ink| ink.items).map(|item| item.moved(down)));
        for bar in &row.bars {
            let part = &plans[bar.index].parts[staff];
            if let Some(y) = system.sticking {
                marks::stickings(&mut items, &part.signs, bar, y, layout);
            }
            if layout.count_style.shown == CountsShown::Written {
                for (line, &y) in system.count_lines.iter().enumerate() {
                    counts::counts(&mut items, part, line, bar, y, layout);
                }
                if let Some(y) = system.feet {
                    hands::feet(&mut items, part, bar, y);
                }
            }
        }
        if layout.count_style.shown == CountsShown::Ruled {
            for &y in &system.count_lines {
                let (from, to) = ((system.left, y + 0.3), (system.right, y + 0.3));
                items.push(Item::line(from, to, THIN_BAR, Ink::Soft));
            }
        }
    }
    items
}
