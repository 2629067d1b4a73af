//! Lines of marks under a line of bars: `sticking:`, `accents:`, `strokes:`, `dynamics:`.

use std::ops::Range;
use std::sync::Arc;

use super::Diagnostic;
use super::bar::WrittenBar;
use crate::{Accent, Deed, Dynamics, Grace, Loudness, Marks, Roll, Sticking, Swell};

/// What a line of marks tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Sticking,
    Accents,
    Strokes,
    Dynamics,
}

/// A line of marks as it stands in the text.
#[derive(Clone, Debug)]
pub(super) struct Line {
    pub(super) kind: Kind,
    pub(super) key: Range<usize>,
    pub(super) value: Range<usize>,
    /// The line of bars above, whose bars it marks.
    pub(super) above: Range<usize>,
}

impl Kind {
    pub(super) const ALL: [Self; 4] = [Self::Sticking, Self::Accents, Self::Strokes, Self::Dynamics];

    pub(super) fn of(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Sticking => "sticking",
            Self::Accents => "accents",
            Self::Strokes => "strokes",
            Self::Dynamics => "dynamics",
        }
    }

    fn help(self) -> &'static str {
        match self {
            Self::Sticking => {
                "write `R`, `L` or `B` for each attack of a bar and `.` where there is none, bars parted by `|`: `sticking: R L R L | R . L`"
            }
            Self::Accents => {
                "write `>` or `^` for each attack of a bar and `.` where there is none, bars parted by `|`: `accents: > . > . | ^`"
            }
            Self::Strokes => {
                "write `flam`, `drag`, `ruff`, a roll as `z` or in slashes `///`, or two of them joined as in `flam+z`, for each attack of a bar, and `.` where there is none"
            }
            Self::Dynamics => {
                "write for each bar its loudness from `ppp` to `fff`, `<` where it grows, `>` where it falls, or nothing, bars parted by `|`: `dynamics: p< | f | | mf>`"
            }
        }
    }

    /// How the mark of this kind is written; `None` where there is none.
    pub(super) fn sign(self, marks: Marks) -> Option<String> {
        match self {
            Self::Sticking => marks.sticking.map(|hand| {
                match hand {
                    Sticking::Right => "R",
                    Sticking::Left => "L",
                    Sticking::Both => "B",
                }
                .to_owned()
            }),
            Self::Accents => marks.accent.map(|accent| {
                match accent {
                    Accent::Accent => ">",
                    Accent::Strong => "^",
                }
                .to_owned()
            }),
            Self::Strokes => {
                let grace = Grace::NAMED
                    .iter()
                    .find(|(_, grace)| *grace == marks.grace)
                    .map(|(name, _)| (*name).to_owned());
                let roll = marks.roll.map(|roll| match roll {
                    Roll::Measured(slashes) => "/".repeat(usize::from(slashes)),
                    Roll::Unmeasured => "z".to_owned(),
                });
                let both: Vec<String> = grace.into_iter().chain(roll).collect();
                (!both.is_empty()).then(|| both.join("+"))
            }
            Self::Dynamics => None,
        }
    }
}

/// How the loudness of a bar is written; empty where nothing is.
pub(super) fn dynamics_sign(dynamics: Dynamics) -> String {
    let level = dynamics.level.and_then(|level| Loudness::NAMED.iter().find(|(_, named)| *named == level));
    let swell = match dynamics.swell {
        Some(Swell::Crescendo) => "<",
        Some(Swell::Decrescendo) => ">",
        None => "",
    };
    format!("{}{swell}", level.map_or("", |(name, _)| name))
}

/// Puts the marks of `lines` on the bars that they stand under.
pub(super) fn apply(
    text: &str,
    lines: &[Line],
    bars: &mut [Option<WrittenBar>],
    diagnostics: &mut Vec<Diagnostic>,
) {
    // Beside a bar that could not be read the marks would fall on the wrong ones; the bar is mended first.
    if bars.iter().any(Option::is_none) {
        return;
    }
    for line in lines {
        let begins = |bar: &Option<WrittenBar>| bar.as_ref().map_or(0, |bar| bar.begins);
        let first = bars.partition_point(|bar| begins(bar) < line.above.start);
        let end = bars.partition_point(|bar| begins(bar) < line.above.end);
        let marked: Vec<usize> = (first..end)
            .filter(|&index| {
                bars[index].as_ref().is_some_and(|bar| bar.rest().is_none_or(|rest| rest.index == 1))
            })
            .collect();
        let first = marked.first().and_then(|&index| bars[index].as_ref());
        let bare = |bar: &WrittenBar| !text[line.above.start..bar.begins].contains('|');
        let pickup = first.is_some_and(|bar| bar.pickup && bare(bar));
        let segments = segments(text, &line.value, pickup);
        if segments.len() > marked.len() {
            let message = match marked.len() {
                0 => format!("`{}:` stands under no line of bars", line.kind.name()),
                bars => {
                    format!("this line marks {} bars, but {bars} begin in the line above", segments.len())
                }
            };
            let span = if marked.is_empty() { line.key.clone() } else { segments[marked.len()].clone() };
            diagnostics.push(Diagnostic::error(widened(span, &line.value), message, line.kind.help()));
            continue;
        }
        for (index, segment) in marked.into_iter().zip(segments) {
            let Some(bar) = bars[index].as_mut() else { continue };
            if let Err((span, message)) = mark(text, line.kind, &segment, bar) {
                diagnostics.push(Diagnostic::error(widened(span, &line.value), message, line.kind.help()));
            }
        }
    }
    let mut before: Option<Vec<Marks>> = None;
    for bar in bars.iter_mut().flatten() {
        let own = bar.events.iter().any(|event| event.marks.need_an_attack());
        if let Some(before) = before.filter(|_| bar.same_again && !own) {
            for (event, marks) in Arc::make_mut(&mut bar.events).iter_mut().zip(before) {
                event.marks = marks;
            }
        }
        before = Some(bar.events.iter().map(|event| event.marks).collect());
    }
}

/// An error points at something even where a segment is empty.
fn widened(span: Range<usize>, value: &Range<usize>) -> Range<usize> {
    if span.is_empty() { value.clone() } else { span }
}

/// The stretches between the bar lines of a line of marks, without the one behind the last where it is empty,
/// and the one before the first unless it is that of a pickup.
fn segments(text: &str, value: &Range<usize>, pickup: bool) -> Vec<Range<usize>> {
    let content = super::header::without_comment(&text[value.clone()]);
    let mut segments = Vec::new();
    let mut at = value.start;
    for piece in content.split('|') {
        segments.push(at..at + piece.len());
        at += piece.len() + 1;
    }
    let blank = |segment: &Range<usize>| text[segment.clone()].trim().is_empty();
    if !pickup && content.contains('|') && segments.first().is_some_and(blank) {
        segments.remove(0);
    }
    if segments.last().is_some_and(blank) {
        segments.pop();
    }
    segments
}

/// Puts the marks of one bar on its attacks.
fn mark(
    text: &str,
    kind: Kind,
    segment: &Range<usize>,
    bar: &mut WrittenBar,
) -> Result<(), (Range<usize>, String)> {
    let mut signs = signs(text, kind, segment);
    // Signs of no mark may stand behind the last attack, as in a bar without one.
    while signs.last().is_some_and(|(_, sign)| matches!(*sign, "." | "-")) {
        signs.pop();
    }
    if kind == Kind::Dynamics {
        for (span, sign) in signs {
            loudness(bar.dynamics_mut(), sign).ok_or_else(|| (span, format!("`{sign}` is no loudness")))?;
        }
        return Ok(());
    }
    let attacks = bar.events.iter().filter(|event| event.deed == Deed::Attack).count();
    if let Some((span, _)) = signs.get(attacks) {
        let message = format!("there are {} signs for this bar, but {attacks} attacks", signs.len());
        return Err((span.clone(), message));
    }
    let events = Arc::make_mut(&mut bar.events);
    let attacks = events.iter_mut().filter(|event| event.deed == Deed::Attack);
    for (event, (span, sign)) in attacks.zip(signs) {
        let marks = &mut event.marks;
        if matches!(sign, "." | "-") {
            continue;
        }
        let read = match kind {
            Kind::Sticking => hand(sign).map(|hand| marks.sticking = Some(hand)),
            Kind::Accents => accent(sign).map(|accent| marks.accent = Some(accent)),
            _ => sign.split('+').try_for_each(|one| stroke(marks, one)),
        };
        read.ok_or_else(|| (span, format!("`{sign}` is no sign of a line of {}", kind.name())))?;
    }
    Ok(())
}

/// The signs of one bar. Hands may be written in one run, `RLRR`.
fn signs<'t>(text: &'t str, kind: Kind, segment: &Range<usize>) -> Vec<(Range<usize>, &'t str)> {
    let mut signs = Vec::new();
    let mut at = segment.start;
    for word in text[segment.clone()].split(char::is_whitespace) {
        let run = matches!(kind, Kind::Sticking | Kind::Accents);
        if run {
            for (offset, letter) in word.char_indices() {
                let end = offset + letter.len_utf8();
                signs.push((at + offset..at + end, &word[offset..end]));
            }
        } else if !word.is_empty() {
            signs.push((at..at + word.len(), word));
        }
        at += word.len();
        at += text[at..].chars().next().map_or(0, char::len_utf8);
    }
    signs
}

fn hand(sign: &str) -> Option<Sticking> {
    match sign {
        "R" | "r" => Some(Sticking::Right),
        "L" | "l" => Some(Sticking::Left),
        "B" | "b" => Some(Sticking::Both),
        _ => None,
    }
}

fn accent(sign: &str) -> Option<Accent> {
    match sign {
        ">" => Some(Accent::Accent),
        "^" => Some(Accent::Strong),
        _ => None,
    }
}

fn stroke(marks: &mut Marks, sign: &str) -> Option<()> {
    let lower = sign.to_ascii_lowercase();
    if let Some((_, grace)) = Grace::NAMED.iter().find(|(name, _)| *name == lower) {
        marks.grace = *grace;
        return Some(());
    }
    let slashes =
        u8::try_from(sign.len()).ok().filter(|n| (1..=4).contains(n) && sign.bytes().all(|b| b == b'/'));
    marks.roll = Some(match (lower.as_str(), slashes) {
        ("z", _) => Roll::Unmeasured,
        (_, Some(slashes)) => Roll::Measured(slashes),
        _ => return None,
    });
    Some(())
}

fn loudness(dynamics: &mut Dynamics, sign: &str) -> Option<()> {
    if matches!(sign, "." | "-") {
        return Some(());
    }
    let level = sign.trim_end_matches(['<', '>']);
    dynamics.swell = match &sign[level.len()..] {
        "" => dynamics.swell,
        "<" => Some(Swell::Crescendo),
        ">" => Some(Swell::Decrescendo),
        _ => return None,
    };
    if !level.is_empty() {
        let lower = level.to_ascii_lowercase();
        let (_, named) = Loudness::NAMED.iter().find(|(name, _)| *name == lower)?;
        dynamics.level = Some(*named);
    }
    Some(())
}
