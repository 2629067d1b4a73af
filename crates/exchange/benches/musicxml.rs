//! From bytes to rhythm, and back: how many bytes a second, and that the time grows with the number of bars alone.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use exchange::musicxml::{Choice, read, write};
use rhythm::Piece;

/// A piece of so many bars: simple values, ties, a triplet, rests, marks.
fn piece(bars: usize) -> Piece {
    let body = ["| 1 2 & 3 (4) ", "| 1 & 2 e & a _3 & 4 ", "| 1 la li 2 & (3) & 4 & ", "| (1) & 2 3 _4 & "];
    let text: String = (0..bars).map(|bar| body[bar % body.len()]).collect();
    let reading = rhythm::text::read(&format!("meter: 4/4\ntempo: quarter = 96\n\n{text}|\n"));
    reading.rhythm.expect("a rhythm").into()
}

fn from_bytes(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("musicxml read");
    group.sample_size(10);
    // 30,000 bars of these are 46 MB: a file may be 48.
    for bars in [10, 1_000, 30_000] {
        let file = write(&piece(bars)).expect("a file");
        group.throughput(Throughput::Bytes(file.len() as u64));
        group.bench_with_input(BenchmarkId::from_parameter(bars), &file, |bencher, file| {
            bencher.iter(|| read(black_box(file.as_bytes()), &Choice::default()).expect("it can be read"));
        });
    }
    group.finish();
}

fn to_text(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("musicxml write");
    group.sample_size(10);
    for bars in [10, 1_000] {
        let piece = piece(bars);
        group.throughput(Throughput::Elements(bars as u64));
        group.bench_with_input(BenchmarkId::from_parameter(bars), &piece, |bencher, piece| {
            bencher.iter(|| write(black_box(piece)).expect("a file"));
        });
    }
    group.finish();
}

criterion_group!(benches, from_bytes, to_text);
criterion_main!(benches);
