//! How long spelling takes: by the event, however many of them a bar has.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use rhythm::spelling::{House, remarks, spell};
use rhythm::{Bar, Deed, Event, Form, Meter};
use timebase::Span;

/// A bar of so many wholes, about eleven events in each: long and short in turn, across beats, some silent.
fn long_bar(wholes: u32) -> Bar {
    let meter = Meter::new(wholes, 1).expect("a meter");
    let mut events = Vec::new();
    let mut at = Span::ZERO;
    let mut turn = 0_usize;
    while at < meter.bar_length() {
        let lengths = [Span::EIGHTH, Span::SIXTEENTH, Span::new(3, 16), Span::new(1, 32), Span::new(1, 32)];
        let length = lengths[turn % lengths.len()].min(meter.bar_length() - at);
        let deed = if turn % 7 == 3 { Deed::Rest } else { Deed::Attack };
        events.push(Event::new(at, length, deed));
        at += length;
        turn += 1;
    }
    Bar::new(1, meter, Form::Counts, events).expect("a bar")
}

fn bars(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("spelling");
    for wholes in [1, 8, 32] {
        let bar = long_bar(wholes);
        let events = bar.events().len();
        group.throughput(Throughput::Elements(u64::try_from(events).expect("few")));
        group.bench_with_input(BenchmarkId::new("spell", events), &bar, |bencher, bar| {
            bencher.iter(|| spell(black_box(bar)));
        });
        group.bench_with_input(BenchmarkId::new("remarks", events), &bar, |bencher, bar| {
            bencher.iter(|| remarks(black_box(bar), House::default()));
        });
    }
    group.finish();
}

criterion_group!(benches, bars);
criterion_main!(benches);
