use std::fmt;

use timebase::Span;

use super::cell::Cell;
use super::{House, Note, spell_by_rules, spell_in, words};
use crate::{Bar, Deed, Meter};

/// Where an author's spelling is not the one that the rules give, why, and what they give.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Where it begins, from where the full bar begins.
    pub at: Span,
    /// Where it ends.
    pub end: Span,
    /// What is unusual.
    pub oddity: Oddity,
    /// The symbols as they were written.
    pub written: Vec<Note>,
    /// The symbols that the rules give.
    pub usual: Vec<Note>,
}

/// What is unusual about an author's spelling.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Oddity {
    /// A note goes over a boundary that it should show.
    NoteHides(Boundary),
    /// A rest goes over a boundary that it should show.
    RestHides(Boundary),
    /// A dotted rest inside a beat that divides in two.
    DottedRest,
    /// Two dots.
    TwoDots,
    /// Tied notes that one note can replace.
    NeedlessTie,
    /// A syncopation in tied notes, where the long note in its middle is accepted.
    TiedSyncopation,
    /// Several rests that fewer can replace.
    ManyRests,
    /// A silent full bar in other than a whole-bar rest.
    SilentBar,
    /// A tuplet of what plain values show.
    NeedlessTuplet,
    /// A tuplet where the rules give another.
    OtherTuplet,
    /// A beam broken where one goes on.
    BrokenBeam,
}

/// What a symbol should show, from the strongest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Boundary {
    /// The middle of a bar of four beats or more.
    Middle,
    /// Where a declared group begins.
    Group,
    /// Where a felt beat begins.
    Beat,
    /// Where a part of a beat, or of a tuplet, begins.
    Part,
}

impl Oddity {
    /// The rule that gives the usual spelling, as a sentence.
    #[must_use]
    pub fn rule(self) -> &'static str {
        match self {
            Self::NoteHides(Boundary::Middle) => {
                "A note goes over the middle of the bar only if it begins with the bar, or is the half of a bar in four that lies between two notes half as long."
            }
            Self::NoteHides(Boundary::Group) => {
                "A note goes from one group into another only if it lasts whole groups."
            }
            Self::NoteHides(Boundary::Beat) => {
                "A note goes over the beginning of a beat only if it begins at one as strong, or is the long one of short, long, short, each short half of it, that fill a bar or half of one in four."
            }
            Self::NoteHides(Boundary::Part) => {
                "Inside a beat a note is cut where a stronger part begins than the one it begins at."
            }
            Self::RestHides(Boundary::Middle) => "Rests show the middle of the bar.",
            Self::RestHides(Boundary::Group) => "Rests show where each group begins.",
            Self::RestHides(Boundary::Beat) => {
                "Rests show each beat; a rest of two beats stands only in the first or the second half of a bar of four."
            }
            Self::RestHides(Boundary::Part) => {
                "Inside a beat rests fill up to its half, or to its next third."
            }
            Self::DottedRest => "A beat that divides in two has no dotted rest: rests fill up to its half.",
            Self::TwoDots => "Two dots are rare: a tie shows the beat.",
            Self::NeedlessTie => "What one note can show is not tied.",
            Self::TiedSyncopation => {
                "In short, long, short that fill a bar, half of it or a beat the long note is one note."
            }
            Self::ManyRests => "Rests are as few as show the beats.",
            Self::SilentBar => "A silent bar takes one whole-bar rest in any meter.",
            Self::NeedlessTuplet => "What plain values show needs no tuplet.",
            Self::OtherTuplet => {
                "A tuplet begins and ends with a beat or with half of one, or fills beats that belong together."
            }
            Self::BrokenBeam => "A beam joins what belongs to one beat, or four plain eighths of half a bar.",
        }
    }
}

/// `dotted half hides the middle of the bar; usual: quarter tied to half`.
impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let written = words(&self.written);
        match self.oddity {
            Oddity::NoteHides(boundary) | Oddity::RestHides(boundary) => {
                let hidden = match boundary {
                    Boundary::Middle => "the middle of the bar",
                    Boundary::Group => "where a group begins",
                    Boundary::Beat => "where a beat begins",
                    Boundary::Part => "where a part of the beat begins",
                };
                write!(f, "{written} hides {hidden}")?;
            }
            Oddity::DottedRest => write!(f, "{written}: a dotted rest where none is usual")?,
            Oddity::TwoDots => write!(f, "{written}: two dots")?,
            Oddity::NeedlessTie => write!(f, "{written}: a tie that one note can replace")?,
            Oddity::TiedSyncopation => write!(f, "{written}: a syncopation in tied notes")?,
            Oddity::ManyRests => write!(f, "{written}: more rests than the beats need")?,
            Oddity::SilentBar => write!(f, "{written} in a silent bar")?,
            Oddity::NeedlessTuplet => write!(f, "{written}: a tuplet of what plain values show")?,
            Oddity::OtherTuplet => write!(f, "{written}: another tuplet is usual")?,
            Oddity::BrokenBeam => {
                return write!(f, "the beam is broken before the {written}; usual: one beam");
            }
        }
        write!(f, "; usual: {}", words(&self.usual))
    }
}

/// Where the author's spelling of a bar differs from the one that the rules give, in the order of the places; empty
/// where it is theirs. In a bar written in counts that can only be a tie or rests that were asked for.
#[must_use]
pub fn remarks(bar: &Bar, house: House) -> Vec<Remark> {
    let (written, usual) = (spell_in(bar, house), spell_by_rules(bar, house));
    let grid = Cell::bar(bar.meter());
    let mut remarks: Vec<Remark> = Vec::new();
    let (mut a, mut b) = (0, 0);
    while a < written.len() && b < usual.len() {
        let (first_a, first_b) = (a, b);
        let (mut end_a, mut end_b) = (end(&written[a]), end(&usual[b]));
        while end_a != end_b {
            if end_a < end_b {
                a += 1;
                let Some(note) = written.get(a) else { break };
                end_a = end(note);
            } else {
                b += 1;
                let Some(note) = usual.get(b) else { break };
                end_b = end(note);
            }
        }
        (a, b) = (a + 1, b + 1);
        let stretch = (&written[first_a..a.min(written.len())], &usual[first_b..b.min(usual.len())]);
        let Some(oddity) = oddity(bar.meter(), grid, stretch.0, stretch.1) else { continue };
        let remark = Remark {
            at: stretch.0[0].at,
            end: end_a,
            oddity,
            written: stretch.0.to_vec(),
            usual: stretch.1.to_vec(),
        };
        match remarks.last_mut() {
            Some(before) if is_one_with(before, &remark) => {
                before.end = remark.end;
                before.written.extend(remark.written);
                before.usual.extend(remark.usual);
            }
            _ => remarks.push(remark),
        }
    }
    remarks.extend(broken_beams(bar, &written, &usual));
    remarks.sort_by_key(|remark| remark.at);
    remarks
}

fn end(note: &Note) -> Span {
    note.at + note.length
}

/// Whether two remarks tell of one tuplet.
fn is_one_with(before: &Remark, next: &Remark) -> bool {
    let tuplet = |note: Option<&Note>| note.and_then(|note| note.tuplet).map(|tuplet| tuplet.index);
    before.oddity == next.oddity
        && before.end == next.at
        && matches!(before.oddity, Oddity::NeedlessTuplet | Oddity::OtherTuplet)
        && tuplet(before.written.last()) == tuplet(next.written.first())
}

/// Why a stretch that begins and ends alike in both spellings is written otherwise than usual.
fn oddity(meter: Meter, grid: Cell, written: &[Note], usual: &[Note]) -> Option<Oddity> {
    let look = |note: &Note| {
        let ratio = note.tuplet.map(|tuplet| tuplet.ratio());
        (note.value, note.dots, ratio, note.whole_bar)
    };
    if written.iter().map(look).eq(usual.iter().map(look)) {
        return None;
    }
    if usual.iter().any(|note| note.whole_bar) {
        return Some(Oddity::SilentBar);
    }
    let ratios = |notes: &[Note]| notes.iter().all(|note| look(note).2 == look(&written[0]).2);
    if !ratios(written) || !ratios(usual) {
        return other_tuplet(written, usual);
    }
    let hidden = written.iter().filter_map(|note| hidden_by(meter, grid, note, usual)).min();
    if written[0].deed == Deed::Rest {
        return Some(match hidden {
            Some(Boundary::Part) if written.iter().any(|rest| rest.dots > 0) => Oddity::DottedRest,
            Some(boundary) => Oddity::RestHides(boundary),
            None => Oddity::ManyRests,
        });
    }
    if written.iter().any(|note| note.dots > 1) {
        return Some(Oddity::TwoDots);
    }
    Some(match hidden {
        Some(boundary) => Oddity::NoteHides(boundary),
        None if usual.iter().any(|note| is_syncopated(grid, note)) => Oddity::TiedSyncopation,
        None => Oddity::NeedlessTie,
    })
}

/// Where tuplets differ. Two or four in the time of a dotted beat are as usual as dotted notes (from memory).
fn other_tuplet(written: &[Note], usual: &[Note]) -> Option<Oddity> {
    if usual.iter().any(|note| note.tuplet.is_some()) {
        return Some(Oddity::OtherTuplet);
    }
    let as_usual = |note: &Note| {
        note.tuplet.is_none_or(|tuplet| tuplet.normal % 3 == 0 && tuplet.actual.is_power_of_two())
    };
    (!written.iter().all(as_usual)).then_some(Oddity::NeedlessTuplet)
}

/// The strongest boundary at which the rules cut what this one note goes over.
fn hidden_by(meter: Meter, grid: Cell, note: &Note, usual: &[Note]) -> Option<Boundary> {
    let cuts = usual.iter().map(|other| other.at).filter(|&at| note.at < at && at < end(note));
    cuts.map(|at| if note.tuplet.is_some() { part_or_beat(meter, at) } else { boundary(meter, grid, at) })
        .min()
}

fn part_or_beat(meter: Meter, at: Span) -> Boundary {
    if at.is_multiple_of(meter.felt_beat()) { Boundary::Beat } else { Boundary::Part }
}

/// What begins at a place inside a bar.
fn boundary(meter: Meter, grid: Cell, at: Span) -> Boundary {
    match grid.children().find(|child| child.at == at) {
        Some(_) if grid.is_grouped() => Boundary::Group,
        Some(half) if grid.parts() == 2 && half.length > meter.felt_beat() => Boundary::Middle,
        _ => part_or_beat(meter, at),
    }
}

/// Whether a note lies between the boundaries that its length would fill.
fn is_syncopated(grid: Cell, note: &Note) -> bool {
    let cell = grid.around(note.at, end(note));
    note.tuplet.is_none() && !cell.children().any(|child| child.at == note.at)
}

/// Where the author broke a beam that the rules would not.
fn broken_beams(bar: &Bar, written: &[Note], usual: &[Note]) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let (mut a, mut b) = (0, 0);
    for event in bar.events().iter().filter(|event| event.beam_broken) {
        while written.get(a).is_some_and(|note| note.at < event.at) {
            a += 1;
        }
        while usual.get(b).is_some_and(|note| note.at < event.at) {
            b += 1;
        }
        let (Some(note), Some(other)) = (written.get(a), usual.get(b)) else { continue };
        let joined =
            other.beam.is_some() && usual[..b].last().is_some_and(|before| before.beam == other.beam);
        if joined && other.at == event.at {
            remarks.push(Remark {
                at: event.at,
                end: end(note),
                oddity: Oddity::BrokenBeam,
                written: vec![*note],
                usual: vec![*other],
            });
        }
    }
    remarks
}
