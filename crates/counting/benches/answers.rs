//! How many counts of written counting are checked a second, for 10, 1,000 and 10,000 bars: the time grows with the bars and no
//! faster, also where the answer has slips all along and no bar lines.

use std::hint::black_box;

use counting::answers::check;
use criterion::{Criterion, Throughput, criterion_group, criterion_main};

const BARS: [&str; 4] = ["1 2 & 3 (4)", "1 _2 3 & 4 &", "1 e & a 2 & a 3 e & 4 &", "1 la li 2 la li 3 4"];

fn line(bars: usize, between: &str) -> String {
    BARS.iter().copied().cycle().take(bars).collect::<Vec<_>>().join(between)
}

fn answers(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("check answers");
    group.sample_size(10);
    for bars in [10, 1_000, 10_000] {
        let text = format!("meter: 4/4\n| {} |", line(bars, " | "));
        let rhythm = rhythm::text::read(&text).rhythm.expect("the text is right");
        let key = counting::count(&rhythm);
        let counts: usize = key.bars().iter().map(|bar| bar.counts().len()).sum();
        group.throughput(Throughput::Elements(u64::try_from(counts).expect("a small number")));
        let right = line(bars, " | ");
        group.bench_function(format!("{bars} bars, right"), |bencher| {
            bencher.iter(|| check(&key, &rhythm, black_box(&right)));
        });
        let slips = line(bars, " ").replace("& a 3", "a 3 3").replace("(4)", "4");
        group.bench_function(format!("{bars} bars, slips and no bar lines"), |bencher| {
            bencher.iter(|| check(&key, &rhythm, black_box(&slips)));
        });
    }
    group.finish();
}

criterion_group!(benches, answers);
criterion_main!(benches);
