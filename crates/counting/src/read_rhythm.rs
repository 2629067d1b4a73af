//! From counting to rhythm.

mod by_length;
mod by_place;

use std::collections::BTreeMap;
use std::ops::Range;

use rhythm::limits::ERRORS_LISTED;
use rhythm::text::{Diagnostic, Severity};
use rhythm::{Bar, Deed, Event, Form, Meter, Rhythm};
use timebase::Span;

use crate::System;
use crate::answers::{Token, Vocabulary, Written, tokens, typed};
use crate::beats::Beats;
use crate::table::By;

/// Reads a rhythm from its counting, typed in `system`, every bar of it in `meter`.
///
/// Words are typed as in an answer ([`answers`](crate::answers)), with bar lines between the bars; `(3)` is silent, `_3` held. In a
/// system that goes by the place, every word moves on to the next place in the bar that it names; in one that goes by the
/// length, the notes follow one another. What stands before the first bar line is a pickup unless it begins a full bar.
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
    let table = system.table();
    let beats = Beats::of(meter, table);
    let beats = beats.full();
    let mut bars = Vec::new();
    let mut errors = Vec::new();
    // What sounds when a bar begins; `None` where the bar before could not be read.
    let mut before = Some(Deed::Rest);
    let lines = tokens.split(|token| matches!(token, Token::BarLine(_)));
    for (index, line) in lines.enumerate() {
        let words: Vec<&Written> = line.iter().filter_map(Token::word).collect();
        if words.is_empty() {
            continue;
        }
        let may_begin_late = index == 0 && !opened;
        let read = match &table.by {
            By::Place(places) => {
                by_place::read(&words, beats, system.says_numbers(), places, meter, may_begin_late)
                    .and_then(|marks| events(&marks, meter, before, may_begin_late))
            }
            By::Length(lengths) => by_length::read(&words, beats, lengths, meter, may_begin_late)
                .and_then(|notes| held(notes, before)),
        };
        let form = if system.goes_by_length() { Form::Lengths } else { Form::Counts };
        let made = read.and_then(|events| {
            let late = events.first().is_some_and(|event| event.at.is_positive());
            let number =
                u32::try_from(bars.len()).unwrap_or(u32::MAX) + u32::from(!(late || has_pickup(&bars)));
            let ends = events.last().map(|event| event.deed);
            let bar = Bar::new(number, meter, form, events).map_err(|error| {
                let span = words[0].span.start..words[words.len() - 1].span.end;
                wrong(span, error.to_string(), "write the counts so that they fill the bar".to_owned())
            })?;
            Ok((bar, ends))
        });
        match made {
            Ok((bar, ends)) => {
                before = ends;
                bars.push(bar);
            }
            Err(error) => {
                before = None;
                errors.push(error);
            }
        }
    }
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
/// silence before it.
fn events(
    marks: &[Mark],
    meter: Meter,
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
    let ends = begun.iter().skip(1).map(|(at, _)| *at).chain([meter.bar_length()]);
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
