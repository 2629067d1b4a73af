//! From places in cells to bars: how long each attack is written, and in which form.

use rhythm::spelling::spell;
use rhythm::{Bar, Deed, Event, Form, Grace, Marks, division};
use timebase::Span;

use super::cell_steps::{Role, roles};
use super::course::{Beat, Plan};
use super::heard::{Heard, normal};
use super::pattern::TICKS;
use super::posterior::Way;
use super::timing::PlannedBar;
use super::vocabulary::{Cell, Taught, Vocabulary};

/// How long a sound is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Ends {
    /// As it was played, where strokes have a release and the releases tell something; else as [`Ends::NextAttack`].
    #[default]
    AsPlayed,
    /// To the next attack, but over a bar line only to an attack within the next bar's first beat; otherwise to the end
    /// of its bar.
    NextAttack,
    /// To the next attack, at most to the end of its beat.
    Beat,
}

/// An attack with its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Note {
    pub(super) stroke: usize,
    /// From where the first planned bar begins.
    pub(super) at: Span,
    pub(super) cell: usize,
    pattern: usize,
    grace: usize,
}

/// What the strokes became.
#[derive(Debug, Default)]
pub(super) struct Notes {
    pub(super) notes: Vec<Note>,
    /// Strokes that are not written.
    pub(super) left_out: Vec<usize>,
}

/// Everything that notes are written with.
pub(super) struct Page<'a> {
    pub(super) heard: &'a Heard,
    pub(super) plan: &'a Plan<'a>,
    pub(super) beat: &'a Beat,
    pub(super) bars: &'a [PlannedBar],
    pub(super) vocabulary: Vocabulary,
    pub(super) ends: Ends,
}

impl Page<'_> {
    fn bar_of(&self, cell: usize) -> usize {
        self.bars.partition_point(|bar| bar.cell <= cell).saturating_sub(1)
    }

    fn cell_at(&self, cell: usize) -> Span {
        let bar = &self.bars[self.bar_of(cell)];
        bar.at + bar.cell_length * i64::try_from(cell - bar.cell).unwrap_or(i64::MAX)
    }

    /// The notes of a way that begins with cell `first`.
    pub(super) fn notes(&self, first: usize, way: &Way) -> Notes {
        let mut notes = Notes::default();
        let mut leading: Vec<usize> = Vec::new();
        for (cell, (from, step)) in (first..).zip(way) {
            let patterns = self.plan.patterns(cell);
            let pattern = &patterns.list[step.pattern];
            let length = self.bars[self.bar_of(cell)].cell_length;
            let expected = self.beat.expected(cell);
            for (stroke, role) in (*from..).zip(roles(self.heard, patterns, *from, step, &expected)) {
                match role {
                    Role::Grace => leading.push(stroke),
                    Role::Slip => notes.left_out.push(stroke),
                    Role::Attack(index) => {
                        let into = length * i64::from(pattern.ticks[index]) / i64::from(TICKS);
                        let grace = leading.len();
                        leading.clear();
                        let at = self.cell_at(cell) + into;
                        notes.notes.push(Note { stroke, at, cell, pattern: step.pattern, grace });
                    }
                }
            }
        }
        notes.left_out.extend(leading);
        notes
    }

    /// Where the sound of `note` ends when `next` follows it.
    fn end(&self, note: &Note, next: Option<&Note>, released: bool) -> Span {
        let index = self.bar_of(note.cell);
        let bar = &self.bars[index];
        let bar_ends = bar.at + bar.meter.bar_length();
        let beat = bar.meter.felt_beat();
        let beat_of = |at: Span, bar: &PlannedBar| at - (at - bar.at).modulo(bar.meter.felt_beat());
        let beat_ends = (beat_of(note.at, bar) + beat).min(bar_ends);
        let to_next = match next {
            Some(next) if next.at <= bar_ends => next.at,
            Some(next) => {
                let into_next = self
                    .bars
                    .get(index + 1)
                    .is_some_and(|later| next.at < later.at + later.meter.felt_beat());
                if into_next { next.at } else { bar_ends }
            }
            None => bar_ends,
        };
        if released && let Some(end) = self.released(note, next) {
            return end;
        }
        if self.ends == Ends::Beat {
            return to_next.min(beat_ends);
        }
        // What has not been taught is written with a rest instead.
        let on_beat = (note.at - bar.at).is_multiple_of(beat);
        let last = next.map_or(bar, |next| &self.bars[self.bar_of(next.cell)]);
        let last_beat = beat_of(to_next, last);
        if on_beat && !self.vocabulary.has(Taught::Dotted) && last_beat < to_next && last_beat > note.at {
            return last_beat;
        }
        if !on_beat && !self.vocabulary.has(Taught::Syncopation) && to_next > beat_ends {
            return beat_ends;
        }
        to_next
    }

    /// Where a key that was let go ends its note: at the next attack, or at a place of the beat where a rest begins.
    ///
    /// A key is let go near the written end, or some way before it: about three quarters through.
    fn released(&self, note: &Note, next: Option<&Note>) -> Option<Span> {
        let let_go = self.heard.released[note.stroke]?;
        let begins = self.heard.at[note.stroke];
        let error = (1.5 * self.beat.spread).max(0.003);
        let fits = |end: Span, legato: bool| {
            let lasts = (self.seconds(end) - self.seconds(note.at)).max(1e-3);
            let sounds = (let_go - begins).max(0.0);
            // A key may be held over the next attack.
            let sounds = if legato { sounds.min(lasts) } else { sounds };
            let exact = normal(sounds - lasts, error * error).exp();
            let early = normal(sounds / lasts - 0.75, 0.15 * 0.15).exp() / lasts;
            (0.6 * exact + 0.4 * early).ln()
        };
        let limit = next.map(|next| next.at);
        let last_cell = next.map_or(self.plan.cells.len() - 1, |next| next.cell);
        // A key held beyond the last cell ends there.
        let mut best: Option<(f64, Span)> = limit.map(|at| (0.7_f64.ln() + fits(at, true), at));
        let mut consider = |weight: f64, at: Span| {
            if best.is_none_or(|(before, _)| weight > before) {
                best = Some((weight, at));
            }
        };
        for cell in note.cell..=last_cell {
            let bar = &self.bars[self.bar_of(cell)];
            let begins = self.cell_at(cell);
            let kind = Cell { length: bar.cell_length, in_three: Cell::of(bar.meter).in_three };
            let struck: &[u32] = match next {
                _ if cell == note.cell => &self.plan.patterns(cell).list[note.pattern].ticks,
                Some(next) if cell == next.cell => &self.plan.patterns(cell).list[next.pattern].ticks,
                _ => &[],
            };
            for parts in self.vocabulary.parts(kind) {
                let step = TICKS / parts;
                if struck.iter().any(|tick| !tick.is_multiple_of(step)) {
                    continue;
                }
                let chance: f64 = match parts {
                    1 => 0.1,
                    2 | 3 => 0.06,
                    _ => 0.03,
                };
                for part in 1..=parts {
                    let at = begins + bar.cell_length * i64::from(part) / i64::from(parts);
                    let inside = limit.is_none_or(|limit| at < limit);
                    if at > note.at && inside {
                        consider(chance.ln() + fits(at, false), at);
                    }
                }
            }
            // Beyond where it was let go no rest begins.
            if self.beat.begins[cell] > let_go {
                break;
            }
        }
        best.map(|(_, at)| at)
    }

    /// When a place is, on the player's beat.
    fn seconds(&self, at: Span) -> f64 {
        let bar = self.bars.partition_point(|bar| bar.at <= at).saturating_sub(1);
        let bar = &self.bars[bar];
        let cells = (at - bar.at).in_units_of(bar.cell_length);
        let whole = cells.floor().to_integer();
        let part = cells - cells.floor();
        let part = *part.numer() as f64 / *part.denom() as f64;
        let cell = bar.cell + usize::try_from(whole).unwrap_or(0);
        let last = self.beat.begins.len() - 2;
        let index = cell.min(last);
        let lasts = self.beat.begins[index + 1] - self.beat.begins[index];
        self.beat.begins[index] + ((cell - index) as f64 + part) * lasts
    }

    /// Whether the releases tell anything: those of pads are made up, all alike or far too short.
    pub(super) fn releases_tell(&self, notes: &[Note]) -> bool {
        if self.ends != Ends::AsPlayed {
            return false;
        }
        let lasting: Vec<(f64, f64)> = notes
            .windows(2)
            .filter_map(|pair| {
                let (here, next) = (pair[0].stroke, pair[1].stroke);
                Some((
                    self.heard.released[here]? - self.heard.at[here],
                    self.heard.at[next] - self.heard.at[here],
                ))
            })
            .collect();
        if lasting.is_empty() {
            return notes.iter().any(|note| {
                self.heard.released[note.stroke].is_some_and(|r| r - self.heard.at[note.stroke] > 0.1)
            });
        }
        let short = lasting.iter().filter(|(sounds, gap)| *sounds < 0.3 * gap).count();
        let range = |values: &mut dyn Iterator<Item = f64>| {
            let (least, most) = values.fold((f64::INFINITY, 0.0_f64), |(a, b), v| (a.min(v), b.max(v)));
            most - least
        };
        let alike = range(&mut lasting.iter().map(|(sounds, _)| *sounds)) < 0.006;
        let gaps_alike = range(&mut lasting.iter().map(|(_, gap)| *gap)) < 0.05;
        2 * short <= lasting.len() && (!alike || gaps_alike)
    }

    /// The events of planned bar `index`, in which `notes` sound: all of the bar, the one before it and the one after.
    pub(super) fn events(&self, index: usize, notes: &[Note], released: bool) -> Vec<Event> {
        let bar = &self.bars[index];
        let (begins, ends) = (bar.at, bar.at + bar.meter.bar_length());
        let mut events: Vec<Event> = Vec::new();
        let mut reached = begins;
        let rest_to = |events: &mut Vec<Event>, reached: Span, to: Span| {
            if to > reached {
                events.push(Event::new(reached - begins, to - reached, Deed::Rest));
            }
        };
        for (place, note) in notes.iter().enumerate() {
            let next = notes.get(place + 1);
            let end = self.end(note, next, released).min(ends);
            if note.at >= ends || end <= begins {
                continue;
            }
            let from = note.at.max(begins);
            rest_to(&mut events, reached, from);
            let deed = if note.at >= begins { Deed::Attack } else { Deed::Hold };
            let grace = if deed == Deed::Attack {
                Grace::of_strokes(note.grace.min(3)).unwrap_or_default()
            } else {
                Grace::None
            };
            events
                .push(Event::new(from - begins, end - from, deed).with_marks(Marks { grace, ..Marks::NONE }));
            reached = end;
        }
        rest_to(&mut events, reached, ends);
        events
    }

    /// The bar of these events, which follow one another: in counts where every place has a word, else in lengths.
    pub(super) fn bar(&self, number: u32, index: usize, events: Vec<Event>) -> Result<Bar, rhythm::Error> {
        let meter = self.bars[index].meter;
        let bar = Bar::cut(number, meter, Form::Counts, events)?;
        let worded = |event: &Event| {
            let (beat, part) = meter.beat_of(event.at);
            division::word_at(bar.beat_division(beat), part).is_some()
        };
        if bar.events().iter().all(worded) {
            return Ok(bar);
        }
        // One symbol an event: what the spelling ties together is written as attack and holds.
        let spelled = spell(&bar);
        let events = spelled
            .iter()
            .map(|note| {
                let source = bar.events().iter().find(|event| event.at == note.at);
                let marks = source.map_or(Marks::NONE, |event| event.marks);
                Event::new(note.at, note.length, note.deed).with_marks(marks)
            })
            .collect();
        Bar::cut(number, meter, Form::Lengths, events)
    }
}
