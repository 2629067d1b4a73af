//! Finding strokes: seconds of sound a second of work, a minute and ten of them, without and with a loudspeaker's part.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput};
use onset::{Settings, strokes, strokes_beside};
use timebase::SampleRate;

const HZ: usize = 48_000;

/// Noise with a burst four times a second.
fn recording(seconds: usize) -> Vec<f32> {
    let mut state = 1_u32;
    let mut noise = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 8) as f32 / 8_388_608.0 - 1.0
    };
    (0..seconds * HZ)
        .map(|frame| {
            let age = (frame % (HZ / 4)) as f32;
            noise() * (0.001 + 0.5 * (-age / 400.0).exp())
        })
        .collect()
}

fn benches(criterion: &mut Criterion) {
    let settings = Settings::default();
    let mut group = criterion.benchmark_group("strokes");
    group.sample_size(10);
    for seconds in [60, 600] {
        let sound = recording(seconds);
        let played = recording(seconds).into_iter().rev().collect::<Vec<f32>>();
        // Elements are milliseconds of sound, so "Melem/s" is thousands of times real time.
        group.throughput(Throughput::Elements(1_000 * u64::try_from(seconds).unwrap_or(0)));
        group.bench_with_input(BenchmarkId::new("alone", seconds), &sound, |bencher, sound| {
            bencher.iter(|| strokes(black_box(sound), SampleRate::HZ_48000, &settings));
        });
        group.bench_with_input(BenchmarkId::new("beside", seconds), &sound, |bencher, sound| {
            bencher.iter(|| strokes_beside(black_box(sound), &played, SampleRate::HZ_48000, &settings));
        });
    }
    group.finish();
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    benches(&mut criterion);
    criterion.final_summary();
}
