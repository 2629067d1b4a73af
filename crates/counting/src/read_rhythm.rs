//! From counting to rhythm.

mod by_length;
mod by_place;

use std::collections::BTreeMap;
use std::ops::Range;

use rhythm::limits::ERRORS_LISTED;
use rhythm::text::{Diagnostic, Severity};
use rhythm::{Bar, BarsOfRest, Deed, Event, Form, Meter, Rhythm};
use timebase::Span;

use crate::System;
use crate::answers::{Token, Vocabulary, Written, tokens, typed};
use crate::beats::{Beat, Beats};
use crate::table::By;

/// Reads a rhythm from its counting, typed in `system`, every bar of it in `meter`.
///
/// Words are typed as in an answer ([`answers`](crate::answers)), with bar lines between the bars; `(3)` is silent, `_3` held. In a
/// system that goes by the place, every word moves on to the next place in the bar that it names; in one that goes by the
/// length, the notes follow one another. What stands before the first bar line is a pickup unless it begins a full bar; behind
/// one, a last bar without its last beats is its complement. `(2) (2) (3) (4)` behind a silent bar is the second of several bars
/// of rest.
///
/// What was counted in `system` is read as the same attacks and silences, as far as its words tell them apart. They do for
/// the quarters and thirds of a beat in numbers and takadimi, where rests are written. They do not everywhere else: where several
/// places have one word (`ta` in numbers, in McHose and Tibbs and in Gordon), the next of them is read; where a note
/// value has the word of another (`ti` in Kodály durations), the longest that fills the bar; a system that says nothing
/// in rests must have them written, as words in parentheses. Two rests side by side are one.
///
/// # Errors
/// For every bar that cannot be read, up to [`ERRORS_LISTED`]: what was read, where, and what to write.
pub fn read_rhythm(system: &System, meter: Meter, text: &str) -> Result<Rhythm, Vec<Diagnostic>> {
    let nowhere = BTreeMap::new();
    let tokens = tokens(text, &Vocabulary::new(typed(system), &nowhere), meter.felt_beats());
    let opened = text.trim_start_matches(['\u{feff}', ' ', '\t', '\n', '\r']).starts_with(['|', '/']);
    let beats = Beats::of(meter, system.table());
    let mut reader =
        Reader { system, meter, beats: beats.full(), bars: Vec::new(), before: Some(Deed::Rest), rests: 0 };
    let mut errors = Vec::new();
    let lines = tokens.split(|token| matches!(token, Token::BarLine(_)));
    let lines: Vec<Vec<&Written>> = lines.map(|line| line.iter().filter_map(Token::word).collect()).collect();
    let last = lines.iter().rposition(|words| !words.is_empty());
    for (index, words) in lines.iter().enumerate().filter(|(_, words)| !words.is_empty()) {
        let place = if index == 0 && !opened { Place::First } else { Place::Inside };
        let place = if Some(index) == last && has_pickup(&reader.bars) { Place::Last } else { place };
        if let Err(error) = reader.bar(words, place) {
            reader.before = None;
            errors.push(error);
        }
    }
    let bars = reader.bars;
    errors.truncate(ERRORS_LISTED);
    if !errors.is_empty() {
        return Err(errors);
    }
    let whole = 0..text.trim_end().len();
    if bars.is_empty() {
        let help = "write at least one bar of counting between bar lines".to_owned();
        return Err(vec![wrong(whole, "nothing is counted in this text".to_owned(), help)]);
    }
    Rhythm::new(None, None, bars, Vec::new())
        .map_err(|error| vec![wrong(whole, error.to_string(), "mend the bars that it names".to_owned())])
}

/// Which bar of a text is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    /// The first, with no bar line before it: a pickup, unless it begins a full bar.
    First,
    Inside,
    /// The last behind a pickup: its complement, unless it goes on.
    Last,
}

/// The bars read so far.
struct Reader<'a> {
    system: &'a System,
    meter: Meter,
    beats: &'a [Beat],
    bars: Vec<Bar>,
    /// What sounds when the next bar begins; `None` where the bar before could not be read.
    before: Option<Deed>,
    /// How many bars before this one are silent.
    rests: u32,
}

impl Reader<'_> {
    fn bar(&mut self, words: &[&Written], place: Place) -> Result<(), Diagnostic> {
        if let Some(of) = self.bar_of_rest(words) {
            return self.add_rest(of, words);
        }
        let complement = self.complement().filter(|_| place == Place::Last);
        // Every beat is counted, so that a last bar without its last beats has none.
        let short = complement.and_then(|end| Some((self.events(words, place, end).ok()?, end)));
        let full = self.meter.bar_length();
        let (events, end) = match short {
            Some(short) => short,
            None => (self.events(words, place, full)?, full),
        };
        let late = events.first().is_some_and(|event| event.at.is_positive());
        let ends = events.last().map(|event| event.deed);
        let made = if end == full {
            Bar::new(self.number(late), self.meter, self.form(), events)
        } else {
            Bar::cut(self.number(late), self.meter, self.form(), events)
        };
        let bar = made.map_err(|error| unfilled(words, &error))?;
        let silent = ends == Some(Deed::Rest) && bar.events().len() == 1;
        self.rests = if silent { self.rests + 1 } else { 0 };
        self.before = ends;
        self.bars.push(bar);
        Ok(())
    }

    fn number(&self, late: bool) -> u32 {
        u32::try_from(self.bars.len()).unwrap_or(u32::MAX) + u32::from(!(late || has_pickup(&self.bars)))
    }

    fn form(&self) -> Form {
        if self.system.goes_by_length() { Form::Lengths } else { Form::Counts }
    }

    /// The events of a bar that ends at `end`.
    fn events(&self, words: &[&Written], place: Place, end: Span) -> Result<Vec<Event>, Diagnostic> {
        let may_begin_late = place == Place::First;
        let many = self.beats.iter().take_while(|beat| beat.at < end).count();
        let beats = &self.beats[..many];
        match &self.system.table().by {
            By::Place(places) => {
                let numbers = self.system.says_numbers();
                let marks = by_place::read(words, beats, numbers, places, self.meter, may_begin_late)?;
                if let Some(over) = marks.iter().find(|mark| mark.at >= end) {
                    return Err(wrong(over.span.clone(), "this goes over the end".to_owned(), String::new()));
                }
                events(&marks, end, self.before, may_begin_late)
            }
            By::Length(lengths) => {
                let notes = by_length::read(words, beats, lengths, (self.meter, end), may_begin_late)?;
                held(notes, self.before)
            }
        }
    }

    /// Where the last bar of a rhythm with a pickup ends.
    fn complement(&self) -> Option<Span> {
        let pickup = self.bars.first().filter(|bar| bar.is_pickup())?;
        Some(pickup.start()).filter(|end| end.is_positive())
    }

    /// Which of several bars of rest these words count: `(2) (2) (3) (4)` is the second, behind a silent bar.
    fn bar_of_rest(&self, words: &[&Written]) -> Option<u32> {
        let [first, rest @ ..] = words else { return None };
        let of = first.number.filter(|&number| number >= 2 && number == self.rests + 1)?;
        let counted = rest.iter().map(|word| word.word.as_str());
        let beats = self.beats.iter().skip(1).map(|beat| beat.number.as_str());
        let is_silent = words.iter().all(|word| word.deed == Deed::Rest);
        (self.system.says_numbers() && is_silent && counted.eq(beats)).then_some(of)
    }

    /// Adds a bar of rest; it and those before it are written as one.
    fn add_rest(&mut self, of: u32, words: &[&Written]) -> Result<(), Diagnostic> {
        let silence = Event::new(Span::ZERO, self.meter.bar_length(), Deed::Rest);
        let made = Bar::new(self.number(false), self.meter, self.form(), vec![silence]);
        self.bars.push(made.map_err(|error| unfilled(words, &error))?);
        let begins = self.bars.len() - usize::try_from(of).unwrap_or(usize::MAX);
        for (index, bar) in (1..).zip(&mut self.bars[begins..]) {
            let joined = bar.clone().with_rest(BarsOfRest { index, of });
            *bar = joined.map_err(|error| unfilled(words, &error))?;
        }
        self.rests = of;
        self.before = Some(Deed::Rest);
        Ok(())
    }
}

fn unfilled(words: &[&Written], error: &rhythm::Error) -> Diagnostic {
    let span = words[0].span.start..words[words.len() - 1].span.end;
    wrong(span, error.to_string(), "write the counts so that they fill the bar".to_owned())
}

fn has_pickup(bars: &[Bar]) -> bool {
    bars.first().is_some_and(Bar::is_pickup)
}

/// A count that was read: where, what is done, and the bytes that wrote it.
#[derive(Clone, Debug)]
struct Mark {
    at: Span,
    deed: Deed,
    span: Range<usize>,
}

fn wrong(span: Range<usize>, message: String, help: String) -> Diagnostic {
    Diagnostic { severity: Severity::Error, span, message, help }
}

fn nothing_to_hold(span: Range<usize>) -> Diagnostic {
    let help = "a hold follows a struck or held count: write the count without `_` to strike it, in parentheses for silence";
    wrong(span, "nothing sounds before this hold".to_owned(), help.to_owned())
}

/// The events that the marks begin, each as long as until the next: a hold goes on with the note, a silence with the
/// silence before it, and the last until `end`.
fn events(
    marks: &[Mark],
    end: Span,
    before: Option<Deed>,
    may_begin_late: bool,
) -> Result<Vec<Event>, Diagnostic> {
    let mut begun: Vec<(Span, Deed)> = Vec::new();
    let mut sounds = before;
    if let Some(first) = marks.first().filter(|first| first.at.is_positive() && !may_begin_late) {
        let message = "this bar does not begin with its first count".to_owned();
        let help =
            "begin every full bar with its first beat: struck, in parentheses for silence, or held with `_`";
        return Err(wrong(first.span.clone(), message, help.to_owned()));
    }
    for mark in marks {
        let goes_on = match mark.deed {
            Deed::Attack => false,
            Deed::Hold if sounds == Some(Deed::Rest) => return Err(nothing_to_hold(mark.span.clone())),
            Deed::Hold => !begun.is_empty(),
            Deed::Rest => begun.last().is_some_and(|(_, deed)| *deed == Deed::Rest),
        };
        if !goes_on {
            begun.push((mark.at, mark.deed));
        }
        sounds = Some(mark.deed);
    }
    let ends = begun.iter().skip(1).map(|(at, _)| *at).chain([end]);
    Ok(begun.iter().zip(ends).map(|((at, deed), end)| Event::new(*at, end - *at, *deed)).collect())
}

/// Notes in the order in which they follow one another, if each hold has something to hold.
fn held(notes: Vec<(Event, Range<usize>)>, before: Option<Deed>) -> Result<Vec<Event>, Diagnostic> {
    let mut sounds = before;
    let mut events = Vec::with_capacity(notes.len());
    for (event, span) in notes {
        if event.deed == Deed::Hold && sounds == Some(Deed::Rest) {
            return Err(nothing_to_hold(span));
        }
        sounds = Some(event.deed);
        events.push(event);
    }
    Ok(events)
}
