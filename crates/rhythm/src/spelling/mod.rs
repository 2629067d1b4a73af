//! Lengths made note values: which symbol, how many dots, tied or not, in which tuplet, under which beam.
//!
//! [`spell`] turns the events of a bar into [`Note`]s. A bar written in lengths keeps its author's values
//! wherever one symbol can show them, and the tuplets its author wrote stand as they are; a bar written in
//! counts is spelled by these rules (read in open teaching texts, or from memory where it says so).
//! [`spell_by_rules`] spells any bar by them, and [`remarks`] tells where its author did otherwise:
//!
//! - A length keeps one symbol if it crosses no boundary of the meter stronger than the one it begins at;
//!   else it is cut at the strongest boundary inside, the parts again, and tied (from memory). So nothing
//!   crosses the middle of 4/4 unless it begins with the bar.
//! - Accepted all the same (from memory): short, long, short, where the long note fills the middle of a
//!   whole bar in two or four, of half a bar or of a beat (quarter, half, quarter; eighth, quarter, eighth);
//!   and short, long within a beat (sixteenth, dotted eighth).
//! - Rests show each beat. No half rest in 3/4; in 4/4 only on beats 1–2 or 3–4. Inside a beat they fill
//!   to the half beat. In compound meter: a dotted quarter rest for a beat, inside it a quarter and an
//!   eighth. A silent full bar is one whole-bar rest in any meter.
//! - Thirds and sixths of a beat that divides in two stand in a triplet or sextuplet that begins and ends
//!   with the beat, or with its half; a note that enters or leaves it is cut there. Equal notes that fill
//!   several beats together (three in the time of a half bar) stand in one tuplet.
//! - Declared groups (7/8 in 2+2+3, 4/4 in 3+3+2) are the only division of their bar: a note across groups
//!   lasts whole groups, else it is cut (from memory); a group of three eighths is a beat in three. Groups
//!   that the meter has by itself (4/4 in 4+4 eighths) only tell how it is beamed.
//! - Beams join by beat. Two beats of a half bar share one beam if they are four plain eighths, never
//!   across the middle of 4/4; 6/8, 9/8 and 12/8 in threes (from memory); declared groups as declared (from
//!   memory). A bar of five or seven units whose grouping nobody declared is beamed by the unit. A beam
//!   passes over a rest that lies inside it and is shorter than a quarter, never over a longer one.
//!
//! Notes with [`Tuplet`]s one in another name both. What lasts so many parts of a whole note that no page
//! shows it is one symbol with a ratio of its own. The work grows with the number of events of a bar alone.
//!
//! ```
//! use rhythm::spelling::{Value, spell};
//!
//! let reading = rhythm::text::read("meter: 4/4\n| 1 & 2 3 & 4 & |");
//! let notes = spell(&reading.rhythm.expect("no errors").bars()[0]);
//! assert_eq!((notes[0].value, notes[0].beam), (Value::Eighth, Some(0)));
//! assert_eq!((notes[2].value, notes[2].beam), (Value::Quarter, None));
//! ```

mod beam;
mod cell;
mod cut;
mod note;
mod region;
mod remark;
mod symbol;
#[cfg(test)]
mod tests;
mod tuplet;
mod words;

use self::cell::Cell;
use self::cut::{Piece, Rules};
pub use self::note::{Note, OuterTuplet, Tuplet, Value};
use self::region::{Region, Regions, Standing, Walk};
pub use self::remark::{Boundary, Oddity, Remark, remarks};
use self::symbol::Symbol;
pub use self::words::{Around, bar_words, bars_in_words, with_marks, words};
use crate::{Bar, Deed, Event, Form, Marks};

/// The finest common denominator of a bar's places that is spelled by the rules. It leaves room for
/// sixty-fourths in tuplets of any size in use, one in another, and keeps all sums inside the limit of
/// musical time; beyond it every event gets one symbol, inside the tuplets of its author.
const FINEST: i64 = 1 << 18;

/// Whose note values a bar is spelled with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Values {
    /// The author's, as far as one symbol shows each.
    Authors,
    /// Those that the rules give.
    Rules,
}

impl Values {
    /// Two dots stand only where an author wrote them.
    fn most_dots(self) -> u8 {
        match self {
            Self::Authors => 2,
            Self::Rules => 1,
        }
    }
}

/// How the eighths of 3/4 are beamed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum ThreeFour {
    /// In pairs, by beat.
    #[default]
    Pairs,
    /// All six of a bar together, where they are plain eighths.
    Six,
}

/// What the rules leave open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct House {
    /// How the eighths of 3/4 are beamed (read in open teaching texts: pairs, or six).
    pub three_four: ThreeFour,
}

/// The symbols of a bar in order: their lengths fill it from [`Bar::start`] to [`Bar::end`], and every event
/// begins with a symbol.
///
/// An attack that needs several symbols is an attack followed by holds tied to it. Every note's
/// `length` is its value with its dots, times [`Tuplet::ratio`]; only a whole-bar rest lasts as long as its
/// bar, and only in a bar that is full. A length that no dotted value shows (a fifth of a whole note by itself,
/// or anything shorter than a sixty-fourth) gets a tuplet of its own that makes it exact.
#[must_use]
pub fn spell(bar: &Bar) -> Vec<Note> {
    spell_in(bar, House::default())
}

/// The symbols of a bar, what the rules leave open as told; otherwise as [`spell`].
#[must_use]
pub fn spell_in(bar: &Bar, house: House) -> Vec<Note> {
    let values = match bar.form() {
        Form::Counts => Values::Rules,
        Form::Lengths => Values::Authors,
    };
    spelled(bar, bar.events(), bar.tuplets(), values, house).notes
}

/// The symbols that the rules give a bar, whatever values, ties, beams and tuplets its author wrote: what sounds
/// or is silent goes on as one length as far as it can.
///
/// A tie stays where a mark stands on the held note, and tuplets one in another stay as they are: no rule
/// gives them. It fills the bar as [`spell`] does, but an event that only goes on need not begin with a symbol.
#[must_use]
pub fn spell_by_rules(bar: &Bar, house: House) -> Vec<Note> {
    let kept = nested(bar.tuplets());
    let usual = spelled(bar, &sounding(bar, &kept), &kept, Values::Rules, house);
    if usual.is_odd && kept.len() < bar.tuplets().len() {
        return spelled(bar, &sounding(bar, bar.tuplets()), bar.tuplets(), Values::Rules, house).notes;
    }
    usual.notes
}

/// The author's tuplets that hold another or stand in one.
fn nested(tuplets: &[crate::Tuplet]) -> Vec<crate::Tuplet> {
    let mut kept = Vec::new();
    let mut rest = tuplets;
    while let Some(first) = rest.first() {
        let many = rest.iter().take_while(|tuplet| tuplet.at < first.end()).count();
        if many > 1 {
            kept.extend_from_slice(&rest[..many]);
        }
        rest = &rest[many..];
    }
    kept
}

/// The events of a bar with every sound and every silence in one, but for what begins or ends with one of
/// `tuplets` or bears a mark.
fn sounding(bar: &Bar, tuplets: &[crate::Tuplet]) -> Vec<Event> {
    let mut edges: Vec<_> = tuplets.iter().flat_map(|tuplet| [tuplet.at, tuplet.end()]).collect();
    edges.sort_unstable();
    let mut edges = edges.into_iter().peekable();
    let mut events: Vec<Event> = Vec::with_capacity(bar.events().len());
    for event in bar.events() {
        while edges.next_if(|&edge| edge < event.at).is_some() {}
        let goes_on = event.marks == Marks::NONE && edges.peek() != Some(&event.at);
        match events.last_mut() {
            Some(before) if goes_on && goes_on_from(before.deed, event.deed) => before.length += event.length,
            _ => events.push(Event { beam_broken: false, ..*event }),
        }
    }
    events
}

/// Whether an event of this deed is more of the same.
fn goes_on_from(before: Deed, deed: Deed) -> bool {
    match deed {
        Deed::Attack => false,
        Deed::Hold => before != Deed::Rest,
        Deed::Rest => before == Deed::Rest,
    }
}

/// A bar being spelled.
struct Spelled {
    notes: Vec<Note>,
    /// Whether the author broke the beam before each note.
    broken: Vec<bool>,
    /// The next free tuplet index.
    spare: usize,
    /// Whether a symbol needed a ratio of its own.
    is_odd: bool,
}

fn spelled(bar: &Bar, events: &[Event], tuplets: &[crate::Tuplet], values: Values, house: House) -> Spelled {
    let many = events.len() + 2;
    let (notes, broken) = (Vec::with_capacity(many), Vec::with_capacity(many));
    let mut spelled = Spelled { notes, broken, spare: 0, is_odd: false };
    if let [event] = events
        && event.deed == Deed::Rest
        && event.length == bar.meter().bar_length()
    {
        let (at, length, deed, value) = (event.at, event.length, Deed::Rest, Value::Whole);
        let rest = Note { at, length, deed, value, dots: 0, tuplet: None, beam: None, whole_bar: true };
        spelled.notes.push(rest);
        return spelled;
    }
    let grid = Cell::bar(bar.meter());
    let places = events.iter().map(|event| event.at).chain([bar.end()]);
    let is_fine = tuplet::common_denominator(places, FINEST).is_some();
    let derived = if is_fine { tuplet::derived(bar, grid, events, tuplets, values) } else { None };
    let follows_rules = derived.is_some();
    let mut all = derived.unwrap_or_default();
    // Author's tuplets stand all the same, if what is in them can be reckoned with.
    if events.iter().all(|event| event.length.denominator() <= FINEST) {
        all.extend(tuplets.iter().map(|tuplet| {
            let crate::Tuplet { at, length, actual, normal } = *tuplet;
            Region { at, length, actual, normal, is_authors: true }
        }));
    }
    let regions = Regions::new(all);
    spelled.spare = regions.len();
    let (rules, mut walk) = (Rules::bar(bar.meter()), Walk::new(&regions));
    for event in events {
        let mut rest = Piece { at: event.at, length: event.length, deed: event.deed };
        loop {
            let (standing, edge) = walk.step(rest.at);
            let (piece, after) = match edge.filter(|&edge| edge < rest.end()) {
                Some(edge) => {
                    let (piece, after) = rest.parted(edge);
                    (piece, Some(after))
                }
                None => (rest, None),
            };
            match standing {
                _ if !follows_rules => spelled.push_one(piece, values, standing),
                None => spelled.push_parts(piece, grid, rules, values, None),
                Some(standing) => {
                    let (cell, at) = (standing.cell(), standing.inside(piece.at));
                    let inside = Piece { at, length: standing.written(piece.length), deed: piece.deed };
                    spelled.push_parts(inside, cell, Rules::tuplet(cell), values, Some(standing));
                }
            }
            let Some(after) = after else { break };
            rest = after;
        }
        // The beam is broken before the event, and so before the first of its symbols.
        let first = spelled.broken.len();
        spelled.broken.resize(spelled.notes.len(), false);
        spelled.broken[first] = event.beam_broken;
    }
    tuplet::number_sextuplets(regions.all(), &mut spelled.notes);
    beam::beam(bar.meter(), &regions, house, &spelled.broken, &mut spelled.notes);
    spelled
}

impl Spelled {
    /// One symbol, whatever the meter.
    fn push_one(&mut self, piece: Piece, values: Values, standing: Option<Standing>) {
        let length = standing.map_or(piece.length, |standing| standing.written(piece.length));
        let symbol = Symbol::of(length, values.most_dots()).unwrap_or_else(|| Symbol::exact(length));
        self.push(symbol, piece, standing);
    }

    /// What lies wholly inside or wholly outside a tuplet, measured as it is written there.
    fn push_parts(
        &mut self,
        piece: Piece,
        grid: Cell,
        rules: Rules,
        values: Values,
        standing: Option<Standing>,
    ) {
        let most_dots = values.most_dots();
        let sounding = |part: Piece| match standing {
            None => part,
            Some(standing) => {
                Piece { at: standing.outside(part.at), length: standing.sounding(part.length), ..part }
            }
        };
        if let Some(symbol) = Symbol::of(piece.length, most_dots).filter(|_| values == Values::Authors) {
            return self.push(symbol, sounding(piece), standing);
        }
        for part in cut::cut(grid, rules, piece) {
            let symbol = Symbol::of(part.length, most_dots).unwrap_or_else(|| Symbol::exact(part.length));
            self.push(symbol, sounding(part), standing);
        }
    }

    fn push(&mut self, symbol: Symbol, piece: Piece, standing: Option<Standing>) {
        self.notes.push(symbol.note(piece.at, piece.length, piece.deed, standing, self.spare));
        if symbol.is_odd() {
            self.spare += 1;
            self.is_odd = true;
        }
    }
}
