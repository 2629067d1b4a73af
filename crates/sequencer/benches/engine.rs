//! How much faster than real time the whole engine renders on one core, writing apart: two voices that count, the click
//! on divisions, claps and tones, in stereo, limited.
//!
//! `cargo bench -p sequencer --bench engine`: the throughput in elements a second is seconds of sound a second.
//! `tests/engine` sets it beside fluidsynth.

use std::collections::HashMap;
use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use mixer::{Bank, Mixer, Programme, SampleId, SoundEvent, render_offline, render_offline_stereo};
use sequencer::levels::COUNT;
use sequencer::{Choice, ClickOn, Each, Levels, Plan, Sequence, Sounding, lower, sequence};
use voice::VoicePack;

/// Ten minutes of sixteenths and triplets, holds and rests, every one clicked, counted, clapped and sounded.
fn dense() -> Sequence {
    let bar = "1 e & a 2 & 3 la li 4 _& a";
    let bars = format!("{bar} | _1 (2) & 3 & 4 & | 1 _2 & (3) 4");
    let text = format!("tempo: quarter = 120\n|: {bars} | {bars} :| 50 times");
    let rhythm = rhythm::text::read(&text).rhythm.expect("a rhythm");
    let plan = Plan::of(&rhythm).with_choice(Choice { click: ClickOn::Divisions, ..Choice::default() });
    sequence(&rhythm, &counting::count(&rhythm), &plan)
}

fn sounding(sequence: &Sequence, voice: &str) -> Sounding {
    lower(sequence, &VoicePack::shipped(voice).expect("shipped")).expect("sayable")
}

/// All of the first, and the counts of the second.
fn both(first: &Programme, second: &Programme) -> Programme {
    let mut bank: Bank = first.bank().clone();
    let mut numbers: HashMap<SampleId, SampleId> = HashMap::new();
    let mut events = first.events().to_vec();
    for event in second.events().iter().filter(|event| event.strip == COUNT) {
        let sample = *numbers
            .entry(event.sample)
            .or_insert_with(|| bank.add(second.bank().sample(event.sample).expect("in its bank").clone()));
        events.push(SoundEvent { sample, ..*event });
    }
    Programme::new(bank, events, first.length()).expect("playable")
}

fn engine(criterion: &mut Criterion) {
    let sequence = dense();
    let [female, male] = ["female", "male"].map(|voice| sounding(&sequence, voice));
    let two_voices = both(female.programme(), male.programme());
    let tone = Levels { muted: Each::default(), ..Levels::default() };
    let apart = Levels { pan: Each { click: -0.3, count: 0.0, clap: 0.3, tone: 0.2 }, ..tone };

    let mut group = criterion.benchmark_group("engine");
    group.sample_size(10);
    let seconds = sequence.sounding_length().as_nanos() / 1_000_000_000;
    group.throughput(Throughput::Elements(seconds.unsigned_abs()));
    let mut bench = |name: &str, programme: &Programme, levels: Levels, is_stereo: bool| {
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                let mut mixer = levels.on(Mixer::new(programme)).expect("levels");
                let mut sum = 0.0_f32;
                let done: Result<(), ()> = if is_stereo {
                    render_offline_stereo(&mut mixer, |block| {
                        sum += block[0][0];
                        Ok(())
                    })
                } else {
                    render_offline(&mut mixer, |block| {
                        sum += block[0];
                        Ok(())
                    })
                };
                black_box((done, sum))
            });
        });
    };
    bench("count + click + clap, mono", female.programme(), Levels::default(), false);
    bench("two voices + click + tone + clap, stereo", &two_voices, tone, true);
    bench("the same, heard from several places", &two_voices, apart, true);
    let loud = Levels { click: 3.0, count: 3.0, clap: 3.0, tone: 3.0, ..tone };
    bench("the same, so loud that it is limited all the time", &two_voices, loud, true);
    group.finish();

    let mut group = criterion.benchmark_group("preparing");
    group.sample_size(10);
    group.bench_function("cues of ten minutes made sound events", |bencher| {
        let voice = VoicePack::shipped("female").expect("shipped");
        bencher.iter(|| black_box(lower(&sequence, &voice).expect("sayable")));
    });
    group.finish();
}

criterion_group!(benches, engine);
criterion_main!(benches);
