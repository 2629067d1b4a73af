//! A bar written in counts: `1 2 & 3 (4)`.

use std::ops::Range;

use timebase::{Ratio, Span};

use super::Diagnostic;
use super::bar::{Setting, Sound, Written, WrittenBar};
use super::token::{Kind, PartWord, Token};
use crate::{Deed, Division, Event, Form, Marks, Meter};

/// A written count and what it says of the sound.
struct Mark {
    at: Span,
    /// The felt beat it lies in, from 1.
    beat: u32,
    deed: Deed,
    span: Range<usize>,
    part: Option<PartWord>,
    /// Stands in parentheses behind another count: the silence goes on, nothing begins.
    inside: bool,
    /// Stands in parentheses by itself.
    alone: bool,
    fermata: bool,
}

/// Reads the tokens of one bar.
pub(super) fn read(
    tokens: &[Token],
    setting: Setting,
    hints: &mut Vec<Diagnostic>,
) -> Result<WrittenBar, Diagnostic> {
    let Setting { meter, before, .. } = setting;
    let marks = marks(tokens, setting)?;
    let (first, last) = match marks.as_slice() {
        [] => return Err(nothing_written(tokens)),
        [first, .., last] => (first, last),
        [only] => (only, only),
    };
    let pickup = setting.pickup && first.at != Span::ZERO;
    let begins = setting.from.unwrap_or(Span::ZERO);
    if first.at != begins && (!pickup || setting.from.is_some()) {
        return Err(wrong_beginning(first, begins, meter));
    }
    let end = match (setting.until, setting.complement) {
        (Some(until), _) => until,
        (None, Some(complement)) if last.at < complement => complement,
        _ => meter.bar_length(),
    };
    if let Some(beyond) = marks.iter().find(|mark| mark.at >= end) {
        let message =
            format!("this count stands behind the end of the bar, which lasts to {end} of a whole note");
        let help = "leave it out, or let the bar last longer";
        return Err(Diagnostic::error(beyond.span.clone(), message, help));
    }
    check_holds(&marks, before)?;
    hint_at_holds(&marks, before, meter, hints);
    Ok(WrittenBar::new(meter, Form::Counts, pickup, events(&marks, meter, end)))
}

fn wrong_beginning(first: &Mark, begins: Span, meter: Meter) -> Diagnostic {
    let word = meter.count_word(first.at).unwrap_or_default();
    if begins == Span::ZERO {
        let message = format!("this bar begins at `{word}`; every full bar begins at count 1");
        let help = "begin it with `1` (struck), `(1)` (silent) or `_1` (held from the bar before)";
        return Diagnostic::error(first.span.clone(), message, help);
    }
    let message = format!("this bar begins at `{word}`, but is said to begin at {begins} of a whole note");
    let help = match meter.count_word(begins) {
        Some(word) => format!("begin it with `{word}`"),
        None => "write it in lengths, for no count falls there".to_owned(),
    };
    Diagnostic::error(first.span.clone(), message, help)
}

fn nothing_written(tokens: &[Token]) -> Diagnostic {
    let span = tokens.first().map_or(0..0, |token| token.span.clone());
    Diagnostic::error(span, "nothing is written in this bar", "write `(1)` for a silent bar")
}

/// Resolves every written count to its place; they rise.
fn marks(tokens: &[Token], setting: Setting) -> Result<Vec<Mark>, Diagnostic> {
    let Setting { meter, pickup, .. } = setting;
    let mut marks: Vec<Mark> = Vec::with_capacity(tokens.len());
    let mut number: Option<u32> = None;
    let mut silence: Option<(Range<usize>, usize)> = None;
    let mut hold: Option<Range<usize>> = None;
    for token in tokens {
        let span = token.span.clone();
        let (beat, at, part) = match token.kind {
            Kind::Number(n) => {
                let beat = beat_numbered(n, number, setting, tokens, &span)?;
                number = Some(beat);
                (beat, meter.count_at(beat), None)
            }
            Kind::Part(part) => {
                let beat = match number {
                    Some(n) => n,
                    None => match setting.from.map(|from| meter.beat_of(from).0) {
                        Some(beat) => *number.insert(beat),
                        None if pickup => *number.insert(meter.felt_beats()),
                        None => return Err(part_without_number(part, &span)),
                    },
                };
                (beat, part_at(beat, part, &marks, meter, &span)?, Some(part))
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
            Kind::Fermata => {
                match marks.last_mut() {
                    Some(mark) if hold.is_none() && !mark.fermata && !mark.inside => mark.fermata = true,
                    _ => return Err(stray_fermata(&span)),
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
        marks.push(Mark { at, beat, deed, span, part, inside, alone: false, fermata: false });
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

fn stray_fermata(span: &Range<usize>) -> Diagnostic {
    let help = "write it behind the count that it stands on: `1 2 3 fermata`, `(3) (4) fermata`";
    Diagnostic::error(span.clone(), "this fermata stands on no count that begins something", help)
}

/// The felt beat, from 1, that the number `n` names; `last` is the one named before it in this bar.
fn beat_numbered(
    n: u32,
    last: Option<u32>,
    setting: Setting,
    tokens: &[Token],
    span: &Range<usize>,
) -> Result<u32, Diagnostic> {
    let meter = setting.meter;
    if meter.is_counted_by_group() {
        return beat_in_group(n, last, setting, span);
    }
    if (1..=meter.felt_beats()).contains(&n) {
        return Ok(n);
    }
    let message = format!(
        "there is no count {} in {meter}",
        if n == u32::MAX { "so high".into() } else { n.to_string() }
    );
    let mut help = match meter.felt_beats() {
        1 => format!("a bar of {meter} has the count 1 only"),
        beats => format!("a bar of {meter} has the counts 1 to {beats}"),
    };
    // Who counts to six wants six counts, though the four is the first that is none.
    let counted = tokens.iter().filter_map(|token| match token.kind {
        Kind::Number(number) => Some(number),
        _ => None,
    });
    let highest = counted.max().unwrap_or(n);
    let choices = || meter.felt_choices();
    if let Some(felt) = choices().find(|felt| *felt >= highest).or_else(|| choices().find(|felt| *felt >= n))
    {
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

/// As [`beat_numbered`] where counting begins again in every group: `1` begins the next group, any other number
/// goes on in the same.
fn beat_in_group(
    n: u32,
    last: Option<u32>,
    setting: Setting,
    span: &Range<usize>,
) -> Result<u32, Diagnostic> {
    let meter = setting.meter;
    let groups = meter.groups();
    // The felt beat before each group, and how many it holds.
    let mut before = 0;
    let firsts: Vec<(u32, u32)> = groups
        .iter()
        .map(|&units| {
            let group = (before, u32::from(units));
            before += group.1;
            group
        })
        .collect();
    let group_of = |beat: u32| firsts.iter().rposition(|(first, _)| *first < beat).unwrap_or(0);
    let help = || {
        let counts =
            groups.iter().flat_map(|&units| 1..=units).map(|n| n.to_string()).collect::<Vec<_>>().join(" ");
        format!(
            "a bar of {meter} is counted {counts}, and the 1 of every group is named: struck, silent `(1)` or held `_1`"
        )
    };
    let error = |message: String| Diagnostic::error(span.clone(), message, help());
    let group = match last {
        Some(last) if n == 1 => group_of(last) + 1,
        Some(last) => group_of(last),
        None => match setting.from {
            Some(from) => group_of(meter.beat_of(from).0),
            None if setting.pickup => groups.len() - 1,
            None => 0,
        },
    };
    let Some(&(first, units)) = firsts.get(group) else {
        return Err(error(format!("a group begins here, but {meter} has {} groups", groups.len())));
    };
    if !(1..=units).contains(&n) {
        return Err(error(format!("there is no count {n} in this group of {meter}")));
    }
    Ok(first + n)
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
            "a rest of several bars stands among counts",
            "give it bar lines of its own: `| (4 bars) |`",
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
            "a direction in brackets stands inside a bar",
            "write it at the beginning of its bar, `| [3/4] 1 2 3 |`, or at its end, `| 1 2 3 [fine] |`",
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
            let number = meter.said_number(mark.beat);
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
fn events(marks: &[Mark], meter: Meter, end: Span) -> Written {
    let names_the_next = |index: usize| {
        let mark = &marks[index];
        if mark.deed != Deed::Hold || mark.fermata || index == 0 {
            return false;
        }
        // The 1 of a group is named so that the counts behind it can be read.
        let names_a_group = || meter.is_counted_by_group() && meter.said_number(mark.beat) == 1;
        if mark.part.is_none() && names_a_group() {
            return true;
        }
        let Some(next) = marks.get(index + 1) else { return false };
        let needed = matches!(
            (mark.part, next.part),
            (None, Some(_)) | (Some(PartWord::La | PartWord::Li), Some(PartWord::Ta))
        );
        mark.beat == next.beat && needed
    };
    let mut written = Written::with_capacity(marks.len());
    for (index, mark) in marks.iter().enumerate() {
        if mark.inside || names_the_next(index) {
            continue;
        }
        if let Some(before) = written.events.last_mut() {
            before.length = mark.at - before.at;
        }
        let fermata = Marks { fermata: mark.fermata, ..Marks::NONE };
        let event = Event::new(mark.at, end - mark.at, mark.deed).with_marks(fermata);
        written.push(event, &mark.span);
    }
    written
}
