use std::sync::Arc;

use timebase::Span;

use crate::limits::BARS_OF_REST;
use crate::{Deed, Division, Dynamics, Error, Event, Meter, TempoMark, Tuplet, tuplet};

/// How a bar was written, and is written again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Form {
    /// In counts: `1 2 & 3`. The program chooses the note values.
    Counts,
    /// In lengths: `1/4 1/8 1/8`. The note values are the author's.
    Lengths,
}

/// Which of several bars of rest that are written as one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct BarsOfRest {
    /// This bar among them, from 1: what is said on its first beat.
    pub index: u32,
    /// How many they are.
    pub of: u32,
}

/// One written bar: its events fill it without gap or overlap.
///
/// A clone shares its events, and so do like bars that are read from one text.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Bar {
    number: u32,
    meter: Meter,
    form: Form,
    events: Arc<[Event]>,
    /// `None` where all of it is as in most bars.
    rare: Option<Box<Rare>>,
}

/// What few bars have, kept apart so that the others take less memory.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) struct Rare {
    pub(crate) tuplets: Vec<Tuplet>,
    pub(crate) dynamics: Dynamics,
    pub(crate) tempo: Option<TempoMark>,
    pub(crate) rest: Option<BarsOfRest>,
}

impl Rare {
    /// Changed, and `None` where all of it is as in most bars then.
    pub(crate) fn changed(rare: Option<Box<Self>>, change: impl FnOnce(&mut Self)) -> Option<Box<Self>> {
        let mut rare = rare.unwrap_or_default();
        change(&mut rare);
        Some(rare).filter(|rare| **rare != Self::default())
    }
}

impl Bar {
    /// A bar of these events.
    ///
    /// `number` is the written bar's: full bars from 1, a pickup is 0. A pickup's first event may begin
    /// after 0; any other bar's begins at 0.
    ///
    /// # Errors
    /// If the events leave a gap, overlap, are empty, or do not end with the bar, or if a mark stands where it
    /// cannot.
    pub fn new(number: u32, meter: Meter, form: Form, events: Vec<Event>) -> Result<Self, Error> {
        let bar = Self::cut(number, meter, form, events)?;
        if bar.end() != meter.bar_length() || (number > 0 && bar.start() != Span::ZERO) {
            let at = if number > 0 && bar.start() != Span::ZERO { bar.start() } else { bar.end() };
            return Err(Error::BarNotFilled { bar: number, meter, at });
        }
        Ok(bar)
    }

    /// A bar that may begin late or end early: the complement of a pickup, or the two halves of a bar that a
    /// repeat sign or a double bar line cuts in the middle.
    ///
    /// # Errors
    /// As [`Bar::new`], but the events need not begin at 0 nor end with the bar.
    pub fn cut(number: u32, meter: Meter, form: Form, events: Vec<Event>) -> Result<Self, Error> {
        Self::sharing(number, meter, form, events.into())
    }

    /// [`Bar::cut`] of events that other bars may have too.
    pub(crate) fn sharing(
        number: u32,
        meter: Meter,
        form: Form,
        events: Arc<[Event]>,
    ) -> Result<Self, Error> {
        let wrong = |at: Span| Error::BarNotFilled { bar: number, meter, at };
        let first = events.first().ok_or_else(|| wrong(Span::ZERO))?;
        if first.at < Span::ZERO {
            return Err(wrong(first.at));
        }
        let mut reached = first.at;
        for event in events.iter() {
            if event.at != reached || !event.length.is_positive() {
                return Err(wrong(event.at));
            }
            if event.deed != Deed::Attack && event.marks.need_an_attack() {
                return Err(Error::Marks { bar: number, at: event.at });
            }
            reached = reached.checked_add(event.length).ok_or_else(|| wrong(event.at))?;
        }
        if reached > meter.bar_length() {
            return Err(wrong(reached));
        }
        Ok(Self { number, meter, form, events, rare: None })
    }

    fn with(self, change: impl FnOnce(&mut Rare)) -> Self {
        Self { rare: Rare::changed(self.rare, change), ..self }
    }

    /// The same bar with the tuplets its author wrote, in the order of their places, an outer before its inner.
    ///
    /// Without them, thirds and other odd parts of a beat are gathered in tuplets when the bar is spelled.
    ///
    /// # Errors
    /// If one leaves the bar, cuts an event or another, stands deeper than one in another, or has a number outside
    /// [`TUPLET_PARTS`](crate::limits::TUPLET_PARTS).
    pub fn with_tuplets(self, tuplets: Vec<Tuplet>) -> Result<Self, Error> {
        let wrong = |at: Span| Error::Tuplets { bar: self.number, at };
        if let Some(tuplet) = tuplet::first_wrong(&tuplets) {
            return Err(wrong(tuplet.at));
        }
        for tuplet in &tuplets {
            // Its edges are edges of events, so it lies in the bar and cuts none.
            let begins = self.events.iter().any(|event| event.at == tuplet.at);
            let ends = self.events.iter().any(|event| event.end() == tuplet.end());
            if !begins || !ends {
                return Err(wrong(tuplet.at));
            }
        }
        if tuplets.is_empty() && self.rare.is_none() {
            return Ok(self);
        }
        Ok(self.with(|rare| rare.tuplets = tuplets))
    }

    /// The same bar with this loudness from its beginning.
    #[must_use]
    pub fn with_dynamics(self, dynamics: Dynamics) -> Self {
        if dynamics == self.dynamics() { self } else { self.with(|rare| rare.dynamics = dynamics) }
    }

    /// The same bar with a change of tempo at its beginning.
    #[must_use]
    pub fn with_tempo(self, tempo: Option<TempoMark>) -> Self {
        if tempo == self.tempo_mark() { self } else { self.with(|rare| rare.tempo = tempo) }
    }

    /// The same bar as one of several bars of rest written as one.
    ///
    /// # Errors
    /// If it is not silent and full, or the numbers are outside [`BARS_OF_REST`].
    pub fn with_rest(self, rest: BarsOfRest) -> Result<Self, Error> {
        let silent = matches!(self.events(), [event] if event.deed == Deed::Rest);
        if !silent || self.length() != self.meter.bar_length() {
            return Err(Error::BarNotFilled { bar: self.number, meter: self.meter, at: Span::ZERO });
        }
        if !BARS_OF_REST.holds(i64::from(rest.of)) || rest.index == 0 || rest.index > rest.of {
            return Err(Error::OutOfRange { given: i64::from(rest.of), limit: BARS_OF_REST });
        }
        Ok(self.with(|rare| rare.rest = Some(rest)))
    }

    /// The written bar's number: full bars from 1; a pickup is 0. The second half of a bar that was cut bears the
    /// number of the first.
    #[must_use]
    pub fn number(&self) -> u32 {
        self.number
    }

    /// Its meter and felt beat.
    #[must_use]
    pub fn meter(&self) -> Meter {
        self.meter
    }

    /// Its events in order, filling it from [`Bar::start`] to [`Bar::end`].
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// How it was written.
    #[must_use]
    pub fn form(&self) -> Form {
        self.form
    }

    /// The tuplets its author wrote, in the order of their places, an outer before its inner.
    #[must_use]
    pub fn tuplets(&self) -> &[Tuplet] {
        self.rare.as_ref().map_or(&[], |rare| rare.tuplets.as_slice())
    }

    /// How loud it is from its beginning.
    #[must_use]
    pub fn dynamics(&self) -> Dynamics {
        self.rare.as_ref().map_or(Dynamics::NONE, |rare| rare.dynamics)
    }

    /// The change of tempo at its beginning.
    #[must_use]
    pub fn tempo_mark(&self) -> Option<TempoMark> {
        self.rare.as_ref().and_then(|rare| rare.tempo)
    }

    /// Which of several bars of rest written as one it is.
    #[must_use]
    pub fn rest(&self) -> Option<BarsOfRest> {
        self.rare.as_ref().and_then(|rare| rare.rest)
    }

    /// Whether it is a pickup: before bar 1.
    #[must_use]
    pub fn is_pickup(&self) -> bool {
        self.number == 0
    }

    /// Where it begins, from where the full bar would begin: 0 but for a pickup and for the second half of a
    /// bar that was cut.
    #[must_use]
    pub fn start(&self) -> Span {
        self.events.first().map_or(Span::ZERO, |event| event.at)
    }

    /// Where it ends, from where the full bar begins: its meter's length unless it was cut.
    #[must_use]
    pub fn end(&self) -> Span {
        self.events.last().map_or(Span::ZERO, Event::end)
    }

    /// How long it lasts as written.
    #[must_use]
    pub fn length(&self) -> Span {
        self.end() - self.start()
    }

    /// How beat `number` of this bar, from 1, is counted: a beat that divides in two is counted in three where
    /// something begins on a third or a sixth of it, for the words of the two are never mixed in one beat.
    #[must_use]
    pub fn beat_division(&self, number: u32) -> Division {
        let in_three = |event: &Event| {
            let (beat, part) = self.meter.beat_of(event.at);
            beat == number && part.denom() % 3 == 0
        };
        if self.events.iter().any(in_three) { Division::Three } else { self.meter.division() }
    }

    /// The event that is going on at `at`, or `None` outside the bar.
    #[must_use]
    pub fn event_at(&self, at: Span) -> Option<&Event> {
        let next = self.events.partition_point(|event| event.at <= at);
        self.events[..next].last().filter(|event| at < event.end())
    }
}
