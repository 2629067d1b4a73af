//! What both forms of a bar come to.

use std::ops::Range;

use timebase::Span;

use super::Diagnostic;
use crate::{Bar, BarsOfRest, Deed, Dynamics, Error, Event, Form, Meter, TempoMark, Tuplet};

/// A bar as it was read, with the place of every event.
#[derive(Clone, Debug)]
pub(super) struct WrittenBar {
    pub(super) meter: Meter,
    pub(super) form: Form,
    pub(super) pickup: bool,
    pub(super) events: Vec<Spelled>,
    pub(super) tuplets: Vec<Tuplet>,
    pub(super) dynamics: Dynamics,
    /// Few bars have one.
    pub(super) tempo: Option<Box<TempoMark>>,
    pub(super) rest: Option<BarsOfRest>,
    /// Where the bar was written as `%`; its marks are those of the bar before unless it has some of its own.
    pub(super) same_again: bool,
    /// Where its text begins, by which the lines of marks below find it.
    pub(super) begins: usize,
}

/// An event and the bytes that wrote it, which a text has fewer of than 32 bits count: of all that is kept while a
/// text is read this is the most.
#[derive(Clone, Debug)]
pub(super) struct Spelled {
    pub(super) event: Event,
    from: u32,
    to: u32,
}

impl Spelled {
    pub(super) fn new(event: Event, span: &Range<usize>) -> Self {
        let place = |at: usize| u32::try_from(at).unwrap_or(u32::MAX);
        Self { event, from: place(span.start), to: place(span.end) }
    }

    pub(super) fn span(&self) -> Range<usize> {
        let place = |at: u32| usize::try_from(at).unwrap_or(usize::MAX);
        place(self.from)..place(self.to)
    }
}

impl WrittenBar {
    pub(super) fn new(meter: Meter, form: Form, pickup: bool, events: Vec<Spelled>) -> Self {
        Self {
            meter,
            form,
            pickup,
            events,
            tuplets: Vec::new(),
            dynamics: Dynamics::NONE,
            tempo: None,
            rest: None,
            same_again: false,
            begins: 0,
        }
    }

    /// Whether it goes on where the bar before it was cut.
    pub(super) fn goes_on(&self) -> bool {
        !self.pickup && self.events.first().is_some_and(|first| first.event.at.is_positive())
    }

    /// The bar of the model.
    pub(super) fn bar(self, number: u32) -> Result<Bar, Error> {
        let events = self.events.into_iter().map(|spelled| spelled.event).collect();
        let bar = Bar::cut(number, self.meter, self.form, events)?
            .with_tuplets(self.tuplets)?
            .with_dynamics(self.dynamics)
            .with_tempo(self.tempo.map(|tempo| *tempo));
        match self.rest {
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
