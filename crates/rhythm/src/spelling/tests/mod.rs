use proptest::prelude::*;
use timebase::{Ratio, Span};

use super::*;
use crate::Meter;

fn meter(text: &str) -> Meter {
    let (fraction, felt) = text.split_once(" in ").map_or((text, None), |(f, n)| (f, Some(n)));
    let (beats, unit) = fraction.split_once('/').expect("a meter");
    let meter = Meter::new(beats.parse().expect("beats"), unit.parse().expect("unit")).expect("a meter");
    felt.map_or(meter, |felt| meter.felt_in(felt.parse().expect("a number")).expect("a felt beat"))
}

/// A bar of lengths as fractions of a whole note: `(1/4)` is silent, `_1/4` held, `!1/8` begins a beam. A
/// bar that is not filled is a pickup.
fn bar(meter: Meter, form: Form, text: &str) -> Bar {
    let mut events: Vec<Event> = Vec::new();
    let mut at = Span::ZERO;
    for word in text.split_whitespace() {
        let length: Span = word.trim_matches(['(', ')', '_', '!']).parse().expect("a length");
        let deed = match word.as_bytes()[0] {
            b'(' => Deed::Rest,
            b'_' => Deed::Hold,
            _ => Deed::Attack,
        };
        events.push(Event { beam_broken: word.starts_with('!'), ..Event::new(at, length, deed) });
        at += length;
    }
    let start = meter.bar_length() - at;
    events.iter_mut().for_each(|event| event.at += start);
    Bar::new(u32::from(start == Span::ZERO), meter, form, events).expect("a bar")
}

/// `4.` a dotted quarter, `~8` tied from before, `(4)` a rest, `(bar)` a whole-bar rest, `[8 8]` under one
/// beam, `{3:2 8 8 8}` under one tuplet.
fn shown(notes: &[Note]) -> String {
    let mut text = String::new();
    for (index, note) in notes.iter().enumerate() {
        let before = index.checked_sub(1).map(|before| notes[before]);
        let after = notes.get(index + 1);
        let tuplet = |note: &Note| note.tuplet.map(|tuplet| tuplet.index);
        if index > 0 {
            text.push(' ');
        }
        if let Some(t) = note.tuplet.filter(|t| before.and_then(|b| tuplet(&b)) != Some(t.index)) {
            text.push_str(&format!("{{{}:{} ", t.actual, t.normal));
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
        if note.tuplet.is_some() && after.and_then(tuplet) != tuplet(note) {
            text.push('}');
        }
    }
    text
}

#[track_caller]
fn check(form: Form, in_meter: &str, lengths: &str, expected: &str) {
    let bar = bar(meter(in_meter), form, lengths);
    let notes = spell(&bar);
    assert_eq!(shown(&notes), expected, "{in_meter}: {lengths}");
    holds_the_laws(&bar, &notes);
}

#[track_caller]
fn counts(in_meter: &str, lengths: &str, expected: &str) {
    check(Form::Counts, in_meter, lengths, expected);
}

#[track_caller]
fn holds_the_laws(bar: &Bar, notes: &[Note]) {
    let mut reached = bar.start();
    for note in notes {
        assert_eq!(note.at, reached, "no gap and no overlap: {}", shown(notes));
        reached += note.length;
        let dots = [Ratio::new(1, 1), Ratio::new(3, 2), Ratio::new(7, 4)][usize::from(note.dots)];
        let ratio = note.tuplet.map_or(Ratio::from_integer(1), |tuplet| tuplet.ratio());
        let written = note.value.span().scaled(dots).scaled(ratio);
        assert!(note.whole_bar || note.length == written, "{} is {written}: {}", note.length, shown(notes));
        let event = bar.event_at(note.at).expect("inside the bar");
        let begins = event.at == note.at;
        let deed = if begins || event.deed == Deed::Rest { event.deed } else { Deed::Hold };
        assert_eq!(note.deed, deed, "at {}: {}", note.at, shown(notes));
        assert!(note.beam.is_none() || note.deed == Deed::Rest || note.value.flags() > 0);
    }
    assert_eq!(reached, bar.meter().bar_length());
    for event in bar.events() {
        assert!(notes.iter().any(|note| note.at == event.at), "nothing at {}: {}", event.at, shown(notes));
    }
    for beam in notes.iter().filter_map(|note| note.beam) {
        let under: Vec<_> = notes.iter().filter(|note| note.beam == Some(beam)).collect();
        assert!(under.len() > 1 && [under[0], under[under.len() - 1]].iter().all(|n| n.deed != Deed::Rest));
    }
}

/// Common practice, no source: two eighths fill a quarter, four quarters a whole; a dot adds half.
#[test]
fn plain_values_keep_one_symbol() {
    counts("4/4", "1/1", "1");
    counts("4/4", "1/2 1/2", "2 2");
    counts("4/4", "3/4 1/4", "2. 4");
    counts("4/4", "3/8 1/8 1/2", "4. 8 2");
    counts("4/4", "1/4 1/2 1/4", "4 2 4");
    counts("3/4", "3/4", "2.");
    counts("3/4", "1/4 1/2", "4 2");
    counts("3/4", "3/8 3/8", "4. 8 ~4");
    counts("2/4", "3/16 1/16 1/4", "[8. 16] 4");
    counts("6/8", "3/8 3/8", "4. 4.");
    counts("6/8", "3/4", "2.");
    counts("9/8", "3/4 3/8", "2. 4.");
    counts("12/8", "3/2", "1.");
    counts("2/2", "1/2 1/4 1/4", "2 4 4");
    counts("5/4", "5/4", "1 ~4");
    counts("7/8", "7/8", "2. ~8");
}

/// `1 3` in 4/4 is two notes, `1 _2 3` three: the hold asks for the tie to be written.
#[test]
fn a_written_hold_is_a_tie() {
    counts("4/4", "1/2 1/2", "2 2");
    counts("4/4", "1/4 _1/4 1/2", "4 ~4 2");
    counts("4/4", "_1/4 _1/4 1/2", "~4 ~4 2");
}

/// Read in open teaching texts: a value that crosses the middle of a 4/4 bar becomes two tied notes or two rests.
#[test]
fn the_middle_of_four_four_shows() {
    counts("4/4", "1/4 3/4", "4 4 ~2");
    counts("4/4", "3/8 1/4 3/8", "4. 8 [~8 8] ~4");
    counts("4/4", "5/8 3/8", "2 [~8 8] ~4");
    counts("4/4", "1/4 (1/2) 1/4", "4 (4) (4) 4");
    counts("2/2", "1/4 3/4", "4 4 ~2");
    counts("4/4 in 2", "1/4 3/4", "4 4 ~2");
    counts("2/2 in 4", "1/4 3/4", "4 4 ~2");
    counts("12/8", "3/8 9/8", "4. 4. ~2.");
}

/// From memory: eighth, quarter, eighth within half a bar; quarter, half, quarter; the same within a beat.
#[test]
fn common_syncopations_are_not_tied() {
    counts("4/4", "1/8 1/4 1/8 1/2", "8 4 8 2");
    counts("4/4", "1/2 1/8 1/4 1/8", "2 8 4 8");
    counts("2/4", "1/8 1/4 1/8", "8 4 8");
    counts("4/4", "1/4 1/8 1/4 1/8 1/4", "4 [8 8] [~8 8] 4");
    counts("2/2", "1/4 1/2 1/4", "4 2 4");
    counts("2/4", "1/16 1/8 1/16 1/4", "[16 8 16] 4");
    counts("2/4", "1/16 3/16 1/4", "[16 8.] 4");
    counts("2/2", "1/8 3/8 1/2", "8 4. 2");
    counts("3/4", "1/8 1/4 1/4 1/8", "[8 8] [~8 8] [~8 8]");
    counts("6/8", "1/16 1/8 3/16 3/8", "[16 16 ~16 16 ~8] 4.");
}

/// Read in open teaching texts: no half rest in 3/4; in 4/4 only on beats 1–2 or 3–4; rests show each
/// beat and fill to the half beat; a silent bar takes a whole rest in any meter.
#[test]
fn rests_show_the_beat() {
    for silent in ["4/4", "3/4", "2/4", "2/2", "6/8", "9/8", "12/8", "5/8", "3/8"] {
        counts(silent, &format!("({})", meter(silent).bar_length()), "(bar)");
    }
    counts("4/4", "1/2 (1/2)", "2 (2)");
    counts("4/4", "(1/2) 1/2", "(2) 2");
    counts("4/4", "1/4 (3/4)", "4 (4) (2)");
    counts("4/4", "(3/4) 1/4", "(2) (4) 4");
    counts("3/4", "1/4 (1/2)", "4 (4) (4)");
    counts("3/4", "(1/2) 1/4", "(4) (4) 4");
    counts("2/4", "(1/4) 1/4", "(4) 4");
    counts("2/2", "1/2 (1/2)", "2 (2)");
    counts("2/2", "1/4 (3/4)", "4 (4) (2)");
    counts("4/4", "1/8 (7/8)", "8 (8) (4) (2)");
    counts("2/4", "1/16 (7/16)", "16 (16) (8) (4)");
    counts("2/4", "(3/16) 1/16 1/4", "(8) (16) 16 4");
    counts("4/4", "(1/4) (1/4) 1/2", "(4) (4) 2");
}

/// Read in open teaching texts: a dotted quarter rest, or quarter and eighth by beat.
#[test]
fn rests_in_compound_meter() {
    counts("6/8", "3/8 (3/8)", "4. (4.)");
    counts("6/8", "1/8 (5/8)", "8 (4) (4.)");
    counts("6/8", "(1/4) 1/8 3/8", "(4) 8 4.");
    counts("6/8", "1/4 (1/8) 3/8", "4 (8) 4.");
    counts("6/8", "1/4 (1/2)", "4 (8) (4.)");
    counts("9/8", "3/8 (3/4)", "4. (4.) (4.)");
    counts("12/8", "(3/4) 3/4", "(4.) (4.) 2.");
    counts("6/8", "1/16 (5/16) 3/8", "16 (16) (4) 4.");
    counts("6/8", "3/16 (1/16) 1/8 3/8", "[8. (16) 8] 4.");
    counts("6/8 in 6", "1/8 (1/4) 3/8", "8 (8) (8) 4.");
    counts("3/8", "1/8 (1/4)", "8 (8) (8)");
    counts("3/8 in 1", "1/8 (1/4)", "8 (4)");
}

/// Common practice: a note across beats in three lasts whole beats, or is tied.
#[test]
fn notes_in_compound_meter() {
    counts("6/8", "1/2 1/4", "4. ~8 4");
    counts("6/8", "5/8 1/8", "4. ~4 8");
    counts("6/8", "1/8 1/4 3/8", "8 4 4.");
    counts("6/8", "1/4 1/4 1/4", "4 8 ~8 4");
    counts("9/8", "1/1 1/8", "2. ~4 8");
    counts("12/8", "1/1 1/2", "2. ~4 8 ~4.");
}

/// Read: 4/4 four eighths may share a beam in each half, never across the middle; 2/4 one beam; 3/4
/// pairs; sixteenths by beat. From memory: 6/8 in threes.
#[test]
fn beams_show_the_beat() {
    let eighths = |n: usize| vec!["1/8"; n].join(" ");
    counts("4/4", &eighths(8), "[8 8 8 8] [8 8 8 8]");
    counts("2/4", &eighths(4), "[8 8 8 8]");
    counts("3/4", &eighths(6), "[8 8] [8 8] [8 8]");
    counts("3/4 in 1", &eighths(6), "[8 8 8 8 8 8]");
    counts("2/2", &eighths(8), "[8 8 8 8] [8 8 8 8]");
    counts("6/8", &eighths(6), "[8 8 8] [8 8 8]");
    counts("6/8 in 6", &eighths(6), "[8 8 8] [8 8 8]");
    counts("9/8", &eighths(9), "[8 8 8] [8 8 8] [8 8 8]");
    counts("12/8", &eighths(12), "[8 8 8] [8 8 8] [8 8 8] [8 8 8]");
    counts("3/8", &eighths(3), "[8 8 8]");
    counts("5/8", &eighths(5), "8 8 8 8 8");
    counts("5/4", &eighths(10), "[8 8] [8 8] [8 8] [8 8] [8 8]");
    counts("2/4", "1/8 1/8 1/16 1/16 1/8", "[8 8] [16 16 8]");
    counts("2/4", "1/16 1/16 1/16 1/16 1/16 1/16 1/8", "[16 16 16 16] [16 16 8]");
    counts("4/4", "1/4 1/8 1/8 1/8 1/8 1/4", "4 [8 8] [8 8] 4");
    counts("4/4", "3/8 1/8 1/8 3/8", "4. 8 [8 8] ~4");
    counts("4/4", "1/8 1/8 !1/8 1/8 1/2", "[8 8] [8 8] 2");
    counts("6/8", "1/8 !1/8 1/8 3/8", "8 [8 8] 4.");
    counts("2/4", "1/8 (1/8) 1/8 1/8", "8 (8) [8 8]");
    counts("2/4", "1/16 (1/16) 1/8 1/4", "[16 (16) 8] 4");
    counts("2/4", "(1/8) 1/8 1/8 (1/8)", "(8) 8 8 (8)");
    counts("4/4", "1/8 _1/8 1/8 1/8 1/2", "[8 ~8 8 8] 2");
}

/// Thirds and sixths of a beat in two: three in the time of two, six in the time of four.
#[test]
fn triplets_begin_and_end_with_the_beat() {
    counts("2/4", "1/12 1/12 1/12 1/4", "{3:2 [8 8 8]} 4");
    counts("2/4", "1/6 1/12 1/4", "{3:2 4 8} 4");
    counts("2/4", "1/12 1/6 1/4", "{3:2 8 4} 4");
    counts("2/4", "1/12 (1/12) 1/12 1/4", "{3:2 [8 (8) 8]} 4");
    counts("2/4", "1/12 (1/6) 1/4", "{3:2 8 (4)} 4");
    counts("2/4", "1/24 1/24 1/24 1/24 1/24 1/24 1/4", "{6:4 [16 16 16 16 16 16]} 4");
    counts("2/4", "1/24 1/24 1/24 1/8 1/4", "{3:2 [16 16 16} 8] 4");
    counts("2/4", "1/12 1/24 1/24 1/12 1/4", "{3:2 [8 16 16 8]} 4");
    counts("2/4", "1/24 1/24 1/6 1/4", "{3:2 [16 16] 4} 4");
    // A note that leaves the tuplet's beat is cut there; one that enters it too.
    counts("2/4", "1/12 5/12", "{3:2 8 4} ~4");
    counts("4/4", "1/3 1/12 1/12 1/2", "4 {3:2 [~8 8 8]} 2");
    counts("4/4", "1/12 1/12 1/3 1/2", "{3:2 [8 8 8]} ~4 2");
    counts("2/2", "1/6 1/6 1/6 1/2", "{3:2 4 4 4} 2");
    counts("3/4", "1/12 1/12 1/12 1/12 1/12 1/12 1/4", "{3:2 [8 8 8]} {3:2 [8 8 8]} 4");
    // A pickup of the last two notes of a triplet.
    counts("4/4", "1/12 1/12", "{3:2 [8 8]}");
}

#[test]
fn lengths_keep_the_authors_values() {
    let lengths = |meter, text, expected| check(Form::Lengths, meter, text, expected);
    lengths("4/4", "1/8 1/2 3/8", "8 2 4.");
    lengths("4/4", "1/4 3/4", "4 2.");
    lengths("4/4", "7/8 1/8", "2.. 8");
    lengths("4/4", "(3/8) 1/8 (1/2)", "(4.) 8 (2)");
    lengths("4/4", "5/8 3/8", "2 ~8 4.");
    lengths("2/4", "1/6 1/6 1/6", "{3:2 4 4 4}");
    lengths("4/4", "1/6 1/6 1/6 1/6 1/6 1/6", "{3:2 4 4 4} {3:2 4 4 4}");
    lengths("2/4", "1/20 1/20 1/20 1/20 1/20 1/4", "{5:4 [16 16 16 16 16]} 4");
    lengths("6/8", "3/40 3/40 3/40 3/40 3/40 3/8", "{5:3 [8 8 8 8 8]} 4.");
    lengths("6/8", "3/16 3/16 3/8", "[8. 8.] 4.");
    lengths("5/16", "5/16", "4 ~16");
    lengths("7/8", "7/8", "2..");
    lengths("4/4", "(1/1)", "(bar)");
    lengths("4/4", "1/2 (1/4) (1/4)", "2 (4) (4)");
}

#[test]
fn lengths_beyond_the_page_are_still_exact() {
    let strange =
        ["1/128 127/128", "1/5 4/5", "1/67 66/67", "1/4099 4098/4099", "1/48 47/48", "1/7 1/5 23/35"];
    for form in [Form::Counts, Form::Lengths] {
        for lengths in strange {
            let bar = bar(Meter::COMMON, form, lengths);
            holds_the_laws(&bar, &spell(&bar));
        }
    }
    let bar = bar(Meter::COMMON, Form::Lengths, "1/1099511627775 1099511627774/1099511627775");
    assert_eq!(spell(&bar).iter().map(|note| note.length).sum::<Span>(), Span::WHOLE);
}

fn any_meter() -> impl Strategy<Value = Meter> {
    (1u32..=16, 0u32..=5).prop_flat_map(|(beats, unit)| {
        let meter = Meter::new(beats, 1 << unit).expect("a meter");
        let choices: Vec<u32> = meter.felt_choices().collect();
        proptest::sample::select(choices).prop_map(move |felt| meter.felt_in(felt).expect("a choice"))
    })
}

/// A bar cut at any of the places that divide each felt beat into `parts`.
fn any_bar(parts: Vec<i64>) -> impl Strategy<Value = Bar> {
    let form = prop_oneof![Just(Form::Counts), Just(Form::Lengths)];
    let parts = proptest::collection::vec(proptest::sample::select(parts), 32);
    let deeds = proptest::collection::vec((0u8..4, any::<bool>(), 0u8..3), 400);
    (any_meter(), form, parts, deeds, any::<bool>()).prop_map(|(meter, form, parts, deeds, pickup)| {
        let mut places = Vec::new();
        for (beat, parts) in (0..i64::from(meter.felt_beats())).zip(parts.into_iter().cycle()) {
            places.extend((0..parts).map(|part| meter.felt_beat() * beat + meter.felt_beat() / parts * part));
        }
        let mut kept: Vec<_> = places
            .into_iter()
            .zip(deeds)
            .enumerate()
            .filter(|(index, (_, (_, _, keep)))| (*index == 0 && !pickup) || *keep == 0)
            .map(|(_, (place, (deed, broken, _)))| (place, deed, broken))
            .collect();
        if kept.is_empty() {
            kept.push((Span::ZERO, 0, false));
        }
        let ends: Vec<Span> = kept.iter().skip(1).map(|k| k.0).chain([meter.bar_length()]).collect();
        let events: Vec<Event> = kept
            .iter()
            .zip(ends)
            .map(|(&(at, deed, broken), end)| {
                let deed = [Deed::Attack, Deed::Attack, Deed::Hold, Deed::Rest][usize::from(deed)];
                Event { beam_broken: broken, ..Event::new(at, end - at, deed) }
            })
            .collect();
        let number = u32::from(events[0].at == Span::ZERO);
        Bar::new(number, meter, form, events).expect("a bar")
    })
}

/// Whether a note may cross the middle of 4/4: it begins with the bar, or it is the half note of quarter, half, quarter.
fn may_cross(note: &Note) -> bool {
    note.at == Span::ZERO
        || (note.at == Span::QUARTER && note.length == Span::HALF && note.deed != Deed::Rest)
}

proptest! {
    #[test]
    fn any_bar_is_filled_exactly(bar in any_bar(vec![1, 2, 3, 4, 6, 8])) {
        holds_the_laws(&bar, &spell(&bar));
    }

    #[test]
    fn any_tuplets_fill_the_bar_exactly(bar in any_bar(vec![1, 2, 3, 5, 7, 9, 12, 16, 64])) {
        holds_the_laws(&bar, &spell(&bar));
    }

    #[test]
    fn nothing_crosses_the_middle_of_four_four(bar in any_bar(vec![1, 2, 3, 4, 6])) {
        let meter = bar.meter();
        if bar.form() == Form::Counts && meter.beats() == 4 && meter.unit() == 4 && meter.felt_beats() > 1 {
            for note in spell(&bar) {
                let crosses = note.at < Span::HALF && note.at + note.length > Span::HALF;
                prop_assert!(!crosses || may_cross(&note), "{note:?}");
            }
        }
    }

    #[test]
    fn no_beam_crosses_the_middle_of_four_four(bar in any_bar(vec![1, 2, 3, 4, 6])) {
        let meter = bar.meter();
        if meter.beats() == 4 && meter.unit() == 4 && meter.felt_beats() > 1 {
            let notes = spell(&bar);
            for pair in notes.windows(2) {
                let middle = pair[0].at < Span::HALF && pair[1].at >= Span::HALF;
                prop_assert!(!middle || pair[0].beam.is_none() || pair[0].beam != pair[1].beam || pair[0].tuplet.is_some());
            }
        }
    }
}
