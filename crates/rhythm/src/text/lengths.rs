//! A bar written in lengths: `1/4 1/8 1/8 (1/4) 1/4. _1/8`.

use std::ops::Range;

use timebase::{Ratio, Span};

use super::Diagnostic;
use super::bar::{Sound, Spelled, WrittenBar, nothing_to_hold};
use super::token::{Kind, Token};
use crate::{Deed, Division, Event, Form, Meter};

const TRIPLET: &str = "the lengths of a triplet fill a beat, or a half or a quarter of it, and begin where such a part begins: \
                       in 4/4 `{3:2 1/8 1/8 1/8}` or `{3:2 1/16 1/16 1/16}`";

/// Reads the tokens of one bar. `pickup` says that it stands before the first bar line, and may be short;
/// `before` is what sounds when it begins, if that is known.
pub(super) fn read(
    tokens: &[Token],
    meter: Meter,
    pickup: bool,
    before: Sound,
) -> Result<WrittenBar, Diagnostic> {
    let mut bar =
        Lengths { meter, events: Vec::new(), reached: Span::ZERO, sound: before, triplets: Vec::new() };
    let mut tokens = tokens.iter().peekable();
    let (mut silence, mut hold, mut broken, mut tuplet) = (None, None, None, None::<Tuplet>);
    while let Some(token) = tokens.next() {
        let span = token.span.clone();
        match token.kind {
            Kind::Length(numerator, denominator, dots) => {
                let length = length(numerator, denominator, dots, &span)?;
                let length = if tuplet.is_some() { length.scaled(Ratio::new(2, 3)) } else { length };
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
            Kind::Comma if broken.is_none() && !bar.events.is_empty() => broken = Some(span),
            Kind::TupletOpen if tuplet.is_none() => {
                let ratio = (
                    tokens.next().map(|t| t.kind),
                    tokens.next().map(|t| t.kind),
                    tokens.next().map(|t| t.kind),
                );
                if ratio != (Some(Kind::Number(3)), Some(Kind::Colon), Some(Kind::Number(2))) {
                    let help = "write three in the time of two, `{3:2 1/8 1/8 1/8}`: other tuplets cannot be written yet";
                    return Err(Diagnostic::error(
                        span,
                        "this tuplet does not say how many stand in the time of how many",
                        help,
                    ));
                }
                tuplet = Some(Tuplet { start: bar.reached, span });
            }
            Kind::TupletClose => match tuplet.take() {
                Some(tuplet) => {
                    let sum = tuplet.filled(&bar, span.end)?;
                    bar.triplets.push((tuplet.start, sum, tuplet.span.start..span.end));
                }
                None => {
                    return Err(Diagnostic::error(
                        span,
                        "`}` closes nothing",
                        "a tuplet is written `{3:2 1/8 1/8 1/8}`",
                    ));
                }
            },
            _ => return Err(stray(token)),
        }
    }
    let unfinished =
        silence.map(|s| (s, "this silence is not closed", "close it with `)` after its last length"));
    let unfinished = unfinished
        .or(hold
            .map(|s| (s, "`_` stands before no length", "write it before the length that is held: `_1/8`")));
    let unfinished = unfinished
        .or(tuplet.map(|t| (t.span, "this tuplet is not closed", "close it with `}` after its last length")));
    let unfinished = unfinished
        .or(broken
            .map(|s| (s, "`,` stands before no length", "it breaks the beam before a length: `1/8 , 1/8`")));
    if let Some((span, message, help)) = unfinished {
        return Err(Diagnostic::error(span, message, help));
    }
    bar.finish(pickup)
}

/// A bar being filled from its beginning.
struct Lengths {
    meter: Meter,
    events: Vec<Spelled>,
    reached: Span,
    sound: Sound,
    /// Where each triplet begins, how much it fills, and where it is written.
    triplets: Vec<(Span, Span, Range<usize>)>,
}

struct Tuplet {
    start: Span,
    span: Range<usize>,
}

impl Tuplet {
    /// How much of the bar the whole tuplet fills: a beat, a half or a quarter of one.
    fn filled(&self, bar: &Lengths, end: usize) -> Result<Span, Diagnostic> {
        let span = self.span.start..end;
        let sum = bar.reached - self.start;
        let beat = bar.meter.felt_beat();
        if bar.meter.division() == Division::Three {
            let message = format!("the beat of {} divides in three by itself", bar.meter);
            return Err(Diagnostic::error(span, message, "write its thirds as plain lengths, `1/8 1/8 1/8`"));
        }
        if !sum.is_positive() || !(beat == sum || beat == sum * 2 || beat == sum * 4) {
            let message = format!("this triplet fills {sum} of a whole note in all");
            return Err(Diagnostic::error(span, message, TRIPLET));
        }
        Ok(sum)
    }
}

impl Lengths {
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
        let full = self.meter.bar_length();
        let end = self.reached.checked_add(length).filter(|end| *end <= full).ok_or_else(|| {
            let left = full - self.reached;
            let message = format!("this length goes over the end of the bar, where {left} of a whole note is left");
            let help = format!("a bar of {} lasts {full} of a whole note: end it with `|`, or shorten it; what sounds on after the bar line is written `_` behind it", self.meter);
            Diagnostic::error(span.clone(), message, help)
        })?;
        let event = Event { beam_broken, ..Event::new(self.reached, length, deed) };
        self.events.push(Spelled { event, span });
        self.reached = end;
        Ok(())
    }

    fn finish(mut self, pickup: bool) -> Result<WrittenBar, Diagnostic> {
        let full = self.meter.bar_length();
        let missing = full - self.reached;
        let is_pickup = pickup && missing.is_positive();
        if missing.is_positive() && !pickup {
            let span = self.events.last().map_or(0..0, |last| last.span.clone());
            let message = format!("this bar ends {missing} of a whole note too early");
            let help = format!(
                "a bar of {} lasts {full} of a whole note: add what is missing, as a rest `({missing})` if it is silent",
                self.meter
            );
            return Err(Diagnostic::error(span, message, help));
        }
        self.events.iter_mut().for_each(|spelled| spelled.event.at += missing);
        if let Some((_, _, span)) =
            self.triplets.iter().find(|(start, sum, _)| !(*start + missing).is_multiple_of(*sum))
        {
            let message = "this triplet does not begin on a beat or a part of one that it can fill";
            return Err(Diagnostic::error(span.clone(), message, TRIPLET));
        }
        Ok(WrittenBar { meter: self.meter, form: Form::Lengths, pickup: is_pickup, events: self.events })
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
        Kind::TupletOpen => {
            error("a tuplet stands inside a tuplet", "close the first with `}` before the next")
        }
        Kind::Comma => {
            error("`,` stands where no beam can break", "it breaks the beam between two lengths: `1/8 , 1/8`")
        }
        Kind::SameAgain => error(
            "`%` stands among lengths",
            "`%` is a whole bar, the same as the one before: give it bar lines of its own, `| % |`",
        ),
        Kind::Bracket => error(
            "a change of meter stands inside a bar",
            "write it at the beginning of its bar: `| [3/4] 1/4 1/2 |`",
        ),
        _ => error(
            "this is not a length",
            "a bar in lengths holds fractions of a whole note, `( )` for rests and `_` for ties: `1/4 (1/8) 1/8 _1/2`",
        ),
    }
}
