//! How much faster than real time the whole engine renders count, click and clap on one core, writing apart.
//!
//! `cargo bench -p sequencer --bench engine`: the throughput in elements a second is seconds of sound a second.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use mixer::{Mixer, render_offline};
use sequencer::{Levels, Plan, lower, sequence};
use voice::VoicePack;

fn engine(criterion: &mut Criterion) {
    // Ten minutes of sixteenths and triplets, a hold and a rest, every one clicked, counted and clapped.
    let bar = "1 e & a 2 & 3 la li 4 _& a";
    let text = format!("tempo: quarter = 120\n|: {bar} | _1 (2) & 3 & 4 & | 1 _2 & (3) 4 :| 50 times");
    let rhythm = rhythm::text::read(&text).rhythm.expect("a rhythm");
    let line = counting::count(&rhythm);
    let sequence = sequence(&rhythm, &line, &Plan::of(&rhythm));
    let voice = VoicePack::shipped("female").expect("shipped");
    let sounding = lower(&sequence, &voice).expect("sayable");

    let mut group = criterion.benchmark_group("engine");
    group.sample_size(10);
    let seconds = sequence.sounding_length().as_nanos() / 1_000_000_000;
    group.throughput(Throughput::Elements(seconds.unsigned_abs()));
    group.bench_function("count + click + clap", |bencher| {
        bencher.iter(|| {
            let mut mixer = Levels::default().on(Mixer::new(sounding.programme())).expect("levels");
            let mut sum = 0.0_f32;
            render_offline::<()>(&mut mixer, |block| {
                sum += block[0];
                Ok(())
            })
            .expect("no failure");
            black_box(sum)
        });
    });
    group.finish();
}

criterion_group!(benches, engine);
criterion_main!(benches);
