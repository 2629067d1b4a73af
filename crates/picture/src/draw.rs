use engrave::{
    Anchor, Engraving, Ink, Item, Layout, Paint, Place, PrintSize, Scene, System, Weight, text_width,
};
use kurbo::{Point, Rect};
use rhythm::{AttackId, Deed};

use crate::legend::{self, signed_ms};
use crate::{Error, Mark, PictureOptions, Row, Side, Spread};

/// Sizes that grow with the print.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sizes {
    /// The em of a row's label.
    label: f64,
    /// The em of small print.
    pub(crate) small: f64,
    /// The em of numbers at beads.
    number: f64,
    /// From the room's top to the first row's top.
    first_row: f64,
    /// From foot to foot of two rows: a number one step higher is clear of the line of the row above.
    row: f64,
    /// From the base line of a number at a bead to that of a second one over it.
    step: f64,
    /// From the base line of a row's label to that of its bias.
    head_step: f64,
}

impl Sizes {
    pub(crate) fn of(print: PrintSize) -> Self {
        let small = print.small();
        match print {
            PrintSize::Usual => {
                Self { label: 1.7, small, number: 1.1, first_row: 1.2, row: 5.3, step: 0.86, head_step: 1.4 }
            }
            PrintSize::Large => {
                Self { label: 2.2, small, number: 1.6, first_row: 1.8, row: 6.4, step: 1.4, head_step: 1.9 }
            }
        }
    }
}

/// From a pin's foot to its bead.
pub(crate) const PIN: f64 = 2.5;
/// The same where the bead hangs lower than its neighbour.
const LOWERED: f64 = 1.5;
/// Beads whose middles are nearer than this would touch.
const TOUCHING: f64 = 2.0 * BEAD + 0.1;
/// Thickness of a pin.
pub(crate) const PIN_LINE: f64 = 0.22;
/// Radius of a bead.
pub(crate) const BEAD: f64 = 0.42;
/// How far a bead can lie from its line; what lies further is drawn there with a mark.
const MOST_LEAN: f64 = 2.8;
/// A dash and the gap after it.
pub(crate) const DASH: (f64, f64) = (0.34, 0.3);
/// Room of the spread under the rows.
const SPREAD_ROW: f64 = 3.2;
/// From the last row's line down to where the spread's bars hang.
const SPREAD_TOP: f64 = 0.9;
/// How long a spread's bar can be.
const MOST_SPREAD: f64 = 2.2;
/// How far over the room for the rows the lines that lead down from the notes begin.
const DROP_LEAD: f64 = 0.6;
/// Thickness of the lines that lead down from the notes.
const DROP_LINE: f64 = 0.09;
/// Half the width of a spread's bar.
pub(crate) const HALF_SPREAD: f64 = 0.45;
/// Between a row's head and the staff.
const HEAD_GAP: f64 = 1.2;
/// The widest head of a row; longer labels are cut.
const WIDEST_HEAD: f64 = 14.0;
/// `early | late` is the least that stands at a row's head.
const LEGEND_HEAD: &str = "early | late";

/// The layout that leaves room for these rows: repeats written out, so that every attack has a line of
/// its own, and what the rows need kept free left of the staff and under it.
#[must_use]
pub fn layout(base: Layout, rows: &[Row], with_spread: bool) -> Layout {
    if rows.is_empty() && !with_spread {
        return Layout { written_out: true, ..base };
    }
    let sizes = Sizes::of(base.print);
    let head = rows.iter().map(|row| {
        let label = text_width(&row.label, sizes.label, Weight::Bold);
        let state = text_width(&row.state, sizes.small, Weight::Bold);
        label.max(state).max(text_width(&bias_text(row), sizes.small, Weight::Regular))
    });
    let head = head.fold(text_width(LEGEND_HEAD, sizes.small, Weight::Regular), f64::max).min(WIDEST_HEAD);
    Layout {
        written_out: true,
        room_left: base.room_left + head + HEAD_GAP,
        room_below: base.room_below + room_below(rows.len(), with_spread, sizes),
        ..base
    }
}

fn room_below(rows: usize, with_spread: bool, sizes: Sizes) -> f64 {
    if rows == 0 && !with_spread {
        return 0.0;
    }
    sizes.first_row + sizes.row * rows as f64 + if with_spread { SPREAD_ROW } else { 0.8 }
}

/// Lays the rows, and under them the spread, over an engraving.
///
/// # Errors
/// If a mark or a spread names what the engraving does not have, its layout keeps too little free (make
/// it with [`layout`]), or the scale is none.
pub fn picture(
    engraving: &Engraving,
    rows: &[Row],
    spreads: &[Spread],
    options: &PictureOptions,
) -> Result<Scene, Error> {
    options.check()?;
    let sizes = Sizes::of(engraving.layout().print);
    let (needed, kept) = (room_below(rows.len(), !spreads.is_empty(), sizes), engraving.layout().room_below);
    if needed > kept + 1e-9 {
        return Err(Error::NoRoom { needed, kept });
    }
    let mut scene = engraving.scene().clone();
    if rows.is_empty() && spreads.is_empty() {
        return Ok(scene);
    }
    let mut lines = Vec::new();
    let mut pins = Vec::new();
    for (index, system) in engraving.systems().iter().enumerate() {
        drop_lines(&mut lines, engraving, (index, system), rows.len(), !spreads.is_empty(), sizes);
        let head = Point::new(Layout::MARGIN, system.rows + sizes.first_row);
        small(&mut pins, LEGEND_HEAD, head - (0.0, 0.3), sizes);
        for (number, row) in rows.iter().enumerate() {
            row_head(&mut pins, row, system, foot(system, number, sizes), sizes);
        }
        if !spreads.is_empty() {
            let y = spread_line(system, rows.len(), sizes);
            small(&mut pins, "spread", Point::new(Layout::MARGIN, y + 0.8), sizes);
        }
    }
    for (number, row) in rows.iter().enumerate() {
        marks(&mut pins, engraving, row, number, options)?;
    }
    for spread in spreads {
        let place = place(engraving, spread.id, || "a spread".to_owned())?;
        let y = spread_line(&engraving.systems()[place.system], rows.len(), sizes);
        let length = (spread.ms / options.ms_per_space).clamp(0.08, MOST_SPREAD);
        let bar = Rect::new(place.x - HALF_SPREAD, y, place.x + HALF_SPREAD, y + length);
        pins.push(Item::block(bar, Ink::Spread));
    }
    // The lines lead the eye under the notes and pins, never over them.
    scene.items.splice(0..0, lines);
    scene.items.extend(pins);
    if options.legend {
        legend::add(&mut scene, engraving.layout(), options, !spreads.is_empty());
    }
    Ok(scene)
}

/// Where the pins of a row stand.
fn foot(system: &System, row: usize, sizes: Sizes) -> f64 {
    system.rows + sizes.first_row + sizes.row * (row as f64 + 1.0)
}

fn spread_line(system: &System, rows: usize, sizes: Sizes) -> f64 {
    system.rows + sizes.first_row + sizes.row * rows as f64 + SPREAD_TOP
}

/// A fine line from every written attack down through the rows, and a line for the pins of each row to stand on.
fn drop_lines(
    items: &mut Vec<Item>,
    engraving: &Engraving,
    (index, system): (usize, &System),
    rows: usize,
    with_spread: bool,
    sizes: Sizes,
) {
    for row in 0..rows {
        let y = foot(system, row, sizes);
        items.push(Item::line((system.left, y), (system.right, y), DROP_LINE, Ink::Faint));
    }
    let bottom = match rows.checked_sub(1) {
        _ if with_spread => spread_line(system, rows, sizes),
        Some(last) => foot(system, last, sizes),
        None => return,
    };
    for place in engraving.places().iter().filter(|place| place.system == index && place.deed == Deed::Attack)
    {
        // From under all that stands under the staff.
        let top = system.rows - DROP_LEAD;
        items.push(Item::line((place.x, top), (place.x, bottom), DROP_LINE, Ink::Faint));
    }
}

fn bias_text(row: &Row) -> String {
    row.bias_ms.map_or_else(String::new, |bias| format!("{} ms", signed_ms(bias)))
}

fn row_head(items: &mut Vec<Item>, row: &Row, system: &System, foot: f64, sizes: Sizes) {
    let room = system.left - Layout::MARGIN - HEAD_GAP;
    let mut at = Point::new(Layout::MARGIN, foot - 0.1 - sizes.head_step);
    let mut bold = |text: &str, at: Point, size: f64| {
        let cut = cut_to(text, room, size);
        items.push(Item::text(cut, at, size, Weight::Bold, Anchor::Start, Ink::Main));
    };
    if !row.state.is_empty() {
        bold(&row.state, at, sizes.small);
        at.y -= sizes.head_step;
    }
    bold(&row.label, at, sizes.label);
    small(items, &bias_text(row), Point::new(Layout::MARGIN, foot - 0.1), sizes);
}

/// As much of a label as there is room for.
fn cut_to(label: &str, room: f64, size: f64) -> String {
    // The room of the widest head was measured by the same text, but for what adding and taking away rounds.
    if text_width(label, size, Weight::Bold) <= room + 1e-9 {
        return label.to_owned();
    }
    let mut cut = String::new();
    for character in label.chars() {
        let longer = format!("{cut}{character}…");
        if text_width(&longer, size, Weight::Bold) > room {
            break;
        }
        cut.push(character);
    }
    cut + "…"
}

fn place(engraving: &Engraving, id: AttackId, what: impl Fn() -> String) -> Result<&Place, Error> {
    engraving.place(id).ok_or_else(|| Error::UnknownAttack { what: what(), id })
}

fn in_system(engraving: &Engraving, system: usize, what: impl Fn() -> String) -> Result<&System, Error> {
    let systems = engraving.systems();
    systems.get(system).ok_or_else(|| Error::UnknownSystem { what: what(), system, systems: systems.len() })
}

fn marks(
    items: &mut Vec<Item>,
    engraving: &Engraving,
    row: &Row,
    number: usize,
    options: &PictureOptions,
) -> Result<(), Error> {
    let sizes = Sizes::of(engraving.layout().print);
    let what = || format!("the row of {}", row.label);
    let mut numbers: Vec<(usize, Point, String)> = Vec::new();
    let mut pins: Vec<(usize, Point, f64, Option<Side>)> = Vec::new();
    for mark in &row.marks {
        match *mark {
            Mark::Pin { id, lean_ms, beyond } => {
                let place = place(engraving, id, what)?;
                let base = Point::new(place.x, foot(&engraving.systems()[place.system], number, sizes));
                pins.push((place.system, base, lean_ms, beyond));
            }
            Mark::Missed { id } => {
                let place = place(engraving, id, what)?;
                let y = foot(&engraving.systems()[place.system], number, sizes);
                items.push(missed(Point::new(place.x, y)));
            }
            Mark::Beat { system, x, lean_ms, beyond } => {
                let base = Point::new(x, foot(in_system(engraving, system, what)?, number, sizes));
                match lean_ms {
                    Some(lean_ms) => pins.push((system, base, lean_ms, beyond)),
                    None => items.push(missed(base)),
                }
            }
            Mark::Extra { system, x } => {
                let here = in_system(engraving, system, what)?;
                extra(items, Point::new(x, foot(here, number, sizes)));
            }
        }
    }
    let beads = pins.iter().map(|&(system, foot, lean_ms, _)| (system, foot.x + lean(lean_ms, options)));
    let lowered = lowered(&beads.collect::<Vec<_>>());
    for ((system, foot, lean_ms, beyond), is_lowered) in pins.into_iter().zip(lowered) {
        let height = if is_lowered { LOWERED } else { PIN };
        let bead = pin(items, (foot, height), lean_ms, beyond, options);
        if beyond.is_some() {
            numbers.push((system, Point::new(bead.x, foot.y - PIN), signed_ms(lean_ms)));
        }
    }
    number_beads(items, numbers, sizes);
    Ok(())
}

/// Which of these beads, each in a system at an x, hang lower: where many notes stand close together, a bead that would touch
/// the one before it, unless that one hangs lower already.
fn lowered(beads: &[(usize, f64)]) -> Vec<bool> {
    let mut order: Vec<usize> = (0..beads.len()).collect();
    order.sort_by(|&a, &b| beads[a].0.cmp(&beads[b].0).then(beads[a].1.total_cmp(&beads[b].1)));
    let mut lowered = vec![false; beads.len()];
    for pair in order.windows(2) {
        let ((system, x), (next_system, next)) = (beads[pair[0]], beads[pair[1]]);
        lowered[pair[1]] = system == next_system && next - x < TOUCHING && !lowered[pair[0]];
    }
    lowered
}

/// How far a bead leans from its line, in staff spaces.
fn lean(lean_ms: f64, options: &PictureOptions) -> f64 {
    (lean_ms / options.ms_per_space).clamp(-MOST_LEAN, MOST_LEAN)
}

/// A pin on a foot, so high; returns the middle of its bead.
pub(crate) fn pin(
    items: &mut Vec<Item>,
    (foot, height): (Point, f64),
    lean_ms: f64,
    beyond: Option<Side>,
    options: &PictureOptions,
) -> Point {
    let ink = match beyond {
        None => Ink::Main,
        Some(Side::Early) => Ink::Early,
        Some(Side::Late) => Ink::Late,
    };
    let wanted = lean_ms / options.ms_per_space;
    let lean = lean(lean_ms, options);
    let bead = foot + (lean, -height);
    items.push(Item::line(foot, bead, PIN_LINE, ink));
    items.push(Item::disc(bead, BEAD, Paint::Fill, ink));
    if wanted != lean {
        // The true place lies further out: an arrowhead points there.
        let out = wanted.signum();
        let tip = bead + (out * (BEAD + 0.75), 0.0);
        let back = out * (BEAD + 0.2);
        items.push(Item::polygon(&[tip, bead + (back, -0.38), bead + (back, 0.38)], Paint::Fill, ink));
    }
    bead
}

/// The dashed pin of an attack that was not struck.
pub(crate) fn missed(foot: Point) -> Item {
    let to = foot - (0.0, PIN);
    Item::Line { from: foot, to, width: PIN_LINE, ink: Ink::Main, dash: Some(DASH) }
}

/// A hollow bead on a thin stem where an attack fell that answers nothing.
pub(crate) fn extra(items: &mut Vec<Item>, foot: Point) {
    let middle = foot - (0.0, PIN);
    let reach = 0.62;
    let corners =
        [middle - (0.0, reach), middle + (reach, 0.0), middle + (0.0, reach), middle - (reach, 0.0)];
    items.push(Item::line(foot, middle + (0.0, reach), 0.14, Ink::Extra));
    items.push(Item::polygon(&corners, Paint::Fill, Ink::Paper));
    items.push(Item::polygon(&corners, Paint::Outline(PIN_LINE), Ink::Extra));
}

/// Numbers over beads, from left to right, the second of two that would touch one step higher, and a third left out: numbers
/// one over the other tell nobody anything, and the bead without one still has its side and its ink.
fn number_beads(items: &mut Vec<Item>, mut numbers: Vec<(usize, Point, String)>, sizes: Sizes) {
    numbers.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.x.total_cmp(&b.1.x)));
    let mut reached = [(usize::MAX, f64::NEG_INFINITY); 2];
    for (system, bead, text) in numbers {
        let half = text_width(&text, sizes.number, Weight::Regular) / 2.0;
        let is_free = |step: usize| reached[step].0 != system || reached[step].1 < bead.x - half - 0.25;
        let Some(step) = (0..2).find(|&step| is_free(step)) else { continue };
        reached[step] = (system, bead.x + half);
        let y = bead.y - BEAD - 0.3 - sizes.step * step as f64;
        items.push(Item::text(text, (bead.x, y), sizes.number, Weight::Regular, Anchor::Middle, Ink::Main));
    }
}

/// Small print from `at` on.
pub(crate) fn small(items: &mut Vec<Item>, text: &str, at: Point, sizes: Sizes) {
    if !text.is_empty() {
        items.push(Item::text(text, at, sizes.small, Weight::Regular, Anchor::Start, Ink::Soft));
    }
}

#[cfg(test)]
mod tests {
    use super::lowered;

    #[test]
    fn beads_that_would_touch_hang_by_turns() {
        let check = |beads: &[(usize, f64)], expected: &[bool]| assert_eq!(lowered(beads), expected);
        check(&[(0, 1.0), (0, 1.5), (0, 2.0), (0, 4.0)], &[false, true, false, false]);
        // As they lie, not as they were written: the second leans far to the right.
        check(&[(0, 1.0), (0, 5.2), (0, 3.0), (0, 5.0)], &[false, true, false, false]);
        check(&[(0, 1.0), (1, 1.1)], &[false, false]);
    }
}
