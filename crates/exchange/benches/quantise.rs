//! Making rhythms of strokes: how the time grows with the number of bars, with a click and without one.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput};
use exchange::quantise::{Free, Grid, Settings, Tap, Timing, quantise};
use rhythm::Meter;
use timebase::{Moment, Seconds, Span, Tempo, TempoMap};

/// Where a bar of four is struck, in twelfths of a beat: quarters, eighths, a triplet, sixteenths.
const BARS: [&[i64]; 4] = [
    &[0, 12, 18, 24, 36],
    &[0, 6, 12, 24, 28, 32, 36],
    &[0, 18, 24, 33, 36, 42],
    &[0, 12, 15, 18, 21, 24, 36],
];

/// So many bars at 100 beats a minute, each stroke up to 20 ms off.
fn taps(bars: usize) -> Vec<Tap> {
    let mut state = 1_u64;
    let mut chance = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / (1_u64 << 31) as f64
    };
    (0..bars)
        .flat_map(|bar| BARS[bar % BARS.len()].iter().map(move |&at| bar as f64 * 2.4 + at as f64 * 0.05))
        .map(|at| {
            let at = at + (chance() + chance() - 1.0) * 0.02;
            Tap::new(Moment::ZERO + Seconds::from_secs_f64(at + 1.0))
        })
        .collect()
}

fn benches(criterion: &mut Criterion) {
    let tempo = Tempo::new(Span::QUARTER, 100.into()).expect("a tempo");
    let bar_one = Moment::ZERO + Seconds::from_millis(1_000);
    let click = Timing::Known(Grid::new(TempoMap::constant(tempo), bar_one, Meter::COMMON));
    let settings = Settings::default();
    for (name, timing) in [("with a click", click), ("without a click", Timing::Free(Free::default()))] {
        let mut group = criterion.benchmark_group(name);
        group.sample_size(10);
        // 9,000 bars of these are 58,500 strokes: 60,000 may be given.
        for bars in [10, 100, 1_000, 9_000] {
            let taps = taps(bars);
            group.throughput(Throughput::Elements(u64::try_from(bars).unwrap_or(u64::MAX)));
            group.bench_with_input(BenchmarkId::from_parameter(bars), &taps, |bench, taps| {
                bench.iter(|| quantise(black_box(taps), &timing, &settings).expect("it can be written"));
            });
        }
        group.finish();
    }
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    benches(&mut criterion);
    criterion.final_summary();
}
