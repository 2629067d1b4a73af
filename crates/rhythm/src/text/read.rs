use std::ops::Range;

use super::bar::{Sound, WrittenBar, nothing_to_hold};
use super::token::{Kind, Token, tokens};
use super::{Diagnostic, Severity, counts, header, lengths};
use crate::limits::{ERRORS_LISTED, TEXT_BYTES, TIMES_THROUGH};
use crate::{Bar, Error, Meter, Repeat, Rhythm};

/// What reading a text gave: the rhythm unless there was an error, and everything to be said about the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The rhythm; `None` exactly when a diagnostic is an error.
    pub rhythm: Option<Rhythm>,
    /// Errors and hints in the order of the text; at most [`ERRORS_LISTED`] of them are errors, and reading
    /// stops there.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a rhythm text. Never panics, whatever the text, and takes time in proportion to its length.
///
/// An error in one bar does not hide those in others: each bar reports its first.
#[must_use]
pub fn read(text: &str) -> Reading {
    let mut diagnostics = Vec::new();
    if !TEXT_BYTES.holds(i64::try_from(text.len()).unwrap_or(i64::MAX)) {
        let message = format!("this text has {} bytes", text.len());
        let help = format!("a rhythm text has at most {}: is this the right file?", TEXT_BYTES.most);
        return Reading { rhythm: None, diagnostics: vec![Diagnostic::error(0..0, message, help)] };
    }
    let header = header::read(text, &mut diagnostics);
    let tokens = tokens(text, header.end);
    let mut body = Body::new(header.meter, text);
    body.read(&tokens, &mut diagnostics);
    let is_error = |d: &Diagnostic| d.severity == Severity::Error;
    let mut rhythm = None;
    if !diagnostics.iter().any(is_error) {
        match body.finish(header.title, header.tempo) {
            Ok(made) => rhythm = Some(made),
            Err(diagnostic) => diagnostics.push(diagnostic),
        }
    }
    diagnostics.sort_by_key(|d| d.span.start);
    let mut errors = 0;
    diagnostics.retain(|d| {
        errors += usize::from(is_error(d));
        !is_error(d) || errors <= ERRORS_LISTED
    });
    Reading { rhythm, diagnostics }
}

/// The bars read so far.
struct Body<'t> {
    text: &'t str,
    meter: Meter,
    /// A bar that could not be read is `None`, so that the bars behind it keep their numbers.
    bars: Vec<Option<WrittenBar>>,
    repeats: Vec<(Repeat, Range<usize>)>,
    /// Where the passage that a closing sign repeats begins, and its opening sign if there was one.
    passage: (usize, Option<Range<usize>>),
    sound: Sound,
}

impl<'t> Body<'t> {
    fn new(meter: Meter, text: &'t str) -> Self {
        Self { text, meter, bars: Vec::new(), repeats: Vec::new(), passage: (0, None), sound: Sound::Silent }
    }

    fn read(&mut self, tokens: &[Token], diagnostics: &mut Vec<Diagnostic>) {
        let mut rest = tokens;
        // The bar line before what comes next: whether a passage ends and whether one begins at it.
        let mut before: Option<(bool, bool)> = None;
        loop {
            let end = rest.iter().position(|t| matches!(t.kind, Kind::BarLine { .. })).unwrap_or(rest.len());
            let (bar, after) = rest.split_at(end);
            let written: Vec<Token> = bar.iter().filter(|t| t.kind != Kind::LineBreak).cloned().collect();
            let line_broken = written.len() < bar.len();
            if !written.is_empty() {
                self.bar(&written, before.is_some(), diagnostics);
            }
            let [Token { kind: Kind::BarLine { ends, begins }, span }, following @ ..] = after else { break };
            // A bar line may be written again at the head of the next line, and beside the sign of a repeat.
            let plain = !*ends && !*begins;
            if written.is_empty() && !line_broken && plain && before.is_some_and(|(ended, _)| !ended) {
                let help =
                    "write `(1)` for a silent bar, `%` for the bar before again, or leave one bar line out";
                diagnostics.push(Diagnostic::error(
                    span.clone(),
                    "nothing stands between these bar lines",
                    help,
                ));
            }
            rest = following;
            before = Some((*ends, *begins));
            if *ends {
                rest = self.repeat_ends(span, rest, diagnostics);
            }
            if *begins {
                self.repeat_begins(span, diagnostics);
            }
        }
        if let (_, Some(span)) = &self.passage {
            let help = "close it with `:|` behind its last bar, or leave the opening sign out";
            diagnostics.push(Diagnostic::error(span.clone(), "this repeated passage is not closed", help));
        }
        if self.bars.is_empty() && !diagnostics.iter().any(|d| d.severity == Severity::Error) {
            let help = "write at least one bar between bar lines: `| 1 2 3 4 |`";
            let end = self.text.len();
            diagnostics.push(Diagnostic::error(end..end, "no bar is written in this text", help));
        }
    }

    /// Reads one bar, its change of meter included.
    fn bar(&mut self, tokens: &[Token], opened: bool, diagnostics: &mut Vec<Diagnostic>) {
        let mut tokens = tokens;
        let mut changed = false;
        while let [Token { kind: Kind::Bracket, span }, rest @ ..] = tokens {
            match header::meter(self.text[span.start + 1..span.end - 1].trim()) {
                Ok(meter) => self.meter = meter,
                Err((message, help)) => {
                    let inner = span.start + 1..span.end - 1;
                    diagnostics.push(Diagnostic::error(inner, message, help));
                    // The bar cannot be read without its meter; what it holds is not at fault.
                    self.push(None);
                    return;
                }
            }
            changed = true;
            tokens = rest;
        }
        if tokens.is_empty() {
            // A meter by itself before a bar line is that of the next bar.
            return;
        }
        let pickup = self.bars.is_empty() && !opened;
        let read = if let [Token { kind: Kind::SameAgain, span }] = tokens {
            self.same_again(span, changed)
        } else if let Some(unknown) = tokens.iter().find(|t| t.kind == Kind::Unknown) {
            Err(self.unknown(unknown))
        } else if tokens.iter().any(|t| matches!(t.kind, Kind::Length(..) | Kind::TupletOpen)) {
            lengths::read(tokens, self.meter, pickup, self.sound).map(Some)
        } else {
            counts::read(tokens, self.meter, pickup, self.sound, diagnostics).map(Some)
        };
        match read {
            Ok(bar) => self.push(bar),
            Err(diagnostic) => {
                diagnostics.push(diagnostic);
                self.push(None);
            }
        }
    }

    fn push(&mut self, bar: Option<WrittenBar>) {
        let last = bar.as_ref().and_then(|bar| bar.events.last());
        self.sound = last.map_or(Sound::Unknown, |last| Sound::after(last.event.deed));
        self.bars.push(bar);
    }

    /// The bar before once more. `Ok(None)` where the bar before could not be read, which was said there.
    fn same_again(&self, span: &Range<usize>, changed: bool) -> Result<Option<WrittenBar>, Diagnostic> {
        let error = |message: &str, help: &str| Err(Diagnostic::error(span.clone(), message, help));
        match self.bars.last() {
            None => error("`%` repeats the bar before, but this is the first", "write the bar out"),
            Some(_) if changed => error(
                "`%` repeats the bar before, whose meter was another",
                "write the bar out in its new meter",
            ),
            Some(None) => Ok(None),
            Some(Some(bar)) if bar.pickup => {
                error("`%` repeats the bar before, which is a pickup", "write the bar out")
            }
            Some(Some(bar)) => {
                let mut bar = bar.clone();
                bar.events.iter_mut().for_each(|spelled| spelled.span = span.clone());
                let first = &bar.events[0];
                if first.event.deed == crate::Deed::Hold && self.sound == Sound::Silent {
                    return Err(nothing_to_hold(span.clone()));
                }
                Ok(Some(bar))
            }
        }
    }

    fn unknown(&self, token: &Token) -> Diagnostic {
        let text = &self.text[token.span.clone()];
        if text.starts_with('[') {
            return Diagnostic::error(
                token.span.clone(),
                "this change of meter is not closed",
                "close it with `]`: `[3/4]`",
            );
        }
        if self.text[token.span.end..].trim_start_matches([' ', '\t']).starts_with(':') {
            let help = "the lines `title:`, `meter:` and `tempo:` stand before the first bar";
            return Diagnostic::error(token.span.clone(), format!("`{text}:` stands among the bars"), help);
        }
        let help = format!(
            "a bar is written in counts, such as `1 2 & 3 (4)` or `1 la li`, or in lengths, such as `1/4 1/8 1/8 (1/2)`; here the meter is {}",
            self.meter
        );
        Diagnostic::error(
            token.span.clone(),
            format!("`{text}` is neither a count nor a sign of rhythm text"),
            help,
        )
    }

    fn repeat_begins(&mut self, span: &Range<usize>, diagnostics: &mut Vec<Diagnostic>) {
        if let (_, Some(open)) = &self.passage {
            let help = "close the first with `:|`: a passage inside another cannot be written";
            diagnostics.push(Diagnostic::error(
                open.clone(),
                "a second repeated passage begins before this one is closed",
                help,
            ));
        }
        self.passage = (self.bars.len(), Some(span.clone()));
    }

    /// The passage ends; reads `3 times` behind the sign. Returns what follows.
    fn repeat_ends<'a>(
        &mut self,
        span: &Range<usize>,
        rest: &'a [Token],
        diagnostics: &mut Vec<Diagnostic>,
    ) -> &'a [Token] {
        let (times, said, rest) = match rest {
            [Token { kind: Kind::Number(times), span: said }, Token { kind: Kind::Times, .. }, rest @ ..] => {
                (*times, said, rest)
            }
            _ => (2, span, rest),
        };
        if !TIMES_THROUGH.holds(i64::from(times)) {
            let message = format!("{times} is not a {}", TIMES_THROUGH.what);
            let help = format!(
                "a repeated passage is played {} to {} times in all",
                TIMES_THROUGH.least, TIMES_THROUGH.most
            );
            diagnostics.push(Diagnostic::error(said.clone(), message, help));
        }
        // Without an opening sign it goes back to the last closing one, or to the first full bar.
        let (mut first, _) = self.passage;
        if first == 0 && self.bars.first().is_some_and(|bar| bar.as_ref().is_some_and(|bar| bar.pickup)) {
            first = 1;
        }
        if first >= self.bars.len() {
            let help = "write at least one bar before `:|`";
            diagnostics.push(Diagnostic::error(span.clone(), "this repeated passage holds no bar", help));
        } else {
            self.repeats
                .push((Repeat::new(first..self.bars.len(), times), said.start.min(span.start)..said.end));
        }
        self.passage = (self.bars.len(), None);
        rest
    }

    /// The rhythm, once no bar has an error of its own.
    fn finish(self, title: Option<String>, tempo: Option<timebase::Tempo>) -> Result<Rhythm, Diagnostic> {
        let read: Vec<WrittenBar> = self.bars.into_iter().flatten().collect();
        let first = u32::from(!read.first().is_some_and(|bar| bar.pickup));
        let whole = 0..self.text.trim_end().len();
        let mut bars = Vec::with_capacity(read.len());
        for (number, bar) in (first..).zip(&read) {
            let events = bar.events.iter().map(|spelled| spelled.event).collect();
            let made = Bar::new(number, bar.meter, bar.form, events);
            bars.push(made.map_err(|error| {
                let span = bar.events.first().map_or(whole.clone(), |first| first.span.clone());
                Diagnostic::error(span, error.to_string(), "write the bar so that its lengths fill it")
            })?);
        }
        let signs: Vec<Range<usize>> = self.repeats.iter().map(|(_, sign)| sign.clone()).collect();
        let repeats = self.repeats.into_iter().map(|(repeat, _)| repeat).collect();
        Rhythm::new(title, tempo, bars, repeats).map_err(|error| match &error {
            Error::HoldAfterSilence { bar, at, .. } => {
                let index = usize::try_from(bar.saturating_sub(first)).unwrap_or(0);
                let event = read[index].events.iter().find(|spelled| spelled.event.at == *at);
                let mut diagnostic = nothing_to_hold(event.map_or(whole, |spelled| spelled.span.clone()));
                diagnostic.message =
                    "nothing sounds before this hold when the passage is repeated".to_owned();
                diagnostic
            }
            Error::OutOfRange { limit, .. } => {
                let span = signs.last().cloned().unwrap_or(whole);
                let help =
                    format!("{} goes from {} to {}: play fewer repeats", limit.what, limit.least, limit.most);
                Diagnostic::error(span, error.to_string(), help)
            }
            _ => Diagnostic::error(whole, error.to_string(), "mend the bars and repeats it names"),
        })
    }
}
