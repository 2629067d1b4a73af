//! The notes of one bar, in counts or in lengths.

use timebase::{Ratio, Span};

use crate::spelling::spell;
use crate::text::bar::{Setting, Sound};
use crate::text::lengths;
use crate::text::token::{Token, Tokens};
use crate::{Bar, Deed, Division, Event, Form, Marks, Meter, Tuplet, division, tuplet};

/// A word of a bar, and the marks that stand under it if it is an attack.
pub(super) struct Cell {
    pub(super) text: String,
    pub(super) marks: Option<Marks>,
}

/// The cells of a bar. `complement` is where it would end if it stopped short of its last count: the last bar of a
/// rhythm with a pickup.
pub(super) fn cells(bar: &Bar, complement: Option<Span>) -> Vec<Cell> {
    let counts = match bar.form() {
        Form::Counts => in_counts(bar, complement),
        Form::Lengths => None,
    };
    counts.unwrap_or_else(|| in_lengths(bar))
}

/// Whether the counts of a full last bar of a rhythm with a pickup show that it does not end at `complement`, or it is not
/// written in counts at all.
pub(super) fn shows_its_end(bar: &Bar, complement: Span) -> bool {
    bar.form() == Form::Lengths
        || in_counts(bar, Some(complement)).is_some()
        || in_counts(bar, None).is_none()
}

fn fermata(event: &Event) -> &'static str {
    if event.marks.fermata { " fermata" } else { "" }
}

fn marks(event: &Event) -> Option<Marks> {
    (event.deed == Deed::Attack).then_some(event.marks)
}

/// The bar in counts, or `None` where counts cannot tell it: a place has no word, or its author broke a beam or
/// wrote a tuplet.
fn in_counts(bar: &Bar, complement: Option<Span>) -> Option<Vec<Cell>> {
    let meter = bar.meter();
    if !bar.tuplets().is_empty() || bar.events().iter().any(|event| event.beam_broken) {
        return None;
    }
    let mut cells: Vec<Cell> = Vec::new();
    // A pickup that begins between the beats belongs to the last beat without naming it, and the second half of a
    // cut bar to the beat where it goes on.
    let mut named = Named { number: None, part: None };
    if bar.is_pickup() {
        named.number = Some(meter.felt_beats());
    } else if bar.start().is_positive() {
        named.number = Some(meter.beat_of(bar.start()).0);
    }
    let in_three = beats_in_three(bar);
    for (index, event) in bar.events().iter().enumerate() {
        let (number, part) = meter.beat_of(event.at);
        let beat = if in_three.contains(&number) { Division::Three } else { meter.division() };
        let word = division::word_at(beat, part)?;
        let before = index.checked_sub(1).map(|before| &bar.events()[before]);
        for step in named.steps_to(number, part, beat, meter) {
            step_written(&mut cells, before, &step)?;
        }
        let count = if word.is_empty() { meter.said_number(number).to_string() } else { word.to_owned() };
        let fermata = fermata(event);
        let text = match event.deed {
            Deed::Attack => format!("{count}{fermata}"),
            Deed::Hold if names_a_group(meter, event.at) && index > 0 => return None,
            Deed::Hold => format!("_{count}{fermata}"),
            Deed::Rest => format!("({count}{fermata})"),
        };
        cells.push(Cell { text, marks: marks(event) });
        named = Named { number: Some(number), part: Some(part) };
    }
    let last = bar.events().last()?;
    if let Some(complement) = complement.filter(|complement| last.at < *complement && bar.end() > *complement)
    {
        // A full bar must show that it goes on behind the complement of the pickup: only a silence can.
        let number = (1..=meter.felt_beats()).find(|&number| meter.count_at(number) >= complement)?;
        for step in named.steps_to(number, Ratio::from_integer(0), meter.division(), meter) {
            step_written(&mut cells, Some(last), &step)?;
        }
        if last.deed != Deed::Rest || last.marks.fermata {
            return None;
        }
        step_written(&mut cells, Some(last), &meter.said_number(number).to_string())?;
    }
    Some(cells)
}

/// The beats, from 1, that are counted in three though the meter divides in two.
fn beats_in_three(bar: &Bar) -> Vec<u32> {
    let odd = |event: &Event| {
        let (beat, part) = bar.meter().beat_of(event.at);
        (part.denom() % 3 == 0).then_some(beat)
    };
    bar.events().iter().filter_map(odd).collect()
}

/// Whether a group that is counted by itself begins at `at`.
fn names_a_group(meter: Meter, at: Span) -> bool {
    let (number, part) = meter.beat_of(at);
    meter.is_counted_by_group() && part == Ratio::from_integer(0) && meter.said_number(number) == 1
}

/// Writes a count that only names the place behind it: held in a sound, inside the parentheses of a silence.
fn step_written(cells: &mut Vec<Cell>, before: Option<&Event>, step: &str) -> Option<()> {
    match before?.deed {
        Deed::Attack | Deed::Hold => cells.push(Cell { text: format!("_{step}"), marks: None }),
        Deed::Rest => {
            let silence = &mut cells.last_mut()?.text;
            let open = silence.strip_suffix(')')?.to_owned();
            *silence = format!("{open} {step})");
        }
    }
    Some(())
}

/// The beat and the part of it named last.
struct Named {
    number: Option<u32>,
    part: Option<Ratio<i64>>,
}

impl Named {
    /// The counts to be written first, so that the next word is read as `part` of beat `number`.
    fn steps_to(&self, number: u32, part: Ratio<i64>, beat: Division, meter: Meter) -> Vec<String> {
        let zero = Ratio::from_integer(0);
        let mut steps = Vec::new();
        if meter.is_counted_by_group() {
            // The 1 of every group between the last number and this one; its own only if it is not this place.
            let first = self.number.map_or(1, |last| last + 1);
            let groups = (first..=number)
                .filter(|&beat| meter.said_number(beat) == 1 && (beat < number || part != zero));
            steps.extend(groups.filter(|&beat| beat > 1).map(|_| "1".to_owned()));
        }
        if part == zero {
            return steps;
        }
        let same_beat = self.number == Some(number);
        let named_as_group = meter.is_counted_by_group() && meter.said_number(number) == 1;
        if !same_beat && !named_as_group {
            steps.push(meter.said_number(number).to_string());
        }
        let last = if same_beat { self.part.unwrap_or(zero) } else { zero };
        // `ta` is read by the word before it: behind `la` it is the half, behind `li` the last sixth.
        let halves_are_ta = beat == Division::Three;
        let needed = if part == Ratio::new(5, 6) {
            Some((Ratio::new(2, 3), "li"))
        } else if part == Ratio::new(1, 2) && halves_are_ta {
            Some((Ratio::new(1, 3), "la"))
        } else {
            None
        };
        if let Some((at, word)) = needed.filter(|(at, _)| *at != last) {
            debug_assert!(at < part);
            steps.push(word.to_owned());
        }
        steps
    }
}

/// The bar in lengths: as its author wrote it, else as the program spells it. If neither can be read, as its author did.
fn in_lengths(bar: &Bar) -> Vec<Cell> {
    let cells = event_by_event(bar);
    if has_plain_lengths(bar) || is_read(bar, &cells) {
        return cells;
    }
    let spelled = spelled(bar);
    if is_read(bar, &spelled) { spelled } else { cells }
}

/// Whether rhythm text has words for what is played in this bar.
pub(super) fn can_write(bar: &Bar) -> bool {
    has_plain_lengths(bar)
        || bar.form() == Form::Counts && in_counts(bar, None).is_some()
        || is_read(bar, &in_lengths(bar))
}

/// Whether it has no tuplet, and all its lengths are whole numbers of sixty-fourths.
fn has_plain_lengths(bar: &Bar) -> bool {
    bar.tuplets().is_empty() && bar.events().iter().all(|event| 64 % event.length.denominator() == 0)
}

/// Whether these cells of lengths are read as a bar that begins and ends where this one does.
fn is_read(bar: &Bar, cells: &[Cell]) -> bool {
    let text = cells.iter().map(|cell| cell.text.as_str()).collect::<Vec<_>>().join(" ");
    let tokens: Vec<Token> = Tokens::new(&text, 0..text.len()).collect();
    let (start, end) = (bar.start(), bar.end());
    let setting = Setting {
        meter: bar.meter(),
        pickup: bar.is_pickup(),
        before: Sound::Unknown,
        from: (start.is_positive() && !bar.is_pickup()).then_some(start),
        until: (end < bar.meter().bar_length()).then_some(end),
        complement: None,
    };
    lengths::read(&tokens, setting).is_ok()
}

/// Each event by itself, odd parts of a beat in the tuplets of their author or gathered.
fn event_by_event(bar: &Bar) -> Vec<Cell> {
    if !bar.tuplets().is_empty() {
        return lengths(bar.events(), bar.tuplets());
    }
    let odd = |span: Span| span.denominator().count_ones() != 1;
    if !bar.events().iter().any(|event| odd(event.at) || odd(event.length)) {
        return lengths(bar.events(), &[]);
    }
    let gathered = thirds(bar.events());
    let inside = |event: &Event| gathered.iter().any(|tuplet| tuplet.holds(event.at, event.end()));
    let told = |event: &Event| inside(event) || !(odd(event.at) || odd(event.length));
    let fifth = |event: &Event| event.at.denominator() % 5 == 0 || event.length.denominator() % 7 == 0;
    if tuplet::first_wrong(&gathered).is_none() && bar.events().iter().all(|e| told(e) && !fifth(e)) {
        return lengths(bar.events(), &gathered);
    }
    spelled(bar)
}

/// Runs of thirds, each a tuplet of three in the time of two.
fn thirds(events: &[Event]) -> Vec<Tuplet> {
    let mut tuplets: Vec<Tuplet> = Vec::new();
    let mut open: Option<Span> = None;
    for event in events {
        if open.is_none() && (event.length.denominator() % 3 == 0 || event.at.denominator() % 3 == 0) {
            open = Some(event.at);
        }
        if let Some(at) = open.filter(|at| (event.end() - *at).denominator() % 3 != 0) {
            tuplets.push(Tuplet { at, length: event.end() - at, actual: 3, normal: 2 });
            open = None;
        }
    }
    tuplets
}

/// The bar in the symbols of the program, where its author left no way to write it: ties are added.
fn spelled(bar: &Bar) -> Vec<Cell> {
    let mut cells: Vec<Cell> = Vec::new();
    let notes = spell(bar);
    for (index, note) in notes.iter().enumerate() {
        let same = |other: Option<&crate::spelling::Note>| {
            other.and_then(|other| other.tuplet).map(|t| t.index) == note.tuplet.map(|t| t.index)
        };
        let mut text = String::new();
        if let Some(tuplet) = note.tuplet.filter(|_| index == 0 || !same(notes.get(index - 1))) {
            text = format!("{{{}:{} ", tuplet.actual, tuplet.normal);
        }
        let plain = note.value.span();
        let length =
            format!("{}/{}{}", plain.numerator(), plain.denominator(), ".".repeat(usize::from(note.dots)));
        text += &match note.deed {
            Deed::Attack => length,
            Deed::Hold => format!("_{length}"),
            Deed::Rest => format!("({length})"),
        };
        if note.tuplet.is_some() && !same(notes.get(index + 1)) {
            text.push('}');
        }
        let event = bar.event_at(note.at).filter(|event| event.at == note.at);
        text += event.map_or("", fermata);
        cells.push(Cell { text, marks: event.and_then(marks) });
    }
    cells
}

/// Every event by itself, inside its tuplets.
fn lengths(events: &[Event], tuplets: &[Tuplet]) -> Vec<Cell> {
    let mut cells = Vec::with_capacity(events.len());
    let mut waiting = tuplets.iter().peekable();
    let mut open: Vec<&Tuplet> = Vec::new();
    for event in events {
        let mut text = String::new();
        if event.beam_broken {
            text.push_str(", ");
        }
        while let Some(tuplet) = waiting.next_if(|tuplet| tuplet.at == event.at) {
            text += &format!("{{{}:{} ", tuplet.actual, tuplet.normal);
            open.push(tuplet);
        }
        let written = open.iter().fold(event.length, |length, tuplet| tuplet.written(length));
        let length = if written == Span::WHOLE { "1/1".to_owned() } else { fraction(written) };
        text += &match event.deed {
            Deed::Attack => length,
            Deed::Hold => format!("_{length}"),
            Deed::Rest => format!("({length})"),
        };
        text.push_str(fermata(event));
        while open.last().is_some_and(|tuplet| tuplet.end() == event.end()) {
            open.pop();
            text.push('}');
        }
        cells.push(Cell { text, marks: marks(event) });
    }
    cells
}

/// A length with its lower number, and with a dot where that is how it is drawn.
fn fraction(length: Span) -> String {
    let (numerator, denominator) = (length.numerator(), length.denominator());
    match numerator {
        // 3/8 is a dotted quarter; below a 64th only the dot can say it.
        3 if denominator >= 2 => format!("1/{}.", denominator / 2),
        7 if denominator >= 4 => format!("1/{}..", denominator / 4),
        _ if denominator == 128 && numerator % 3 == 0 => format!("{}/{}.", numerator / 3, denominator / 2),
        _ if denominator > 64 && numerator % 7 == 0 => format!("{}/{}..", numerator / 7, denominator / 4),
        _ => format!("{numerator}/{denominator}"),
    }
}
