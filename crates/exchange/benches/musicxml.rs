//! From bytes to rhythm, and back: how many bytes a second, and that the time grows with the number of bars alone.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use exchange::musicxml::{Choice, read, write};
use rhythm::Piece;

/// Simple values, ties, a triplet, rests, marks.
const MIXED: &[&str] =
    &["| 1 2 & 3 (4) ", "| 1 & 2 e & a _3 & 4 ", "| 1 la li 2 & (3) & 4 & ", "| (1) & 2 3 _4 & "];

/// A whole note.
const SPARSE: &[&str] = &["| 1/1 "];

/// A piece of so many bars, each with the next of these bodies.
fn piece(bodies: &[&str], bars: usize) -> Piece {
    let text: String = bodies.iter().copied().cycle().take(bars).collect();
    let reading = rhythm::text::read(&format!("meter: 4/4\ntempo: quarter = 96\n\n{text}|\n"));
    reading.rhythm.expect("a rhythm").into()
}

/// 28,000 mixed bars hold nearly as many notes as a file may have, 100,000 sparse ones nearly as many bytes.
fn from_bytes(criterion: &mut Criterion) {
    for (name, bodies, many) in [
        ("musicxml read", MIXED, [10, 1_000, 28_000]),
        ("musicxml read, a note a bar", SPARSE, [10, 1_000, 100_000]),
    ] {
        let mut group = criterion.benchmark_group(name);
        group.sample_size(10);
        for bars in many {
            let file = write(&piece(bodies, bars)).expect("a file");
            group.throughput(Throughput::Bytes(file.len() as u64));
            group.bench_with_input(BenchmarkId::from_parameter(bars), &file, |bencher, file| {
                bencher
                    .iter(|| read(black_box(file.as_bytes()), &Choice::default()).expect("it can be read"));
            });
        }
        group.finish();
    }
}

fn to_text(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("musicxml write");
    group.sample_size(10);
    for bars in [10, 1_000] {
        let piece = piece(MIXED, bars);
        group.throughput(Throughput::Elements(bars as u64));
        group.bench_with_input(BenchmarkId::from_parameter(bars), &piece, |bencher, piece| {
            bencher.iter(|| write(black_box(piece)).expect("a file"));
        });
    }
    group.finish();
}

criterion_group!(benches, from_bytes, to_text);
criterion_main!(benches);
