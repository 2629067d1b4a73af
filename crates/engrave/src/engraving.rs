use std::collections::HashMap;
use std::ops::Range;

use counting::{Count, CountLine};
use rhythm::{AttackId, Deed, Rhythm};
use timebase::Position;

use crate::draw::{self, Sheets, counts, dynamics, hands, ties};
use crate::placing::{self, Frame};
use crate::plan::gaps::part_of;
use crate::vertical::Under;
use crate::{CountsShown, Error, Item, Layout, Scene, Staff, metrics, places, plan, vertical};

/// Rhythms laid out: the scene to paint, and where everything in it stands, so that players' rows and a
/// playhead can be laid over it.
///
/// Where several staves are joined, [`Engraving::places`], [`Engraving::systems`] and what else names no staff speak
/// of the first.
#[derive(Clone, Debug)]
pub struct Engraving {
    scene: Scene,
    layout: Layout,
    staves: Vec<EngravedStaff>,
    passages: Vec<Passage>,
    bands: Vec<Band>,
    head: Option<Band>,
    foot: Option<Band>,
}

/// One staff of an engraving through all its systems.
#[derive(Clone, Debug)]
pub struct EngravedStaff {
    name: Option<String>,
    places: Vec<Place>,
    place_of: HashMap<AttackId, usize>,
    systems: Vec<System>,
}

/// A stretch of the page from side to side that a page break may not cut: a line of it with all its staves, what
/// stands over the first, or what stands under the last.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Its upper end, in staff spaces from the top of the page.
    pub top: f64,
    /// Its lower end.
    pub bottom: f64,
    /// Which of the scene's items belong to it.
    pub items: Range<usize>,
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

/// A staff of one line of the page, in staff spaces from the top left of the page.
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
    /// The base line of its counts, the first line of them if there are several; without counts the lower end of what
    /// stands under the staff.
    pub counts: f64,
    /// The base line of every count line, from the top.
    pub count_lines: Vec<f64>,
    /// The middle of the row of what the hands do, if it is shown.
    pub hands: Option<f64>,
    /// The middle of the row of the foot's way, if it is counted.
    pub(crate) feet: Option<f64>,
    /// The base line of the sticking, if there is one.
    pub(crate) sticking: Option<f64>,
    /// The base line of the letters of loudness, if there are any.
    pub(crate) dynamics: Option<f64>,
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
    let staff = Staff { name: None, rhythm, countings: vec![counting], shares_line: false };
    engrave_staves(&[staff], layout)
}

/// Lays out one staff or several that are played together, joined by a bracket, their bar lines going through; under
/// each as many count lines as it has. Two voices on one line stand with their stems up and down, rests apart, and
/// the lower one's count lines under the upper one's.
///
/// Title, tempo, repeats and whatever else stands over the notes are those of the first.
///
/// # Errors
/// If the layout leaves no room for a staff, there is no staff, one has other bars than the first or shares a
/// line that is not there or full, or a count line belongs to another rhythm.
pub fn engrave_staves(staves: &[Staff<'_>], layout: &Layout) -> Result<Engraving, Error> {
    layout.check()?;
    Staff::check(staves)?;
    let plans = plan::plan(staves, layout);
    let frame = Frame::of(staves, layout);
    if frame.room() < crate::limits::LEAST_WIDTH - 2.0 * Layout::MARGIN {
        return Err(Error::Width { width: layout.width, room_left: frame.left - Layout::MARGIN });
    }
    let rows = placing::rows(&plans, frame, layout);
    let mut items = Vec::new();
    let mut reached = Layout::MARGIN;
    if layout.head {
        reached = draw::head(&mut items, staves[0].rhythm, layout);
    }
    let head = layout.head.then_some(Band { top: Layout::MARGIN, bottom: reached, items: 0..items.len() });
    let inks: Vec<_> = rows.iter().map(|row| draw::bars(&plans, row, staves, layout)).collect();
    let under = Under::all(&plans, &inks, layout);
    let (mut systems, mut sheets) = (Vec::with_capacity(rows.len()), Vec::with_capacity(rows.len()));
    for (row, inks) in rows.iter().zip(inks) {
        let row_systems = vertical::systems(&plans, row, &inks, &under, (frame, layout, reached));
        sheets.push(draw::row(&plans, row, inks, &row_systems, staves, layout));
        reached = row_systems.last().map_or(reached, |last| last.bottom) + metrics::SYSTEM_GAP;
        systems.push(row_systems);
    }
    let mut sheets = Sheets { plans: &plans, rows: &rows, systems: &systems, layout, items: sheets };
    for (staff, under) in under.iter().enumerate() {
        ties::ties(&mut sheets, staff);
        dynamics::dynamics(&mut sheets, staff);
        if layout.count_style.shown == CountsShown::Written {
            (0..under.lines()).for_each(|line| counts::held_lines(&mut sheets, staff, line));
            hands::hands(&mut sheets, staff);
        }
    }
    let bands = bands(&mut items, sheets.items, &systems);
    let bottom = reached - metrics::SYSTEM_GAP;
    let before = items.len();
    let top = bottom + metrics::SYSTEM_GAP / 2.0;
    let end = draw::legend(&mut items, layout, top);
    let foot = (items.len() > before).then_some(Band { top, bottom: end, items: before..items.len() });
    let widest = systems.iter().flatten().map(|system| system.right).fold(frame.right, f64::max);
    let scene = Scene {
        width: widest + Layout::MARGIN,
        height: foot.as_ref().map_or(bottom, |foot| foot.bottom) + Layout::MARGIN,
        items,
    };
    let passages = places::passages(&plans, &rows);
    let staves = staves.iter().enumerate().map(|(index, staff)| {
        let places = places::places(&plans, &rows, index);
        let place_of = places.iter().enumerate().map(|(index, place)| (place.id, index)).collect();
        let systems = systems.iter().map(|row| row[index].clone()).collect();
        EngravedStaff { name: staff.name.map(str::to_owned), places, place_of, systems }
    });
    Ok(Engraving { scene, layout: *layout, staves: staves.collect(), passages, bands, head, foot })
}

/// Puts the items of all rows behind those that are there, and tells which they are.
fn bands(items: &mut Vec<Item>, sheets: Vec<Vec<Item>>, systems: &[Vec<System>]) -> Vec<Band> {
    let mut bands = Vec::with_capacity(sheets.len());
    for (sheet, row) in sheets.into_iter().zip(systems) {
        let first = items.len();
        items.extend(sheet);
        if let [upper, ..] = row.as_slice() {
            let bottom = row.last().map_or(upper.bottom, |lower| lower.bottom);
            bands.push(Band { top: upper.top, bottom, items: first..items.len() });
        }
    }
    bands
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

    /// Its staves from the top; never empty.
    #[must_use]
    pub fn staves(&self) -> &[EngravedStaff] {
        &self.staves
    }

    /// The lines of the page from the top, each with all its staves: what a page break may not cut. Between two of
    /// them it may.
    #[must_use]
    pub fn bands(&self) -> &[Band] {
        &self.bands
    }

    /// Title and tempo, if they are shown.
    #[must_use]
    pub fn head(&self) -> Option<&Band> {
        self.head.as_ref()
    }

    /// The legend, if it is shown.
    #[must_use]
    pub fn foot(&self) -> Option<&Band> {
        self.foot.as_ref()
    }

    /// Every place of the performed rhythm in order of time. Where repeats stand between signs, the
    /// places of every pass stand at the same x.
    #[must_use]
    pub fn places(&self) -> &[Place] {
        self.staves[0].places()
    }

    /// The place of that name, or `None` if no symbol and no count stands there.
    #[must_use]
    pub fn place(&self, id: AttackId) -> Option<&Place> {
        self.staves[0].place(id)
    }

    /// The lines of the page from the top.
    #[must_use]
    pub fn systems(&self) -> &[System] {
        self.staves[0].systems()
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
            Some(&(to, end)) => x + (end - x) * part_of(position - from, to - from),
        };
        Some((passage.system, x))
    }

    /// The rhythm in words, for a reader who does not see the page: `Bar 1: 1, 2, &, hold 3, rest 4.` Of several
    /// staves one after the other, by their names.
    #[must_use]
    pub fn description(&self) -> String {
        let of_staff = |staff: &EngravedStaff| {
            let name = staff.name.as_ref().filter(|_| self.staves.len() > 1);
            name.map_or_else(String::new, |name| format!("{name}. ")) + &staff.description()
        };
        self.staves.iter().map(of_staff).collect::<Vec<_>>().join(" ")
    }
}

impl EngravedStaff {
    /// The part's name.
    #[must_use]
    pub fn name(&self) -> Option<&str> {
        self.name.as_deref()
    }

    /// Every place of the performed rhythm in order of time.
    #[must_use]
    pub fn places(&self) -> &[Place] {
        &self.places
    }

    /// The place of that name, or `None` if no symbol and no count stands there.
    #[must_use]
    pub fn place(&self, id: AttackId) -> Option<&Place> {
        self.place_of.get(&id).map(|&index| &self.places[index])
    }

    /// The staff in every line of the page, from the top.
    #[must_use]
    pub fn systems(&self) -> &[System] {
        &self.systems
    }

    fn description(&self) -> String {
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
