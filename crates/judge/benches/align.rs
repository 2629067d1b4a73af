//! Judging whole takes: ten minutes with 3,000 attacks, with every explanation weighed and counted and aligned only; how
//! the time grows with the number of attacks; and what one more attack costs while a drill runs.

use std::hint::black_box;

use counting::TimedCount;
use criterion::{BatchSize, BenchmarkId, Criterion, Throughput};
use judge::{Live, Played, Settings, judge};
use rhythm::{AttackId, Deed};
use timebase::{Moment, Seconds, Span, Tempo, TempoMap};

/// A tenth of a bar of 2 s each: 12 counts, ten of them attacks, one a hold and one a rest; 5 attacks a second.
const BAR_MS: [(f64, Deed); 12] = [
    (0.0, Deed::Attack),
    (250.0, Deed::Attack),
    (500.0, Deed::Hold),
    (625.0, Deed::Attack),
    (750.0, Deed::Attack),
    (875.0, Deed::Attack),
    (1000.0, Deed::Rest),
    (1250.0, Deed::Attack),
    (1500.0, Deed::Attack),
    (1625.0, Deed::Attack),
    (1750.0, Deed::Attack),
    (1875.0, Deed::Attack),
];

fn counts(attacks: usize) -> Vec<TimedCount> {
    let bars = 1..=u32::try_from(attacks / 10).expect("a bench of reasonable size");
    bars.flat_map(|bar| {
        (0..).zip(BAR_MS).map(move |(place, (ms, deed))| TimedCount {
            id: AttackId { bar, pass: 1, at: Span::new(place, 12) },
            at: at(f64::from(bar - 1) * 2000.0 + ms),
            say: None,
            deed,
            on_beat: place % 3 == 0,
            beat: Span::new(1, 4),
            marks: rhythm::Marks::NONE,
        })
    })
    .collect()
}

fn at(ms: f64) -> Moment {
    Moment::ZERO + Seconds::from_millis_f64(ms)
}

/// Every attack up to 60 ms off to either side, one in fifty left out, one stray in fifty; `faster` than written.
fn played(counts: &[TimedCount], faster: f64) -> Vec<Played> {
    let mut state = 1_u64;
    let mut chance = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / (1_u64 << 31) as f64
    };
    let mut played = Vec::new();
    for count in counts.iter().filter(|count| count.deed == Deed::Attack) {
        let ms = count.at.as_millis_f64() / faster;
        if chance() > 0.02 {
            played.push(Played::new(at(ms + (chance() + chance() - 1.0) * 60.0)));
        }
        if chance() < 0.02 {
            played.push(Played::new(at(ms + chance() * 500.0)));
        }
    }
    played
}

fn benches(criterion: &mut Criterion) {
    let settings = Settings::default();
    let mut group = criterion.benchmark_group("ten minutes, 3000 attacks");
    for (name, faster) in [("steady", 1.0), ("rushing 3 %", 1.03)] {
        let counts = counts(3_000);
        let played = played(&counts, faster);
        group.bench_function(name, |bench| {
            bench.iter(|| judge(black_box(&counts), black_box(&played), &settings));
        });
    }
    // What goes wrong makes more to be weighed: a bar left out in the middle, and half the speed for the last bars.
    let counts_of_all = counts(3_000);
    let whole = played(&counts_of_all, 1.0);
    let (bar, middle) = (Seconds::from_millis(2_000), at(300_000.0));
    let skipped: Vec<Played> = whole
        .iter()
        .filter(|stroke| !(middle..middle + bar).contains(&stroke.at))
        .map(|stroke| if stroke.at < middle { *stroke } else { Played::new(stroke.at - bar) })
        .collect();
    let slow_from = at(580_000.0);
    let halved: Vec<Played> =
        whole
            .iter()
            .map(|stroke| {
                if stroke.at < slow_from { *stroke } else { Played::new(stroke.at + (stroke.at - slow_from)) }
            })
            .collect();
    for (name, played) in [("a bar left out", skipped), ("half the speed at the end", halved)] {
        group.bench_function(name, |bench| {
            bench.iter(|| judge(black_box(&counts_of_all), black_box(&played), &settings));
        });
    }
    group.finish();

    // From the rhythm to the verdict on each attack and the sums, without asking what else it may have been: what is
    // said of so long a take while it is played, of all its attacks at once.
    let mut group = criterion.benchmark_group("ten minutes, 3000 attacks, counted and aligned");
    let rhythm = rhythm::text::read(&format!("meter: 4/4\n{}|", "| 1 & _2 e & a (3) & 4 e & a ".repeat(300)))
        .rhythm
        .expect("the text is right");
    let map = TempoMap::constant(Tempo::new(Span::QUARTER, 120.into()).expect("a tempo"));
    for (name, faster) in [("steady", 1.0), ("rushing 3 %", 1.03)] {
        let counted = || counting::count(&rhythm).timed(&rhythm, &rhythm.performance(), &map);
        let counts = counted();
        assert_eq!(counts.iter().filter(|count| count.deed == Deed::Attack).count(), 3_000);
        let mut played = played(&counts, faster);
        played.sort_by_key(|played| played.at);
        let end = counts[counts.len() - 1].at + Seconds::from_millis(1_000);
        group.bench_function(name, |bench| {
            bench.iter(|| {
                let mut live = Live::new(counted().into(), settings);
                black_box(&played).iter().for_each(|&stroke| live.strike(stroke));
                live.provisional(end)
            });
        });
    }
    group.finish();

    let mut group = criterion.benchmark_group("growth");
    group.sample_size(10);
    for attacks in [100, 1_000, 10_000, 100_000] {
        let counts = counts(attacks);
        let played = played(&counts, 1.0);
        group.throughput(Throughput::Elements(u64::try_from(attacks).unwrap_or(u64::MAX)));
        group.bench_with_input(BenchmarkId::from_parameter(attacks), &attacks, |bench, _| {
            bench.iter(|| judge(black_box(&counts), black_box(&played), &settings));
        });
    }
    group.finish();

    let mut group = criterion.benchmark_group("one more attack");
    for attacks in [100, 1_000, 3_000] {
        let counts = counts(3_000);
        let mut played = played(&counts, 1.0);
        played.sort_by_key(|played| played.at);
        let mut live = Live::new(counts.into(), settings);
        let heard = attacks.min(played.len());
        for &stroke in &played[..heard - 1] {
            live.strike(stroke);
            live.provisional(stroke.at);
        }
        let last = played[heard - 1];
        group.bench_with_input(BenchmarkId::from_parameter(attacks), &attacks, |bench, _| {
            let before = || {
                let mut live = live.clone();
                live.strike(last);
                live
            };
            bench.iter_batched_ref(
                before,
                |live| live.provisional(black_box(last.at)),
                BatchSize::LargeInput,
            );
        });
    }
    group.finish();
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    benches(&mut criterion);
    criterion.final_summary();
}
