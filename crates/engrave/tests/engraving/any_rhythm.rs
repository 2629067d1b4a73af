use proptest::prelude::*;
use rhythm::{
    Accent, Bar, BarsOfRest, Deed, Dynamics, Event, Form, Grace, Loudness, Marks, Meter, Repeat, Rhythm,
    Roll, Sticking, Swell, TempoMark,
};
use timebase::{Ratio, Span, Tempo};

/// The meters of the trade, a felt beat chosen or groups declared, and two that divide neither in twos nor in threes.
fn any_meter() -> impl Strategy<Value = Meter> {
    let meters = [(2, 4), (3, 4), (4, 4), (2, 2), (6, 8), (9, 8), (12, 8), (5, 4), (7, 8), (3, 8)];
    (proptest::sample::select(meters.to_vec()), 0..3).prop_map(|((beats, unit), how)| {
        let meter = Meter::new(beats, unit).expect("a meter");
        match how {
            0 => meter,
            1 => meter.felt_in(beats).expect("the unit is a felt beat"),
            _ => meter.grouped(&[1, beats - 1]).unwrap_or(meter),
        }
    })
}

/// Marks that may stand on an attack.
fn any_marks() -> impl Strategy<Value = Marks> {
    use proptest::option::weighted;
    use proptest::sample::select;
    let grace = prop_oneof![
        8 => Just(Grace::None), 1 => Just(Grace::Flam), 1 => Just(Grace::Drag), 1 => Just(Grace::Ruff)
    ];
    let roll = prop_oneof![(1u8..5).prop_map(Roll::Measured), Just(Roll::Unmeasured)];
    let accent = select(vec![Accent::Accent, Accent::Strong]);
    let hand = select(vec![Sticking::Right, Sticking::Left, Sticking::Both]);
    let fermata = prop_oneof![9 => Just(false), 1 => Just(true)];
    (grace, weighted(0.2, roll), weighted(0.3, accent), weighted(0.5, hand), fermata)
        .prop_map(|(grace, roll, accent, sticking, fermata)| Marks { grace, roll, accent, sticking, fermata })
}

fn any_dynamics() -> impl Strategy<Value = Dynamics> {
    use proptest::option::weighted;
    use proptest::sample::select;
    let level = select(Loudness::NAMED.map(|(_, level)| level).to_vec());
    let swell = select(vec![Swell::Crescendo, Swell::Decrescendo]);
    (weighted(0.3, level), weighted(0.3, swell)).prop_map(|(level, swell)| Dynamics { level, swell })
}

fn any_tempo_mark() -> impl Strategy<Value = Option<TempoMark>> {
    let beats = Tempo::new(Span::new(3, 8), Ratio::from_integer(66)).expect("a tempo");
    prop_oneof![
        9 => Just(None),
        1 => Just(Some(TempoMark::Beats(beats))),
        1 => Just(Some(TempoMark::Equal { before: Span::QUARTER, after: Span::QUARTER })),
    ]
}

/// A bar cut at any of the places that divide each felt beat in two, three, four or six.
fn any_bar(meter: Meter, number: u32, is_plain: bool) -> impl Strategy<Value = Bar> {
    let beats = usize::try_from(meter.felt_beats()).expect("few beats");
    let parts = proptest::collection::vec(proptest::sample::select(vec![1, 2, 3, 4, 6, 8]), beats);
    let deeds = proptest::collection::vec((0u8..6, 0u8..3, any::<bool>(), any_marks()), 12 * 8);
    (parts, deeds, any::<bool>(), any_dynamics()).prop_map(move |(parts, deeds, counts, dynamics)| {
        let beats = (0i64..).zip(&parts);
        let places = beats.flat_map(|(beat, &parts)| {
            (0..parts).map(move |part| meter.felt_beat() * beat + meter.felt_beat() / parts * part)
        });
        let kept: Vec<_> =
            places.zip(deeds).filter(|(at, (_, keep, ..))| *at == Span::ZERO || *keep == 0).collect();
        let ends = kept.iter().skip(1).map(|(at, _)| *at).chain([meter.bar_length()]);
        let mut before = Deed::Rest;
        let events = kept.iter().zip(ends).map(|((at, (deed, _, broken, marks)), end)| {
            let deed = match deed {
                0 => Deed::Rest,
                1 if before != Deed::Rest => Deed::Hold,
                _ => Deed::Attack,
            };
            before = deed;
            let marks = match deed {
                Deed::Attack => *marks,
                _ => Marks { fermata: marks.fermata, ..Marks::NONE },
            };
            let marks = if is_plain { Marks::NONE } else { marks };
            Event { beam_broken: *broken, ..Event::new(*at, end - *at, deed).with_marks(marks) }
        });
        let form = if counts { Form::Counts } else { Form::Lengths };
        let bar = Bar::new(number, meter, form, events.collect()).expect("a bar");
        if is_plain { bar } else { bar.with_dynamics(dynamics) }
    })
}

/// Bars of rest written as one.
fn rests(meter: Meter, first: u32, of: u32) -> impl Iterator<Item = Bar> {
    (1..=of).map(move |index| {
        let events = vec![Event::new(Span::ZERO, meter.bar_length(), Deed::Rest)];
        let bar = Bar::new(first + index - 1, meter, Form::Counts, events).expect("a silent bar");
        bar.with_rest(BarsOfRest { index, of }).expect("bars of rest")
    })
}

/// What all parts of a piece have alike.
#[derive(Clone, Debug)]
struct Frame {
    meters: Vec<Meter>,
    tempos: Vec<Option<TempoMark>>,
    rest: u32,
    repeat: Option<u32>,
}

/// Up to twelve bars, one or two meters, perhaps a repeat and some bars of rest.
fn any_frame() -> impl Strategy<Value = Frame> {
    let meters = (any_meter(), any_meter(), 1usize..12, 0usize..12);
    let tempos = proptest::collection::vec(any_tempo_mark(), 12);
    let rest = prop_oneof![Just(0), 2u32..40];
    (meters, tempos, rest, proptest::option::of(2u32..51)).prop_map(
        |((first, second, bars, change), tempos, rest, repeat)| Frame {
            meters: (0..bars).map(|bar| if bar > change { second } else { first }).collect(),
            tempos,
            rest,
            repeat,
        },
    )
}

/// Holds the sound before over the bar line, where there is one and the bar begins with a stroke.
fn tied(bar: Bar, before: &Bar) -> Bar {
    let sounds = before.events().last().is_some_and(|event| event.deed != Deed::Rest);
    let mut events = bar.events().to_vec();
    if !sounds || events[0].deed != Deed::Attack {
        return bar;
    }
    events[0] = Event { deed: Deed::Hold, marks: Marks::NONE, ..events[0] };
    let held = Bar::new(bar.number(), bar.meter(), bar.form(), events).expect("a bar");
    held.with_dynamics(bar.dynamics())
}

fn rhythm_in(frame: Frame, is_plain: bool) -> impl Strategy<Value = Rhythm> {
    let bars: Vec<_> =
        (1..).zip(&frame.meters).map(|(number, &meter)| any_bar(meter, number, is_plain)).collect();
    let ties = proptest::collection::vec(any::<bool>(), bars.len());
    (bars, ties).prop_map(move |(mut bars, ties)| {
        // In a repeated passage what goes before is another bar each time.
        if frame.repeat.is_none() {
            for index in 1..bars.len() {
                if ties[index] {
                    bars[index] = tied(bars[index].clone(), &bars[index - 1]);
                }
            }
        }
        if !is_plain {
            let marked = bars.into_iter().zip(&frame.tempos);
            bars = marked.map(|(bar, tempo)| bar.with_tempo(*tempo)).collect();
            let (last, number) = (bars[bars.len() - 1].meter(), bars.len());
            bars.extend(rests(last, u32::try_from(number).expect("few bars") + 1, frame.rest));
        }
        let repeats = frame.repeat.map(|times| Repeat::new(0..frame.meters.len().div_ceil(2), times));
        let title = Some("Any & all <rhythms>".to_owned());
        Rhythm::new(title, None, bars, repeats.into_iter().collect()).expect("a rhythm")
    })
}

/// A rhythm without marks.
pub(crate) fn any_rhythm() -> impl Strategy<Value = Rhythm> {
    any_frame().prop_flat_map(|frame| rhythm_in(frame, true))
}

/// A rhythm with whatever may stand on it.
pub(crate) fn any_marked() -> impl Strategy<Value = Rhythm> {
    any_frame().prop_flat_map(|frame| rhythm_in(frame, false))
}

/// Two to four parts of one piece.
pub(crate) fn any_parts() -> impl Strategy<Value = Vec<Rhythm>> {
    (any_frame(), 2usize..5).prop_flat_map(|(frame, parts)| {
        let part = move |_| rhythm_in(frame.clone(), false);
        (0..parts).map(part).collect::<Vec<_>>()
    })
}
