use rhythm::spelling::{Note, Value};
use rhythm::{Accent, Deed, Marks, Roll, Sticking};
use timebase::Span;

use super::line;

/// The names of the values, from the longest.
pub(super) const TYPES: [(Span, &str); 7] = [
    (Span::WHOLE, "whole"),
    (Span::HALF, "half"),
    (Span::QUARTER, "quarter"),
    (Span::EIGHTH, "eighth"),
    (Span::SIXTEENTH, "16th"),
    (Span::new(1, 32), "32nd"),
    (Span::new(1, 64), "64th"),
];

pub(super) fn type_name(value: Span) -> &'static str {
    TYPES.iter().find(|(span, _)| *span == value).map_or("64th", |(_, name)| name)
}

/// Which voice of a part a note belongs to.
#[derive(Clone, Copy, Debug)]
pub(super) struct Voice {
    /// From 1.
    pub(super) number: u8,
    /// Where it is shown: the only line of a one-line staff is E, the spaces beside it F and D.
    step: char,
    stem: &'static str,
    /// The number of the part whose instruments the voices are, where it has two.
    part: Option<usize>,
}

impl Voice {
    pub(super) const ALONE: Self = Self { number: 1, step: 'E', stem: "up", part: None };

    pub(super) const fn upper(part: usize) -> Self {
        Self { number: 1, step: 'F', stem: "up", part: Some(part) }
    }

    pub(super) const fn lower(part: usize) -> Self {
        Self { number: 2, step: 'D', stem: "down", part: Some(part) }
    }

    fn place(self) -> String {
        let step = self.step;
        format!(
            "<unpitched><display-step>{step}</display-step><display-octave>4</display-octave></unpitched>"
        )
    }

    /// The elements that tell its instrument and its number.
    fn told(self) -> String {
        let number = self.number;
        let instrument = self
            .part
            .map_or_else(String::new, |part| format!("<instrument id=\"{}\"/>\n", instrument(part, number)));
        format!("{instrument}<voice>{number}</voice>")
    }
}

/// The name in the file of the instrument that a voice of a part is.
pub(super) fn instrument(part: usize, voice: u8) -> String {
    format!("P{part}-I{voice}")
}

/// What a note is written with beside its spelling.
#[derive(Clone, Copy, Debug)]
pub(super) struct Dress<'a> {
    pub(super) voice: Voice,
    pub(super) marks: Marks,
    /// The roll that goes on through it.
    pub(super) roll: Option<Roll>,
    /// In divisions.
    pub(super) duration: i64,
    pub(super) tied_on: bool,
    /// Whether it begins and ends an outer and an inner tuplet.
    pub(super) tuplets: &'a [TupletEdge],
    pub(super) beams: &'a [&'static str],
}

/// The edge of a tuplet at a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TupletEdge {
    pub(super) begins: bool,
    /// 1 for an outer, 2 for an inner.
    pub(super) level: u8,
    pub(super) actual: u32,
    pub(super) normal: u32,
}

pub(super) fn write(out: &mut String, note: &Note, dress: &Dress<'_>) {
    let (place, voice) = (dress.voice.place(), dress.voice.told());
    let strokes = dress.marks.grace.strokes();
    for _ in 0..strokes {
        let (slash, value) = if strokes == 1 { (" slash=\"yes\"", "eighth") } else { ("", "16th") };
        line(out, format_args!("<note>\n<grace{slash}/>\n{place}\n{voice}\n<type>{value}</type>\n</note>"));
    }
    out.push_str("<note>\n");
    match note.deed {
        Deed::Rest if note.whole_bar => out.push_str("<rest measure=\"yes\"/>\n"),
        Deed::Rest => out.push_str("<rest/>\n"),
        Deed::Attack | Deed::Hold => line(out, format_args!("{place}")),
    }
    line(out, format_args!("<duration>{}</duration>", dress.duration));
    let held = note.deed == Deed::Hold;
    if held {
        out.push_str("<tie type=\"stop\"/>\n");
    }
    if dress.tied_on {
        out.push_str("<tie type=\"start\"/>\n");
    }
    line(out, format_args!("{voice}"));
    if !note.whole_bar {
        line(out, format_args!("<type>{}</type>", value_name(note.value)));
        for _ in 0..note.dots {
            out.push_str("<dot/>\n");
        }
    }
    if let Some(tuplet) = &note.tuplet {
        let (actual, normal) = tuplet.product();
        line(
            out,
            format_args!(
                "<time-modification><actual-notes>{actual}</actual-notes><normal-notes>{normal}</normal-notes></time-modification>"
            ),
        );
    }
    if note.deed != Deed::Rest && note.value != Value::Whole {
        line(out, format_args!("<stem>{}</stem>", dress.voice.stem));
    }
    for (kind, number) in dress.beams.iter().zip(1..) {
        line(out, format_args!("<beam number=\"{number}\">{kind}</beam>"));
    }
    let said = notations(held, dress);
    if !said.is_empty() {
        line(out, format_args!("<notations>\n{said}</notations>"));
    }
    out.push_str("</note>\n");
}

fn value_name(value: Value) -> &'static str {
    type_name(value.span())
}

fn notations(held: bool, dress: &Dress<'_>) -> String {
    let mut said = String::new();
    if held {
        said.push_str("<tied type=\"stop\"/>\n");
    }
    if dress.tied_on {
        said.push_str("<tied type=\"start\"/>\n");
    }
    for edge in dress.tuplets {
        let TupletEdge { begins, level, actual, normal } = *edge;
        if begins {
            line(
                &mut said,
                format_args!(
                    "<tuplet type=\"start\" number=\"{level}\"><tuplet-actual><tuplet-number>{actual}</tuplet-number></tuplet-actual><tuplet-normal><tuplet-number>{normal}</tuplet-number></tuplet-normal></tuplet>"
                ),
            );
        } else {
            line(&mut said, format_args!("<tuplet type=\"stop\" number=\"{level}\"/>"));
        }
    }
    match dress.roll {
        Some(Roll::Measured(slashes)) => {
            line(
                &mut said,
                format_args!("<ornaments><tremolo type=\"single\">{slashes}</tremolo></ornaments>"),
            );
        }
        Some(Roll::Unmeasured) => {
            said.push_str("<ornaments><tremolo type=\"unmeasured\">0</tremolo></ornaments>\n");
        }
        None => {}
    }
    if let Some(hand) = dress.marks.sticking {
        let hand = match hand {
            Sticking::Right => "R",
            Sticking::Left => "L",
            Sticking::Both => "B",
        };
        line(&mut said, format_args!("<technical><other-technical>{hand}</other-technical></technical>"));
    }
    match dress.marks.accent {
        Some(Accent::Accent) => said.push_str("<articulations><accent/></articulations>\n"),
        Some(Accent::Strong) => {
            said.push_str("<articulations><strong-accent type=\"up\"/></articulations>\n");
        }
        None => {}
    }
    if dress.marks.fermata {
        said.push_str("<fermata/>\n");
    }
    said
}
