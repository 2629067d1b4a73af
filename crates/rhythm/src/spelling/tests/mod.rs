mod authors;
mod laws;
mod remarks;
mod rules;
mod words;

use timebase::{Ratio, Span};

use super::*;
use crate::Meter;

/// `4/4`, `6/8 in 6`, `7/8 2+2+3`.
fn meter(text: &str) -> Meter {
    let mut words = text.split(' ');
    let (beats, unit) = words.next().and_then(|word| word.split_once('/')).expect("a meter");
    let number = |text: &str| text.parse::<u32>().expect("a number");
    let meter = Meter::new(number(beats), number(unit)).expect("a meter");
    match (words.next(), words.next()) {
        (None, _) => meter,
        (Some("in"), felt) => meter.felt_in(number(felt.expect("a number"))).expect("a felt beat"),
        (Some(groups), _) => {
            meter.grouped(&groups.split('+').map(number).collect::<Vec<_>>()).expect("groups")
        }
    }
}

/// A bar of lengths as fractions of a whole note: `(1/4)` is silent, `_1/4` held, `!1/8` begins a beam,
/// `{3:2 1/8 1/8 1/8 }` is a tuplet of the author. What stands before `..` is left out of the bar, as is what
/// it does not fill.
fn cut(meter: Meter, form: Form, text: &str) -> Bar {
    let mut events: Vec<Event> = Vec::new();
    let mut tuplets: Vec<crate::Tuplet> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    let mut at = Span::ZERO;
    for word in text.split_whitespace() {
        if let Some(ratio) = word.strip_prefix('{') {
            let (actual, normal) = ratio.split_once(':').expect("a ratio");
            let (actual, normal) = (actual.parse().expect("a number"), normal.parse().expect("a number"));
            open.push(tuplets.len());
            tuplets.push(crate::Tuplet { at, length: Span::ZERO, actual, normal });
        } else if word == "}" {
            let tuplet = open.pop().expect("an open tuplet");
            tuplets[tuplet].length = at - tuplets[tuplet].at;
        } else if word == ".." {
            events.clear();
        } else {
            let written: Span = word.trim_matches(['(', ')', '_', '!']).parse().expect("a length");
            let length = open.iter().fold(written, |length, &tuplet| tuplets[tuplet].sounding(length));
            let deed = match word.as_bytes()[0] {
                b'(' => Deed::Rest,
                b'_' => Deed::Hold,
                _ => Deed::Attack,
            };
            events.push(Event { beam_broken: word.starts_with('!'), ..Event::new(at, length, deed) });
            at += length;
        }
    }
    let bar = Bar::cut(1, meter, form, events).expect("a bar");
    if tuplets.is_empty() { bar } else { bar.with_tuplets(tuplets).expect("tuplets") }
}

/// As [`cut`], but a bar that is not filled is a pickup.
fn bar(meter: Meter, form: Form, text: &str) -> Bar {
    let short = cut(meter, form, text);
    let start = meter.bar_length() - short.end();
    if start == Span::ZERO {
        return short;
    }
    let late = short.events().iter().map(|event| Event { at: event.at + start, ..*event });
    Bar::new(0, meter, form, late.collect()).expect("a pickup")
}

fn eighths(many: usize) -> String {
    vec!["1/8"; many].join(" ")
}

/// `4.` a dotted quarter, `~8` tied from before, `(4)` a rest, `(bar)` a whole-bar rest, `[8 8]` under one
/// beam, `{3:2 8 8 8}` under one tuplet.
fn shown(notes: &[Note]) -> String {
    let mut text = String::new();
    for (index, note) in notes.iter().enumerate() {
        let before = index.checked_sub(1).map(|before| notes[before]);
        let after = notes.get(index + 1);
        if index > 0 {
            text.push(' ');
        }
        let around = levels(before.as_ref());
        for (tuplet, actual, normal) in levels(Some(note)) {
            if !around.iter().any(|other| other.0 == tuplet) {
                text.push_str(&format!("{{{actual}:{normal} "));
            }
        }
        if note.beam.is_some() && before.and_then(|b| b.beam) != note.beam {
            text.push('[');
        }
        let value = note.value.span().denominator();
        let dots = ".".repeat(note.dots.into());
        text.push_str(&match (note.deed, note.whole_bar) {
            (_, true) => "(bar)".to_owned(),
            (Deed::Rest, _) => format!("({value}{dots})"),
            (Deed::Hold, _) => format!("~{value}{dots}"),
            (Deed::Attack, _) => format!("{value}{dots}"),
        });
        if note.beam.is_some() && after.and_then(|a| a.beam) != note.beam {
            text.push(']');
        }
        let later = levels(after);
        let ends =
            levels(Some(note)).into_iter().filter(|level| !later.iter().any(|other| other.0 == level.0));
        text.extend(ends.map(|_| '}'));
    }
    text
}

/// The tuplets of a note from the outer: index and ratio.
fn levels(note: Option<&Note>) -> Vec<(usize, u32, u32)> {
    let Some(tuplet) = note.and_then(|note| note.tuplet) else { return Vec::new() };
    let outer = tuplet.outer.map(|outer| (outer.index, outer.actual, outer.normal));
    outer.into_iter().chain([(tuplet.index, tuplet.actual, tuplet.normal)]).collect()
}

#[track_caller]
fn check(form: Form, in_meter: &str, written: &str, expected: &str) {
    let bar = bar(meter(in_meter), form, written);
    let notes = spell(&bar);
    assert_eq!(shown(&notes), expected, "{in_meter}: {written}");
    holds_the_laws(&bar, &notes);
}

#[track_caller]
fn counts(in_meter: &str, written: &str, expected: &str) {
    check(Form::Counts, in_meter, written, expected);
}

#[track_caller]
fn lengths(in_meter: &str, written: &str, expected: &str) {
    check(Form::Lengths, in_meter, written, expected);
}

#[track_caller]
fn of_house(house: House, in_meter: &str, written: &str, expected: &str) {
    let bar = bar(meter(in_meter), Form::Counts, written);
    assert_eq!(shown(&spell_in(&bar, house)), expected, "{in_meter}: {written}");
}

/// What holds of the symbols of any bar.
#[track_caller]
fn holds_the_laws(bar: &Bar, notes: &[Note]) {
    fills_exactly(bar, notes);
    let mut begins = notes.iter().map(|note| note.at);
    for event in bar.events() {
        assert!(begins.any(|at| at == event.at), "nothing at {}: {}", event.at, shown(notes));
    }
    for note in notes {
        assert!(note.dots < 2 || bar.form() == Form::Lengths, "two dots: {}", shown(notes));
    }
}

#[track_caller]
fn fills_exactly(bar: &Bar, notes: &[Note]) {
    let mut reached = bar.start();
    for note in notes {
        assert_eq!(note.at, reached, "no gap and no overlap: {}", shown(notes));
        reached += note.length;
        let dots = [Ratio::new(1, 1), Ratio::new(3, 2), Ratio::new(7, 4)][usize::from(note.dots)];
        let ratio = note.tuplet.map_or(Ratio::from_integer(1), |tuplet| tuplet.ratio());
        let written = note.value.span().scaled(dots).scaled(ratio);
        assert!(note.whole_bar || note.length == written, "{} is {written}: {}", note.length, shown(notes));
        assert!(!note.whole_bar || note.length == bar.meter().bar_length());
        let event = bar.event_at(note.at).expect("inside the bar");
        let begins = event.at == note.at;
        let deed = if begins || event.deed == Deed::Rest { event.deed } else { Deed::Hold };
        assert_eq!(note.deed, deed, "at {}: {}", note.at, shown(notes));
    }
    assert_eq!(reached, bar.end());
    let beams = notes.iter().filter_map(|note| note.beam).max().map_or(0, |last| last + 1);
    for beam in 0..beams {
        let first = notes.iter().position(|note| note.beam == Some(beam)).expect("no number is left out");
        let under: Vec<_> = notes[first..].iter().take_while(|note| note.beam == Some(beam)).collect();
        let all = notes.iter().filter(|note| note.beam == Some(beam)).count();
        assert_eq!(under.len(), all, "a beam in pieces: {}", shown(notes));
        assert!(under.len() > 1 && under.iter().all(|note| note.value.flags() > 0));
        assert!([under[0], under[all - 1]].iter().all(|note| note.deed != Deed::Rest));
        never_crosses(bar.meter(), &under);
    }
    for pair in notes.windows(2) {
        let (before, after) = (levels(Some(&pair[0])), levels(Some(&pair[1])));
        for (a, b) in before.iter().flat_map(|a| after.iter().map(move |b| (a, b))) {
            let same = a.0 == b.0;
            let told_alike = (a.1, a.2) == (b.1, b.2);
            assert!(!same || told_alike, "one tuplet, two ratios: {}", shown(notes));
        }
    }
}

/// No beam leads from one declared group into another, or over the middle of 4/4, but inside a tuplet.
#[track_caller]
fn never_crosses(meter: Meter, beam: &[&Note]) {
    let middle = (meter.beats() == 4 && meter.unit() == 4 && meter.groups().is_empty()).then_some(Span::HALF);
    let plain = meter.felt_beats() > 1 || !meter.groups().is_empty();
    for edge in meter.group_spans().map(|(at, _)| at).chain(middle.filter(|_| plain)) {
        for pair in beam.windows(2) {
            let crosses = pair[0].at < edge && edge <= pair[1].at;
            assert!(!crosses || pair[0].tuplet.is_some(), "a beam over {edge}");
        }
    }
}
