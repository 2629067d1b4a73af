use rhythm::{Accent, Marks, Roll, Sticking};
use timebase::Span;

use super::measure::{self, Cursor};
use super::score::{Beam, Bracket, Kind, ScoreBar, ScoreNote, ScorePart, Sign};
use super::xml::Xml;
use super::{direction, number};
use crate::Error;
use crate::limits::VOICES;

/// What may stand on a note and has no place in a rhythm: the element and what it is called.
pub(super) const LOST: [(&str, &str); 33] = [
    ("staccato", "staccato"),
    ("tenuto", "tenuto"),
    ("detached-legato", "detached legato"),
    ("staccatissimo", "staccatissimo"),
    ("spiccato", "spiccato"),
    ("scoop", "a scoop"),
    ("plop", "a plop"),
    ("doit", "a doit"),
    ("falloff", "a fall"),
    ("breath-mark", "a breath mark"),
    ("caesura", "a caesura"),
    ("stress", "a stress"),
    ("unstress", "an unstress"),
    ("soft-accent", "a soft accent"),
    ("other-articulation", "an articulation without a name"),
    ("trill-mark", "a trill"),
    ("turn", "a turn"),
    ("delayed-turn", "a delayed turn"),
    ("inverted-turn", "an inverted turn"),
    ("delayed-inverted-turn", "a delayed inverted turn"),
    ("vertical-turn", "a vertical turn"),
    ("inverted-vertical-turn", "an inverted vertical turn"),
    ("shake", "a shake"),
    ("wavy-line", "a wavy line"),
    ("mordent", "a mordent"),
    ("inverted-mordent", "an inverted mordent"),
    ("schleifer", "a slide into a note"),
    ("haydn", "a turn over a note"),
    ("other-ornament", "an ornament without a name"),
    ("arpeggiate", "a chord struck from note to note"),
    ("tremolo-pair", "a tremolo between two notes (read as the two notes)"),
    ("tremolo-count", "a tremolo of more than four slashes"),
    ("chord-length", "a length inside a chord (read as long as the chord's first note)"),
];

/// The bit of an element in [`ScoreNote::lost`].
fn lost(name: &str) -> u64 {
    LOST.iter().position(|(element, _)| *element == name).map_or(0, |index| 1 << index)
}

/// A note while it is read.
#[derive(Debug, Default)]
struct Reading {
    grace: bool,
    cue: bool,
    chord: bool,
    rest: bool,
    bar_rest: bool,
    told: Option<Span>,
    tied: bool,
    voice: Option<u16>,
    staff: u8,
    value: Option<Span>,
    dots: u32,
    ratio: Option<(u32, u32)>,
    beam: Option<Beam>,
    brackets: Vec<Bracket>,
    marks: Marks,
    lost: u64,
}

/// Reads the note that is open and moves the cursor behind it.
pub(super) fn read(
    xml: &mut Xml<'_>,
    part: &mut ScorePart,
    bar: &mut ScoreBar,
    cursor: &mut Cursor,
) -> Result<(), Error> {
    let mut note = Reading::default();
    while let Some(child) = xml.child()? {
        match child.name() {
            b"grace" => {
                note.grace = true;
                xml.skip()?;
            }
            b"cue" => {
                note.cue = true;
                xml.skip()?;
            }
            b"chord" => {
                note.chord = true;
                xml.skip()?;
            }
            b"rest" => {
                note.rest = true;
                note.bar_rest = xml.attribute(&child, "measure")?.as_deref() == Some("yes");
                xml.skip()?;
            }
            b"duration" => note.told = Some(measure::duration(xml, part.divisions)?),
            b"tie" => {
                note.tied |= xml.attribute(&child, "type")?.as_deref() == Some("stop");
                xml.skip()?;
            }
            b"voice" => {
                let name = xml.text()?;
                note.voice = Some(voice(xml, part, &name)?);
            }
            b"type" => note.value = value(&xml.text()?),
            b"dot" => {
                note.dots += 1;
                xml.skip()?;
            }
            b"time-modification" => note.ratio = time_modification(xml)?,
            b"staff" => note.staff = xml.text()?.parse().unwrap_or(1),
            b"beam" => {
                let first = matches!(xml.attribute(&child, "number")?.as_deref(), None | Some("1"));
                let begins = xml.text()? == "begin";
                if first {
                    note.beam = Some(if begins { Beam::Begin } else { Beam::Inside });
                }
            }
            b"notations" => notations(xml, &mut note, bar, cursor.at)?,
            b"lyric" => lyric(xml, &mut note)?,
            _ => xml.skip()?,
        }
    }
    finish(xml, note, part, bar, cursor)
}

/// Puts a note that was read into its bar.
fn finish(
    xml: &mut Xml<'_>,
    note: Reading,
    part: &mut ScorePart,
    bar: &mut ScoreBar,
    cursor: &mut Cursor,
) -> Result<(), Error> {
    let told = note.told.unwrap_or(Span::ZERO);
    // A chord is one attack at the place of its first note, whatever stands between them in the file.
    if note.chord
        && let Some(first) = bar.notes.last_mut()
    {
        let same_kind = (first.kind == Kind::Grace) == note.grace;
        if same_kind {
            first.tied &= note.tied;
            first.lost |= note.lost;
            if !note.grace && told > first.length {
                first.lost |= lost("chord-length");
            }
            first.marks = joined(first.marks, note.marks);
            return Ok(());
        }
    }
    let length = if note.grace { Span::ZERO } else { exact(&note, told, part) };
    let kind = match note {
        Reading { grace: true, .. } => Kind::Grace,
        Reading { rest: true, bar_rest: true, .. } => Kind::BarRest,
        Reading { rest: true, .. } => Kind::Rest,
        Reading { cue: true, .. } => Kind::Cue,
        _ => Kind::Note,
    };
    if kind != Kind::Grace && !length.is_positive() {
        bar.signs.push(Sign::Lost("a note without a duration".into()));
        return Ok(());
    }
    let voice = match note.voice {
        Some(voice) => voice,
        None => voice(xml, part, "1")?,
    };
    part.has_beams |= note.beam.is_some();
    let at = cursor.at;
    if kind != Kind::Grace {
        cursor.advance(xml, length, told)?;
        if kind == Kind::BarRest {
            bar.rest_length = Some(bar.rest_length.unwrap_or(Span::ZERO).max(cursor.at));
        } else {
            bar.length = bar.length.max(cursor.at);
        }
    }
    xml.count_note()?;
    bar.notes.push(ScoreNote {
        at,
        length,
        voice,
        staff: note.staff.max(1),
        kind,
        tied: note.tied,
        marks: note.marks,
        lost: note.lost,
        // The two notes of a tremolo are written twice as long as they are; that is no tuplet.
        ratio: note
            .ratio
            .filter(|(a, n)| a != n && note.lost & lost("tremolo-pair") == 0)
            .and_then(|(a, n)| Some((u16::try_from(a).ok()?, u16::try_from(n).ok()?))),
        brackets: (!note.brackets.is_empty()).then(|| note.brackets.into_boxed_slice()),
        beam: note.beam.unwrap_or(Beam::None),
    });
    Ok(())
}

/// The marks of a chord are those of all its notes.
fn joined(first: Marks, other: Marks) -> Marks {
    Marks {
        grace: first.grace.max(other.grace),
        roll: first.roll.or(other.roll),
        accent: first.accent.max(other.accent),
        sticking: first.sticking.or(other.sticking),
        fermata: first.fermata || other.fermata,
    }
}

/// How long a note lasts: as the file tells, but where its divisions are too coarse for its tuplet, and so the told
/// duration is wrong by less than one of them, as its value says.
fn exact(note: &Reading, told: Span, part: &ScorePart) -> Span {
    let Some((value, (actual, normal))) = note.value.zip(note.ratio) else { return told };
    let dotted = (0..note.dots.min(4)).fold((value, value), |(sum, part), _| {
        let half = part / 2;
        (sum + half, half)
    });
    let nominal = dotted.0 * i64::from(normal) / i64::from(actual);
    let Some(division) = number::wholes(1.into(), part.divisions) else { return told };
    let off = if nominal > told { nominal - told } else { told - nominal };
    if off < division { nominal } else { told }
}

fn voice(xml: &Xml<'_>, part: &mut ScorePart, name: &str) -> Result<u16, Error> {
    if let Some(&index) = part.voice_index.get(name) {
        return Ok(index);
    }
    let count = xml.within(i64::try_from(part.voices.len() + 1).unwrap_or(i64::MAX), VOICES)?;
    let index = u16::try_from(count - 1).unwrap_or(u16::MAX);
    let name = super::one_line(name, 20);
    part.voices.push(name.clone());
    part.voice_index.insert(name, index);
    Ok(index)
}

/// The length that the name of a note value stands for.
pub(super) fn value(name: &str) -> Option<Span> {
    const LONG: [(&str, i64); 3] = [("maxima", 8), ("long", 4), ("breve", 2)];
    const SHORT: [(&str, i64); 11] = [
        ("whole", 1),
        ("half", 2),
        ("quarter", 4),
        ("eighth", 8),
        ("16th", 16),
        ("32nd", 32),
        ("64th", 64),
        ("128th", 128),
        ("256th", 256),
        ("512th", 512),
        ("1024th", 1024),
    ];
    let short = SHORT.iter().find(|(known, _)| *known == name).map(|(_, parts)| Span::new(1, *parts));
    short.or_else(|| LONG.iter().find(|(known, _)| *known == name).map(|(_, wholes)| Span::new(*wholes, 1)))
}

fn time_modification(xml: &mut Xml<'_>) -> Result<Option<(u32, u32)>, Error> {
    let (mut actual, mut normal) = (None, None);
    while let Some(child) = xml.child()? {
        match child.name() {
            b"actual-notes" => actual = number::small(&xml.text()?),
            b"normal-notes" => normal = number::small(&xml.text()?),
            _ => xml.skip()?,
        }
    }
    Ok(actual.zip(normal).filter(|(actual, normal)| *actual > 0 && *normal > 0))
}

fn notations(xml: &mut Xml<'_>, note: &mut Reading, bar: &mut ScoreBar, at: Span) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"tuplet" => {
                let begins = xml.attribute(&child, "type")?.as_deref() == Some("start");
                let number = xml.attribute(&child, "number")?.and_then(|n| n.parse().ok()).unwrap_or(1);
                let ratio = tuplet(xml)?;
                if note.brackets.len() < 8 {
                    note.brackets.push(Bracket { begins, number, ratio });
                }
            }
            b"articulations" => articulations(xml, note)?,
            b"ornaments" => ornaments(xml, note)?,
            b"technical" => technical(xml, note)?,
            b"dynamics" => direction::dynamics(xml, bar, at)?,
            b"fermata" => {
                note.marks.fermata = true;
                xml.skip()?;
            }
            b"arpeggiate" => {
                note.lost |= lost("arpeggiate");
                xml.skip()?;
            }
            _ => xml.skip()?,
        }
    }
    Ok(())
}

/// The numbers that a tuplet's bracket tells of itself.
fn tuplet(xml: &mut Xml<'_>) -> Result<Option<(u32, u32)>, Error> {
    let (mut actual, mut normal) = (None, None);
    while let Some(child) = xml.child()? {
        let slot = match child.name() {
            b"tuplet-actual" => &mut actual,
            b"tuplet-normal" => &mut normal,
            _ => {
                xml.skip()?;
                continue;
            }
        };
        while let Some(inner) = xml.child()? {
            match inner.name() {
                b"tuplet-number" => *slot = number::small(&xml.text()?),
                _ => xml.skip()?,
            }
        }
    }
    Ok(actual.zip(normal).filter(|(actual, normal)| *actual > 0 && *normal > 0))
}

fn articulations(xml: &mut Xml<'_>, note: &mut Reading) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"accent" => note.marks.accent = note.marks.accent.max(Some(Accent::Accent)),
            b"strong-accent" => note.marks.accent = Some(Accent::Strong),
            other => note.lost |= lost(std::str::from_utf8(other).unwrap_or_default()),
        }
        xml.skip()?;
    }
    Ok(())
}

fn ornaments(xml: &mut Xml<'_>, note: &mut Reading) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"tremolo" => {
                let kind = xml.attribute(&child, "type")?.map(|kind| kind.into_owned());
                let slashes = xml.text()?;
                match (kind.as_deref(), number::small(&slashes)) {
                    (Some("start" | "stop"), _) => note.lost |= lost("tremolo-pair"),
                    (Some("unmeasured"), _) | (_, Some(0)) => note.marks.roll = Some(Roll::Unmeasured),
                    (_, Some(slashes @ 1..=4)) => {
                        note.marks.roll = Some(Roll::Measured(u8::try_from(slashes).unwrap_or(3)));
                    }
                    // Three slashes where the number is missing, as the standard says.
                    (_, None) => note.marks.roll = Some(Roll::Measured(3)),
                    (_, Some(_)) => {
                        note.marks.roll = Some(Roll::Unmeasured);
                        note.lost |= lost("tremolo-count");
                    }
                }
            }
            other => {
                note.lost |= lost(std::str::from_utf8(other).unwrap_or_default());
                xml.skip()?;
            }
        }
    }
    Ok(())
}

/// The standard has no element for sticking: it is written as a technical mark of its own, as fingering or as a lyric.
fn technical(xml: &mut Xml<'_>, note: &mut Reading) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"other-technical" | b"fingering" => {
                let hand = hand(&xml.text()?);
                note.marks.sticking = hand.or(note.marks.sticking);
            }
            _ => xml.skip()?,
        }
    }
    Ok(())
}

fn lyric(xml: &mut Xml<'_>, note: &mut Reading) -> Result<(), Error> {
    while let Some(child) = xml.child()? {
        match child.name() {
            b"text" => {
                let hand = hand(&xml.text()?);
                note.marks.sticking = note.marks.sticking.or(hand);
            }
            _ => xml.skip()?,
        }
    }
    Ok(())
}

fn hand(text: &str) -> Option<Sticking> {
    match text {
        "R" => Some(Sticking::Right),
        "L" => Some(Sticking::Left),
        "B" => Some(Sticking::Both),
        _ => None,
    }
}
