//! The bars of one part.

use std::collections::VecDeque;
use std::ops::Range;

use timebase::Span;

use super::bar::{Alike, Setting, Sound, Written, WrittenBar, nothing_to_hold};
use super::direction::Direction;
use super::passage::{Passages, Route, Sign};
use super::token::{Kind, Token};
use super::{Diagnostic, Severity, aligned, counts, lengths};
use crate::limits::BARS_OF_REST;
use crate::size::Size;
use crate::{BarsOfRest, Deed, Event, Form, Meter, TempoMark};

/// What the parts of one text have in common.
#[derive(Debug, Default)]
pub(super) struct Common {
    alike: Alike,
    size: Size,
}

impl Common {
    /// Whether more is written than a piece may hold.
    pub(super) fn is_full(&self) -> bool {
        self.size.over().is_some()
    }
}

/// The bars of a part read so far.
pub(super) struct Body<'t, 'c> {
    text: &'t str,
    common: &'c mut Common,
    meter: Meter,
    /// A bar that could not be read is `None`, so that the bars behind it keep their numbers.
    pub(super) bars: Vec<Option<WrittenBar>>,
    passages: Passages,
    sound: Sound,
}

/// What the brackets before a bar say of it.
#[derive(Default)]
struct Opening {
    changed: bool,
    tempo: Option<TempoMark>,
    from: Option<Span>,
    lasts: Option<Span>,
}

impl<'t, 'c> Body<'t, 'c> {
    pub(super) fn new(meter: Meter, text: &'t str, common: &'c mut Common) -> Self {
        Self { text, common, meter, bars: Vec::new(), passages: Passages::default(), sound: Sound::Silent }
    }

    pub(super) fn read(&mut self, tokens: impl Iterator<Item = Token>, diagnostics: &mut Vec<Diagnostic>) {
        let mut tokens = Ahead::new(tokens);
        // The bar line before what comes next: whether a passage ends and whether one begins at it.
        let mut before: Option<(bool, bool)> = None;
        let mut written: Vec<Token> = Vec::new();
        loop {
            written.clear();
            let mut line_broken = false;
            let line = loop {
                match tokens.next() {
                    Some(Token { kind: Kind::BarLine { ends, begins, double }, span }) => {
                        break Some((ends, begins, double, span));
                    }
                    Some(Token { kind: Kind::LineBreak, .. }) => line_broken = true,
                    Some(token) => written.push(token),
                    None => break None,
                }
            };
            if !written.is_empty() {
                // Only where there is a pickup does it matter.
                let is_last = self.has_pickup() && !tokens.hold_a_bar();
                self.bar(&written, before.map(|(_, begins)| begins), is_last, diagnostics);
                if self.is_full(&written[0].span, diagnostics) {
                    return;
                }
            }
            let Some((ends, begins, double, span)) = line else { break };
            // A bar line may be written again at the head of the next line, and beside the sign of a repeat.
            let plain = !ends && !begins;
            if written.is_empty() && !line_broken && plain && before.is_some_and(|(ended, _)| !ended) {
                let help =
                    "write `(1)` for a silent bar, `%` for the bar before again, or leave one bar line out";
                diagnostics.push(Diagnostic::error(
                    span.clone(),
                    "nothing stands between these bar lines",
                    help,
                ));
            }
            before = Some((ends, begins));
            if ends {
                let times = tokens.times();
                let (index, pickup) = (self.bars.len(), self.has_pickup());
                self.passages.ends(index, pickup, times, &span, diagnostics);
            }
            if double && !ends {
                self.passages.settle(self.bars.len(), diagnostics);
            }
            if begins {
                self.passages.begins(self.bars.len(), &span, diagnostics);
            }
        }
        if self.bars.is_empty() && !diagnostics.iter().any(|d| d.severity == Severity::Error) {
            let help = "write at least one bar between bar lines: `| 1 2 3 4 |`";
            let end = self.text.len();
            diagnostics.push(Diagnostic::error(end..end, "no bar is written in this text", help));
        }
    }

    /// Reads one bar, the brackets around it included. `before` is whether a passage begins at the bar line before it, if
    /// there is one.
    fn bar(
        &mut self,
        tokens: &[Token],
        before: Option<bool>,
        is_last: bool,
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        let begins = tokens[0].span.start;
        let closing = tokens.iter().rposition(|t| t.kind != Kind::Bracket).map_or(0, |last| last + 1);
        let first = tokens.iter().position(|t| t.kind != Kind::Bracket).unwrap_or(tokens.len());
        if first == tokens.len() {
            self.only_brackets(tokens, diagnostics);
            return;
        }
        let Ok(opening) = self.opening(&tokens[..first], diagnostics) else {
            // The bar cannot be read without its meter; what it holds is not at fault.
            self.push(None);
            return;
        };
        let written = &tokens[first..closing];
        // Behind the sign of a passage a 1 that begins a group may be that of any group.
        let tells_where = !self.meter.is_counted_by_group() || opening.from.is_some();
        let pickup = self.bars.is_empty() && before.is_none_or(|begins| begins && tells_where);
        let full = self.meter.bar_length();
        let until = opening.lasts.map(|lasts| opening.from.unwrap_or(Span::ZERO) + lasts);
        if let Some(wrong) = [opening.from, until].into_iter().flatten().find(|place| *place > full) {
            let message = format!("this bar is said to reach {wrong} of a whole note");
            let help = format!("a bar of {} lasts {full} of a whole note", self.meter);
            diagnostics.push(Diagnostic::error(tokens[0].span.clone(), message, help));
            self.push(None);
            return;
        }
        let complement = self.complement().filter(|_| is_last);
        let setting =
            Setting { meter: self.meter, pickup, before: self.sound, from: opening.from, until, complement };
        let read = if let [Token { kind: Kind::SameAgain, span }] = written {
            self.same_again(span, opening.changed)
        } else if let Some((many, span)) = bars_of_rest(written) {
            self.rest(many, &span, &opening, begins, diagnostics);
            self.closing(&tokens[closing..], diagnostics);
            return;
        } else if let Some(unknown) = written.iter().find(|t| t.kind == Kind::Unknown) {
            Err(self.unknown(unknown))
        } else if written.iter().any(|t| matches!(t.kind, Kind::Length(..) | Kind::TupletOpen)) {
            lengths::read(written, setting).map(Some)
        } else {
            counts::read(written, setting, diagnostics).map(Some)
        };
        match read {
            Ok(bar) => {
                self.push(bar.map(|bar| bar.opened(begins, opening.tempo)));
            }
            Err(diagnostic) => {
                diagnostics.push(diagnostic);
                self.push(None);
            }
        }
        self.closing(&tokens[closing..], diagnostics);
    }

    /// How long the last bar of a rhythm with a pickup is.
    fn complement(&self) -> Option<Span> {
        let first = self.bars.first()?.as_ref().filter(|bar| bar.pickup)?;
        let start = first.events.first()?.at;
        let pickup = first.meter.bar_length() - start;
        Some(self.meter.bar_length() - pickup).filter(|complement| complement.is_positive())
    }

    fn push(&mut self, mut bar: Option<WrittenBar>) {
        if let Some(bar) = &mut bar {
            self.common.alike.share(&mut bar.events);
        }
        let last = bar.as_ref().and_then(|bar| bar.events.last());
        self.sound = last.map_or(Sound::Unknown, |last| Sound::after(last.deed));
        self.common.size.add(bar.as_ref().map_or(0, |bar| bar.events.len()));
        self.bars.push(bar);
    }

    /// Whether more is written than a piece may hold; that is said at `span`, and reading ends.
    fn is_full(&self, span: &Range<usize>, diagnostics: &mut Vec<Diagnostic>) -> bool {
        let Some(limit) = self.common.size.over() else { return false };
        let message = format!("the {} goes over {} here", limit.what, limit.most);
        diagnostics.push(Diagnostic::error(span.clone(), message, "write the piece in several files"));
        true
    }

    fn has_pickup(&self) -> bool {
        self.bars.first().is_some_and(|bar| bar.as_ref().is_some_and(|bar| bar.pickup))
    }

    /// Brackets by themselves between bar lines: those of the next bar, or of the one before.
    fn only_brackets(&mut self, tokens: &[Token], diagnostics: &mut Vec<Diagnostic>) {
        for token in tokens {
            match self.direction(token) {
                Ok(Direction::Meter(meter)) => self.meter = meter,
                Ok(_) => {
                    let help = "write it inside its bar: `| [1.] 1 2 3 4 |`, `| 1 2 3 4 [fine] |`";
                    let message = "this direction stands in a bar without notes";
                    diagnostics.push(Diagnostic::error(token.span.clone(), message, help));
                }
                Err(diagnostic) => diagnostics.push(diagnostic),
            }
        }
    }

    fn direction(&self, token: &Token) -> Result<Direction, Diagnostic> {
        let inner = token.span.start + 1..token.span.end - 1;
        Direction::read(&self.text[inner.clone()])
            .map_err(|(message, help)| Diagnostic::error(inner, message, help))
    }

    /// Reads the brackets before the notes of a bar. `Err` where the bar cannot be read without one of them.
    fn opening(&mut self, tokens: &[Token], diagnostics: &mut Vec<Diagnostic>) -> Result<Opening, ()> {
        let mut opening = Opening::default();
        let index = self.bars.len();
        let mut ending = None;
        let mut failed = false;
        for token in tokens {
            match self.direction(token) {
                Ok(Direction::Meter(meter)) => {
                    self.meter = meter;
                    opening.changed = true;
                }
                Ok(Direction::Tempo(mark)) => opening.tempo = Some(mark),
                Ok(Direction::From(place)) => opening.from = Some(place),
                Ok(Direction::Lasts(length)) => opening.lasts = Some(length),
                Ok(Direction::Ending(passes)) => ending = Some((passes, token.span.clone())),
                Ok(Direction::Segno) => self.passages.sign(Sign::Segno, index, &token.span, diagnostics),
                Ok(Direction::Coda) => self.passages.sign(Sign::Coda, index, &token.span, diagnostics),
                Ok(Direction::Fine | Direction::ToCoda | Direction::Jump { .. }) => {
                    let help = "write it behind the last count of its bar: `| 1 2 3 4 [fine] |`";
                    let message = "this direction stands at the beginning of a bar";
                    diagnostics.push(Diagnostic::error(token.span.clone(), message, help));
                }
                Err(diagnostic) => {
                    diagnostics.push(diagnostic);
                    failed = true;
                }
            }
        }
        let pickup = self.has_pickup();
        self.passages.bar(index, ending, pickup, diagnostics);
        if failed { Err(()) } else { Ok(opening) }
    }

    /// Reads the brackets behind the notes of the bar that was read last.
    fn closing(&mut self, tokens: &[Token], diagnostics: &mut Vec<Diagnostic>) {
        let index = self.bars.len().saturating_sub(1);
        for token in tokens {
            match self.direction(token) {
                Ok(Direction::Fine) => self.passages.sign(Sign::Fine, index, &token.span, diagnostics),
                Ok(Direction::ToCoda) => self.passages.sign(Sign::ToCoda, index, &token.span, diagnostics),
                Ok(Direction::Jump { from_sign, until }) => {
                    self.passages.jump(index, from_sign, until, &token.span, diagnostics);
                }
                Ok(_) => {
                    let help = "write it at the beginning of its bar: `| [3/4] 1 2 3 |`";
                    let message = "this direction stands at the end of a bar";
                    diagnostics.push(Diagnostic::error(token.span.clone(), message, help));
                }
                Err(diagnostic) => diagnostics.push(diagnostic),
            }
        }
    }

    /// Several bars of rest written as one.
    fn rest(
        &mut self,
        many: u32,
        span: &Range<usize>,
        opening: &Opening,
        begins: usize,
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        if !BARS_OF_REST.holds(i64::from(many)) || opening.from.is_some() || opening.lasts.is_some() {
            let message = format!("a rest of {many} bars cannot be written in one");
            let help = format!(
                "it goes from {} to {} full bars: `(4 bars)`; one silent bar is `(1)`",
                BARS_OF_REST.least, BARS_OF_REST.most
            );
            diagnostics.push(Diagnostic::error(span.clone(), message, help));
            self.push(None);
            return;
        }
        for index in 1..=many {
            let event = Event::new(Span::ZERO, self.meter.bar_length(), Deed::Rest);
            let mut written = Written::default();
            written.push(event, span);
            let bar = WrittenBar::new(self.meter, Form::Counts, false, written)
                .with(|rare| rare.rest = Some(BarsOfRest { index, of: many }))
                .opened(begins, opening.tempo.filter(|_| index == 1));
            self.push(Some(bar));
        }
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
            Some(Some(bar)) if bar.goes_on() => {
                error("`%` repeats the bar before, which is the second half of one", "write the bar out")
            }
            Some(Some(bar)) => {
                let again = bar.clone().with(|rare| (rare.tempo, rare.rest) = (None, None));
                let mut bar = again.at(span);
                bar.same_again = true;
                let first = bar.events.first();
                if first.is_some_and(|first| first.deed == Deed::Hold) && self.sound == Sound::Silent {
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
                "this bracket is not closed",
                "close it with `]`: `[3/4]`",
            );
        }
        if self.text[token.span.end..].trim_start_matches([' ', '\t']).starts_with(':') {
            let help = "the lines `title:`, `meter:` and `tempo:` stand before the first bar; `part:`, `sticking:`, `accents:`, `strokes:` and `dynamics:` stand on lines of their own among the bars";
            return Diagnostic::error(token.span.clone(), format!("`{text}:` stands among the bars"), help);
        }
        if text.eq_ignore_ascii_case("bar") {
            let help =
                "several bars of rest are written with their number: `(4 bars)`; a single one is `(1)`";
            return Diagnostic::error(token.span.clone(), "`bar` is no word of rhythm text", help);
        }
        let label = text.to_ascii_lowercase();
        if super::read::Label::of(&label).is_some() || ["title", "meter", "tempo"].contains(&label.as_str()) {
            let message = format!("`{text}` begins no line of its own, or lacks its colon");
            let help = format!("write it at the beginning of a line: `{label}: …`");
            return Diagnostic::error(token.span.clone(), message, help);
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

    /// Puts the marks of `lines` on the bars read so far.
    pub(super) fn mark(&mut self, lines: &[aligned::Line], diagnostics: &mut Vec<Diagnostic>) {
        if lines.is_empty() {
            return;
        }
        aligned::apply(self.text, lines, &mut self.bars, diagnostics);
        for bar in self.bars.iter_mut().flatten() {
            self.common.alike.share(&mut bar.events);
        }
    }

    /// The bars that could be read, and how they are repeated.
    pub(super) fn finish(self, diagnostics: &mut Vec<Diagnostic>) -> (Vec<WrittenBar>, Route) {
        let route = self.passages.finish(self.bars.len(), diagnostics);
        (self.bars.into_iter().flatten().collect(), route)
    }
}

/// Tokens with a look at those ahead.
struct Ahead<I> {
    tokens: I,
    seen: VecDeque<Token>,
}

impl<I: Iterator<Item = Token>> Ahead<I> {
    fn new(tokens: I) -> Self {
        Self { tokens, seen: VecDeque::new() }
    }

    fn next(&mut self) -> Option<Token> {
        self.seen.pop_front().or_else(|| self.tokens.next())
    }

    /// The token so many ahead, 0 for the next.
    fn peek(&mut self, ahead: usize) -> Option<&Token> {
        while self.seen.len() <= ahead {
            let token = self.tokens.next()?;
            self.seen.push_back(token);
        }
        self.seen.get(ahead)
    }

    /// How often the passage is played that ends here, and where that stands: `3 times`.
    fn times(&mut self) -> Option<(u32, Range<usize>)> {
        let Some(&Token { kind: Kind::Number(times), ref span }) = self.peek(0) else { return None };
        let said = (times, span.clone());
        if self.peek(1)?.kind != Kind::Times {
            return None;
        }
        self.seen.drain(..2);
        Some(said)
    }

    /// Whether another bar follows: anything but bar lines and how often they are passed.
    fn hold_a_bar(&mut self) -> bool {
        let mut ahead = 0;
        loop {
            let Some(kind) = self.peek(ahead).map(|token| token.kind) else { return false };
            ahead += match kind {
                Kind::BarLine { .. } | Kind::LineBreak | Kind::Times => 1,
                Kind::Number(_) if self.peek(ahead + 1).is_some_and(|next| next.kind == Kind::Times) => 2,
                _ => return true,
            };
        }
    }
}

/// `(4 bars)`: how many, and where it stands.
fn bars_of_rest(tokens: &[Token]) -> Option<(u32, Range<usize>)> {
    match tokens {
        [
            Token { kind: Kind::Open, span: open },
            Token { kind: Kind::Number(many), .. },
            Token { kind: Kind::Bars, .. },
            Token { kind: Kind::Close, span: close },
        ] => Some((*many, open.start..close.end)),
        _ => None,
    }
}
