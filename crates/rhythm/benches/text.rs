//! Reading and writing rhythm text: counts (attacks, holds and rests) a second, for pieces of 10 to 100,000 bars.

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use rhythm::text::{read, write};
use std::hint::black_box;

/// Four bars of a beginner's book and two of a later one, over and over.
const BARS: [&str; 6] = [
    "1 2 & 3 (4)",
    "1 e & a 2 & 3 _4 &",
    "(1) & 2 & (3) & 4",
    "1 la li 2 & a 3 e & 4",
    "1/4. 1/8 1/8 1/4 1/8",
    "_1 2 & (3) 4 e & a",
];

fn text(bars: usize) -> String {
    let mut text = "title: Long Road\nmeter: 4/4\ntempo: quarter = 96\n\n".to_owned();
    for (index, bar) in BARS.iter().cycle().take(bars).enumerate() {
        text.push_str("| ");
        text.push_str(bar);
        text.push(' ');
        if index % 4 == 3 {
            text.push_str("|\n");
        }
    }
    text.push_str("|\n");
    text
}

fn benches(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("rhythm text");
    group.sample_size(20);
    for bars in [10, 1_000, 100_000] {
        let text = text(bars);
        let rhythm = read(&text).rhythm.expect("a rhythm");
        let counts: usize = rhythm.bars().iter().map(|bar| bar.events().len()).sum();
        group.throughput(Throughput::Elements(u64::try_from(counts).expect("few")));
        group.bench_with_input(BenchmarkId::new("read", bars), &text, |b, text| {
            b.iter(|| read(black_box(text)));
        });
        group.bench_with_input(BenchmarkId::new("write", bars), &rhythm, |b, rhythm| {
            b.iter(|| write(black_box(rhythm)));
        });
    }
    group.finish();
}

criterion_group!(text_benches, benches);
criterion_main!(text_benches);
