//! What both forms of a bar come to.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::Range;
use std::sync::Arc;

use timebase::Span;

use super::Diagnostic;
use crate::bar::Rare;
use crate::{Bar, BarsOfRest, Deed, Dynamics, Error, Event, Form, Marks, Meter, TempoMark};

/// A bar as it was read, with the place of every event.
#[derive(Clone, Debug)]
pub(super) struct WrittenBar {
    pub(super) meter: Meter,
    pub(super) form: Form,
    pub(super) pickup: bool,
    /// Like bars share them.
    pub(super) events: Arc<[Event]>,
    /// Where each of them was written; one place for all in a bar written as `%` and in a rest of several bars.
    places: Box<[Place]>,
    rare: Option<Box<Rare>>,
    /// Where the bar was written as `%`; its marks are those of the bar before unless it has some of its own.
    pub(super) same_again: bool,
    /// Where its text begins, by which the lines of marks below find it.
    pub(super) begins: usize,
}

/// The bytes of something written, which a text has fewer of than 32 bits count: of all that is kept beside the events
/// while a text is read this is the most.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place {
    from: u32,
    to: u32,
}

impl Place {
    pub(super) fn new(span: &Range<usize>) -> Self {
        let place = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        Self { from: place(span.start), to: place(span.end) }
    }

    pub(super) fn span(self) -> Range<usize> {
        let place = |at: u32| usize::try_from(at).unwrap_or(usize::MAX);
        place(self.from)..place(self.to)
    }
}

/// Events as they are read, each with its place.
#[derive(Debug, Default)]
pub(super) struct Written {
    pub(super) events: Vec<Event>,
    pub(super) places: Vec<Place>,
}

impl Written {
    pub(super) fn with_capacity(many: usize) -> Self {
        Self { events: Vec::with_capacity(many), places: Vec::with_capacity(many) }
    }

    pub(super) fn push(&mut self, event: Event, span: &Range<usize>) {
        self.events.push(event);
        self.places.push(Place::new(span));
    }
}

/// The different bars read so far: a bar like one of them takes its events, so that a text takes the memory of its
/// different bars alone. They stand in a table, each near the slot its hash points to; where there is no room near it, or
/// in the whole table, a bar keeps its events for itself.
#[derive(Debug)]
pub(super) struct Alike {
    slots: Vec<Option<Arc<[Event]>>>,
    kept: usize,
}

impl Default for Alike {
    fn default() -> Self {
        Self { slots: vec![None; Self::LEAST], kept: 0 }
    }
}

impl Alike {
    /// Slots, of 16 bytes each, in a text with few different bars and at most: powers of two. Half of them stay free.
    const LEAST: usize = 1 << 10;
    const MOST: usize = 1 << 18;
    /// Slots that are looked at for one bar: more than ever are, but in a text that is made to hit always the same.
    const NEAR: usize = 64;

    /// The same events, shared with the first bar that had them.
    pub(super) fn share(&mut self, events: &mut Arc<[Event]>) {
        let Some(slot) = self.slot(events) else { return };
        if let Some(known) = &self.slots[slot] {
            *events = Arc::clone(known);
        } else if 2 * self.kept < Self::MOST {
            self.slots[slot] = Some(Arc::clone(events));
            self.kept += 1;
            if 2 * self.kept > self.slots.len() {
                self.grow();
            }
        }
    }

    fn grow(&mut self) {
        let larger = vec![None; 2 * self.slots.len()];
        let known = std::mem::replace(&mut self.slots, larger);
        for events in known.into_iter().flatten() {
            if let Some(slot) = self.slot(&events) {
                self.slots[slot] = Some(events);
            }
        }
    }

    /// Where these events are, or the free slot where they would be.
    fn slot(&self, events: &[Event]) -> Option<usize> {
        let bits = self.slots.len().trailing_zeros();
        let first = usize::try_from(hash(events) >> (64 - bits)).ok()?;
        let mut near = (first..first + Self::NEAR).map(|slot| slot % self.slots.len());
        near.find(|slot| self.slots[*slot].as_deref().is_none_or(|known| known == events))
    }
}

/// A number that like events have in common, and others hardly ever.
fn hash(events: &[Event]) -> u64 {
    events.iter().fold(0, |hash, event| {
        let numbers = [event.at.numerator(), event.length.numerator(), event.length.denominator()];
        let rest = if event.marks == Marks::NONE {
            event.deed as u64
        } else {
            let mut hasher = DefaultHasher::new();
            event.marks.hash(&mut hasher);
            hasher.finish()
        };
        numbers.iter().fold(hash ^ rest, |hash, number| {
            (hash.rotate_left(5) ^ number.unsigned_abs()).wrapping_mul(0x9E37_79B9_7F4A_7C15)
        })
    })
}

impl WrittenBar {
    pub(super) fn new(meter: Meter, form: Form, pickup: bool, written: Written) -> Self {
        Self {
            meter,
            form,
            pickup,
            events: written.events.into(),
            places: written.places.into(),
            rare: None,
            same_again: false,
            begins: 0,
        }
    }

    /// Whether it goes on where the bar before it was cut.
    pub(super) fn goes_on(&self) -> bool {
        !self.pickup && self.events.first().is_some_and(|first| first.at.is_positive())
    }

    /// Where its event number `index`, from 0, was written.
    pub(super) fn place(&self, index: usize) -> Option<Range<usize>> {
        self.places.get(index).or(self.places.last()).map(|place| place.span())
    }

    /// The same with something that few bars have.
    pub(super) fn with(self, change: impl FnOnce(&mut Rare)) -> Self {
        Self { rare: Rare::changed(self.rare, change), ..self }
    }

    /// The same, its text beginning at the byte `begins`, and this change of tempo before it.
    pub(super) fn opened(self, begins: usize, tempo: Option<TempoMark>) -> Self {
        let bar = Self { begins, ..self };
        if tempo.is_none() { bar } else { bar.with(|rare| rare.tempo = tempo) }
    }

    /// How loud it is, to be changed.
    pub(super) fn dynamics_mut(&mut self) -> &mut Dynamics {
        &mut self.rare.get_or_insert_default().dynamics
    }

    /// Which of several bars of rest written as one it is.
    pub(super) fn rest(&self) -> Option<BarsOfRest> {
        self.rare.as_ref().and_then(|rare| rare.rest)
    }

    /// The same, all of it written at `span`.
    pub(super) fn at(self, span: &Range<usize>) -> Self {
        Self { places: Box::new([Place::new(span)]), ..self }
    }

    /// The bar of the model.
    pub(super) fn bar(&mut self, number: u32) -> Result<Bar, Error> {
        let bar = Bar::sharing(number, self.meter, self.form, Arc::clone(&self.events))?;
        let Some(rare) = self.rare.take() else { return Ok(bar) };
        let bar = bar.with_tuplets(rare.tuplets)?.with_dynamics(rare.dynamics).with_tempo(rare.tempo);
        match rare.rest {
            Some(rest) => bar.with_rest(rest),
            None => Ok(bar),
        }
    }
}

/// What a bar is read with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting {
    pub(super) meter: Meter,
    /// Whether it stands before the first bar line, and so may begin late.
    pub(super) pickup: bool,
    /// What sounds when it begins.
    pub(super) before: Sound,
    /// Where it begins when that was written: `[from 1/2]`.
    pub(super) from: Option<Span>,
    /// Where it ends when that was written: `[lasts 1/2]`.
    pub(super) until: Option<Span>,
    /// Where it may end besides: the last bar of a rhythm with a pickup is its complement.
    pub(super) complement: Option<Span>,
}

/// What sounds when a bar begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sound {
    Silent,
    Sounding,
    /// The bar before could not be read.
    Unknown,
}

impl Sound {
    pub(super) fn after(deed: Deed) -> Self {
        if deed == Deed::Rest { Self::Silent } else { Self::Sounding }
    }
}

/// The error of a hold with silence, or nothing, before it.
pub(super) fn nothing_to_hold(span: Range<usize>) -> Diagnostic {
    let help = "a hold follows an attack or another hold: write the count without `_` to strike it, or in parentheses for silence";
    Diagnostic::error(span, "nothing sounds before this hold", help)
}
