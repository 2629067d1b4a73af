use std::ops::Range;

use super::bar::{WrittenBar, nothing_to_hold};
use super::body::Body;
use super::format::Placed;
use super::token::{Token, tokens};
use super::{Diagnostic, Severity, aligned, header};
use crate::limits::{ERRORS_LISTED, NAME_CHARS, PARTS, TEXT_BYTES};
use crate::{Bar, Error, Part, Piece, Rhythm};

/// What reading a text of one part gave: the rhythm unless there was an error, and everything to be said about
/// the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The rhythm; `None` exactly when a diagnostic is an error.
    pub rhythm: Option<Rhythm>,
    /// Errors and hints in the order of the text, at most [`ERRORS_LISTED`] of each.
    pub diagnostics: Vec<Diagnostic>,
}

/// What reading a text of any number of parts gave.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PieceReading {
    /// The piece; `None` exactly when a diagnostic is an error.
    pub piece: Option<Piece>,
    /// As in [`Reading`].
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a rhythm text of one part; several are an error. Never panics, whatever the text, and takes time in
/// proportion to its length.
///
/// An error in one bar does not hide those in others: each bar reports its first.
#[must_use]
pub fn read(text: &str) -> Reading {
    let (piece, mut diagnostics) = read_parts(text);
    let rhythm = match piece {
        Some((piece, second)) if piece.parts().len() > 1 => {
            let message =
                format!("this text has {} parts, but one rhythm is wanted here", piece.parts().len());
            let names: Vec<&str> = piece.parts().iter().filter_map(|part| part.name.as_deref()).collect();
            let help = format!("choose one of its parts: {}", names.join(", "));
            diagnostics.push(Diagnostic::error(second, message, help));
            None
        }
        piece => piece.and_then(|(piece, _)| piece.parts().first().map(|part| part.rhythm.clone())),
    };
    Reading { rhythm, diagnostics }
}

/// Reads a rhythm text of any number of parts, as [`read`] does.
#[must_use]
pub fn read_piece(text: &str) -> PieceReading {
    let (piece, diagnostics) = read_parts(text);
    PieceReading { piece: piece.map(|(piece, _)| piece), diagnostics }
}

/// The piece and where its second part is named.
fn read_parts(text: &str) -> (Option<(Piece, Range<usize>)>, Vec<Diagnostic>) {
    let (read, diagnostics) = read_all(text);
    let read = read.map(|(piece, bodies)| {
        let second = bodies.into_iter().nth(1).map_or(0..0, |(_, named, ..)| named);
        (piece, second)
    });
    (read, diagnostics)
}

/// The piece, and where every bar of its parts stands in the text.
pub(super) fn read_with_places(text: &str) -> (Option<(Piece, Vec<Placed>)>, Vec<Diagnostic>) {
    let (read, diagnostics) = read_all(text);
    let read = read.map(|(piece, bodies)| {
        let placed = bodies.into_iter().map(|(name, _, bars, _)| Placed { name, bars }).collect();
        (piece, placed)
    });
    (read, diagnostics)
}

fn read_all(text: &str) -> (Option<(Piece, Vec<ReadPart>)>, Vec<Diagnostic>) {
    let mut diagnostics = Vec::new();
    if !TEXT_BYTES.holds(i64::try_from(text.len()).unwrap_or(i64::MAX)) {
        let message = format!("this text has {} bytes", text.len());
        let help = format!("a rhythm text has at most {}: is this the right file?", TEXT_BYTES.most);
        return (None, vec![Diagnostic::error(0..0, message, help)]);
    }
    let header = header::read(text, &mut diagnostics);
    let streams = streams(text, header.end, &mut diagnostics);
    let mut bodies = Vec::new();
    for stream in streams {
        let mut body = Body::new(header.meter, text);
        body.read(&stream.tokens, &mut diagnostics);
        aligned::apply(text, &stream.lines, &mut body.bars, &mut diagnostics);
        let (bars, route) = body.finish(&mut diagnostics);
        bodies.push((stream.name, stream.named, bars, route));
    }
    let mut piece = None;
    if !diagnostics.iter().any(is_error) {
        match assembled(text, header.title, header.tempo, &bodies) {
            Ok(made) => piece = Some((made, bodies)),
            Err(diagnostic) => diagnostics.push(diagnostic),
        }
    }
    diagnostics.sort_by_key(|d| d.span.start);
    let (mut errors, mut hints) = (0, 0);
    diagnostics.retain(|d| {
        let listed = if is_error(d) { &mut errors } else { &mut hints };
        *listed += 1;
        *listed <= ERRORS_LISTED
    });
    (piece, diagnostics)
}

fn is_error(diagnostic: &Diagnostic) -> bool {
    diagnostic.severity == Severity::Error
}

/// The text of one part: its tokens, and the lines of marks under them.
#[derive(Default)]
struct Stream {
    name: Option<String>,
    named: Range<usize>,
    tokens: Vec<Token>,
    lines: Vec<aligned::Line>,
}

/// Parts the text behind the head into its parts; a part that is named again goes on.
fn streams(text: &str, start: usize, diagnostics: &mut Vec<Diagnostic>) -> Vec<Stream> {
    let mut streams: Vec<Stream> = vec![Stream::default()];
    let mut current = 0;
    // Lines of bars that are not cut into tokens yet, and the last of them.
    let (mut from, mut at) = (start, start);
    let mut above = start..start;
    for line in text[start..].split_inclusive('\n') {
        let span = at..at + line.len();
        at = span.end;
        let labelled = header::key_and_value(line, span.start).and_then(|(key, value)| {
            let name = text[key.clone()].to_ascii_lowercase();
            let kind = aligned::Kind::of(&name);
            (kind.is_some() || name == "part").then_some((kind, key, value))
        });
        let Some((kind, key, value)) = labelled else {
            let bare = line.trim();
            if !bare.is_empty() && !bare.starts_with('#') {
                above = span;
            }
            continue;
        };
        streams[current].tokens.extend(tokens(text, from..span.start));
        from = span.end;
        match kind {
            Some(kind) => {
                streams[current].lines.push(aligned::Line { kind, key, value, above: above.clone() });
            }
            None => current = part_named(text, &mut streams, &value, diagnostics),
        }
    }
    streams[current].tokens.extend(tokens(text, from..text.len()));
    if streams.len() > 1 && streams[0].name.is_none() && streams[0].is_blank() {
        streams.remove(0);
    }
    streams
}

impl Stream {
    /// Whether no bar and no mark is written in it.
    fn is_blank(&self) -> bool {
        self.lines.is_empty() && self.tokens.iter().all(|token| token.kind == super::token::Kind::LineBreak)
    }
}

/// The index of the part that the line at `value` names; it may be a new one.
fn part_named(
    text: &str,
    streams: &mut Vec<Stream>,
    value: &Range<usize>,
    diagnostics: &mut Vec<Diagnostic>,
) -> usize {
    let name = header::without_comment(&text[value.clone()]);
    let known = streams
        .iter()
        .position(|stream| stream.name.as_deref().is_some_and(|n| n.eq_ignore_ascii_case(name)));
    if let Some(index) = known {
        return index;
    }
    let characters = i64::try_from(name.chars().count()).unwrap_or(i64::MAX);
    if !NAME_CHARS.holds(characters) {
        let message = if name.is_empty() {
            "this part has no name".to_owned()
        } else {
            format!("the name of this part has {characters} characters")
        };
        let help = format!(
            "a part has a name of {} to {} characters: `part: snare drum`",
            NAME_CHARS.least, NAME_CHARS.most
        );
        diagnostics.push(Diagnostic::error(value.start.saturating_sub(1)..value.end, message, help));
    }
    if i64::try_from(streams.len()).unwrap_or(i64::MAX) > PARTS.most {
        let message = format!("this text has more than {} parts", PARTS.most);
        let help = "write the parts of a large piece in several files";
        diagnostics.push(Diagnostic::error(value.clone(), message, help));
        return streams.len() - 1;
    }
    streams.push(Stream { name: Some(name.to_owned()), named: value.clone(), ..Stream::default() });
    streams.len() - 1
}

type ReadPart = (Option<String>, Range<usize>, Vec<WrittenBar>, super::passage::Route);

/// The piece, once no bar has an error of its own.
fn assembled(
    text: &str,
    title: Option<String>,
    tempo: Option<timebase::Tempo>,
    bodies: &[ReadPart],
) -> Result<Piece, Diagnostic> {
    let mut parts = Vec::with_capacity(bodies.len());
    let mut named = Vec::with_capacity(bodies.len());
    for (name, span, bars, route) in bodies {
        let rhythm = rhythm(text, title.clone(), tempo, bars, route.clone())?;
        named.push((span.clone(), name.clone()));
        parts.push(Part { name: name.clone(), rhythm });
    }
    Piece::new(parts).map_err(|error| {
        let part = match &error {
            Error::Parts { part, .. } => named.iter().find(|(_, name)| name.as_ref() == Some(part)),
            _ => None,
        };
        let span = part.or(named.last()).map_or(0..0, |(span, _)| span.clone());
        let help = "the parts of a piece have the same number of bars, and the same meters, tempos and repeats in the same places";
        Diagnostic::error(span, error.to_string(), help)
    })
}

fn rhythm(
    text: &str,
    title: Option<String>,
    tempo: Option<timebase::Tempo>,
    read: &[WrittenBar],
    (repeats, signs, jump, jump_sign): super::passage::Route,
) -> Result<Rhythm, Diagnostic> {
    let whole = 0..text.trim_end().len();
    let mut number = u32::from(!read.first().is_some_and(|bar| bar.pickup));
    let mut bars: Vec<Bar> = Vec::with_capacity(read.len());
    let mut numbers: Vec<u32> = Vec::with_capacity(read.len());
    for (index, bar) in read.iter().enumerate() {
        if index > 0 && !bar.goes_on() {
            number += 1;
        }
        numbers.push(number);
        bars.push(bar.bar(number).map_err(|error| {
            let span = bar.events.first().map_or(whole.clone(), |first| first.span.clone());
            Diagnostic::error(span, error.to_string(), "write the bar so that its lengths fill it")
        })?);
    }
    let place = |number: u32, at: timebase::Span| {
        let numbered = numbers.iter().zip(read).filter(|(own, _)| **own == number);
        numbered.flat_map(|(_, bar)| &bar.events).find(|spelled| spelled.event.at == at)
    };
    let explained = |error: Error| match &error {
        Error::HoldAfterSilence { bar, at, .. } => {
            let span = place(*bar, *at).map_or(whole.clone(), |spelled| spelled.span.clone());
            let mut diagnostic = nothing_to_hold(span);
            diagnostic.message = "nothing sounds before this hold when the passage is repeated".to_owned();
            diagnostic
        }
        Error::OutOfRange { limit, .. } => {
            let span = signs.last().cloned().unwrap_or(whole.clone());
            let help =
                format!("{} goes from {} to {}: play fewer repeats", limit.what, limit.least, limit.most);
            Diagnostic::error(span, error.to_string(), help)
        }
        Error::BarNumber { bar } | Error::TempoMark { bar } => {
            let index = numbers.iter().position(|number| number == bar).unwrap_or(0);
            let span = read[index].events.first().map_or(whole.clone(), |first| first.span.clone());
            let help = match error {
                Error::TempoMark { .. } => "choose another beat or another tempo",
                _ => {
                    "a bar that begins late, `[from 1/2]`, goes on where the bar before it was cut: `[lasts 1/2]`"
                }
            };
            Diagnostic::error(span, error.to_string(), help)
        }
        Error::Jump { .. } => {
            let span = jump_sign.clone().unwrap_or(whole.clone());
            let help = "the sign stands before the jump, `[fine]` and `[to coda]` between the two, and `[coda]` behind the jump";
            Diagnostic::error(span, "the signs of this piece stand in an order that cannot be played", help)
        }
        _ => Diagnostic::error(whole.clone(), error.to_string(), "mend the bars and repeats it names"),
    };
    let made = Rhythm::new(title, tempo, bars, repeats).map_err(&explained)?;
    match jump {
        Some(jump) => made.with_jump(jump).map_err(&explained),
        None => Ok(made),
    }
}
