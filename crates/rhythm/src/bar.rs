use timebase::Span;

use crate::{Division, Error, Meter};

/// What is done at a count, and during an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Deed {
    /// A note begins here: it is struck.
    Attack,
    /// The sound from before goes on.
    Hold,
    /// Silence.
    Rest,
}

/// One written note or silence of a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Event {
    /// Where it begins, from where the full bar begins (a pickup on 4 in 4/4 begins at 3/4).
    pub at: Span,
    /// How long it lasts; positive.
    pub length: Span,
    /// Whether it is struck, tied from the note before, or silent.
    pub deed: Deed,
    /// Whether the author broke the beam before it.
    pub beam_broken: bool,
}

impl Event {
    /// An event whose beam is not broken.
    #[must_use]
    pub const fn new(at: Span, length: Span, deed: Deed) -> Self {
        Self { at, length, deed, beam_broken: false }
    }

    /// Where it ends.
    #[must_use]
    pub fn end(&self) -> Span {
        self.at + self.length
    }
}

/// How a bar was written, and is written again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Form {
    /// In counts: `1 2 & 3`. The program chooses the note values.
    Counts,
    /// In lengths: `1/4 1/8 1/8`. The note values are the author's.
    Lengths,
}

/// One written bar: its events fill it without gap or overlap, up to its end.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Bar {
    number: u32,
    meter: Meter,
    events: Vec<Event>,
    form: Form,
}

impl Bar {
    /// A bar of these events.
    ///
    /// `number` is the written bar's: full bars from 1, a pickup is 0. A pickup's first event may begin
    /// after 0; any other bar's begins at 0.
    ///
    /// # Errors
    /// If the events leave a gap, overlap, are empty, or do not end with the bar.
    pub fn new(number: u32, meter: Meter, form: Form, events: Vec<Event>) -> Result<Self, Error> {
        let wrong = |at: Span| Error::BarNotFilled { bar: number, meter, at };
        let first = events.first().ok_or_else(|| wrong(Span::ZERO))?;
        if first.at < Span::ZERO || (number > 0 && first.at != Span::ZERO) {
            return Err(wrong(first.at));
        }
        let mut reached = first.at;
        for event in &events {
            if event.at != reached || !event.length.is_positive() {
                return Err(wrong(event.at));
            }
            reached = reached.checked_add(event.length).ok_or_else(|| wrong(event.at))?;
        }
        if reached == meter.bar_length() {
            Ok(Self { number, meter, events, form })
        } else {
            Err(wrong(reached))
        }
    }

    /// The written bar's number: full bars from 1; a pickup is 0.
    #[must_use]
    pub fn number(&self) -> u32 {
        self.number
    }

    /// Its meter and felt beat.
    #[must_use]
    pub fn meter(&self) -> Meter {
        self.meter
    }

    /// Its events in order, filling it from [`Bar::start`] to its end.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// How it was written.
    #[must_use]
    pub fn form(&self) -> Form {
        self.form
    }

    /// Whether it is a pickup: shorter than its meter, before bar 1.
    #[must_use]
    pub fn is_pickup(&self) -> bool {
        self.number == 0
    }

    /// Where it begins, from where the full bar would begin: 0 but for a pickup.
    #[must_use]
    pub fn start(&self) -> Span {
        self.events.first().map_or(Span::ZERO, |event| event.at)
    }

    /// How long it lasts as written: the bar's length but for a pickup.
    #[must_use]
    pub fn length(&self) -> Span {
        self.meter.bar_length() - self.start()
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
        self.events.iter().find(|event| event.at <= at && at < event.end())
    }
}
