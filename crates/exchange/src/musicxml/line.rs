use rhythm::spelling::spell;
use rhythm::{Bar, Deed, Event, Form, Grace, Marks};
use timebase::{Ratio, Span};

use super::bars::Plan;
use super::note::LOST;
use super::score::{Beam, Bracket, Kind, ScoreNote, ScorePart};
use super::tuplets::{self, Member};
use super::unkept::Losses;
use crate::limits::FINENESS;

/// Which notes of a part make one line: a voice, or what of a voice stands on one staff.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Line {
    pub(super) voice: u16,
    pub(super) staff: Option<u8>,
}

impl Line {
    pub(super) fn holds(&self, note: &ScoreNote) -> bool {
        note.voice == self.voice && self.staff.is_none_or(|staff| staff == note.staff)
    }

    /// As it is chosen: `1`, `1 on staff 2`.
    pub(super) fn name(&self, part: &ScorePart) -> String {
        let voice = &part.voices[usize::from(self.voice)];
        self.staff.map_or_else(|| voice.clone(), |staff| format!("{voice} on staff {staff}"))
    }
}

/// The lines of a part in the order in which they appear.
///
/// Some files use one voice for what sounds at once on two staves; such a voice is a line on each of them.
pub(super) fn lines(part: &ScorePart) -> Vec<Line> {
    let voices = part.voices.len();
    let mut staves: Vec<Vec<u8>> = vec![Vec::new(); voices];
    let mut apart = vec![false; voices];
    let mut reached: Vec<Vec<(u8, Span, Span)>> = vec![Vec::new(); voices];
    for bar in &part.bars {
        reached.iter_mut().for_each(Vec::clear);
        for note in &bar.notes {
            let voice = usize::from(note.voice);
            if !staves[voice].contains(&note.staff) {
                staves[voice].push(note.staff);
            }
            if apart[voice] || staves[voice].len() < 2 || note.kind == Kind::Grace {
                // One staff cannot be parted by staves; its first notes of this bar are looked at once it can.
                if note.kind != Kind::Grace {
                    reached[voice].push((note.staff, note.at, note.at + note.length));
                }
                continue;
            }
            let end = note.at + note.length;
            // Looking back a little is enough: notes of one voice are written in runs.
            let overlaps =
                |(staff, from, to): &(u8, Span, Span)| *staff != note.staff && *from < end && note.at < *to;
            apart[voice] = reached[voice].iter().rev().take(64).any(overlaps);
            reached[voice].push((note.staff, note.at, end));
        }
    }
    let mut lines = Vec::new();
    for (voice, staves) in (0_u16..).zip(&staves) {
        if apart[usize::from(voice)] {
            let mut staves = staves.clone();
            staves.sort_unstable();
            lines.extend(staves.into_iter().map(|staff| Line { voice, staff: Some(staff) }));
        } else {
            lines.push(Line { voice, staff: None });
        }
    }
    lines
}

/// What of a bar becomes events: each with what its file says of its tuplet and beam.
#[derive(Debug, Default)]
struct Reading<'a> {
    events: Vec<Event>,
    members: Vec<Member<'a>>,
    beams: Vec<Beam>,
}

impl<'a> Reading<'a> {
    fn push(&mut self, event: Event, note: Option<&'a ScoreNote>) {
        self.events.push(event);
        self.members.push(note.map_or_else(Member::default, |note| Member {
            ratio: note.ratio.map(|(actual, normal)| (u32::from(actual), u32::from(normal))),
            brackets: note.brackets.as_deref().unwrap_or_default(),
        }));
        self.beams.push(note.map_or(Beam::None, |note| note.beam));
    }
}

/// Makes the bars of one line, and tells what of it is lost.
#[derive(Debug)]
pub(super) struct Reader<'a> {
    part: &'a ScorePart,
    line: Line,
    /// Grace notes that wait for the note they lead to, and the number of the bar they stand in.
    grace: usize,
    grace_bar: u32,
    /// Whether something sounds up to here, and whether it is a roll.
    sounding: bool,
    rolled: bool,
    /// Whether the file tells which notes stand under beams.
    tells_beams: bool,
}

impl<'a> Reader<'a> {
    pub(super) fn new(part: &'a ScorePart, line: Line, tells_beams: bool) -> Self {
        let tells_beams = tells_beams || part.has_beams;
        Self { part, line, grace: 0, grace_bar: 0, sounding: false, rolled: false, tells_beams }
    }

    /// The bar `index` of the file.
    pub(super) fn bar(
        &mut self,
        index: usize,
        plan: &Plan,
        losses: &mut Losses,
    ) -> Result<Bar, rhythm::Error> {
        let mut notes: Vec<&'a ScoreNote> = Vec::new();
        if let Some(bar) = self.part.bar(index) {
            notes.extend(bar.notes.iter().filter(|note| self.line.holds(note)));
        }
        if notes.windows(2).any(|pair| pair[0].at > pair[1].at) {
            notes.sort_by_key(|note| note.at);
        }
        let mut reading = Reading::default();
        let mut reached = plan.start;
        for note in notes {
            for (bit, (_, what)) in LOST.iter().enumerate() {
                if note.lost == 0 {
                    break;
                }
                if note.lost & (1 << bit) != 0 {
                    losses.add(*what, plan.number);
                }
            }
            match note.kind {
                Kind::Grace => {
                    self.grace += 1;
                    self.grace_bar = plan.number;
                    continue;
                }
                Kind::Cue => {
                    losses.add("cue notes (read as silence)", plan.number);
                    continue;
                }
                _ => {}
            }
            let at = plan.start + note.at;
            let end = match note.kind {
                Kind::BarRest if note.at == Span::ZERO => plan.end,
                _ => at + note.length,
            };
            if at < reached || at >= plan.end {
                if note.kind == Kind::Note {
                    let what = if at < reached {
                        "a note that begins while another of its voice lasts"
                    } else {
                        "a note behind the end of its bar"
                    };
                    losses.add(what, plan.number);
                }
                continue;
            }
            if end > plan.end && note.kind == Kind::Note {
                losses.add("a note that lasts past the end of its bar (read up to there)", plan.number);
            }
            self.silence(&mut reading, plan, reached, at, losses);
            reached = end.min(plan.end);
            let event = self.event(note, at, reached - at, plan.number, losses);
            reading.push(event, Some(note));
        }
        self.silence(&mut reading, plan, reached, plan.end, losses);
        self.finished(reading, plan, losses)
    }

    /// Fills a gap with silence.
    fn silence(&mut self, reading: &mut Reading<'a>, plan: &Plan, from: Span, to: Span, losses: &mut Losses) {
        if from >= to {
            return;
        }
        self.drop_grace(losses);
        self.sounding = false;
        let rest = Event::new(from, to - from, Deed::Rest);
        for piece in symbols(plan, rest) {
            reading.push(piece, None);
        }
    }

    fn event(&mut self, note: &ScoreNote, at: Span, length: Span, number: u32, losses: &mut Losses) -> Event {
        let deed = match note.kind {
            Kind::Rest | Kind::BarRest => Deed::Rest,
            _ if !note.tied => Deed::Attack,
            _ if self.sounding => Deed::Hold,
            _ => {
                losses.add("a tie from silence or from another voice (read as a note struck anew)", number);
                Deed::Attack
            }
        };
        let mut marks = note.marks;
        if deed == Deed::Attack {
            marks.grace = Grace::of_strokes(self.grace).unwrap_or_else(|| {
                losses.add("more than three grace notes (read as three)", number);
                Grace::Ruff
            });
            self.rolled = marks.roll.is_some();
            self.grace = 0;
        } else {
            let goes_on = deed == Deed::Hold && self.rolled;
            let kept = Marks { fermata: marks.fermata, ..Marks::NONE };
            let lost = Marks { roll: if goes_on { None } else { marks.roll }, ..marks };
            if lost != kept {
                losses.add("a mark on a note that is not struck", number);
            }
            self.drop_grace(losses);
            marks = kept;
        }
        self.sounding = deed != Deed::Rest;
        Event::new(at, length, deed).with_marks(marks)
    }

    /// Grace notes that lead to no note that is struck are lost.
    pub(super) fn drop_grace(&mut self, losses: &mut Losses) {
        if self.grace > 0 {
            losses.add("grace notes that lead to no struck note", self.grace_bar);
            self.grace = 0;
        }
    }

    fn finished(
        &mut self,
        reading: Reading<'a>,
        plan: &Plan,
        losses: &mut Losses,
    ) -> Result<Bar, rhythm::Error> {
        let Reading { mut events, mut members, mut beams } = reading;
        let is_fine = |span: Span| FINENESS.holds(span.denominator());
        if !events.iter().all(|event| is_fine(event.at) && is_fine(event.length)) {
            // Each place was checked as the file tells it; together with where the bar begins they may be finer.
            losses.add("lengths that divide their bar too finely together (the bar is silent)", plan.number);
            self.drop_grace(losses);
            self.sounding = false;
            let rest = Event::new(plan.start, plan.end - plan.start, Deed::Rest);
            return Bar::cut(plan.number, plan.meter, Form::Lengths, vec![rest]);
        }
        split_odd(plan, &mut events, &mut members, &mut beams);
        let mut tuplets = Vec::new();
        if members.iter().any(|member| member.ratio.is_some()) {
            let left_out;
            (tuplets, left_out) = tuplets::gather(&events, &members);
            if left_out {
                losses.add("a tuplet that is not whole (its lengths are kept)", plan.number);
            }
        }
        let open = members
            .iter()
            .flat_map(|member| member.brackets)
            .map(|Bracket { begins, .. }| i32::from(*begins) * 2 - 1);
        if open.sum::<i32>() != 0 {
            losses.add("a tuplet that goes on over a bar line (read as one in each bar)", plan.number);
        }
        let bar = Bar::cut(plan.number, plan.meter, Form::Lengths, events)?;
        let bar = if tuplets.is_empty() {
            bar
        } else {
            // The bar is kept as it is where its tuplets fit no bar.
            match bar.clone().with_tuplets(tuplets) {
                Ok(bar) => bar,
                Err(_) => {
                    losses
                        .add("tuplets that overlap or stand too deep (their lengths are kept)", plan.number);
                    bar
                }
            }
        };
        if self.tells_beams { with_breaks(bar, &members, &beams) } else { Ok(bar) }
    }
}

/// The bar with its beams broken where the rules would join two notes and its author did not.
fn with_breaks(bar: Bar, members: &[Member<'_>], beams: &[Beam]) -> Result<Bar, rhythm::Error> {
    let events = bar.events();
    let flagged = |index: usize| {
        let (actual, normal) = members[index].ratio.unwrap_or((1, 1));
        // Shorter than a quarter as it is written.
        let event = &events[index];
        event.deed != Deed::Rest
            && event.length.scaled(Ratio::new(i64::from(actual), i64::from(normal))) < Span::QUARTER
    };
    let places: Vec<usize> = (0..events.len()).filter(|&index| flagged(index)).collect();
    let apart: Vec<(usize, usize)> = places
        .windows(2)
        .map(|pair| (pair[0], pair[1]))
        .filter(|&(_, second)| beams[second] != Beam::Inside)
        .collect();
    if apart.is_empty() {
        return Ok(bar);
    }
    let notes = spell(&bar);
    let beam_at = |index: usize| {
        let found = notes.binary_search_by_key(&events[index].at, |note| note.at).ok()?;
        notes[found].beam
    };
    let joined = |&(first, second): &(usize, usize)| {
        let beam = beam_at(first);
        beam.is_some() && beam == beam_at(second)
    };
    let breaks: Vec<usize> = apart.iter().filter(|pair| joined(pair)).map(|&(_, second)| second).collect();
    if breaks.is_empty() {
        return Ok(bar);
    }
    let mut events = events.to_vec();
    for index in breaks {
        events[index].beam_broken = true;
    }
    Bar::cut(bar.number(), bar.meter(), bar.form(), events)?.with_tuplets(bar.tuplets().to_vec())
}

/// Whether one value from the whole to the sixty-fourth, with at most two dots, lasts so long.
pub(super) fn is_symbol(written: Span) -> bool {
    // 1, 3/2 and 7/4 of a value.
    let dotted = match written.numerator() {
        1 => 1,
        3 => 2,
        7 => 4,
        _ => return false,
    };
    let lower = written.denominator();
    matches!((lower % dotted, lower / dotted), (0, 1 | 2 | 4 | 8 | 16 | 32 | 64))
}

/// An event outside tuplets as single symbols: as it is if one shows it, else as the bar's meter parts it.
fn symbols(plan: &Plan, event: Event) -> Vec<Event> {
    let whole_bar =
        event.at == Span::ZERO && event.length == plan.meter.bar_length() && event.deed == Deed::Rest;
    if whole_bar || is_symbol(event.length) {
        return vec![event];
    }
    let end = event.end();
    let around = [
        (event.at > Span::ZERO).then(|| Event::new(Span::ZERO, event.at, Deed::Attack)),
        Some(event),
        (end < plan.meter.bar_length()).then(|| Event::new(end, plan.meter.bar_length() - end, Deed::Attack)),
    ];
    let Ok(bar) = Bar::cut(1, plan.meter, Form::Counts, around.into_iter().flatten().collect()) else {
        return vec![event];
    };
    let notes = spell(&bar);
    let inside: Vec<_> = notes.iter().filter(|note| event.at <= note.at && note.at < end).collect();
    if inside.iter().any(|note| note.tuplet.is_some()) {
        return vec![event];
    }
    let pieces = inside.iter().map(|note| {
        let marks = if note.at == event.at { event.marks } else { Marks::NONE };
        Event::new(note.at, note.length, note.deed).with_marks(marks)
    });
    pieces.collect()
}

/// Parts every event that no single symbol shows.
fn split_odd(plan: &Plan, events: &mut Vec<Event>, members: &mut Vec<Member<'_>>, beams: &mut Vec<Beam>) {
    let odd = |event: &Event, member: &Member<'_>| {
        member.ratio.is_none()
            && !is_symbol(event.length)
            && event.length.denominator() <= 64
            && !(event.deed == Deed::Rest && event.length == plan.meter.bar_length())
    };
    if !events.iter().zip(members.iter()).any(|(event, member)| odd(event, member)) {
        return;
    }
    let (mut all, mut with, mut under) = (Vec::new(), Vec::new(), Vec::new());
    for ((event, member), beam) in events.iter().zip(members.iter()).zip(beams.iter()) {
        let pieces = if odd(event, member) { symbols(plan, *event) } else { vec![*event] };
        for (index, piece) in pieces.into_iter().enumerate() {
            all.push(piece);
            with.push(if index == 0 { *member } else { Member::default() });
            under.push(if index == 0 { *beam } else { Beam::None });
        }
    }
    (*events, *members, *beams) = (all, with, under);
}
