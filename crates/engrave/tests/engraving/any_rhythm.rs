use proptest::prelude::*;
use rhythm::{Bar, Deed, Event, Form, Meter, Repeat, Rhythm};
use timebase::Span;

/// The meters of the trade, a felt beat chosen, and two that divide neither in twos nor in threes.
fn any_meter() -> impl Strategy<Value = Meter> {
    let meters = [(2, 4), (3, 4), (4, 4), (2, 2), (6, 8), (9, 8), (12, 8), (5, 4), (7, 8), (3, 8)];
    (proptest::sample::select(meters.to_vec()), any::<bool>()).prop_map(|((beats, unit), by_unit)| {
        let meter = Meter::new(beats, unit).expect("a meter");
        if by_unit { meter.felt_in(beats).expect("the unit is a felt beat") } else { meter }
    })
}

/// A bar cut at any of the places that divide each felt beat in two, three, four or six.
fn any_bar(meter: Meter, number: u32) -> impl Strategy<Value = Bar> {
    let beats = usize::try_from(meter.felt_beats()).expect("few beats");
    let parts = proptest::collection::vec(proptest::sample::select(vec![1, 2, 3, 4, 6, 8]), beats);
    let deeds = proptest::collection::vec((0u8..6, 0u8..3, any::<bool>()), 12 * 8);
    (parts, deeds, any::<bool>()).prop_map(move |(parts, deeds, counts)| {
        let beats = (0i64..).zip(&parts);
        let places = beats.flat_map(|(beat, &parts)| {
            (0..parts).map(move |part| meter.felt_beat() * beat + meter.felt_beat() / parts * part)
        });
        let kept: Vec<_> =
            places.zip(deeds).filter(|(at, (_, keep, _))| *at == Span::ZERO || *keep == 0).collect();
        let ends = kept.iter().skip(1).map(|(at, _)| *at).chain([meter.bar_length()]);
        let mut before = Deed::Rest;
        let events = kept.iter().zip(ends).map(|((at, (deed, _, broken)), end)| {
            let deed = match deed {
                0 => Deed::Rest,
                1 if before != Deed::Rest => Deed::Hold,
                _ => Deed::Attack,
            };
            before = deed;
            Event { beam_broken: *broken, ..Event::new(*at, end - *at, deed) }
        });
        let form = if counts { Form::Counts } else { Form::Lengths };
        Bar::new(number, meter, form, events.collect()).expect("a bar")
    })
}

/// Up to twelve bars, one or two meters, perhaps a repeat.
pub(crate) fn any_rhythm() -> impl Strategy<Value = Rhythm> {
    (any_meter(), any_meter(), 1u32..12, 0u32..12, 2u32..5)
        .prop_flat_map(|(first, second, bars, change, times)| {
            let bars: Vec<_> = (1..=bars)
                .map(|number| any_bar(if number > change { second } else { first }, number))
                .collect();
            (bars, Just(times), any::<bool>())
        })
        .prop_map(|(bars, times, repeated)| {
            let repeat = Repeat::new(0..bars.len().div_ceil(2), times);
            let repeats = if repeated { vec![repeat] } else { Vec::new() };
            Rhythm::new(Some("Any & all <rhythms>".to_owned()), None, bars, repeats).expect("a rhythm")
        })
}
