use std::collections::HashMap;

use counting::{Count, CountLine};
use rhythm::{AttackId, Deed, Rhythm};
use timebase::Position;

use crate::draw::{self, Pen};
use crate::placing::{self, Placed, Row};
use crate::plan::{self, Plan};
use crate::{Error, Layout, Scene, metrics};

/// A rhythm laid out: the scene to paint, and where everything in it stands, so that players' rows and a
/// playhead can be laid over it.
#[derive(Clone, Debug)]
pub struct Engraving {
    scene: Scene,
    layout: Layout,
    places: Vec<Place>,
    place_of: HashMap<AttackId, usize>,
    systems: Vec<System>,
    passages: Vec<Passage>,
}

/// A place of the performed rhythm where a symbol or a count stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Its name.
    pub id: AttackId,
    /// Where it falls in the performance.
    pub position: Position,
    /// What is done there.
    pub deed: Deed,
    /// What is counted there, if anything is.
    pub count: Option<Count>,
    /// Which system it stands in, from 0.
    pub system: usize,
    /// The middle of its notehead, rest or count, in staff spaces from the left edge of the page.
    pub x: f64,
}

/// A line of the page, in staff spaces from the top left of the page.
#[derive(Clone, Debug, PartialEq)]
pub struct System {
    /// The upper end of what belongs to it.
    pub top: f64,
    /// How high the playhead's mark stands: over stems, numbers and brackets.
    pub mark: f64,
    /// The base line of small print over the notes: endings, signs, changes of tempo, how often a passage is played.
    pub print: f64,
    /// The line of the brackets over endings: over the small print and its signs.
    pub endings: f64,
    /// The one line of its staff.
    pub staff: f64,
    /// The base line of its counts.
    pub counts: f64,
    /// Where the room for players' rows begins.
    pub rows: f64,
    /// The lower end of what belongs to it.
    pub bottom: f64,
    /// The left end of its staff.
    pub left: f64,
    /// The right end of its staff.
    pub right: f64,
    /// Where its first bar begins, the first time it is played.
    pub start: Position,
    /// Where its last bar ends, the first time it is played.
    pub end: Position,
    /// The right end of every bar.
    pub bar_lines: Vec<f64>,
}

/// One bar as it is played, and where its moments stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Passage {
    /// Where it begins.
    pub start: Position,
    /// Where it ends.
    pub end: Position,
    /// Which system it stands in, from 0.
    pub system: usize,
    /// Positions and where they stand, both rising; the first is the bar's beginning, the last its end.
    pub knots: Vec<(Position, f64)>,
}

/// Lays out a rhythm with its counting.
///
/// # Errors
/// If the layout leaves no room for a staff, or `counting` belongs to another rhythm.
pub fn engrave(rhythm: &Rhythm, counting: &CountLine, layout: &Layout) -> Result<Engraving, Error> {
    layout.check()?;
    let (counted, written) = (counting.bars().len(), rhythm.bars().len());
    if counted != written {
        return Err(Error::OtherRhythm { counted, written });
    }
    let plans = plan::plan(rhythm, counting, layout);
    let rows = placing::rows(&plans, layout);
    let mut pen = Pen::default();
    let mut reached = if layout.head { draw::head(&mut pen, rhythm, layout) } else { Layout::MARGIN };
    let mut systems = Vec::with_capacity(rows.len());
    for row in &rows {
        let system = system(&plans, row, layout, reached);
        draw::system(&mut pen, &plans, row, &system, layout);
        reached = system.bottom + metrics::SYSTEM_GAP;
        systems.push(system);
    }
    draw::ties(&mut pen, &plans, &rows, &systems);
    if layout.counts {
        draw::held_lines(&mut pen, &plans, &rows, &systems);
    }
    let widest = systems.iter().map(|system| system.right).fold(layout.staff_right(), f64::max);
    let scene = Scene {
        width: widest + Layout::MARGIN,
        height: reached - metrics::SYSTEM_GAP + Layout::MARGIN,
        items: pen.into_items(),
    };
    let places = places(&plans, &rows);
    let place_of = places.iter().enumerate().map(|(index, place)| (place.id, index)).collect();
    Ok(Engraving { scene, layout: *layout, place_of, places, systems, passages: passages(&plans, &rows) })
}

fn system(plans: &[Plan], row: &Row, layout: &Layout, top: f64) -> System {
    let bars = || row.bars.iter().map(|bar| &plans[bar.index]);
    let reach = bars().map(draw::reach).fold(metrics::STEM_LENGTH, f64::max);
    let print = bars().any(draw::has_print);
    let rise = bars().map(draw::ending_rise).fold(metrics::ENDING_RISE, f64::max);
    let print_room = metrics::PRINT_ROOM + rise - metrics::ENDING_RISE;
    let above = reach + metrics::MARK_ROOM + if print { print_room } else { 0.0 };
    let staff = top + above;
    let counts = staff + metrics::COUNT_BASE;
    let rows = if layout.counts { counts + metrics::COUNTS_BELOW } else { staff + metrics::BELOW };
    let first = bars().find_map(|plan| plan.played.first());
    let last = bars().rev().find_map(|plan| plan.played.first());
    System {
        top,
        mark: staff - above + 0.3,
        print: staff - reach - metrics::PRINT_GAP,
        endings: staff - reach - metrics::PRINT_GAP - rise,
        staff,
        counts,
        rows,
        bottom: rows + layout.room_below,
        left: layout.staff_left(),
        right: row.bars.last().map_or(layout.staff_right(), |bar| bar.right),
        start: first.map_or(Position::ZERO, |bar| bar.start),
        end: last.map_or(Position::ZERO, |bar| bar.end),
        bar_lines: row.bars.iter().map(|bar| bar.right).collect(),
    }
}

/// Every place of the performance in order of time.
fn places(plans: &[Plan], rows: &[Row]) -> Vec<Place> {
    let mut places = Vec::new();
    for (system, bar) in bars(rows) {
        let plan = &plans[bar.index];
        for (column, &x) in plan.columns.iter().zip(&bar.columns) {
            let count = column.count.map(|index| &plan.counts[index]);
            let note = column.note.map(|index| &plan.notes[index]);
            let deed = note.map(|note| note.deed).or(count.map(|count| count.deed)).unwrap_or(Deed::Rest);
            places.extend(plan.played.iter().map(|played| Place {
                id: played.attack_id(column.at),
                position: played.position(column.at),
                deed,
                count: count.cloned(),
                system,
                x,
            }));
        }
    }
    places.sort_by_key(|place| place.position);
    places
}

/// Every bar of the performance in order of time.
fn passages(plans: &[Plan], rows: &[Row]) -> Vec<Passage> {
    let all: Vec<(usize, &Placed)> = bars(rows).collect();
    let mut passages = Vec::new();
    for (number, (system, bar)) in all.iter().enumerate() {
        let plan = &plans[bar.index];
        // Time runs on to the next bar's first column; at the end of a system, to its bar line.
        let next = all.get(number + 1).filter(|(next, _)| next == system);
        let end = next.and_then(|(_, next)| next.columns.first().copied()).unwrap_or(bar.right);
        for played in &plan.played {
            let columns = plan.columns.iter().zip(&bar.columns);
            let mut knots: Vec<_> = columns.map(|(column, &x)| (played.position(column.at), x)).collect();
            knots.push((played.end, end));
            passages.push(Passage { start: played.start, end: played.end, system: *system, knots });
        }
    }
    passages.sort_by_key(|passage| passage.start);
    passages
}

fn bars(rows: &[Row]) -> impl Iterator<Item = (usize, &Placed)> {
    rows.iter().enumerate().flat_map(|(system, row)| row.bars.iter().map(move |bar| (system, bar)))
}

impl Engraving {
    /// What to paint.
    #[must_use]
    pub fn scene(&self) -> &Scene {
        &self.scene
    }

    /// How it was laid out.
    #[must_use]
    pub fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Every place of the performed rhythm in order of time. Where repeats stand between signs, the
    /// places of every pass stand at the same x.
    #[must_use]
    pub fn places(&self) -> &[Place] {
        &self.places
    }

    /// The place of that name, or `None` if no symbol and no count stands there.
    #[must_use]
    pub fn place(&self, id: AttackId) -> Option<&Place> {
        self.place_of.get(&id).map(|&index| &self.places[index])
    }

    /// The lines of the page from the top.
    #[must_use]
    pub fn systems(&self) -> &[System] {
        &self.systems
    }

    /// The bars as they are played, in order of time.
    #[must_use]
    pub fn passages(&self) -> &[Passage] {
        &self.passages
    }

    /// Where a moment of the performance stands: the system, from 0, and x in staff spaces. Between two
    /// places it is interpolated by musical time; before the beginning and after the end it is `None`.
    #[must_use]
    pub fn x_at(&self, position: Position) -> Option<(usize, f64)> {
        let after = self.passages.partition_point(|passage| passage.start <= position);
        let passage = &self.passages[after.checked_sub(1)?];
        if position > passage.end {
            return None;
        }
        let next = passage.knots.partition_point(|knot| knot.0 <= position);
        let (from, x) = passage.knots[next.checked_sub(1)?];
        let x = match passage.knots.get(next) {
            None => x,
            Some(&(to, end)) => x + (end - x) * plan::part_of(position - from, to - from),
        };
        Some((passage.system, x))
    }

    /// The rhythm in words, for a reader who does not see the page: `Bar 1: 1, 2, &, hold 3, rest 4.`
    #[must_use]
    pub fn description(&self) -> String {
        let mut text = String::new();
        let mut bar = None;
        for place in &self.places {
            let Some(word) = place.count.as_ref().and_then(|count| count.say.as_ref()) else { continue };
            let this = (place.id.bar, place.id.pass);
            if bar == Some(this) {
                text.push_str(", ");
            } else {
                let start = if bar.is_some() { ". " } else { "" };
                let pass =
                    if place.id.pass > 1 { format!(", time {}", place.id.pass) } else { String::new() };
                let name =
                    if place.id.bar == 0 { "Pickup".to_owned() } else { format!("Bar {}", place.id.bar) };
                text.push_str(&format!("{start}{name}{pass}: "));
                bar = Some(this);
            }
            text.push_str(match place.count.as_ref().map(|count| count.deed) {
                Some(Deed::Hold) => "hold ",
                Some(Deed::Rest) => "rest ",
                _ => "",
            });
            text.push_str(word.as_str());
        }
        if bar.is_some() {
            text.push('.');
        }
        text
    }
}
