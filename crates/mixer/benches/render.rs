//! How fast dense material renders, as a multiple of real time.
//!
//! Ten minutes at quarter = 120 with sixteenths throughout: a click every eighth, a count and a clap every
//! sixteenth, each sound cut by a fade. `thrpt` is frames a second; 48,000 of them are one times real time.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use mixer::{Bank, Mixer, Programme, Sample, SoundEvent, StripId, render_offline};
use timebase::{Frame, Frames, SampleRate};

const SIXTEENTH: i64 = 6_000;
const SECONDS: i64 = 600;

fn dense() -> Programme {
    let mut bank = Bank::new(SampleRate::HZ_48000);
    let mut add = |length: u16| {
        let data: Vec<f32> = (0..length).map(|frame| 0.2 * (f32::from(frame) * 0.1).sin()).collect();
        bank.add(Sample::new(data).expect("finite"))
    };
    let (click, count, clap) = (add(2_400), add(9_600), add(7_200));
    let mut events = Vec::new();
    for number in 0..SECONDS * 48_000 / SIXTEENTH {
        let at = Frame::new(number * SIXTEENTH);
        if number % 2 == 0 {
            events.push(SoundEvent::new(at, click, StripId::new(0)));
        }
        let cut = SoundEvent {
            length: Some(Frames::new(7_000)),
            fade: Frames::new(720),
            ..SoundEvent::new(at, count, StripId::new(1))
        };
        events.push(cut);
        events.push(SoundEvent::new(at, clap, StripId::new(2)));
    }
    Programme::new(bank, events, Frames::new(SECONDS * 48_000)).expect("playable")
}

fn render(criterion: &mut Criterion) {
    let programme = dense();
    let frames = u64::try_from(programme.length().count()).expect("positive");
    let mut group = criterion.benchmark_group("render");
    group.throughput(Throughput::Elements(frames)).sample_size(20);
    group.bench_function("count, click and clap in sixteenths, offline", |bencher| {
        bencher.iter(|| {
            let mut last = 0.0;
            let done: Result<(), std::convert::Infallible> =
                render_offline(&mut Mixer::new(&programme), |block| {
                    last = block[block.len() - 1];
                    Ok(())
                });
            black_box((done, last))
        });
    });
    group.bench_function("the same in blocks of 128 frames", |bencher| {
        bencher.iter(|| {
            let mut mixer = Mixer::new(&programme);
            let mut block = [0.0; 128];
            while !mixer.is_finished() {
                mixer.render(&mut block);
            }
            black_box(block[127])
        });
    });
    group.finish();
}

criterion_group!(benches, render);
criterion_main!(benches);
