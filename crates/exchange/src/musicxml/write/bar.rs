use rhythm::spelling::Note;
use rhythm::{Bar, Deed, Event, Marks, Meter, Rhythm, Roll};
use timebase::Span;

use super::note::{self, Dress, TupletEdge, Voice};
use super::{line, sign, tempo};
use crate::Error;

/// Writes the bars of a part one after another.
#[derive(Debug)]
pub(super) struct BarWriter<'a> {
    rhythm: &'a Rhythm,
    /// Whether tempos and jumps are written: once for all parts.
    is_first: bool,
    voice: Voice,
    divisions: i64,
    meter: Option<Meter>,
    swelling: bool,
    roll: Option<Roll>,
}

impl<'a> BarWriter<'a> {
    pub(super) fn new(rhythm: &'a Rhythm, is_first: bool, voice: Voice) -> Self {
        Self { rhythm, is_first, voice, divisions: 0, meter: None, swelling: false, roll: None }
    }

    /// Writes the beginning of bar `index`; `rests` tells whether it may be one of several bars of rest.
    pub(super) fn begin(
        &mut self,
        out: &mut String,
        index: usize,
        divisions: i64,
        rests: bool,
    ) -> Result<(), Error> {
        let bar = &self.rhythm.bars()[index];
        let before = index.checked_sub(1).map(|before| &self.rhythm.bars()[before]);
        line(out, format_args!("<measure {}>", number(bar, before)));
        sign::barline_before(out, self.rhythm, index);
        self.attributes(out, bar, divisions, rests);
        if self.meter != Some(bar.meter()) {
            sign::felt(out, bar.meter());
            self.meter = Some(bar.meter());
        }
        if self.is_first {
            if index == 0
                && let Some(head) = self.rhythm.written_tempo()
            {
                tempo::beats(out, head, bar.number())?;
            }
            if let Some(mark) = bar.tempo_mark() {
                tempo::mark(out, mark, bar.number())?;
            }
            sign::jump_before(out, self.rhythm, index);
        }
        Ok(())
    }

    /// Goes back to the beginning of bar `index`, where the voice before it has been written.
    pub(super) fn back(&self, out: &mut String, index: usize, divisions: i64) -> Result<(), Error> {
        let bar = &self.rhythm.bars()[index];
        let length = bar.length().in_units_of(Span::QUARTER) * divisions;
        if !length.is_integer() {
            let what = format!("a bar of {} of a whole note", bar.length());
            return Err(Error::Unwritable { bar: bar.number(), what });
        }
        line(out, format_args!("<backup>\n<duration>{}</duration>\n</backup>", length.to_integer()));
        Ok(())
    }

    /// Writes what sounds in bar `index`, in these notes; `goes_on` tells whether its last note is tied to the next bar's
    /// first.
    pub(super) fn sounds(
        &mut self,
        out: &mut String,
        index: usize,
        divisions: i64,
        notes: &[Note],
        goes_on: bool,
    ) -> Result<(), Error> {
        let bar = &self.rhythm.bars()[index];
        self.divisions = divisions;
        sign::dynamics(out, bar.dynamics(), self.voice.number, &mut self.swelling);
        self.notes(out, bar, notes, goes_on)?;
        Ok(())
    }

    /// Writes what ends with the last bar.
    pub(super) fn ends(&self, out: &mut String, index: usize) {
        if self.swelling && index + 1 == self.rhythm.bars().len() {
            sign::swell_end(out, self.voice.number);
        }
    }

    /// Writes the end of bar `index`.
    pub(super) fn end(&self, out: &mut String, index: usize) {
        sign::barline_after(out, self.rhythm, index);
        out.push_str("</measure>\n");
    }

    pub(super) fn jump(&self, out: &mut String, index: usize) {
        if self.is_first {
            sign::jump_after(out, self.rhythm, index);
        }
    }

    fn attributes(&mut self, out: &mut String, bar: &Bar, divisions: i64, rests: bool) {
        let rests = bar.rest().filter(|rest| rests && rest.index == 1);
        let (first, other_meter) = (self.meter.is_none(), self.meter != Some(bar.meter()));
        let other_divisions = self.divisions != divisions;
        if !other_meter && !other_divisions && rests.is_none() {
            return;
        }
        out.push_str("<attributes>\n");
        if other_divisions {
            line(out, format_args!("<divisions>{divisions}</divisions>"));
            self.divisions = divisions;
        }
        if other_meter {
            sign::time(out, bar.meter());
        }
        if first {
            out.push_str("<clef><sign>percussion</sign></clef>\n<staff-details><staff-lines>1</staff-lines></staff-details>\n");
        }
        if let Some(rests) = rests {
            line(
                out,
                format_args!("<measure-style><multiple-rest>{}</multiple-rest></measure-style>", rests.of),
            );
        }
        out.push_str("</attributes>\n");
    }

    fn notes(&mut self, out: &mut String, bar: &Bar, notes: &[Note], goes_on: bool) -> Result<(), Error> {
        let mut events = bar.events().iter().peekable();
        for (place, written) in notes.iter().enumerate() {
            let mut own: Option<&Event> = None;
            while let Some(event) = events.next_if(|event| event.at <= written.at) {
                own = (event.at == written.at).then_some(event);
            }
            let marks = own.map_or(Marks::NONE, |event| event.marks);
            match written.deed {
                Deed::Attack => self.roll = marks.roll,
                Deed::Rest => self.roll = None,
                Deed::Hold => {}
            }
            let length = written.length.in_units_of(Span::QUARTER) * self.divisions;
            if !length.is_integer() {
                let what = format!("a note of {} of a whole note", written.length);
                return Err(Error::Unwritable { bar: bar.number(), what });
            }
            let next = notes.get(place + 1);
            let sounds = written.deed != Deed::Rest;
            let dress = Dress {
                voice: self.voice,
                marks,
                roll: self.roll,
                duration: length.to_integer(),
                tied_on: sounds && next.map_or(goes_on, |next| next.deed == Deed::Hold),
                tuplets: &edges(notes, place),
                beams: &beams(notes, place),
            };
            note::write(out, written, &dress);
        }
        Ok(())
    }
}

/// The number of a bar, and whether it counts: a pickup is 0; the second half of a cut bar has its first half's
/// number with an X, as the standard shows it.
fn number(bar: &Bar, before: Option<&Bar>) -> String {
    let number = bar.number();
    match before {
        _ if bar.is_pickup() => "number=\"0\" implicit=\"yes\"".to_owned(),
        Some(before) if before.number() == number => format!("number=\"X{number}\" implicit=\"yes\""),
        // Said where a reader might take it for a pickup or for the second half of the bar before.
        _ if bar.length() < bar.meter().bar_length() => format!("number=\"{number}\" implicit=\"no\""),
        _ => format!("number=\"{number}\""),
    }
}

/// Where tuplets begin and end at note `place`: an outer begins before its inner and ends after it.
fn edges(notes: &[Note], place: usize) -> Vec<TupletEdge> {
    let Some(tuplet) = &notes[place].tuplet else { return Vec::new() };
    let stands = |index: usize, other: Option<&Note>| {
        other.and_then(|note| note.tuplet.as_ref()).is_some_and(|other| other.stands_in(index))
    };
    let (before, after) = (place.checked_sub(1).map(|before| &notes[before]), notes.get(place + 1));
    let mut edges = Vec::new();
    let inner = if tuplet.outer.is_some() { 2 } else { 1 };
    let (actual, normal) = (tuplet.actual, tuplet.normal);
    if let Some(outer) = tuplet.outer
        && !stands(outer.index, before)
    {
        edges.push(TupletEdge { begins: true, level: 1, actual: outer.actual, normal: outer.normal });
    }
    if !stands(tuplet.index, before) {
        edges.push(TupletEdge { begins: true, level: inner, actual, normal });
    }
    if !stands(tuplet.index, after) {
        edges.push(TupletEdge { begins: false, level: inner, actual, normal });
    }
    if let Some(outer) = tuplet.outer
        && !stands(outer.index, after)
    {
        edges.push(TupletEdge { begins: false, level: 1, actual: outer.actual, normal: outer.normal });
    }
    edges
}

/// What stands on each beam at note `place`: as many as it has flags.
fn beams(notes: &[Note], place: usize) -> Vec<&'static str> {
    let here = &notes[place];
    let Some(beam) = here.beam.filter(|_| here.deed != Deed::Rest && here.value.flags() > 0) else {
        return Vec::new();
    };
    let under = |note: &&Note| note.deed != Deed::Rest && note.beam == Some(beam);
    let before = notes[..place].iter().rev().take_while(|note| note.beam == Some(beam)).find(under);
    let after = notes[place + 1..].iter().take_while(|note| note.beam == Some(beam)).find(under);
    let flags = |note: Option<&Note>| note.map_or(0, |note| note.value.flags());
    let kind = |level: u8| match (flags(before) >= level, flags(after) >= level) {
        (true, true) => "continue",
        (true, false) => "end",
        (false, true) => "begin",
        (false, false) if before.is_some() => "backward hook",
        (false, false) => "forward hook",
    };
    (1..=here.value.flags()).map(kind).collect()
}
