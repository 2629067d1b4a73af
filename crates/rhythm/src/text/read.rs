use std::ops::Range;

use super::bar::{WrittenBar, nothing_to_hold};
use super::body::{Body, Common};
use super::token::{Kind, Token, Tokens};
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
        piece => piece.and_then(|(piece, _)| piece.into_parts().next().map(|part| part.rhythm)),
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
    let read = read.map(|(piece, parts)| {
        let second = parts.into_iter().nth(1).map_or(0..0, |part| part.named);
        (piece, second)
    });
    (read, diagnostics)
}

/// The piece, and where every bar of its parts stands in the text.
pub(super) fn read_all(text: &str) -> (Option<(Piece, Vec<Placed>)>, Vec<Diagnostic>) {
    let mut diagnostics = Vec::new();
    if !TEXT_BYTES.holds(i64::try_from(text.len()).unwrap_or(i64::MAX)) {
        let message = format!("this text has {} bytes", text.len());
        let help = format!("a rhythm text has at most {}: is this the right file?", TEXT_BYTES.most);
        return (None, vec![Diagnostic::error(0..0, message, help)]);
    }
    let header = header::read(text, &mut diagnostics);
    // Without their meter nothing can be said of the bars.
    let bodies = if header.meter_is_known { bodies(text, &header, &mut diagnostics) } else { Vec::new() };
    let mut piece = None;
    if !diagnostics.iter().any(is_error) {
        match assembled(text, &header, bodies) {
            Ok(made) => piece = Some(made),
            Err(diagnostic) => diagnostics.push(diagnostic),
        }
    }
    diagnostics.sort_by_key(|d| d.span.start);
    let mut errors = 0;
    diagnostics.retain(|d| {
        errors += usize::from(is_error(d));
        !is_error(d) || errors <= ERRORS_LISTED
    });
    (piece, hinted_once(diagnostics))
}

/// The same with one hint of a kind, the first, which says how many more there are.
fn hinted_once(diagnostics: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let mut kept: Vec<Diagnostic> = Vec::new();
    // Where each kind of hint is kept, and how often it came again.
    let mut hints: Vec<(usize, usize)> = Vec::new();
    for diagnostic in diagnostics {
        let known = hints.iter_mut().find(|(at, _)| kept[*at].help == diagnostic.help);
        match known.filter(|_| !is_error(&diagnostic)) {
            Some((_, again)) => *again += 1,
            None => {
                if !is_error(&diagnostic) {
                    hints.push((kept.len(), 0));
                }
                kept.push(diagnostic);
            }
        }
    }
    for (at, again) in hints {
        match again {
            0 => {}
            1 => kept[at].message += "; so also in one more place",
            many => kept[at].message += &format!("; so also in {many} more places"),
        }
    }
    kept
}

fn is_error(diagnostic: &Diagnostic) -> bool {
    diagnostic.severity == Severity::Error
}

/// The text of one part: the stretches its bars stand in, and the lines of marks under them.
#[derive(Default)]
struct Stream {
    name: Option<String>,
    named: Range<usize>,
    stretches: Vec<Range<usize>>,
    lines: Vec<aligned::Line>,
    /// Where it is said on whose line it stands.
    line: Option<Range<usize>>,
}

/// What a line with a label is about.
#[derive(Clone, Copy)]
pub(super) enum Label {
    Marks(aligned::Kind),
    Part,
    /// On whose line the part stands.
    Line,
}

impl Label {
    /// By its word in small letters; `None` where it belongs to the head, or to nothing.
    pub(super) fn of(name: &str) -> Option<Self> {
        match name {
            "part" => Some(Self::Part),
            "line" => Some(Self::Line),
            _ => aligned::Kind::of(name).map(Self::Marks),
        }
    }
}

/// A part as it stands in the text: its name, where it was named, and its bars.
pub(super) struct Placed {
    pub(super) name: Option<String>,
    named: Range<usize>,
    pub(super) bars: Vec<PlacedBar>,
}

/// Where the text of a bar begins.
pub(super) struct PlacedBar {
    pub(super) begins: usize,
    /// Whether it is one of several bars of rest written as one, but not the first.
    pub(super) rests_on: bool,
}

impl Placed {
    fn new(part: &ReadPart) -> Self {
        let placed = |bar: &WrittenBar| PlacedBar {
            begins: bar.begins,
            rests_on: bar.rest().is_some_and(|rest| rest.index > 1),
        };
        let bars = part.bars.iter().map(placed).collect();
        Self { name: part.name.clone(), named: part.named.clone(), bars }
    }
}

/// Parts the text behind the head into its parts; a part that is named again goes on.
fn streams(text: &str, start: usize, diagnostics: &mut Vec<Diagnostic>) -> Vec<Stream> {
    let mut streams: Vec<Stream> = vec![Stream::default()];
    let mut current = 0;
    // Lines of bars that belong to no part yet, and the last of them.
    let (mut from, mut at) = (start, start);
    let mut above = start..start;
    for line in text[start..].split_inclusive('\n') {
        let span = at..at + line.len();
        at = span.end;
        let found = header::key_and_value(line, span.start);
        let labelled = found.clone().and_then(|(key, value)| {
            let label = Label::of(&text[key.clone()].to_ascii_lowercase())?;
            Some((label, key, value))
        });
        let Some((label, key, value)) = labelled else {
            if let Some(key) = found.and_then(|(key, value)| misnamed(text, key, &value)) {
                diagnostics.push(no_such_line(&text[key.clone()], key));
                streams[current].stretches.push(from..span.start);
                from = span.end;
                continue;
            }
            let bare = line.trim();
            if !bare.is_empty() && !bare.starts_with('#') {
                above = span;
            }
            continue;
        };
        streams[current].stretches.push(from..span.start);
        from = span.end;
        match label {
            Label::Marks(kind) => {
                streams[current].lines.push(aligned::Line { kind, key, value, above: above.clone() });
            }
            Label::Part => current = part_named(text, &mut streams, &value, diagnostics),
            Label::Line if streams[current].line.is_some() => {
                let message = "`line:` stands here a second time for this part";
                diagnostics.push(Diagnostic::error(key, message, SHARING));
            }
            Label::Line => streams[current].line = Some(value),
        }
    }
    streams[current].stretches.push(from..text.len());
    if streams.len() > 1 && streams[0].name.is_none() && streams[0].is_blank(text) {
        streams.remove(0);
    }
    check_lines(text, &streams, diagnostics);
    streams
}

/// The key of a line that is called as none is; one of the head is told of among the bars, and the `a` of `a :|` is a count.
fn misnamed(text: &str, key: Range<usize>, value: &Range<usize>) -> Option<Range<usize>> {
    let is_of_the_head =
        ["title", "meter", "tempo"].contains(&text[key.clone()].to_ascii_lowercase().as_str());
    let is_named = key.len() >= 3 && !is_of_the_head && !text[value.clone()].starts_with('|');
    is_named.then_some(key)
}

fn no_such_line(name: &str, key: Range<usize>) -> Diagnostic {
    let help = "the lines among the bars are `part:`, `line:`, `sticking:`, `accents:`, `strokes:` and `dynamics:`; `title:`, `meter:` and `tempo:` stand before the first bar";
    Diagnostic::error(key, format!("there is no line `{name}:`"), help)
}

const SHARING: &str = "two parts share a line where the lower one names the part right before it, once, under its own \
                       name: `part: feet`, and under it `line: hands`";

/// That a part shares the line of the part right before it, and of no other, and a line holds two.
fn check_lines(text: &str, streams: &[Stream], diagnostics: &mut Vec<Diagnostic>) {
    for (index, stream) in streams.iter().enumerate() {
        let Some(value) = &stream.line else { continue };
        let given = header::without_comment(&text[value.clone()]);
        let span = if value.is_empty() { value.start.saturating_sub(1)..value.end } else { value.clone() };
        let before = index.checked_sub(1).map(|before| &streams[before]);
        let is_named = |before: &Stream| match &before.name {
            Some(name) => name.eq_ignore_ascii_case(given) || index.to_string() == given,
            None => index.to_string() == given,
        };
        let message = match before {
            None => "the first part has no part before it whose line it could share".to_owned(),
            Some(before) if !is_named(before) => {
                let name = before.name.as_deref().unwrap_or("part 1");
                format!("`{given}` is not the part right before this one, which is {name}")
            }
            Some(before) if before.line.is_some() => {
                format!("`{given}` shares a line already, and a line holds two parts")
            }
            Some(_) => continue,
        };
        diagnostics.push(Diagnostic::error(span, message, SHARING));
    }
}

impl Stream {
    /// Whether no bar and no mark is written in it.
    fn is_blank(&self, text: &str) -> bool {
        self.lines.is_empty()
            && self.line.is_none()
            && self.tokens(text).all(|token| token.kind == Kind::LineBreak)
    }

    fn tokens<'t>(&'t self, text: &'t str) -> impl Iterator<Item = Token> + 't {
        self.stretches.iter().flat_map(|stretch| Tokens::new(text, stretch.clone()))
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

/// A part as it was read, before its bars are those of the model.
struct ReadPart {
    name: Option<String>,
    named: Range<usize>,
    shares_line: bool,
    bars: Vec<WrittenBar>,
    route: super::passage::Route,
}

fn bodies(text: &str, header: &header::Header, diagnostics: &mut Vec<Diagnostic>) -> Vec<ReadPart> {
    let mut bodies = Vec::new();
    let mut common = Common::default();
    for stream in streams(text, header.end, diagnostics) {
        let mut body = Body::new(header.meter, text, &mut common);
        body.read(stream.tokens(text), diagnostics);
        body.mark(&stream.lines, diagnostics);
        let (bars, route) = body.finish(diagnostics);
        let shares_line = stream.line.is_some();
        bodies.push(ReadPart { name: stream.name, named: stream.named, shares_line, bars, route });
        if common.is_full() {
            break;
        }
    }
    bodies
}

/// The piece, once no bar has an error of its own.
fn assembled(
    text: &str,
    header: &header::Header,
    bodies: Vec<ReadPart>,
) -> Result<(Piece, Vec<Placed>), Diagnostic> {
    let mut parts = Vec::with_capacity(bodies.len());
    let mut placed = Vec::with_capacity(bodies.len());
    for body in bodies {
        placed.push(Placed::new(&body));
        let rhythm = rhythm(text, header, body.bars, body.route)?;
        parts.push(Part { name: body.name, rhythm, shares_line: body.shares_line });
    }
    match Piece::new(parts) {
        Ok(piece) => Ok((piece, placed)),
        Err(error) => {
            let part = match &error {
                Error::Parts { part, .. } => placed.iter().find(|placed| placed.name.as_ref() == Some(part)),
                _ => None,
            };
            let span = part.or(placed.last()).map_or(0..0, |placed| placed.named.clone());
            let help = "the parts of a piece have the same number of bars, and the same meters, tempos and repeats in the same places";
            Err(Diagnostic::error(span, error.to_string(), help))
        }
    }
}

/// The number of every bar.
fn numbers(read: &[WrittenBar]) -> Vec<u32> {
    let mut number = u32::from(!read.first().is_some_and(|bar| bar.pickup));
    let numbered = read.iter().enumerate().map(|(index, bar)| {
        if index > 0 && !bar.goes_on() {
            number += 1;
        }
        number
    });
    numbered.collect()
}

fn rhythm(
    text: &str,
    header: &header::Header,
    mut read: Vec<WrittenBar>,
    (repeats, signs, jump, jump_sign): super::passage::Route,
) -> Result<Rhythm, Diagnostic> {
    let whole = 0..text.trim_end().len();
    let numbers = numbers(&read);
    let mut bars: Vec<Bar> = Vec::with_capacity(read.len());
    for (bar, &number) in read.iter_mut().zip(&numbers) {
        bars.push(bar.bar(number).map_err(|error| {
            let span = bar.place(0).unwrap_or(whole.clone());
            Diagnostic::error(span, error.to_string(), "write the bar so that its lengths fill it")
        })?);
    }
    let place = |number: u32, at: Option<timebase::Span>| {
        let numbered = numbers.iter().zip(&read).filter(|(own, _)| **own == number);
        let mut places = numbered.filter_map(|(_, bar)| {
            bar.place(bar.events.iter().position(|event| at.is_none_or(|at| event.at == at))?)
        });
        places.next().unwrap_or(whole.clone())
    };
    let explained = |error: Error| match &error {
        Error::HoldAfterSilence { bar, at, .. } => {
            let mut diagnostic = nothing_to_hold(place(*bar, Some(*at)));
            diagnostic.message = "nothing sounds before this hold when the passage is repeated".to_owned();
            diagnostic
        }
        Error::OutOfRange { limit, .. } => {
            let span = signs.last().cloned().unwrap_or(whole.clone());
            let help =
                format!("{} goes from {} to {}: play fewer repeats", limit.what, limit.least, limit.most);
            Diagnostic::error(span, error.to_string(), help)
        }
        Error::BarNumber { bar } | Error::TempoMark { bar } | Error::GradualTempo { bar, .. } => {
            let known = if numbers.contains(bar) { *bar } else { numbers[0] };
            let span = place(known, None);
            let help = match error {
                Error::TempoMark { .. } => "choose another beat or another tempo",
                Error::GradualTempo { .. } => "write fewer bars, or move it to a full bar",
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
    let made = Rhythm::new(header.title.clone(), header.tempo, bars, repeats).map_err(&explained)?;
    match jump {
        Some(jump) => made.with_jump(jump).map_err(&explained),
        None => Ok(made),
    }
}
