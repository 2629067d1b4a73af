//! Bars placed along the page.

use std::ops::Range;

use rhythm::Meter;

use crate::breaking::{Width, breaks};
use crate::font::{Weight, text_width};
use crate::metrics::{BAR_GAP, JOINING_BRACKET, REPEAT_DOT_GAP, THICK_BAR, THIN_BAR};
use crate::plan::Plan;
use crate::plan::gaps::Gap;
use crate::{Glyph, Layout, Staff};

/// A system of the page: which bars, and where they stand from left to right.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) bars: Vec<Placed>,
    /// The bar whose meter is told at the system's end, because the next system begins with it, and where.
    pub(crate) told: Option<(usize, f64)>,
    /// Where its staves end.
    pub(crate) right: f64,
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

/// From where to where staves go.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Frame {
    pub(crate) left: f64,
    pub(crate) right: f64,
}

/// From a staff to the left edge of the bracket that joins it to others.
pub(crate) const BRACKET_LEFT: f64 = 0.5 + JOINING_BRACKET;
/// Between that bracket and the names of the parts.
pub(crate) const NAME_GAP: f64 = 0.6;
/// The most room for names of parts on any page, and on a wide one so much of its width; longer ones are cut.
const WIDEST_NAME: f64 = 14.0;
const NAME_SHARE: f64 = 0.2;

/// Width of the clef with what is kept free around it.
const CLEF: f64 = 0.6 + 1.53 + 0.7;
/// What is kept free before and behind the digits of a meter.
const METER_PAD: f64 = 0.9;
/// What is kept free behind a meter at the end of a system.
const TOLD_END: f64 = 0.4;
/// What is kept free between a clef and a repeat, beside what is kept free around the clef.
const REPEAT_PAD: f64 = 0.8;
/// A last system is stretched to the full width from this fullness on.
const FULL_ENOUGH: f64 = 0.72;
/// How far a system that is not full may be stretched.
const LOOSE: f64 = 1.25;

impl Frame {
    /// Several staves leave room for a bracket and their names.
    pub(crate) fn of(staves: &[Staff<'_>], layout: &Layout) -> Self {
        let (mut left, right) = (layout.staff_left(), layout.staff_right());
        if staves.len() > 1 {
            let names = staves.iter().filter_map(|staff| staff.name);
            let widths = names.map(|name| text_width(name, layout.print.name(), Weight::Regular));
            let widest = widths.fold(0.0, f64::max).min(widest_name(layout));
            left += BRACKET_LEFT + if widest > 0.0 { widest + NAME_GAP } else { 0.0 };
        }
        Self { left, right }
    }

    pub(crate) fn room(&self) -> f64 {
        self.right - self.left
    }
}

/// The most room for names of parts; longer ones are cut.
pub(crate) fn widest_name(layout: &Layout) -> f64 {
    WIDEST_NAME.max(NAME_SHARE * (layout.staff_right() - layout.staff_left()))
}

/// Width of the digits of a bar's meter.
pub(crate) fn meter_width(plan: &Plan, layout: &Layout) -> f64 {
    let width = |number| Glyph::meter_digits(number).iter().map(|glyph| glyph.advance()).sum::<f64>();
    let label = meter_label(plan.meter);
    let label = label.map_or(0.0, |label| text_width(&label, layout.print.small(), Weight::Regular));
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
pub(crate) fn closing(plan: &Plan) -> f64 {
    let double = THIN_BAR + BAR_GAP + THICK_BAR;
    match (plan.closes_repeat, plan.is_last) {
        (Some(_), _) => double + REPEAT_DOT_GAP + Glyph::RepeatDot.bounds().width(),
        (None, true) => double,
        (None, false) if plan.joined.is_some_and(|joined| !joined.is_last()) => 0.0,
        (None, false) => THIN_BAR,
    }
}

/// What stands before the first note of a bar: clef, meter, opening repeat.
pub(crate) fn signs(plan: &Plan, first_of_system: bool, layout: &Layout) -> f64 {
    let clef = if first_of_system { CLEF } else { 0.0 };
    let meter = if plan.shows_meter { meter_width(plan, layout) + METER_PAD } else { 0.0 };
    let lead = if plan.shows_meter && !first_of_system { METER_PAD } else { 0.0 };
    // The clef's two bars and a repeat's lines would run together.
    let apart = if first_of_system && plan.opens_repeat && !plan.shows_meter { REPEAT_PAD } else { 0.0 };
    clef + lead + meter + apart + if plan.opens_repeat { opening_repeat() } else { 0.0 }
}

/// What a bar's meter takes at the end of the system before it, so that nobody is surprised by it: behind the last bar
/// line, the staff a little longer.
pub(crate) fn told(next: &Plan, layout: &Layout) -> f64 {
    if next.shows_meter { METER_PAD + meter_width(next, layout) + TOLD_END } else { 0.0 }
}

/// Divides the bars into systems and places them.
pub(crate) fn rows(plans: &[Plan], frame: Frame, layout: &Layout) -> Vec<Row> {
    let widths: Vec<Width> =
        plans.iter().enumerate().map(|(index, plan)| Width::of(plan, plans.get(index + 1), layout)).collect();
    let ends = breaks(plans, &widths, frame.room());
    let mut usual = LOOSE;
    ends.windows(2)
        .map(|pair| {
            let is_last = pair[1] == plans.len();
            let width = Width::of_system(&widths[pair[0]..pair[1]]);
            let placer = Placer { plans, frame, layout, width };
            let (row, stretch) = placer.place(pair[0]..pair[1], is_last.then_some(usual));
            usual = stretch.max(1.0);
            row
        })
        .collect()
}

/// Places the bars of one system.
struct Placer<'a> {
    plans: &'a [Plan],
    frame: Frame,
    layout: &'a Layout,
    width: Width,
}

impl Placer<'_> {
    /// `most` bounds the stretch of a system that need not be full. Returns the stretch as well.
    fn place(&self, bars: Range<usize>, most: Option<f64>) -> (Row, f64) {
        let system = &self.plans[bars.clone()];
        let (room, width) = (self.frame.room(), self.width);
        let rigid = width.rigid();
        let next = bars.end;
        let full = stretch(system, room - rigid);
        let stretch = match most {
            Some(most) if rigid + width.natural < room * FULL_ENOUGH => full.min(most),
            _ => full,
        };
        let mut x = self.frame.left;
        let placed = bars.zip(system).enumerate().map(|(number, (index, bar))| {
            let left = x;
            let meter_at = left + if number == 0 { CLEF } else { METER_PAD };
            let inner_left = left + signs(bar, number == 0, self.layout);
            x = inner_left;
            let mut columns = Vec::with_capacity(bar.gaps.len());
            for gap in &bar.gaps {
                x += gap.at(stretch);
                columns.push(x);
            }
            columns.pop();
            x += closing(bar);
            Placed { index, left, meter_at, inner_left, columns, right: x }
        });
        let placed: Vec<Placed> = placed.collect();
        let told = (width.told > 0.0).then_some((next, x + METER_PAD));
        (Row { bars: placed, told, right: x + width.told }, stretch)
    }
}

/// The stretch at which the gaps of a system take exactly `room`, or the least there is.
fn stretch(system: &[Plan], room: f64) -> f64 {
    let gaps: Vec<Gap> = system.iter().flat_map(|plan| plan.gaps.iter().copied()).collect();
    let width = |stretch: f64| gaps.iter().map(|gap| gap.at(stretch)).sum::<f64>();
    let (mut low, mut high) = (0.0, 1.0);
    while width(high) < room && high < 1e6 {
        high *= 2.0;
    }
    // The width grows with the stretch; forty halvings leave less than a millionth of a space.
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if width(middle) < room { low = middle } else { high = middle }
    }
    low
}
