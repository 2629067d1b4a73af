//! Repeated passages, their endings, and the jump back to the sign.

use std::ops::Range;

use super::Diagnostic;
use super::direction::JumpUntil;
use crate::limits::TIMES_THROUGH;
use crate::{Ending, Jump, Repeat, Until};

/// The passages read so far. Bars are indices into the part.
#[derive(Debug, Default)]
pub(super) struct Passages {
    done: Vec<(Repeat, Range<usize>)>,
    /// Where the passage that a closing sign repeats begins.
    first: usize,
    /// Whether an opening sign said so.
    is_signed: bool,
    /// That sign until the passage is closed.
    opened: Option<Range<usize>>,
    endings: Vec<WrittenEnding>,
    /// How often its closing sign says that it is played, and where it says so.
    times: Option<(u32, Range<usize>)>,
    segno: Option<(usize, Range<usize>)>,
    coda: Option<(usize, Range<usize>)>,
    fine: Option<(usize, Range<usize>)>,
    to_coda: Option<(usize, Range<usize>)>,
    jump: Option<WrittenJump>,
}

#[derive(Debug)]
struct WrittenEnding {
    bars: Range<usize>,
    /// Whether the closing sign of the repeat stood behind it.
    closed: bool,
    passes: Vec<u32>,
    span: Range<usize>,
}

#[derive(Debug)]
struct WrittenJump {
    after: usize,
    from_sign: bool,
    until: Option<JumpUntil>,
    span: Range<usize>,
}

/// A sign that stands at one bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sign {
    Segno,
    Coda,
    Fine,
    ToCoda,
}

/// What the passages of a part come to, and the spans of their signs in the same order.
pub(super) type Route = (Vec<Repeat>, Vec<Range<usize>>, Option<Jump>, Option<Range<usize>>);

impl Passages {
    /// A passage begins at bar `index`.
    pub(super) fn begins(&mut self, index: usize, span: &Range<usize>, diagnostics: &mut Vec<Diagnostic>) {
        self.settle(index, diagnostics);
        if let Some(open) = &self.opened {
            let help = "close the first with `:|`: a passage inside another cannot be written";
            let message = "a second repeated passage begins before this one is closed";
            diagnostics.push(Diagnostic::error(open.clone(), message, help));
        }
        (self.first, self.is_signed) = (index, true);
        self.opened = Some(span.clone());
    }

    /// A passage ends before bar `index`, with the sign at `span`; it is played `times` in all if that was said.
    pub(super) fn ends(
        &mut self,
        index: usize,
        pickup: bool,
        times: Option<(u32, Range<usize>)>,
        span: &Range<usize>,
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        if let Some((times, said)) = &times
            && !TIMES_THROUGH.holds(i64::from(*times))
        {
            let message = format!("{times} is not a {}", TIMES_THROUGH.what);
            let help = format!(
                "a repeated passage is played {} to {} times in all",
                TIMES_THROUGH.least, TIMES_THROUGH.most
            );
            diagnostics.push(Diagnostic::error(said.clone(), message, help));
        }
        self.leave_out(pickup);
        if self.first >= index {
            let help = "write at least one bar before `:|`";
            diagnostics.push(Diagnostic::error(span.clone(), "this repeated passage holds no bar", help));
            self.again(index);
        } else if let Some(last) = self.endings.last_mut() {
            last.closed = true;
            last.bars.end = index;
            self.opened = None;
            self.times = times.or(self.times.take());
        } else {
            let said = times.as_ref().map_or(span.end, |(_, said)| said.end);
            let repeat = Repeat::new(self.first..index, times.map_or(2, |(times, _)| times));
            self.done.push((repeat, span.start..said));
            self.again(index);
        }
    }

    /// Without an opening sign a passage goes back to the last closing one, or to the first full bar.
    fn leave_out(&mut self, pickup: bool) {
        if self.first == 0 && pickup && !self.is_signed {
            self.first = 1;
        }
    }

    /// A bar begins at `index`, with an ending or without one.
    pub(super) fn bar(
        &mut self,
        index: usize,
        ending: Option<(Vec<u32>, Range<usize>)>,
        pickup: bool,
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        let Some((passes, span)) = ending else {
            if self.endings.last().is_some_and(|last| last.closed) {
                self.settle(index, diagnostics);
            }
            return;
        };
        if let Some(open) = self.endings.last().filter(|last| !last.closed) {
            let help = "close it with `:|` behind its last bar; only the last ending has none";
            diagnostics.push(Diagnostic::error(open.span.clone(), "this ending is not closed", help));
        }
        self.leave_out(pickup);
        self.endings.push(WrittenEnding { bars: index..index, closed: false, passes, span });
    }

    /// A double bar line, another passage or the end of the part stands before bar `index`: the last ending ends.
    pub(super) fn settle(&mut self, index: usize, diagnostics: &mut Vec<Diagnostic>) {
        let Some(last) = self.endings.last_mut() else { return };
        if !last.closed {
            last.bars.end = index;
        }
        let (end, sign) = (last.bars.end, last.span.end);
        let span = self.endings[0].span.start..sign;
        let mut named: Vec<u32> =
            self.endings.iter().flat_map(|ending| ending.passes.iter().copied()).collect();
        named.sort_unstable();
        let most = named.last().copied().unwrap_or(0);
        let times = self.times.as_ref().map_or(most.max(2), |(times, _)| *times);
        let error = |message: String, help: String| Diagnostic::error(span.clone(), message, help);
        if self.endings.iter().any(|ending| ending.bars.is_empty()) {
            let help = "write at least one bar behind the sign of an ending".to_owned();
            diagnostics.push(error("an ending holds no bar".to_owned(), help));
        } else if named.iter().copied().ne(1..=times) {
            let missing = (1..=times).find(|pass| !named.contains(pass));
            let message = match missing {
                Some(pass) => {
                    format!("this passage is played {times} times, but no ending is marked for time {pass}")
                }
                None => format!(
                    "the endings of this passage, played {times} times, name a time twice or one that is not there"
                ),
            };
            let help = "mark the ending of every time through once: `|: 1 2 3 4 | [1.] 1 2 (3 4) :| [2.] 1 (2 3 4) |`";
            diagnostics.push(error(message, help.to_owned()));
        } else {
            let endings = self
                .endings
                .iter()
                .map(|ending| Ending { bars: ending.bars.clone(), passes: ending.passes.clone() })
                .collect();
            self.done.push((Repeat { bars: self.first..end, times, endings }, span));
        }
        if let Some(open) = self.opened.take() {
            let help = "close it with `:|` behind the first ending";
            diagnostics.push(Diagnostic::error(open, "this repeated passage is not closed", help));
        }
        self.again(end);
    }

    /// The next closing sign goes back to bar `index`.
    fn again(&mut self, index: usize) {
        (self.first, self.is_signed) = (index, false);
        self.opened = None;
        self.endings.clear();
        self.times = None;
    }

    /// A sign stands at bar `index`.
    pub(super) fn sign(
        &mut self,
        sign: Sign,
        index: usize,
        span: &Range<usize>,
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        let (place, name) = match sign {
            Sign::Segno => (&mut self.segno, "[segno]"),
            Sign::Coda => (&mut self.coda, "[coda]"),
            Sign::Fine => (&mut self.fine, "[fine]"),
            Sign::ToCoda => (&mut self.to_coda, "[to coda]"),
        };
        if place.is_some() {
            let message = format!("`{name}` stands here a second time");
            diagnostics.push(Diagnostic::error(
                span.clone(),
                message,
                "a piece has one of each sign at most",
            ));
        } else {
            *place = Some((index, span.clone()));
        }
    }

    /// A jump stands behind bar `after`.
    pub(super) fn jump(
        &mut self,
        after: usize,
        from_sign: bool,
        until: Option<JumpUntil>,
        span: &Range<usize>,
        diagnostics: &mut Vec<Diagnostic>,
    ) {
        if self.jump.is_some() {
            let help = "a piece jumps back once; what comes after is written out";
            diagnostics.push(Diagnostic::error(span.clone(), "a second jump back", help));
        } else {
            self.jump = Some(WrittenJump { after, from_sign, until, span: span.clone() });
        }
    }

    /// Everything, once all `bars` bars are read.
    pub(super) fn finish(mut self, bars: usize, diagnostics: &mut Vec<Diagnostic>) -> Route {
        self.settle(bars, diagnostics);
        if let Some(span) = &self.opened {
            let help = "close it with `:|` behind its last bar, or leave the opening sign out";
            diagnostics.push(Diagnostic::error(span.clone(), "this repeated passage is not closed", help));
        }
        let jump = self.resolved(diagnostics);
        let span = self.jump.map(|jump| jump.span);
        let (repeats, spans) = self.done.into_iter().unzip();
        (repeats, spans, jump, span)
    }

    /// The jump with the bars that its signs stand at.
    fn resolved(&self, diagnostics: &mut Vec<Diagnostic>) -> Option<Jump> {
        let mut error = |span: &Range<usize>, message: &str, help: &str| {
            diagnostics.push(Diagnostic::error(span.clone(), message, help));
        };
        let Some(jump) = &self.jump else {
            for (_, span) in [&self.segno, &self.coda, &self.fine, &self.to_coda].into_iter().flatten() {
                let help = "write the jump at the end of its bar, `[D.S. al fine]` or `[D.C. al coda]`, or leave the sign out";
                error(span, "this sign stands here, but nothing jumps back", help);
            }
            return None;
        };
        let to = match (&self.segno, jump.from_sign) {
            (Some((index, _)), true) => *index,
            (None, true) => {
                error(
                    &jump.span,
                    "the jump goes back to a sign that is not there",
                    "write `[segno]` at the beginning of its bar, or go back to the beginning with `[D.C.]`",
                );
                return None;
            }
            (Some((_, span)), false) => {
                error(
                    span,
                    "this sign stands here, but the jump goes to the beginning",
                    "write `[D.S.]` to go back to the sign, or leave it out",
                );
                return None;
            }
            (None, false) => 0,
        };
        let until = match (jump.until, &self.fine, &self.to_coda, &self.coda) {
            (None | Some(JumpUntil::Fine), Some((fine, _)), None, None) => Until::Fine(*fine),
            (None, None, None, None) => Until::End,
            (None | Some(JumpUntil::Coda), None, Some((leave, _)), Some((coda, _))) => {
                Until::Coda { leave: *leave, coda: *coda }
            }
            _ => {
                let help = "`al fine` needs `[fine]` at the end of a bar, `al coda` needs `[to coda]` at the end of a bar and `[coda]` at the beginning of a later one; other signs stay away";
                error(&jump.span, "the signs of this piece do not fit its jump", help);
                return None;
            }
        };
        Some(Jump { after: jump.after, to, from_sign: jump.from_sign, until })
    }
}
