//! Bars divided into systems and placed along the page.

use rhythm::Meter;

use crate::Layout;
use crate::font::{Weight, text_width};
use crate::metrics::{BAR_GAP, REPEAT_DOT_GAP, SMALL_SIZE, THICK_BAR, THIN_BAR};
use crate::plan::Plan;
use crate::{Glyph, plan};

/// A system of the page: which bars, and where they stand from left to right.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) bars: Vec<Placed>,
}

/// A bar in its place, in staff spaces from the left edge of the page.
#[derive(Clone, Debug)]
pub(crate) struct Placed {
    /// Which plan.
    pub(crate) index: usize,
    /// Its left end: the bar line before it, or the left end of the staff.
    pub(crate) left: f64,
    /// Where its meter stands, if it is printed.
    pub(crate) meter_at: f64,
    /// Where the signs at its beginning end.
    pub(crate) inner_left: f64,
    /// The middle of each column.
    pub(crate) columns: Vec<f64>,
    /// Where its closing bar line ends.
    pub(crate) right: f64,
}

/// Width of the clef with what is kept free around it.
const CLEF: f64 = 0.6 + 1.53 + 0.7;
/// What is kept free before and behind the digits of a meter.
const METER_PAD: f64 = 0.9;
/// What is kept free between a clef and a repeat, beside what is kept free around the clef.
const REPEAT_PAD: f64 = 0.8;
/// A last system is stretched to the full width from this fullness on.
const FULL_ENOUGH: f64 = 0.72;
/// How far a system that is not full may be stretched.
const LOOSE: f64 = 1.25;

/// Width of the digits of a bar's meter.
pub(crate) fn meter_width(plan: &Plan) -> f64 {
    let width = |number| Glyph::meter_digits(number).iter().map(|glyph| glyph.advance()).sum::<f64>();
    let groups = if plan.meter.groups().is_empty() { None } else { meter_label(plan.meter) };
    let label = groups.map_or(0.0, |label| text_width(&label, SMALL_SIZE, Weight::Regular));
    width(plan.meter.beats()).max(width(plan.meter.unit())).max(label)
}

/// What stands over a meter: its declared groups, and its felt beat where that is not the usual one.
pub(crate) fn meter_label(meter: Meter) -> Option<String> {
    let groups = meter.groups().iter().map(u8::to_string).collect::<Vec<_>>().join("+");
    let felt = if meter.is_felt_as_usual() { String::new() } else { format!("in {}", meter.felt_beats()) };
    match (groups.is_empty(), felt.is_empty()) {
        (true, true) => None,
        (false, false) => Some(format!("{groups} {felt}")),
        _ => Some(groups + &felt),
    }
}

/// Width of an opening repeat: thick line, thin line and dots.
fn opening_repeat() -> f64 {
    THICK_BAR + BAR_GAP + THIN_BAR + REPEAT_DOT_GAP + Glyph::RepeatDot.bounds().width()
}

/// What a bar's closing line takes, and what the dots before it take.
fn closing(plan: &Plan) -> f64 {
    let double = THIN_BAR + BAR_GAP + THICK_BAR;
    match (plan.closes_repeat, plan.is_last) {
        (Some(_), _) => double + REPEAT_DOT_GAP + Glyph::RepeatDot.bounds().width(),
        (None, true) => double,
        (None, false) => THIN_BAR,
    }
}

/// What stands before the first note of a bar: clef, meter, opening repeat.
fn signs(plan: &Plan, first_of_system: bool) -> f64 {
    let clef = if first_of_system { CLEF } else { 0.0 };
    let meter = if plan.shows_meter { meter_width(plan) + METER_PAD } else { 0.0 };
    let lead = if plan.shows_meter && !first_of_system { METER_PAD } else { 0.0 };
    // The clef's two bars and a repeat's lines would run together.
    let apart = if first_of_system && plan.opens_repeat && !plan.shows_meter { REPEAT_PAD } else { 0.0 };
    clef + lead + meter + apart + if plan.opens_repeat { opening_repeat() } else { 0.0 }
}

/// How much room a bar takes.
#[derive(Clone, Copy, Debug, Default)]
struct Width {
    /// Signs and bar lines, which do not stretch.
    rigid: f64,
    /// What the clef and a meter add where the bar is the first of its system.
    first: f64,
    /// The gaps as they want to be.
    natural: f64,
    /// The gaps at the narrowest.
    least: f64,
}

impl Width {
    fn of(plan: &Plan) -> Self {
        let gaps = |width: fn(&plan::Gap) -> f64| plan.gaps.iter().map(width).sum::<f64>();
        Self {
            rigid: signs(plan, false) + closing(plan),
            first: signs(plan, true) - signs(plan, false),
            natural: gaps(|gap| gap.at(1.0)),
            least: gaps(|gap| gap.least),
        }
    }

    /// These bars and one more before them.
    fn after(self, before: Self) -> Self {
        Self {
            rigid: before.rigid + self.rigid,
            first: before.first,
            natural: before.natural + self.natural,
            least: before.least + self.least,
        }
    }

    fn of_system(bars: &[Plan]) -> Self {
        bars.iter().map(Self::of).rev().reduce(Self::after).unwrap_or_default()
    }

    /// 0 where a system fits exactly; tight is worse than loose, and a last system may stay short.
    fn badness(self, room: f64, is_last: bool) -> f64 {
        let off = (room - self.rigid - self.first - self.natural) / room;
        match (off < 0.0, is_last) {
            (true, _) => 4.0 * off * off,
            (false, true) => 0.3 * off * off,
            (false, false) => off * off,
        }
    }
}

/// Divides the bars so that the systems are filled as evenly as may be: the sum of the squares of what
/// each leaves free, or has too much, is the least of all divisions.
pub(crate) fn rows(plans: &[Plan], layout: &Layout) -> Vec<Row> {
    let room = layout.staff_right() - layout.staff_left();
    let widths: Vec<Width> = plans.iter().map(Width::of).collect();
    let (mut cost, mut first_of) = (vec![f64::INFINITY; plans.len() + 1], vec![0; plans.len() + 1]);
    cost[0] = 0.0;
    for end in 1..=plans.len() {
        let mut system = widths[end - 1];
        for first in (0..end).rev() {
            if first + 1 < end {
                system = system.after(widths[first]);
                if system.rigid + system.first + system.least > room {
                    break;
                }
            }
            let total = cost[first] + system.badness(room, end == plans.len());
            if total < cost[end] {
                (cost[end], first_of[end]) = (total, first);
            }
        }
    }
    let mut ends = vec![plans.len()];
    while let Some(&end) = ends.last().filter(|&&end| end > 0) {
        ends.push(first_of[end]);
    }
    ends.reverse();
    let mut usual = LOOSE;
    ends.windows(2)
        .map(|pair| {
            let is_last = pair[1] == plans.len();
            let (row, stretch) = place(plans, pair[0]..pair[1], layout, is_last.then_some(usual));
            usual = stretch.max(1.0);
            row
        })
        .collect()
}

/// Places bars as one system; `most` bounds the stretch of a system that need not be full.
fn place(plans: &[Plan], bars: std::ops::Range<usize>, layout: &Layout, most: Option<f64>) -> (Row, f64) {
    let system = &plans[bars.clone()];
    let room = layout.staff_right() - layout.staff_left();
    let width = Width::of_system(system);
    let rigid = width.rigid + width.first;
    let full = stretch(system, room - rigid);
    let stretch = match most {
        Some(most) if rigid + width.natural < room * FULL_ENOUGH => full.min(most),
        _ => full,
    };
    let mut x = layout.staff_left();
    let placed = bars
        .zip(system)
        .enumerate()
        .map(|(number, (index, bar))| {
            let left = x;
            let meter_at = left + if number == 0 { CLEF } else { METER_PAD };
            let inner_left = left + signs(bar, number == 0);
            x = inner_left;
            let gaps = bar.gaps.iter().map(|gap| gap.at(stretch));
            let mut columns: Vec<f64> = gaps
                .map(|gap| {
                    x += gap;
                    x
                })
                .collect();
            columns.pop();
            x += closing(bar);
            Placed { index, left, meter_at, inner_left, columns, right: x }
        })
        .collect();
    (Row { bars: placed }, stretch)
}

/// The stretch at which the gaps of a system take exactly `room`, or the least there is.
fn stretch(system: &[Plan], room: f64) -> f64 {
    let gaps: Vec<plan::Gap> = system.iter().flat_map(|plan| plan.gaps.iter().copied()).collect();
    let width = |stretch: f64| gaps.iter().map(|gap| gap.at(stretch)).sum::<f64>();
    let (mut low, mut high) = (0.0, 1.0);
    while width(high) < room && high < 1e6 {
        high *= 2.0;
    }
    // The width grows with the stretch; sixty halvings leave less than a millionth of a space.
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if width(middle) < room { low = middle } else { high = middle }
    }
    low
}
