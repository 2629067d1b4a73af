use std::borrow::Cow;

use rhythm::{Loudness, Swell, TempoMark};
use timebase::{Ratio, Span, Tempo};

use super::score::{ScoreBar, Sign, Target, TempoSign};
use super::xml::{Element, Xml};
use super::{note, number};
use crate::Error;

/// Reads the direction that is open; it stands at `at`.
pub(super) fn read(
    xml: &mut Xml<'_>,
    divisions: Ratio<i64>,
    bar: &mut ScoreBar,
    at: Span,
) -> Result<(), Error> {
    let first = bar.signs.len();
    let mut place = at;
    let mut of_second = false;
    while let Some(child) = xml.child()? {
        match child.name() {
            b"direction-type" => direction_type(xml, bar, at)?,
            b"offset" => place = shifted(at, &xml.text()?, divisions),
            b"sound" => sound(xml, &child, bar, at)?,
            b"voice" => of_second = xml.text()?.trim() == "2",
            _ => xml.skip()?,
        }
    }
    let signs = bar.signs.split_off(first);
    bar.signs.extend(settled(signs, place));
    if of_second {
        bar.of_second.extend(first..bar.signs.len());
    }
    Ok(())
}

/// A place moved by an offset in divisions, never before the bar.
fn shifted(at: Span, offset: &str, divisions: Ratio<i64>) -> Span {
    let (back, digits) = match offset.trim().strip_prefix('-') {
        Some(digits) => (true, digits),
        None => (false, offset.trim()),
    };
    let by = number::decimal(digits).and_then(|ticks| number::wholes(ticks, divisions)).unwrap_or(Span::ZERO);
    let moved = if back { at.checked_sub(by) } else { at.checked_add(by) };
    moved.unwrap_or(at).max(Span::ZERO)
}

/// The signs of one direction in agreement: what is said for playback only counts where the sign itself says nothing.
fn settled(signs: Vec<Sign>, place: Span) -> Vec<Sign> {
    let written_tempo = signs
        .iter()
        .any(|sign| matches!(sign, Sign::Tempo { tempo: TempoSign::Beats(_) | TempoSign::Equal { .. }, .. }));
    let mut kept: Vec<Sign> = Vec::with_capacity(signs.len());
    for mut sign in signs {
        match &mut sign {
            Sign::Tempo { tempo: TempoSign::Played(_), .. } if written_tempo => continue,
            Sign::Tempo { at, .. }
            | Sign::Level { at, .. }
            | Sign::Swell { at, .. }
            | Sign::SwellEnd { at } => {
                *at = place;
            }
            _ => {}
        }
        // `D.C. al Fine` in words and as sound is one jump; the words know more.
        let same = |other: &Sign| std::mem::discriminant(other) == std::mem::discriminant(&sign);
        let says_jump = matches!(
            sign,
            Sign::DaCapo { .. }
                | Sign::DalSegno { .. }
                | Sign::ToCoda
                | Sign::Fine
                | Sign::Segno { .. }
                | Sign::Coda { .. }
        );
        // A coda sign beside `To Coda` belongs to it.
        let of_to_coda = matches!(sign, Sign::Coda { .. }) && kept.contains(&Sign::ToCoda);
        if of_to_coda || says_jump && kept.iter().any(same) {
            continue;
        }
        if sign == Sign::ToCoda {
            kept.retain(|other| !matches!(other, Sign::Coda { .. }));
        }
        kept.push(sign);
    }
    kept
}

fn direction_type(xml: &mut Xml<'_>, bar: &mut ScoreBar, at: Span) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"metronome" => metronome(xml, bar, at)?,
            b"dynamics" => dynamics(xml, bar, at)?,
            b"wedge" => {
                let kind = xml.attribute(&child, "type")?.map(|kind| kind.into_owned());
                xml.skip()?;
                match kind.as_deref() {
                    Some("crescendo") => bar.signs.push(Sign::Swell { at, swell: Swell::Crescendo }),
                    Some("diminuendo") => bar.signs.push(Sign::Swell { at, swell: Swell::Decrescendo }),
                    Some("stop") => bar.signs.push(Sign::SwellEnd { at }),
                    _ => {}
                }
            }
            b"words" => {
                let text = xml.text()?;
                words(&text, bar, at);
            }
            b"segno" => {
                bar.signs.push(Sign::Segno { at });
                xml.skip()?;
            }
            b"coda" => {
                bar.signs.push(Sign::Coda { at });
                xml.skip()?;
            }
            _ => xml.skip()?,
        }
    }
    Ok(())
}

/// Reads what a `sound` element says of the tempo and of the way through the piece.
pub(super) fn sound(
    xml: &mut Xml<'_>,
    element: &Element<'_>,
    bar: &mut ScoreBar,
    at: Span,
) -> Result<(), Error> {
    if let Some(tempo) = xml.attribute(element, "tempo")? {
        match bpm(&tempo).and_then(|bpm| Tempo::new(Span::QUARTER, bpm).ok()) {
            Some(tempo) => bar.signs.push(Sign::Tempo { at, tempo: TempoSign::Played(tempo) }),
            None => {
                bar.signs
                    .push(Sign::Lost(format!("a tempo of {} quarters", super::one_line(&tempo, 20)).into()));
            }
        }
    }
    let yes = |value: Option<Cow<'_, str>>| value.is_some_and(|value| value == "yes");
    if yes(xml.attribute(element, "dacapo")?) {
        bar.signs.push(Sign::DaCapo { words: None });
    }
    if xml.attribute(element, "dalsegno")?.is_some() {
        bar.signs.push(Sign::DalSegno { words: None });
    }
    if xml.attribute(element, "segno")?.is_some() {
        bar.signs.push(Sign::Segno { at });
    }
    if xml.attribute(element, "tocoda")?.is_some() {
        bar.signs.push(Sign::ToCoda);
    }
    if xml.attribute(element, "coda")?.is_some() {
        bar.signs.push(Sign::Coda { at });
    }
    if xml.attribute(element, "fine")?.is_some_and(|value| value != "no") {
        bar.signs.push(Sign::Fine);
    }
    xml.skip()
}

/// A number of beats a minute, rounded to a thousandth.
fn bpm(text: &str) -> Option<Ratio<u32>> {
    let exact = number::decimal(text)?;
    let rounded = (exact * Ratio::from_integer(1_000)).round() / Ratio::from_integer(1_000);
    Some(Ratio::new(u32::try_from(*rounded.numer()).ok()?, u32::try_from(*rounded.denom()).ok()?))
}

/// A note value that is tied to the one before it.
fn tied(xml: &mut Xml<'_>) -> Result<Option<Span>, Error> {
    let mut tied: Option<(Span, Span)> = None;
    while let Some(child) = xml.child()? {
        match child.name() {
            b"beat-unit" => tied = note::value(&xml.text()?).map(|value| (value, value)),
            _ => {
                let dots = tied.filter(|(_, half)| half.denominator() < 4_096);
                tied = dots.map(|(value, half)| (value + half / 2, half / 2)).or(tied);
                xml.skip()?;
            }
        }
    }
    Ok(tied.map(|(value, _)| value))
}

fn metronome(xml: &mut Xml<'_>, bar: &mut ScoreBar, at: Span) -> Result<(), Error> {
    // The note values on the two sides, each as it was read with the last half that a dot added.
    let mut values: Vec<(Span, Span)> = Vec::new();
    let mut minute: Option<String> = None;
    let mut other = false;
    while let Some(child) = xml.child()? {
        match child.name() {
            b"beat-unit" => match note::value(&xml.text()?) {
                Some(value) => values.push((value, value)),
                None => other = true,
            },
            b"beat-unit-dot" => {
                if let Some((value, half)) = values.last_mut().filter(|(_, half)| half.denominator() < 4_096)
                {
                    (*value, *half) = (*value + *half / 2, *half / 2);
                }
                xml.skip()?;
            }
            b"beat-unit-tied" => {
                let tied = tied(xml)?;
                match (values.last_mut(), tied) {
                    (Some((value, _)), Some(tied)) => *value += tied,
                    _ => other = true,
                }
            }
            b"per-minute" => minute = Some(xml.text()?.into_owned()),
            b"metronome-note" | b"metronome-relation" => {
                other = true;
                xml.skip()?;
            }
            _ => xml.skip()?,
        }
    }
    let sign = match (values.as_slice(), &minute) {
        _ if other => None,
        ([(beat, _)], Some(text)) => {
            // `ca. 120` and `120-126`: the first number.
            let number: String = text
                .chars()
                .skip_while(|c| !c.is_ascii_digit())
                .take_while(|c| c.is_ascii_digit() || *c == '.')
                .collect();
            let number = number.trim_end_matches('.');
            let tempo = bpm(number).and_then(|bpm| Tempo::new(*beat, bpm).ok());
            if tempo.is_some() && number != text.trim() {
                let text = super::one_line(text, 40);
                bar.signs.push(Sign::Lost(format!("{text:?} as a tempo (read as {number})").into()));
            }
            tempo.map(TempoSign::Beats)
        }
        ([(before, _), (after, _)], None) => Some(TempoSign::Equal { before: *before, after: *after }),
        _ => None,
    };
    match sign {
        Some(tempo) => bar.signs.push(Sign::Tempo { at, tempo }),
        None => {
            let said = super::one_line(minute.as_deref().unwrap_or("an equation"), 40);
            bar.signs
                .push(Sign::Lost(format!("a metronome mark that is no tempo from 20 to 300: {said}").into()));
        }
    }
    Ok(())
}

/// Reads the dynamics that are open; they hold from `at`.
pub(super) fn dynamics(xml: &mut Xml<'_>, bar: &mut ScoreBar, at: Span) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        let name = child.name_text();
        let text = xml.text()?;
        let sign = if name == "other-dynamics" { text.as_ref() } else { name.as_str() };
        let exactly = Loudness::NAMED.iter().find(|(known, _)| *known == sign).map(|(_, level)| *level);
        match exactly {
            Some(level) => bar.signs.push(Sign::Level { at, level }),
            None => {
                let sign = super::one_line(sign, 20);
                bar.signs.push(Sign::Lost(format!("the dynamic {sign}").into()));
            }
        }
    }
    Ok(())
}

/// Words that change what is played begin with one of these, in small letters without dots.
const TEMPO_WORDS: [&str; 14] = [
    "rit",
    "rall",
    "accel",
    "string",
    "allarg",
    "a tempo",
    "tempo",
    "swing",
    "straight",
    "rubato",
    "freely",
    "double time",
    "half time",
    "pi\u{F9} mosso",
];

fn words(text: &str, bar: &mut ScoreBar, at: Span) {
    let said = super::one_line(text, 60);
    let plain: String = said.to_lowercase().chars().filter(|c| *c != '.' && *c != ',').collect();
    let joined: String = plain.chars().filter(|c| !c.is_whitespace()).collect();
    let target = if joined.contains("alcoda") {
        Some(Target::Coda)
    } else if joined.contains("alfine") {
        Some(Target::Fine)
    } else {
        None
    };
    let starts = |beginnings: &[&str]| beginnings.iter().any(|beginning| joined.starts_with(beginning));
    if starts(&["dacapo", "dcal"]) || joined == "dc" {
        bar.signs.push(Sign::DaCapo { words: target });
    } else if starts(&["dalsegno", "dsal", "delsegno"]) || joined == "ds" {
        bar.signs.push(Sign::DalSegno { words: target });
    } else if joined == "fine" {
        bar.signs.push(Sign::Fine);
    } else if joined == "tocoda" {
        bar.signs.push(Sign::ToCoda);
    } else if joined == "coda" {
        bar.signs.push(Sign::Coda { at });
    } else if joined == "segno" {
        bar.signs.push(Sign::Segno { at });
    } else if starts(&["cresc"]) {
        bar.signs.push(Sign::Swell { at, swell: Swell::Crescendo });
    } else if starts(&["decresc", "dim"]) {
        bar.signs.push(Sign::Swell { at, swell: Swell::Decrescendo });
    } else if plain == "by group" {
        bar.signs.push(Sign::ByGroup);
    } else if let Some(beats) = plain.strip_prefix("in ").and_then(number::small) {
        bar.signs.push(Sign::Felt { beats });
    } else if let Some(TempoMark::Gradual { tempo, bars }) = TempoMark::parse(&said) {
        bar.signs.push(Sign::Tempo { at, tempo: TempoSign::Gradual { tempo, bars } });
    } else if TEMPO_WORDS.iter().any(|word| plain.starts_with(word)) {
        bar.signs.push(Sign::Lost(format!("the words {said:?}").into()));
    }
}
