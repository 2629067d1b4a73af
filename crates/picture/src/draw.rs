use engrave::{Anchor, Engraving, Ink, Item, Layout, Paint, Place, Scene, System, Weight, text_width};
use kurbo::{Point, Rect};
use rhythm::{AttackId, Deed};

use crate::legend::{self, signed_ms};
use crate::{Error, Mark, PictureOptions, Row, Side, Spread};

/// From the room's top to the first row's top.
const FIRST_ROW: f64 = 1.2;
/// From foot to foot of two rows.
pub(crate) const ROW: f64 = 4.9;
/// From a pin's foot to its bead.
pub(crate) const PIN: f64 = 2.5;
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
/// The em of a row's label.
const LABEL_SIZE: f64 = 1.7;
/// The em of small print.
pub(crate) const SMALL_SIZE: f64 = 1.15;
/// The em of numbers at beads.
const NUMBER_SIZE: f64 = 1.1;
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
    let head = rows.iter().map(|row| {
        let label = text_width(&row.label, LABEL_SIZE, Weight::Bold);
        label.max(text_width(&bias_text(row), SMALL_SIZE, Weight::Regular))
    });
    let head = head.fold(text_width(LEGEND_HEAD, SMALL_SIZE, Weight::Regular), f64::max).min(WIDEST_HEAD);
    Layout {
        written_out: true,
        room_left: base.room_left + head + HEAD_GAP,
        room_below: base.room_below + room_below(rows.len(), with_spread),
        ..base
    }
}

fn room_below(rows: usize, with_spread: bool) -> f64 {
    if rows == 0 && !with_spread {
        return 0.0;
    }
    FIRST_ROW + ROW * rows as f64 + if with_spread { SPREAD_ROW } else { 0.8 }
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
    let (needed, kept) = (room_below(rows.len(), !spreads.is_empty()), engraving.layout().room_below);
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
        drop_lines(&mut lines, engraving, index, system, rows.len(), !spreads.is_empty());
        let head = Point::new(Layout::MARGIN, system.rows + FIRST_ROW);
        small(&mut pins, LEGEND_HEAD, head - (0.0, 0.3), Anchor::Start);
        for (number, row) in rows.iter().enumerate() {
            row_head(&mut pins, row, system, foot(system, number));
        }
        if !spreads.is_empty() {
            let y = spread_line(system, rows.len());
            small(&mut pins, "spread", Point::new(Layout::MARGIN, y + 0.8), Anchor::Start);
        }
    }
    for (number, row) in rows.iter().enumerate() {
        marks(&mut pins, engraving, row, number, options)?;
    }
    for spread in spreads {
        let place = place(engraving, spread.id, || "a spread".to_owned())?;
        let y = spread_line(&engraving.systems()[place.system], rows.len());
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
fn foot(system: &System, row: usize) -> f64 {
    system.rows + FIRST_ROW + ROW * (row as f64 + 1.0)
}

fn spread_line(system: &System, rows: usize) -> f64 {
    system.rows + FIRST_ROW + ROW * rows as f64 + SPREAD_TOP
}

/// A fine line from every written attack down through the rows, and a line for the pins of each row to stand on.
fn drop_lines(
    items: &mut Vec<Item>,
    engraving: &Engraving,
    index: usize,
    system: &System,
    rows: usize,
    with_spread: bool,
) {
    for row in 0..rows {
        let y = foot(system, row);
        items.push(Item::line((system.left, y), (system.right, y), DROP_LINE, Ink::Faint));
    }
    let bottom = match rows.checked_sub(1) {
        _ if with_spread => spread_line(system, rows),
        Some(last) => foot(system, last),
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

fn row_head(items: &mut Vec<Item>, row: &Row, system: &System, foot: f64) {
    let room = system.left - Layout::MARGIN - HEAD_GAP;
    let label = cut_to(&row.label, room);
    let at = Point::new(Layout::MARGIN, foot - 1.5);
    items.push(Item::text(label, at, LABEL_SIZE, Weight::Bold, Anchor::Start, Ink::Main));
    small(items, &bias_text(row), Point::new(Layout::MARGIN, foot - 0.1), Anchor::Start);
}

/// As much of a label as there is room for.
fn cut_to(label: &str, room: f64) -> String {
    if text_width(label, LABEL_SIZE, Weight::Bold) <= room {
        return label.to_owned();
    }
    let mut cut = String::new();
    for character in label.chars() {
        let longer = format!("{cut}{character}…");
        if text_width(&longer, LABEL_SIZE, Weight::Bold) > room {
            break;
        }
        cut.push(character);
    }
    cut + "…"
}

fn place(engraving: &Engraving, id: AttackId, what: impl Fn() -> String) -> Result<&Place, Error> {
    engraving.place(id).ok_or_else(|| Error::UnknownAttack { what: what(), id })
}

fn marks(
    items: &mut Vec<Item>,
    engraving: &Engraving,
    row: &Row,
    number: usize,
    options: &PictureOptions,
) -> Result<(), Error> {
    let what = || format!("the row of {}", row.label);
    let mut numbers: Vec<(usize, Point, String)> = Vec::new();
    for mark in &row.marks {
        match *mark {
            Mark::Pin { id, lean_ms, beyond } => {
                let place = place(engraving, id, what)?;
                let base = Point::new(place.x, foot(&engraving.systems()[place.system], number));
                let bead = pin(items, base, lean_ms, beyond, options);
                if beyond.is_some() {
                    numbers.push((place.system, bead, signed_ms(lean_ms)));
                }
            }
            Mark::Missed { id } => {
                let place = place(engraving, id, what)?;
                let y = foot(&engraving.systems()[place.system], number);
                items.push(missed(Point::new(place.x, y)));
            }
            Mark::Extra { system, x } => {
                let systems = engraving.systems();
                let here = systems.get(system).ok_or_else(|| Error::UnknownSystem {
                    what: what(),
                    system,
                    systems: systems.len(),
                })?;
                extra(items, Point::new(x, foot(here, number)));
            }
        }
    }
    number_beads(items, numbers);
    Ok(())
}

/// A pin on `foot`; returns the middle of its bead.
pub(crate) fn pin(
    items: &mut Vec<Item>,
    foot: Point,
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
    let lean = wanted.clamp(-MOST_LEAN, MOST_LEAN);
    let bead = foot + (lean, -PIN);
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
fn number_beads(items: &mut Vec<Item>, mut numbers: Vec<(usize, Point, String)>) {
    numbers.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.x.total_cmp(&b.1.x)));
    let mut reached = [(usize::MAX, f64::NEG_INFINITY); 2];
    for (system, bead, text) in numbers {
        let half = text_width(&text, NUMBER_SIZE, Weight::Regular) / 2.0;
        let is_free = |step: usize| reached[step].0 != system || reached[step].1 < bead.x - half - 0.25;
        let Some(step) = (0..2).find(|&step| is_free(step)) else { continue };
        reached[step] = (system, bead.x + half);
        let y = bead.y - BEAD - 0.3 - 0.95 * step as f64;
        items.push(Item::text(text, (bead.x, y), NUMBER_SIZE, Weight::Regular, Anchor::Middle, Ink::Main));
    }
}

pub(crate) fn small(items: &mut Vec<Item>, text: &str, at: Point, anchor: Anchor) {
    if !text.is_empty() {
        items.push(Item::text(text, at, SMALL_SIZE, Weight::Regular, anchor, Ink::Soft));
    }
}
