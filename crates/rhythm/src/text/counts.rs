//! A bar written in counts: `1 2 & 3 (4)`.

use std::ops::Range;

use timebase::{Ratio, Span};

use super::Diagnostic;
use super::bar::{Sound, Spelled, WrittenBar};
use super::token::{Kind, PartWord, Token};
use crate::{Deed, Division, Event, Form, Meter};

/// A written count and what it says of the sound.
struct Mark {
    at: Span,
    deed: Deed,
    span: Range<usize>,
    part: Option<PartWord>,
    /// Stands in parentheses behind another count: the silence goes on, nothing begins.
    inside: bool,
    /// Stands in parentheses by itself.
    alone: bool,
}

/// Reads the tokens of one bar. `pickup` says that it stands before the first bar line; `before` is what
/// sounds when it begins, if that is known.
pub(super) fn read(
    tokens: &[Token],
    meter: Meter,
    pickup: bool,
    before: Sound,
    hints: &mut Vec<Diagnostic>,
) -> Result<WrittenBar, Diagnostic> {
    let marks = marks(tokens, meter, pickup)?;
    let first = marks.first().ok_or_else(|| nothing_written(tokens))?;
    let is_pickup = pickup && first.at != Span::ZERO;
    if !is_pickup && first.at != Span::ZERO {
        let word = meter.count_word(first.at).unwrap_or_default();
        let message = format!("this bar begins at `{word}`; every full bar begins at count 1");
        let help = "begin it with `1` (struck), `(1)` (silent) or `_1` (held from the bar before)";
        return Err(Diagnostic::error(first.span.clone(), message, help));
    }
    check_holds(&marks, before)?;
    hint_at_holds(&marks, before, meter, hints);
    Ok(WrittenBar { meter, form: Form::Counts, pickup: is_pickup, events: events(&marks, meter) })
}

fn nothing_written(tokens: &[Token]) -> Diagnostic {
    let span = tokens.first().map_or(0..0, |token| token.span.clone());
    Diagnostic::error(span, "nothing is written in this bar", "write `(1)` for a silent bar")
}

/// Resolves every written count to its place; they rise.
fn marks(tokens: &[Token], meter: Meter, pickup: bool) -> Result<Vec<Mark>, Diagnostic> {
    let mut marks: Vec<Mark> = Vec::new();
    let mut number: Option<u32> = None;
    let mut silence: Option<(Range<usize>, usize)> = None;
    let mut hold: Option<Range<usize>> = None;
    for token in tokens {
        let span = token.span.clone();
        let (at, part) = match token.kind {
            Kind::Number(n) => {
                let at = numbered(n, meter, &span)?;
                number = Some(n);
                (at, None)
            }
            Kind::Part(part) => {
                let beat = match number {
                    Some(n) => n,
                    None if pickup => *number.insert(meter.felt_beats()),
                    None => return Err(part_without_number(part, &span)),
                };
                (part_at(beat, part, &marks, meter, &span)?, Some(part))
            }
            Kind::Open if silence.is_some() => {
                return Err(Diagnostic::error(span, "a silence is open already", "close it with `)` first"));
            }
            Kind::Open if hold.is_some() => return Err(held_silence(&span)),
            Kind::Open => {
                silence = Some((span, marks.len()));
                continue;
            }
            Kind::Close => {
                let Some((open, first)) = silence.take() else {
                    let help = "open the silence with `(` before its first count, or leave this out";
                    return Err(Diagnostic::error(span, "`)` closes nothing", help));
                };
                match marks.len() - first {
                    0 => return Err(empty_silence(open.start..span.end)),
                    1 => marks[first].alone = true,
                    _ => {}
                }
                continue;
            }
            Kind::Hold if silence.is_some() => return Err(held_silence(&span)),
            Kind::Hold if hold.is_some() => {
                return Err(Diagnostic::error(span, "`_` stands twice", "write it once, before the count"));
            }
            Kind::Hold => {
                hold = Some(span);
                continue;
            }
            _ => return Err(stray(token, meter)),
        };
        check_rising(at, &span, marks.last(), meter)?;
        let held = hold.take();
        let deed = match (&silence, &held) {
            (Some(_), _) => Deed::Rest,
            (None, Some(_)) => Deed::Hold,
            (None, None) => Deed::Attack,
        };
        let inside = silence.as_ref().is_some_and(|(_, first)| marks.len() > *first);
        let span = held.map_or(span.start, |underscore| underscore.start)..span.end;
        marks.push(Mark { at, deed, span, part, inside, alone: false });
    }
    if let Some(span) = hold {
        return Err(Diagnostic::error(
            span,
            "`_` stands before no count",
            "write it before the count that is held: `_2`",
        ));
    }
    if let Some((span, _)) = silence {
        return Err(Diagnostic::error(
            span,
            "this silence is not closed",
            "close it with `)` after its last count",
        ));
    }
    Ok(marks)
}

fn numbered(n: u32, meter: Meter, span: &Range<usize>) -> Result<Span, Diagnostic> {
    if (1..=meter.felt_beats()).contains(&n) {
        return Ok(meter.count_at(n));
    }
    let message = format!(
        "there is no count {} in {meter}",
        if n == u32::MAX { "so high".into() } else { n.to_string() }
    );
    let mut help = match meter.felt_beats() {
        1 => format!("a bar of {meter} has the count 1 only"),
        beats => format!("a bar of {meter} has the counts 1 to {beats}"),
    };
    if let Some(felt) = meter.felt_choices().find(|felt| *felt >= n) {
        help += &format!(
            "; to count to {felt}, choose the felt beat: `[{}/{} in {felt}]`",
            meter.beats(),
            meter.unit()
        );
    } else {
        help += "; a bar line `|` ends the bar";
    }
    Err(Diagnostic::error(span.clone(), message, help))
}

fn part_without_number(part: PartWord, span: &Range<usize>) -> Diagnostic {
    let word = part.as_str();
    let message = format!("`{word}` stands before any number, so it belongs to no beat");
    Diagnostic::error(
        span.clone(),
        message,
        format!("write the number of its beat first: `1 {word}`, `(1) {word}` or `_1 {word}`"),
    )
}

/// The place of a part of beat `number`.
fn part_at(
    number: u32,
    part: PartWord,
    marks: &[Mark],
    meter: Meter,
    span: &Range<usize>,
) -> Result<Span, Diagnostic> {
    let beat = meter.count_at(number);
    let in_beat: Vec<&Mark> = marks.iter().rev().take_while(|mark| mark.at >= beat).collect();
    let word = part.as_str();
    match meter.division() {
        Division::Three if !part.is_of_three() => {
            let message = format!("`{word}` is not a part of a beat in {meter}, whose beat divides in three");
            let help = if meter.unit() >= 8 && meter.beats() > meter.felt_beats() {
                format!(
                    "its parts are `{number} la li`, with sixteenths `{number} ta la ta li ta`; to count every \
                     {} by number, write `[{}/{} in {}]`",
                    unit_name(meter),
                    meter.beats(),
                    meter.unit(),
                    meter.beats()
                )
            } else {
                format!("its parts are `{number} la li`, and half as long `{number} ta la ta li ta`")
            };
            return Err(Diagnostic::error(span.clone(), message, help));
        }
        Division::Two => {
            let other =
                in_beat.iter().filter_map(|mark| mark.part).find(|p| p.is_of_three() != part.is_of_three());
            if let Some(other) = other {
                let message = format!("`{word}` and `{}` stand in one beat", other.as_str());
                let help = format!(
                    "a beat is counted in two (`{number} e & a`) or in three (`{number} la li`), not both"
                );
                return Err(Diagnostic::error(span.clone(), message, help));
            }
        }
        Division::Three => {}
    }
    let last = in_beat.first().and_then(|mark| mark.part);
    let fraction = match (part, last) {
        (PartWord::E, _) => Ratio::new(1, 4),
        (PartWord::And, _) => Ratio::new(1, 2),
        (PartWord::A, _) => Ratio::new(3, 4),
        (PartWord::La, _) => Ratio::new(1, 3),
        (PartWord::Li, _) => Ratio::new(2, 3),
        (PartWord::Ta, Some(PartWord::La)) => Ratio::new(1, 2),
        (PartWord::Ta, Some(PartWord::Li)) => Ratio::new(5, 6),
        (PartWord::Ta, Some(PartWord::Ta)) => {
            let help =
                format!("name the word between them, held `_la` or silent `(la)`: `{number} ta _la ta`");
            return Err(Diagnostic::error(span.clone(), "two `ta` follow one another", help));
        }
        (PartWord::Ta, _) => Ratio::new(1, 6),
    };
    Ok(beat + meter.felt_beat().scaled(fraction))
}

fn unit_name(meter: Meter) -> &'static str {
    match meter.unit() {
        8 => "eighth",
        16 => "sixteenth",
        _ => "thirty-second",
    }
}

fn check_rising(at: Span, span: &Range<usize>, last: Option<&Mark>, meter: Meter) -> Result<(), Diagnostic> {
    let Some(last) = last.filter(|last| last.at >= at) else { return Ok(()) };
    let name = |at| meter.count_word(at).map_or_else(|| "this place".to_owned(), |word| format!("`{word}`"));
    let message = if last.at == at {
        format!("{} is written twice", name(at))
    } else {
        format!("{} stands after {}, but counts rise through a bar", name(at), name(last.at))
    };
    let same_beat = meter.beat_of(last.at).0 == meter.beat_of(at).0;
    let help = if same_beat {
        let shorter = meter.felt_choices().find(|felt| *felt > meter.felt_beats());
        let choose = shorter.map_or_else(String::new, |felt| {
            format!("choose a shorter felt beat, `[{}/{} in {felt}]`, or ", meter.beats(), meter.unit())
        });
        format!(
            "put the counts in order; notes shorter than the words of this beat have no count: {choose}write the bar in lengths (`1/16 1/16 …`)"
        )
    } else {
        "put the counts in order, or end the bar with `|` if a new one begins here".to_owned()
    };
    Err(Diagnostic::error(span.clone(), message, help))
}

fn held_silence(span: &Range<usize>) -> Diagnostic {
    let help = "write `(2)` where silence begins, `_2` where the sound from before goes on";
    Diagnostic::error(span.clone(), "a count is held or silent, not both", help)
}

fn empty_silence(span: Range<usize>) -> Diagnostic {
    Diagnostic::error(span, "this silence names no count", "write the count where it begins: `(2)`")
}

/// What to say of a token that has no business in a bar of counts.
fn stray(token: &Token, meter: Meter) -> Diagnostic {
    let error = |message: &str, help: &str| Diagnostic::error(token.span.clone(), message, help);
    match token.kind {
        Kind::Bars => error(
            "a rest of several bars cannot be written in one yet",
            "write `(1)` for the first silent bar and `%` for each that follows",
        ),
        Kind::Times => error(
            "`times` says how often a repeated passage is played, but none ends here",
            "write it behind the closing sign: `|: 1 2 3 4 :| 3 times`",
        ),
        Kind::SameAgain => error(
            "`%` stands among counts",
            "`%` is a whole bar, the same as the one before: give it bar lines of its own, `| % |`",
        ),
        Kind::Bracket => error(
            "a change of meter stands inside a bar",
            "write it at the beginning of its bar: `| [3/4] 1 2 3 |`",
        ),
        Kind::Comma => error(
            "`,` breaks a beam, which only a bar in lengths can",
            "write the bar in lengths, or leave the comma out",
        ),
        Kind::TupletOpen | Kind::TupletClose => error(
            "a tuplet sign stands among counts",
            "in counts a triplet is `1 la li`; `{3:2 1/8 1/8 1/8}` belongs to a bar in lengths",
        ),
        Kind::Length(..) => error(
            "a length stands among counts",
            "write a bar in counts (`1 2 & 3`) or in lengths (`1/4 1/8 1/8 1/4`), not in both",
        ),
        _ => {
            let parts = match meter.division() {
                Division::Two => "e & a (or la li for a triplet)",
                Division::Three => "ta la ta li ta",
            };
            let help = format!(
                "a bar of {meter} is written with the counts 1 to {}, the parts {parts}, `( )` for silence and `_` for a hold",
                meter.felt_beats()
            );
            error("this is not a count", &help)
        }
    }
}

/// A hold goes on from a sound.
fn check_holds(marks: &[Mark], mut before: Sound) -> Result<(), Diagnostic> {
    for mark in marks {
        if mark.deed == Deed::Hold && before == Sound::Silent {
            return Err(super::bar::nothing_to_hold(mark.span.clone()));
        }
        before = Sound::after(mark.deed);
    }
    Ok(())
}

/// Many write parentheses for any count that is not struck, held ones too. Where a silent beat follows a
/// note and an off-beat attack follows it, the hold is the likelier meaning.
fn hint_at_holds(marks: &[Mark], mut before: Sound, meter: Meter, hints: &mut Vec<Diagnostic>) {
    for (index, mark) in marks.iter().enumerate() {
        let next = marks.get(index + 1);
        let off_beat_follows = next.is_some_and(|next| next.deed == Deed::Attack && next.part.is_some());
        if mark.alone && mark.part.is_none() && before == Sound::Sounding && off_beat_follows {
            let (number, _) = meter.beat_of(mark.at);
            let message = format!("{number} is silent here; held would be `_{number}`");
            let help = "parentheses are silence: the note before ends where they begin";
            hints.push(Diagnostic::hint(mark.span.clone(), message, help));
        }
        before = Sound::after(mark.deed);
    }
}

/// The events that the marks begin, each as long as until the next.
///
/// A hold that is written only to name the place behind it is no event of its own: in `1 _2 & 3` the `&`
/// needs its number, in `1 _la ta li` the `ta` needs its word. It leaves the spelling to the program.
fn events(marks: &[Mark], meter: Meter) -> Vec<Spelled> {
    let names_the_next = |index: usize| {
        let (mark, Some(next)) = (&marks[index], marks.get(index + 1)) else { return false };
        let same_beat = meter.beat_of(mark.at).0 == meter.beat_of(next.at).0;
        let needed = matches!(
            (mark.part, next.part),
            (None, Some(_)) | (Some(PartWord::La | PartWord::Li), Some(PartWord::Ta))
        );
        index > 0 && mark.deed == Deed::Hold && same_beat && needed
    };
    let begins: Vec<&Mark> = marks
        .iter()
        .enumerate()
        .filter(|(index, mark)| !mark.inside && !names_the_next(*index))
        .map(|(_, mark)| mark)
        .collect();
    let ends = begins.iter().skip(1).map(|mark| mark.at).chain([meter.bar_length()]);
    begins
        .iter()
        .zip(ends)
        .map(|(mark, end)| Spelled {
            event: Event::new(mark.at, end - mark.at, mark.deed),
            span: mark.span.clone(),
        })
        .collect()
}
