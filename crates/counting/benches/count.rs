//! How many counts a second: 10, 1,000 and 100,000 bars show that the time grows with the bars and no faster. The figures
//! are counts (elements) a second, first of counting alone, then of reading the text and counting it.

use std::hint::black_box;

use counting::{Say, Settings, System, count_in};
use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use rhythm::Rhythm;

const EIGHT_BARS: &str = "| 1 2 & 3 (4) | 1 _2 3 & 4 & | (1) & 2 (3) 4 & | _1 _2 3 (4) \
    | 1 e & a 2 & a 3 e & 4 & | 1 a 2 e 3 & a 4 e a | 1 la li 2 la li 3 la 4 li | 1 (2 3 4) ";

fn text(bars: usize) -> String {
    let (eights, left) = (bars / 8, bars % 8);
    let rest: String = EIGHT_BARS.split_inclusive('|').take(left + 1).collect();
    format!("title: Bench\nmeter: 4/4\n{}{}", EIGHT_BARS.repeat(eights), if left == 0 { "|" } else { &rest })
}

fn read(text: &str) -> Rhythm {
    rhythm::text::read(text).rhythm.expect("the text is right")
}

fn counts(rhythm: &Rhythm, system: &System, settings: &Settings) -> u64 {
    let line = count_in(rhythm, system, settings);
    line.bars().iter().map(|bar| u64::try_from(bar.counts().len()).expect("a small number")).sum()
}

fn counting(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("count");
    group.sample_size(20);
    let usual = Settings::default();
    for bars in [10, 1_000, 100_000] {
        let rhythm = read(&text(bars));
        assert_eq!(rhythm.bars().len(), bars);
        group.throughput(Throughput::Elements(counts(&rhythm, System::numbers(), &usual)));
        group.bench_function(format!("{bars} bars in numbers"), |bencher| {
            bencher.iter(|| count_in(black_box(&rhythm), System::numbers(), &usual));
        });
    }
    let rhythm = read(&text(1_000));
    for system in &System::shipped()[1..] {
        group.throughput(Throughput::Elements(counts(&rhythm, system, &usual)));
        group.bench_function(format!("1000 bars in {}", system.name()), |bencher| {
            bencher.iter(|| count_in(black_box(&rhythm), system, &usual));
        });
    }
    let divisions = Settings { say: Say::Divisions, ..usual };
    group.throughput(Throughput::Elements(counts(&rhythm, System::numbers(), &divisions)));
    group.bench_function("1000 bars in numbers, every division", |bencher| {
        bencher.iter(|| count_in(black_box(&rhythm), System::numbers(), &divisions));
    });
    group.finish();
}

fn text_to_counts(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("read and count");
    group.sample_size(10);
    for bars in [10, 1_000, 100_000] {
        let text = text(bars);
        group.throughput(Throughput::Elements(counts(&read(&text), System::numbers(), &Settings::default())));
        group.bench_function(format!("{bars} bars"), |bencher| {
            bencher.iter(|| counting::count(&read(black_box(&text))));
        });
    }
    group.finish();
}

criterion_group!(benches, counting, text_to_counts);
criterion_main!(benches);
