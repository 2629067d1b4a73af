use std::borrow::Cow;

use rhythm::Meter;
use rhythm::limits::METER_BEATS;
use timebase::{Ratio, Span};

use super::note;
use super::score::{Passes, ScoreBar, ScorePart, Sign, Time};
use super::xml::{Element, Xml};
use super::{direction, number};
use crate::Error;
use crate::limits::{DIVISIONS, DURATION, FINENESS};

/// Where the next note of a bar begins.
///
/// A file whose divisions are too coarse for its tuplets rounds their durations. Such notes get their exact length,
/// and `backup` and `forward`, which count in rounded durations, find their way by `rounded`.
#[derive(Debug, Default)]
pub(super) struct Cursor {
    /// Exactly.
    pub(super) at: Span,
    /// As the durations in the file add up.
    told: Span,
    /// Places as told and as they are, where those differ.
    rounded: Vec<(Span, Span)>,
}

impl Cursor {
    /// Goes on by a length, and by what the file says it is.
    pub(super) fn advance(&mut self, xml: &Xml<'_>, length: Span, told: Span) -> Result<(), Error> {
        self.at = place(xml, self.at.checked_add(length))?;
        if length == told && self.rounded.is_empty() {
            self.told = self.at;
            return Ok(());
        }
        self.told = place(xml, self.told.checked_add(told))?;
        self.rounded.push((self.told, self.at));
        Ok(())
    }

    /// Goes to a place as the file tells it.
    fn go_to(&mut self, told: Span) {
        let exact = self.rounded.iter().rev().find(|(place, _)| *place == told);
        (self.told, self.at) = (told, exact.map_or(told, |(_, at)| *at));
    }
}

/// That a place in a bar is fine enough to be added up safely.
fn place(xml: &Xml<'_>, at: Option<Span>) -> Result<Span, Error> {
    let denominator = at.map_or(i64::MAX, Span::denominator);
    xml.within(denominator, FINENESS)?;
    at.ok_or_else(|| Error::Limit { place: xml.place(), given: denominator, limit: FINENESS })
}

/// Reads one bar of one part, up to the end of the element that is open; `element` bears its number.
pub(super) fn read(
    xml: &mut Xml<'_>,
    element: &Element<'_>,
    part: &mut ScorePart,
    index: usize,
) -> Result<(), Error> {
    let printed = xml.attribute(element, "number")?.unwrap_or_default();
    let printed: Box<str> = super::one_line(&printed, 20).into();
    let implicit = xml.attribute(element, "implicit")?.map(|said| said == "yes");
    let mut bar = ScoreBar { index, printed, implicit, ..ScoreBar::default() };
    let mut cursor = Cursor::default();
    xml.count_bar()?;
    while let Some(child) = xml.child()? {
        let signs = bar.signs.len();
        match child.name() {
            b"note" => note::read(xml, part, &mut bar, &mut cursor)?,
            b"backup" => {
                let told = duration_of(xml, part.divisions)?;
                // Rounded durations may lead a little before the bar.
                let before = cursor.told.checked_sub(told).unwrap_or(Span::ZERO).max(Span::ZERO);
                cursor.go_to(before);
            }
            b"forward" => {
                let told = duration_of(xml, part.divisions)?;
                let after = place(xml, cursor.told.checked_add(told))?;
                cursor.go_to(after);
                bar.reach = bar.reach.max(cursor.at);
            }
            b"attributes" => attributes(xml, part, &mut bar, &cursor)?,
            b"direction" => direction::read(xml, part.divisions, &mut bar, cursor.at)?,
            b"sound" => direction::sound(xml, &child, &mut bar, cursor.at)?,
            b"barline" => barline(xml, &child, &mut bar)?,
            _ => xml.skip()?,
        }
        xml.count_signs(bar.signs.len() - signs)?;
    }
    part.bars.push(bar);
    Ok(())
}

fn duration_of(xml: &mut Xml<'_>, divisions: Ratio<i64>) -> Result<Span, Error> {
    let mut told = Span::ZERO;
    while let Some(child) = xml.child()? {
        match child.name() {
            b"duration" => told = duration(xml, divisions)?,
            _ => xml.skip()?,
        }
    }
    Ok(told)
}

/// The length that the open element tells in divisions of a quarter.
pub(super) fn duration(xml: &mut Xml<'_>, divisions: Ratio<i64>) -> Result<Span, Error> {
    let text = xml.text()?;
    let value = |given: &str| Error::Value {
        place: xml.place(),
        element: "duration".to_owned(),
        given: super::one_line(given, 40),
        allowed: "a number, 0 or more,",
    };
    let ticks = number::decimal(&text).ok_or_else(|| value(&text))?;
    xml.within(ticks.ceil().to_integer(), DURATION)?;
    let span = number::wholes(ticks, divisions);
    place(xml, span)
}

fn attributes(
    xml: &mut Xml<'_>,
    part: &mut ScorePart,
    bar: &mut ScoreBar,
    cursor: &Cursor,
) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"divisions" => {
                let text = xml.text()?;
                let given = number::decimal(&text).filter(|divisions| *divisions > Ratio::from_integer(0));
                let divisions = given.ok_or_else(|| Error::Value {
                    place: xml.place(),
                    element: "divisions".to_owned(),
                    given: super::one_line(&text, 40),
                    allowed: "a number above 0",
                })?;
                xml.within(divisions.ceil().to_integer(), DIVISIONS)?;
                part.divisions = divisions;
            }
            b"time" => {
                let first = match xml.attribute(&child, "number")?.as_deref() {
                    None | Some("1") => true,
                    Some(_) => false,
                };
                let time = time(xml, bar)?;
                let slot = if cursor.at.is_positive() { &mut bar.time_after } else { &mut bar.time };
                match (first, *slot) {
                    (true, _) => *slot = time.or(*slot),
                    (false, Some(kept)) if time.is_none_or(|time| time == kept) => {}
                    _ => bar.signs.push(Sign::Lost("a meter of one staff alone".into())),
                }
            }
            b"measure-style" => measure_style(xml, bar)?,
            b"staff-details" => {
                while let Some(inner) = xml.child()? {
                    match inner.name() {
                        b"staff-lines" => part.has_one_line = xml.text()?.trim() == "1",
                        _ => xml.skip()?,
                    }
                }
            }
            _ => xml.skip()?,
        }
    }
    Ok(())
}

fn measure_style(xml: &mut Xml<'_>, bar: &mut ScoreBar) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"multiple-rest" => {
                if let Ok(many) = xml.text()?.parse() {
                    bar.signs.push(Sign::BarsOfRest { many });
                }
            }
            b"measure-repeat" | b"beat-repeat" | b"slash" => {
                let begins = xml.attribute(&child, "type")?.as_deref() == Some("start");
                let name = child.name_text();
                xml.skip()?;
                if begins {
                    let what = match name.as_str() {
                        "measure-repeat" => {
                            "the sign that repeats a bar (read as the notes the file has there)"
                        }
                        "beat-repeat" => {
                            "the sign that repeats a beat (read as the notes the file has there)"
                        }
                        _ => "slashes for beats (read as the notes the file has there)",
                    };
                    bar.signs.push(Sign::Lost(what.into()));
                }
            }
            _ => xml.skip()?,
        }
    }
    Ok(())
}

/// The meter that is open, or `None` if none is written.
fn time(xml: &mut Xml<'_>, bar: &mut ScoreBar) -> Result<Option<Time>, Error> {
    let mut beats: Vec<Cow<'_, str>> = Vec::new();
    let mut units = Vec::new();
    let mut groups = None;
    let mut free = false;
    while let Some(child) = xml.child()? {
        match child.name() {
            b"beats" => beats.push(xml.text()?),
            b"beat-type" => units.push(xml.text()?),
            b"senza-misura" => {
                free = true;
                xml.skip()?;
            }
            b"interchangeable" => groups = interchangeable(xml)?,
            _ => xml.skip()?,
        }
    }
    if free {
        return Ok(Some(Time::Free));
    }
    if beats.is_empty() {
        return Ok(None);
    }
    let given = || {
        let pairs: Vec<String> = beats.iter().zip(&units).map(|(b, u)| format!("{b}/{u}")).collect();
        super::one_line(&pairs.join("+"), 40)
    };
    let wrong = || Error::Value {
        place: xml.place(),
        element: "time".to_owned(),
        given: given(),
        allowed: "an upper number from 1 to 32 over 1, 2, 4, 8, 16 or 32",
    };
    if beats.len() != units.len() {
        return Err(wrong());
    }
    let pairs: Option<Vec<(Vec<u32>, u32)>> = beats
        .iter()
        .zip(&units)
        .map(|(beats, unit)| {
            let counts: Option<Vec<u32>> =
                beats.split('+').map(|count| number::small(count.trim())).collect();
            Some((counts?, number::small(unit)?))
        })
        .collect();
    let pairs = pairs.ok_or_else(wrong)?;
    let meter = meter(&pairs).ok_or_else(wrong)?;
    if pairs.iter().all(|(_, unit)| *unit != meter.unit()) {
        bar.signs.push(Sign::Lost(format!("the meter {} (read as {meter})", given()).into()));
    }
    let Some((other, unit)) = groups else { return Ok(Some(Time::Meter(meter))) };
    // 4/4 that is also 3+3+2 over 8 is 4/4 in these groups.
    let same = Span::checked_new(other.iter().map(|&n| i64::from(n)).sum(), i64::from(unit));
    match meter.grouped(&other) {
        Ok(grouped) if same == Some(meter.bar_length()) => Ok(Some(Time::Meter(grouped))),
        _ => {
            bar.signs.push(Sign::Lost("a second meter in place of the first".into()));
            Ok(Some(Time::Meter(meter)))
        }
    }
}

fn interchangeable(xml: &mut Xml<'_>) -> Result<Option<(Vec<u32>, u32)>, Error> {
    let (mut counts, mut unit) = (None, None);
    while let Some(child) = xml.child()? {
        match child.name() {
            b"beats" => counts = xml.text()?.split('+').map(|count| number::small(count.trim())).collect(),
            b"beat-type" => unit = number::small(&xml.text()?),
            _ => xml.skip()?,
        }
    }
    Ok(counts.zip(unit))
}

/// One meter of one or several sums of beats: 3+2 over 8 is 5/8 in groups; 2/4 with 3/8 is 7/8 in groups of 4 and 3.
fn meter(pairs: &[(Vec<u32>, u32)]) -> Option<Meter> {
    let unit = pairs.iter().map(|(_, unit)| *unit).max()?;
    let mut groups = Vec::new();
    for (counts, own) in pairs {
        if *own == 0 || !unit.is_multiple_of(*own) {
            return None;
        }
        for count in counts {
            groups.push(count.checked_mul(unit / own)?);
        }
    }
    let mut beats = groups.iter().try_fold(0_u32, |sum, &group| sum.checked_add(group))?;
    // 36/4 lasts as long as 18/2, which can be written.
    let mut unit = unit;
    while i64::from(beats) > METER_BEATS.most && beats.is_multiple_of(2) && unit > 1 {
        (beats, unit) = (beats / 2, unit / 2);
    }
    let meter = Meter::new(beats, unit).ok()?;
    if groups.len() > 1 { meter.grouped(&groups).ok().or(Some(meter)) } else { Some(meter) }
}

fn barline(xml: &mut Xml<'_>, element: &Element<'_>, bar: &mut ScoreBar) -> Result<(), Error> {
    let location = xml.attribute(element, "location")?.unwrap_or(Cow::Borrowed("right")).into_owned();
    while let Some(child) = xml.child()? {
        match child.name() {
            b"repeat" => {
                let begins = xml.attribute(&child, "direction")?.as_deref() == Some("forward");
                let times = xml.attribute(&child, "times")?.map(|times| times.into_owned());
                xml.skip()?;
                let expected = if begins { "left" } else { "right" };
                if location != expected {
                    bar.signs.push(Sign::Lost(format!("a repeat sign at the {location} of the bar").into()));
                    continue;
                }
                if begins {
                    bar.signs.push(Sign::RepeatBegin);
                    continue;
                }
                let times = match times {
                    None => 2,
                    Some(text) => {
                        let given = text.trim().parse::<i64>().map_err(|_| Error::Value {
                            place: xml.place(),
                            element: "repeat times".to_owned(),
                            given: super::one_line(&text, 40),
                            allowed: "a whole number",
                        })?;
                        // Some write how often it is played again, and some write 0 where nothing was chosen.
                        let given = if given < 2 { 2 } else { given };
                        let given = xml.within(given, rhythm::limits::TIMES_THROUGH)?;
                        u32::try_from(given).unwrap_or(2)
                    }
                };
                bar.signs.push(Sign::RepeatEnd { times });
            }
            b"ending" => {
                let kind = xml.attribute(&child, "type")?.unwrap_or_default().into_owned();
                let numbers = xml.attribute(&child, "number")?.unwrap_or_default().into_owned();
                xml.skip()?;
                bar.signs.push(if kind == "start" {
                    Sign::EndingBegin { passes: passes(&numbers) }
                } else {
                    Sign::EndingEnd
                });
            }
            b"fermata" => {
                xml.skip()?;
                bar.signs.push(Sign::Lost("a fermata on a bar line".into()));
            }
            // Written again as directions, where they mean something.
            _ => xml.skip()?,
        }
    }
    Ok(())
}

/// The passes that an ending names: `1`, `1, 2`, `1-3`.
fn passes(numbers: &str) -> Passes {
    let mut passes = Passes::default();
    for piece in numbers.split([',', ' ', '.', ';']).filter(|piece| !piece.is_empty()) {
        match piece.split_once('-') {
            None => number::small(piece).into_iter().for_each(|pass| passes.add(pass)),
            Some((first, last)) => {
                if let (Some(first), Some(last)) = (number::small(first), number::small(last)) {
                    (first..=last.min(first.saturating_add(50))).for_each(|pass| passes.add(pass));
                }
            }
        }
    }
    passes
}
