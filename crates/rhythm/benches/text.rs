//! Reading and writing rhythm text: counts (attacks, holds and rests) a second, for pieces of 10 to 100,000 bars.

mod bars;

use bars::text;
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use rhythm::text::{read, write};
use std::hint::black_box;

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
