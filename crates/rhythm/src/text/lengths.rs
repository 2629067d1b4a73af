//! A bar written in lengths: `1/4 1/8 1/8 (1/4) 1/4. _1/8`.

use std::ops::Range;

use timebase::{Ratio, Span};

use super::Diagnostic;
use super::bar::{Setting, Sound, Written, WrittenBar, nothing_to_hold};
use super::token::{Kind, Token};
use crate::limits::{TUPLET_DEPTH, TUPLET_PARTS};
use crate::{Deed, Event, Form, Tuplet};

const TUPLET: &str = "say how many stand in the time of how many, two numbers from 1 to 64, and fill it with a whole number of one note value: \
                      `{3:2 1/8 1/8 1/8}`, `{3:2 1/4 1/8}`, `{5:4 1/16 1/16 1/16 1/16 1/16}`";

/// Reads the tokens of one bar.
pub(super) fn read(tokens: &[Token], setting: Setting) -> Result<WrittenBar, Diagnostic> {
    let mut bar = Lengths {
        setting,
        written: Written::with_capacity(tokens.len()),
        reached: setting.from.unwrap_or(Span::ZERO),
        sound: setting.before,
        tuplets: Vec::new(),
        open: Vec::new(),
    };
    let mut tokens = tokens.iter().peekable();
    let (mut silence, mut hold, mut broken) = (None, None, None);
    while let Some(token) = tokens.next() {
        let span = token.span.clone();
        match token.kind {
            Kind::Length(numerator, denominator, dots) => {
                let length = length(numerator, denominator, dots, &span)?;
                let length = length.scaled(bar.ratio());
                let held: Option<Range<usize>> = hold.take();
                let deed = match (&silence, &held) {
                    (Some(_), _) => Deed::Rest,
                    (None, Some(_)) => Deed::Hold,
                    (None, None) => Deed::Attack,
                };
                let span = held.map_or(span.start, |underscore| underscore.start)..span.end;
                bar.push(length, deed, broken.take().is_some(), span)?;
            }
            Kind::Open if silence.is_none() && hold.is_none() => silence = Some(span),
            Kind::Close if silence.is_some() => silence = None,
            Kind::Hold if silence.is_none() && hold.is_none() => hold = Some(span),
            Kind::Comma if broken.is_none() && !bar.written.events.is_empty() => broken = Some(span),
            Kind::Fermata => match bar.written.events.last_mut() {
                Some(last) if hold.is_none() && !last.marks.fermata => last.marks.fermata = true,
                _ => {
                    let help = "write it behind the length that it stands on: `1/2 fermata`";
                    return Err(Diagnostic::error(span, "this fermata stands on no length", help));
                }
            },
            Kind::TupletOpen if silence.is_none() && hold.is_none() => {
                let ratio = (
                    tokens.next().map(|t| t.kind),
                    tokens.next().map(|t| t.kind),
                    tokens.next().map(|t| t.kind),
                );
                let (Some(Kind::Number(actual)), Some(Kind::Colon), Some(Kind::Number(normal))) = ratio
                else {
                    let message = "this tuplet does not say how many stand in the time of how many";
                    return Err(Diagnostic::error(span, message, TUPLET));
                };
                bar.open(actual, normal, span)?;
            }
            Kind::TupletClose => bar.close(&span)?,
            _ => return Err(stray(token)),
        }
    }
    let unfinished =
        silence.map(|s| (s, "this silence is not closed", "close it with `)` after its last length"));
    let unfinished = unfinished
        .or(hold
            .map(|s| (s, "`_` stands before no length", "write it before the length that is held: `_1/8`")));
    let unfinished = unfinished.or(bar
        .open
        .pop()
        .map(|t| (t.span, "this tuplet is not closed", "close it with `}` after its last length")));
    let unfinished = unfinished
        .or(broken
            .map(|s| (s, "`,` stands before no length", "it breaks the beam before a length: `1/8 , 1/8`")));
    if let Some((span, message, help)) = unfinished {
        return Err(Diagnostic::error(span, message, help));
    }
    bar.finish()
}

/// A bar as far as it is read.
struct Lengths {
    setting: Setting,
    written: Written,
    reached: Span,
    sound: Sound,
    tuplets: Vec<Tuplet>,
    /// Tuplets that are not closed yet, the outer first.
    open: Vec<OpenTuplet>,
}

struct OpenTuplet {
    /// Its index in the list of tuplets.
    index: usize,
    /// What a written length in it is multiplied with, outer tuplets included.
    ratio: Ratio<i64>,
    span: Range<usize>,
}

impl Lengths {
    /// What a written length is multiplied with here.
    fn ratio(&self) -> Ratio<i64> {
        self.open.last().map_or(Ratio::from_integer(1), |open| open.ratio)
    }

    fn open(&mut self, actual: u32, normal: u32, span: Range<usize>) -> Result<(), Diagnostic> {
        if [actual, normal].iter().any(|&n| !TUPLET_PARTS.holds(i64::from(n))) {
            return Err(Diagnostic::error(span, format!("{actual}:{normal} is no tuplet"), TUPLET));
        }
        if i64::try_from(self.open.len()).unwrap_or(i64::MAX) >= TUPLET_DEPTH.most {
            let help = "a tuplet may hold tuplets, but these hold none: close one with `}` first";
            return Err(Diagnostic::error(span, "this tuplet stands in a tuplet of a tuplet", help));
        }
        let ratio = self.ratio() * Ratio::new(i64::from(normal), i64::from(actual));
        self.open.push(OpenTuplet { index: self.tuplets.len(), ratio, span });
        self.tuplets.push(Tuplet { at: self.reached, length: Span::ZERO, actual, normal });
        Ok(())
    }

    fn close(&mut self, span: &Range<usize>) -> Result<(), Diagnostic> {
        let Some(open) = self.open.pop() else {
            let help = "a tuplet is written `{3:2 1/8 1/8 1/8}`";
            return Err(Diagnostic::error(span.clone(), "`}` closes nothing", help));
        };
        let tuplet = &mut self.tuplets[open.index];
        tuplet.length = self.reached - tuplet.at;
        // As it is written, it holds `actual` of one note value, or twice or half as many.
        let written = tuplet.length.scaled(open.ratio.recip());
        let one = written / i64::from(tuplet.actual);
        let whole = open.span.start..span.end;
        if !written.is_positive() || one.numerator().count_ones() != 1 || one.denominator().count_ones() != 1
        {
            let message = format!(
                "this tuplet of {} holds {written} of a whole note, which {} equal notes cannot fill",
                tuplet.actual, tuplet.actual
            );
            return Err(Diagnostic::error(whole, message, TUPLET));
        }
        Ok(())
    }

    fn push(
        &mut self,
        length: Span,
        deed: Deed,
        beam_broken: bool,
        span: Range<usize>,
    ) -> Result<(), Diagnostic> {
        if deed == Deed::Hold && self.sound == Sound::Silent {
            return Err(nothing_to_hold(span));
        }
        self.sound = Sound::after(deed);
        let full = self.setting.until.unwrap_or(self.setting.meter.bar_length());
        let end = self.reached.checked_add(length).filter(|end| *end <= full).ok_or_else(|| {
            let left = full - self.reached;
            let left = if left.is_positive() { format!("{left} of a whole note") } else { "nothing".to_owned() };
            let message = format!("this length goes over the end of the bar, where {left} is left");
            let help = format!("a bar of {} lasts {full} of a whole note: end it with `|`, or shorten it; what sounds on after the bar line is written `_` behind it", self.setting.meter);
            Diagnostic::error(span.clone(), message, help)
        })?;
        let event = Event { beam_broken, ..Event::new(self.reached, length, deed) };
        self.written.push(event, &span);
        self.reached = end;
        Ok(())
    }

    fn finish(mut self) -> Result<WrittenBar, Diagnostic> {
        let Setting { meter, from, until, complement, .. } = self.setting;
        let full = until.unwrap_or(meter.bar_length());
        let missing = full - self.reached;
        let ends_with_it = from.is_none() && until.is_none() && missing.is_positive();
        let begins_late = from.is_some_and(Span::is_positive);
        let pickup = self.setting.pickup && (ends_with_it || begins_late);
        let complements = complement
            .is_some_and(|complement| until.is_none() && from.is_none() && self.reached == complement);
        if missing.is_positive() && !(pickup && ends_with_it) && !complements {
            let span = self.written.places.last().map_or(0..0, |place| place.span());
            let message = format!("this bar ends {missing} of a whole note too early");
            let help = format!(
                "a bar of {meter} lasts {full} of a whole note: add what is missing, as a rest `({missing})` if it is silent"
            );
            return Err(Diagnostic::error(span, message, help));
        }
        if pickup && ends_with_it {
            self.written.events.iter_mut().for_each(|event| event.at += missing);
            self.tuplets.iter_mut().for_each(|tuplet| tuplet.at += missing);
        }
        let bar = WrittenBar::new(meter, Form::Lengths, pickup, self.written);
        Ok(if self.tuplets.is_empty() { bar } else { bar.with(|rare| rare.tuplets = self.tuplets) })
    }
}

/// A length of at least a dotted sixty-fourth, at most what fits a bar.
fn length(numerator: u32, denominator: u32, dots: u32, span: &Range<usize>) -> Result<Span, Diagnostic> {
    let error = |message: String| {
        let help = "a length is a fraction of a whole note whose lower number is 1, 2, 4, 8, 16, 32 or 64, with at most two dots: `1/4`, `3/8`, `1/8.`";
        Diagnostic::error(span.clone(), message, help)
    };
    if !(1..=64).contains(&denominator)
        || !denominator.is_power_of_two()
        || !(1..=64 * 64).contains(&numerator)
    {
        return Err(error(format!("{numerator}/{denominator} is not a length")));
    }
    let plain = Span::new(i64::from(numerator), i64::from(denominator));
    match dots {
        0 => Ok(plain),
        1 => Ok(plain.scaled(Ratio::new(3, 2))),
        2 => Ok(plain.scaled(Ratio::new(7, 4))),
        _ => Err(error(format!("{dots} dots are too many"))),
    }
}

/// What to say of a token that has no business, or not this one, in a bar of lengths.
fn stray(token: &Token) -> Diagnostic {
    let error = |message: &str, help: &str| Diagnostic::error(token.span.clone(), message, help);
    match token.kind {
        Kind::Number(_) | Kind::Part(_) => error(
            "a count stands among lengths",
            "write a bar in counts (`1 2 & 3`) or in lengths (`1/4 1/8 1/8 1/4`), not in both",
        ),
        Kind::Open | Kind::Close | Kind::Hold => error(
            "this sign stands where it has no meaning",
            "a rest is `(1/4)`, a length tied from the one before is `_1/4`; a length is one or the other",
        ),
        Kind::TupletOpen => error(
            "a tuplet begins inside a rest or behind `_`",
            "the lengths inside a tuplet are rests or ties each by itself: `{3:2 (1/8) 1/8 1/8}`",
        ),
        Kind::Comma => {
            error("`,` stands where no beam can break", "it breaks the beam between two lengths: `1/8 , 1/8`")
        }
        Kind::SameAgain => error(
            "`%` stands among lengths",
            "`%` is a whole bar, the same as the one before: give it bar lines of its own, `| % |`",
        ),
        Kind::Bracket => error(
            "a direction in brackets stands inside a bar",
            "write it at the beginning of its bar, `| [3/4] 1/4 1/2 |`, or at its end, `| 1/4 1/2 [fine] |`",
        ),
        _ => error(
            "this is not a length",
            "a bar in lengths holds fractions of a whole note, `( )` for rests and `_` for ties: `1/4 (1/8) 1/8 _1/2`",
        ),
    }
}
