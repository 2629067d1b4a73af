//! Laws over bars of all meters, groups, tuplets and cuts.

use proptest::prelude::*;
use timebase::Span;

use super::{fills_exactly, holds_the_laws, levels, shown};
use crate::spelling::{House, Note, Values, remarks, sounding, spell, spell_by_rules, spelled};
use crate::{Bar, Deed, Event, Form, Meter, Tuplet};

fn any_meter() -> impl Strategy<Value = Meter> {
    let felt = (1u32..=16, 0u32..=5).prop_flat_map(|(beats, unit)| {
        let meter = Meter::new(beats, 1 << unit).expect("a meter");
        let choices: Vec<u32> = meter.felt_choices().collect();
        proptest::sample::select(choices).prop_map(move |felt| meter.felt_in(felt).expect("a choice"))
    });
    let groups = proptest::collection::vec(1u32..=8, 2..=6);
    let grouped = (groups, 0u32..=5, any::<bool>(), any::<bool>()).prop_filter_map(
        "too many units",
        |(groups, unit, twice, by_group)| {
            let sum: u32 = groups.iter().sum();
            let beats = if twice && sum.is_multiple_of(2) { sum / 2 } else { sum };
            let meter = Meter::new(beats, 1 << unit).and_then(|meter| meter.grouped(&groups)).ok()?;
            if by_group { meter.counted_by_group().ok() } else { Some(meter) }
        },
    );
    prop_oneof![felt, grouped]
}

fn deed(choice: u8) -> Deed {
    [Deed::Attack, Deed::Attack, Deed::Hold, Deed::Rest][usize::from(choice % 4)]
}

/// A bar cut at any of the places that divide each felt beat into `parts`, perhaps without its beginning or end.
fn any_bar(parts: Vec<i64>) -> impl Strategy<Value = Bar> {
    let form = prop_oneof![Just(Form::Counts), Just(Form::Lengths)];
    let parts = proptest::collection::vec(proptest::sample::select(parts), 32);
    let deeds = proptest::collection::vec((0u8..4, any::<bool>(), 0u8..3), 400);
    let cut = (any::<bool>(), any::<bool>());
    (any_meter(), form, parts, deeds, cut).prop_map(|(meter, form, parts, deeds, (late, short))| {
        let mut places = Vec::new();
        for (beat, parts) in (0..i64::from(meter.felt_beats())).zip(parts.into_iter().cycle()) {
            places.extend((0..parts).map(|part| meter.felt_beat() * beat + meter.felt_beat() / parts * part));
        }
        let mut kept: Vec<_> = places
            .into_iter()
            .zip(deeds)
            .enumerate()
            .filter(|(index, (_, (_, _, keep)))| (*index == 0 && !late) || *keep == 0)
            .map(|(_, (place, (deed, broken, _)))| (place, deed, broken))
            .collect();
        if kept.is_empty() {
            kept.push((Span::ZERO, 0, false));
        }
        let ends: Vec<Span> = kept.iter().skip(1).map(|k| k.0).chain([meter.bar_length()]).collect();
        let event = |(&(at, choice, broken), end): (&(Span, u8, bool), Span)| Event {
            beam_broken: broken,
            ..Event::new(at, end - at, deed(choice))
        };
        let mut events: Vec<Event> = kept.iter().zip(ends).map(event).collect();
        if short && events.len() > 1 {
            events.pop();
        }
        Bar::cut(1, meter, form, events).expect("a bar")
    })
}

/// Choices made one after another from a list of numbers.
struct Choices(std::vec::IntoIter<u32>);

impl Choices {
    fn below(&mut self, many: u32) -> u32 {
        self.0.next().unwrap_or(0) % many.max(1)
    }

    fn one_in(&mut self, many: u32) -> bool {
        self.below(many) == 1
    }

    fn event(&mut self, at: Span, length: Span) -> Event {
        let deed = deed(u8::try_from(self.below(4)).expect("small"));
        Event { beam_broken: self.one_in(5), ..Event::new(at, length, deed) }
    }
}

/// What stands between two places where a bar may be cut.
#[derive(Default)]
struct Stretch {
    events: Vec<Event>,
    tuplets: Vec<Tuplet>,
}

impl Stretch {
    /// A tuplet over `length`, of which `units` are one plain value; at most one stands in another.
    fn add_tuplet(&mut self, choices: &mut Choices, at: Span, length: Span, units: u32, is_inner: bool) {
        let (actual, normal) = (2 + choices.below(10), units << choices.below(3));
        let note = length / i64::from(actual);
        self.tuplets.push(Tuplet { at, length, actual, normal });
        let mut index = 0;
        while index < actual {
            let many = 1 + choices.below(3.min(actual - index));
            let (at, length) = (at + note * i64::from(index), note * i64::from(many));
            if !is_inner && choices.one_in(3) {
                self.add_tuplet(choices, at, length, many, true);
            } else {
                self.events.push(choices.event(at, length));
            }
            index += many;
        }
    }
}

/// A bar with tuplets of its author, one in another, anywhere between its units; perhaps cut.
fn any_tuplets() -> impl Strategy<Value = Bar> {
    let form = prop_oneof![Just(Form::Counts), Just(Form::Lengths)];
    let choices = proptest::collection::vec(any::<u32>(), 200);
    (any_meter(), form, choices).prop_map(|(meter, form, choices)| {
        let mut choices = Choices(choices.into_iter());
        let (unit, mut stretches, mut index) = (Span::new(1, i64::from(meter.unit())), Vec::new(), 0);
        while index < meter.beats() {
            let many = 1 + choices.below(4.min(meter.beats() - index));
            let (at, length) = (unit * i64::from(index), unit * i64::from(many));
            let mut stretch = Stretch::default();
            match choices.below(4) {
                0 => stretch.events.push(choices.event(at, length)),
                1 => {
                    let half = length / 2;
                    stretch.events = vec![choices.event(at, half), choices.event(at + half, half)];
                }
                _ => stretch.add_tuplet(&mut choices, at, length, many, false),
            }
            stretches.push(stretch);
            index += many;
        }
        if choices.one_in(4) && stretches.len() > 1 {
            stretches.remove(0);
        }
        if choices.one_in(4) && stretches.len() > 1 {
            stretches.pop();
        }
        let tuplets = stretches.iter().flat_map(|stretch| stretch.tuplets.iter().copied()).collect();
        let events = stretches.into_iter().flat_map(|stretch| stretch.events).collect();
        let bar = Bar::cut(1, meter, form, events).expect("a bar");
        bar.with_tuplets(tuplets).expect("tuplets")
    })
}

/// What is as short is not cut.
const SHORTEST: Span = Span::new(1, 64);

/// Whether a note may cross the middle of 4/4: it begins with the bar, or it is the half note of quarter, half, quarter.
fn may_cross(note: &Note) -> bool {
    note.at == Span::ZERO
        || note.tuplet.is_some()
        || (note.at == Span::QUARTER && note.length == Span::HALF && note.deed != Deed::Rest)
}

/// Every tuplet of the author is there with its numbers, around everything in it and nothing else.
#[track_caller]
fn tuplets_are_kept(bar: &Bar, notes: &[Note]) {
    if notes[0].whole_bar {
        return; // Silence has no parts.
    }
    for tuplet in bar.tuplets() {
        let inside = |note: &&Note| tuplet.holds(note.at, note.at + note.length);
        let all: Vec<_> = notes.iter().filter(inside).collect();
        // What no value shows has a ratio of its own, behind those of the author.
        let told = |note: &Note| {
            let is_odd = note.tuplet.is_some_and(|own| own.index >= bar.tuplets().len());
            is_odd
                || levels(Some(note)).iter().any(|level| (level.1, level.2) == (tuplet.actual, tuplet.normal))
        };
        assert!(!all.is_empty() && all.iter().all(|note| told(note)), "{tuplet:?}: {}", shown(notes));
        assert_eq!(all[0].at, tuplet.at);
        assert_eq!(all.iter().map(|note| note.length).sum::<Span>(), tuplet.length);
    }
}

/// A bar in lengths with the symbols of `notes`, if its tuplets are whole.
fn bar_of(meter: Meter, notes: &[Note]) -> Option<Bar> {
    let events: Vec<Event> = notes.iter().map(|note| Event::new(note.at, note.length, note.deed)).collect();
    let mut tuplets: Vec<(usize, Tuplet)> = Vec::new();
    for note in notes {
        for (index, actual, normal) in levels(Some(note)) {
            match tuplets.iter_mut().find(|tuplet| tuplet.0 == index) {
                Some((_, tuplet)) => tuplet.length = note.at + note.length - tuplet.at,
                None => {
                    tuplets.push((index, Tuplet { at: note.at, length: note.length, actual, normal }));
                }
            }
        }
    }
    let bar = Bar::cut(1, meter, Form::Lengths, events).expect("a bar");
    bar.with_tuplets(tuplets.into_iter().map(|tuplet| tuplet.1).collect()).ok()
}

/// What the rules give, they find nothing to say about.
#[track_caller]
fn rules_agree_with_themselves(bar: &Bar) {
    let usual = spell_by_rules(bar, House::default());
    fills_exactly_but_for_ties(bar, &usual);
    let is_odd = spelled(bar, &sounding(bar, &[]), &[], Values::Rules, House::default()).is_odd;
    if let Some(again) = bar_of(bar.meter(), &usual).filter(|_| !is_odd) {
        let remarks = remarks(&again, House::default());
        assert!(remarks.is_empty(), "{}: {}: {}", bar.meter(), shown(&usual), remarks[0]);
    }
}

/// As [`fills_exactly`], the sounds and silences of a bar in one piece each.
#[track_caller]
fn fills_exactly_but_for_ties(bar: &Bar, notes: &[Note]) {
    let begins = |event: &&Event| notes.iter().any(|note| note.at == event.at);
    let mut events: Vec<Event> = bar.events().iter().filter(begins).copied().collect();
    let ends: Vec<Span> = events.iter().skip(1).map(|event| event.at).chain([bar.end()]).collect();
    for (event, end) in events.iter_mut().zip(ends) {
        event.length = end - event.at;
    }
    let attacks = |events: &[Event]| events.iter().filter(|e| e.deed == Deed::Attack).count();
    assert_eq!(attacks(&events), attacks(bar.events()), "an attack is lost: {}", shown(notes));
    fills_exactly(&Bar::cut(1, bar.meter(), bar.form(), events).expect("a bar"), notes);
}

proptest! {
    #[test]
    fn any_bar_is_filled_exactly(bar in any_bar(vec![1, 2, 3, 4, 6, 8])) {
        holds_the_laws(&bar, &spell(&bar));
        rules_agree_with_themselves(&bar);
    }

    #[test]
    fn any_parts_fill_the_bar_exactly(bar in any_bar(vec![1, 2, 3, 5, 7, 9, 12, 16, 64])) {
        holds_the_laws(&bar, &spell(&bar));
        fills_exactly_but_for_ties(&bar, &spell_by_rules(&bar, House::default()));
        let _ = remarks(&bar, House::default());
    }

    #[test]
    fn any_tuplets_of_the_author_are_kept(bar in any_tuplets()) {
        let notes = spell(&bar);
        holds_the_laws(&bar, &notes);
        tuplets_are_kept(&bar, &notes);
        fills_exactly_but_for_ties(&bar, &spell_by_rules(&bar, House::default()));
        let _ = remarks(&bar, House::default());
    }

    #[test]
    fn nothing_crosses_the_middle_of_four_four(bar in any_bar(vec![1, 2, 3, 4, 6])) {
        let meter = bar.meter();
        let plain = meter.beats() == 4 && meter.unit() == 4 && meter.felt_beats() > 1 && meter.groups().is_empty();
        if bar.form() == Form::Counts && plain {
            for note in spell(&bar) {
                let crosses = note.at < Span::HALF && note.at + note.length > Span::HALF;
                prop_assert!(!crosses || may_cross(&note), "{note:?}");
            }
        }
    }

    #[test]
    fn a_note_across_groups_lasts_whole_groups(bar in any_bar(vec![1, 2, 3, 4, 6])) {
        let own = |unit: Span| bar.meter().group_spans().all(|(_, length)| length == unit);
        let unlike = bar.meter().group_spans().next().is_some_and(|(_, length)| !own(length));
        let odd = !bar.meter().beats().is_multiple_of(2) && !bar.meter().beats().is_multiple_of(3);
        if bar.form() == Form::Counts && unlike && odd {
            let edges: Vec<Span> = bar.meter().group_spans().map(|(at, _)| at).chain([bar.meter().bar_length()]).collect();
            for note in spell(&bar).iter().filter(|note| note.tuplet.is_none() && !note.whole_bar && note.length > SHORTEST) {
                let end = note.at + note.length;
                let crosses = edges.iter().any(|&edge| note.at < edge && edge < end);
                let whole = edges.contains(&note.at) && edges.contains(&end);
                prop_assert!(!crosses || whole, "{}: {note:?}", bar.meter());
            }
        }
    }
}
