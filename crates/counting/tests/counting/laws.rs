//! What holds in every system, whatever the rhythm.

use counting::{CountLine, Say, Settings, System, Voicing, count_in};
use proptest::prelude::*;
use rhythm::{Bar, Deed, Event, Form, Meter, Rhythm};
use timebase::Span;

use crate::rhythms::{meter, of_bars};

const METERS: [&str; 14] = [
    "2/4",
    "3/4",
    "4/4",
    "2/2",
    "6/8",
    "9/8",
    "12/8",
    "6/8 in 6",
    "4/4 in 2",
    "5/8 2+3",
    "7/8 2+2+3",
    "7/8 3+2+2 by group",
    "9/8 2+2+2+3",
    "4/4 3+3+2",
];

/// A system in one of its variants, or in none.
fn systems() -> impl Strategy<Value = System> {
    (0..System::shipped().len(), any::<prop::sample::Index>()).prop_map(|(index, variant)| {
        let system = &System::shipped()[index];
        let names: Vec<&str> =
            std::iter::once("").chain(system.variants().map(|variant| variant.name)).collect();
        let name = variant.get(&names);
        if name.is_empty() { system.clone() } else { system.with_variant(name).expect("its own variant") }
    })
}

fn settings() -> impl Strategy<Value = Settings> {
    let voicings =
        || prop::option::of(prop::sample::select(Voicing::NAMED.map(|(_, voicing)| voicing).to_vec()));
    let say = prop::sample::select(Say::NAMED.map(|(_, say)| say).to_vec());
    (say, any::<bool>(), voicings(), voicings()).prop_map(|(say, feet, holds, rests)| Settings {
        say,
        feet,
        holds,
        rests,
    })
}

/// Bars filled with events of any length that the denominator gives, tied, struck or silent.
fn rhythms() -> impl Strategy<Value = Rhythm> {
    let bar = (
        prop::sample::select(METERS.to_vec()),
        prop::sample::select(vec![8_i64, 16, 24, 32, 40, 48, 56, 64, 72, 480]),
        prop::collection::vec((1_i64..12, 0_u8..3), 1..24),
    );
    (prop::collection::vec(bar, 1..5), 0_i64..4).prop_map(|(bars, pickup)| {
        let mut sounding = false;
        let first = if pickup > 0 { 0 } else { 1 };
        let bars = (first..).zip(bars).map(|(number, (in_meter, parts, lengths))| {
            filled(
                number,
                meter(in_meter),
                parts,
                &lengths,
                &mut sounding,
                if number == 0 { pickup } else { 0 },
            )
        });
        of_bars(bars.collect())
    })
}

fn filled(
    number: u32,
    meter: Meter,
    parts: i64,
    lengths: &[(i64, u8)],
    sounding: &mut bool,
    pickup: i64,
) -> Bar {
    let whole = meter.bar_length();
    let mut at = Span::EIGHTH * pickup.min(2);
    let mut events = Vec::new();
    let mut next = lengths.iter().cycle();
    while at < whole
        && let Some(&(length, deed)) = next.next()
    {
        let length = Span::new(length, parts).min(whole - at);
        let deed = match deed {
            0 => Deed::Rest,
            1 if *sounding => Deed::Hold,
            _ => Deed::Attack,
        };
        *sounding = deed != Deed::Rest;
        events.push(Event::new(at, length, deed));
        at += length;
    }
    Bar::new(number, meter, Form::Lengths, events).expect("a full bar")
}

/// The beats of a bar as the system counts them: its unequal groups, or the meter's felt beats.
fn on_beats(line: &CountLine, bar: usize) -> Vec<Span> {
    line.bars()[bar].counts().iter().filter(|count| count.on_beat).map(|count| count.at).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 512, ..ProptestConfig::default() })]

    /// Every attack is a count in every system, however much is counted; no place is counted twice, all in order and inside
    /// the bar; a count is silent exactly where it says nothing; and what is done there is what is written there.
    #[test]
    fn attacks_are_counted_once_and_in_order(rhythm in rhythms(), system in systems(), settings in settings()) {
        let line = count_in(&rhythm, &system, &settings);
        prop_assert_eq!(line.bars().len(), rhythm.bars().len());
        for (bar, counted) in rhythm.bars().iter().zip(line.bars()) {
            let counts = counted.counts();
            prop_assert!(counts.windows(2).all(|pair| pair[0].at < pair[1].at), "{:?}", counts);
            for event in bar.events().iter().filter(|event| event.deed == Deed::Attack) {
                prop_assert!(counts.iter().any(|count| count.at == event.at && count.deed == Deed::Attack));
            }
            for count in counts {
                prop_assert_eq!(count.say.is_none(), count.voicing == Voicing::Silent);
                let event = bar.event_at(count.at).expect("a count lies inside its bar");
                let within = event.deed == Deed::Attack && event.at < count.at;
                prop_assert_eq!(count.deed, if within { Deed::Hold } else { event.deed });
            }
            prop_assert!(counted.feet().windows(2).all(|pair| pair[0].at < pair[1].at));
        }
    }

    /// Every beat inside the bar is a count, through holds and rests, whether beats or divisions are said.
    #[test]
    fn beats_are_counted(rhythm in rhythms(), system in systems(), divisions in any::<bool>()) {
        let say = if divisions { Say::Divisions } else { Say::Beats };
        let line = count_in(&rhythm, &system, &Settings { say, ..Settings::default() });
        for (index, bar) in rhythm.bars().iter().enumerate() {
            let meter = bar.meter();
            let inside = |at: &Span| bar.start() <= *at && *at < bar.end();
            let every = |length: Span| {
                let places = (0..64).map(move |number| length * number);
                places.filter(inside).collect::<Vec<_>>()
            };
            let felt = every(meter.felt_beat());
            let groups: Vec<Span> = meter.group_spans().map(|(at, _)| at).filter(inside).collect();
            let units = every(Span::new(1, i64::from(meter.unit())));
            let beats = on_beats(&line, index);
            if meter.groups().is_empty() {
                let slow = system.name() == "slow-six" && meter.felt_beat().numerator() == 3;
                prop_assert_eq!(beats, if slow { units } else { felt });
            } else {
                // Through the bar, from 1 in each group, or the groups themselves.
                let choices = [felt, every(meter.group_unit()), groups];
                prop_assert!(choices.contains(&beats), "{:?} {:?}", beats, choices);
            }
        }
    }

    /// What is counted with every division holds what is counted with the beats: never less is said for counting more.
    #[test]
    fn divisions_leave_nothing_out(rhythm in rhythms(), system in systems()) {
        let with = |say| count_in(&rhythm, &system, &Settings { say, ..Settings::default() });
        for (beats, divisions) in with(Say::Beats).bars().iter().zip(with(Say::Divisions).bars()) {
            for count in beats.counts().iter().filter(|count| count.on_beat || count.deed == Deed::Attack) {
                prop_assert!(divisions.counts().iter().any(|other| (other.at, other.deed) == (count.at, count.deed)));
            }
        }
    }
}
