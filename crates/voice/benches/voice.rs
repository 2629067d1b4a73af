//! How long a voice takes to be ready, and how fast counting with click and clap renders.
//!
//! Rendered: ten minutes at quarter = 120 with sixteenths throughout, counted `1 e & a`, a click every quarter and
//! a clap every sixteenth. `thrpt` is frames a second; 48,000 of them are one times real time.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use mixer::{Bank, Mixer, Programme, SoundEvent, StripId, render_offline};
use timebase::{Frame, Frames, SampleRate, Seconds};
use voice::{VoicePack, percussion};

const SIXTEENTH: i64 = 6_000;
const COUNT: i64 = 4_800;
const LEAD: i64 = 9_600;

/// Fitted from the last word to the first, as a sequencer does.
fn counted(pack: &VoicePack) -> Programme {
    let mut bank = Bank::new(pack.rate());
    let voices: Vec<_> =
        pack.recordings().map(|(_, recording)| bank.add(recording.sample().clone())).collect();
    let numbers: Vec<_> = pack.recordings().map(|(id, _)| id).collect();
    let click = bank.add(percussion::click(false, pack.rate()).sample);
    let clap = bank.add(percussion::clap(pack.rate()).sample);
    let mut events = Vec::new();
    let mut next_lead = Frames::ZERO;
    for number in (0..COUNT).rev() {
        let beat = Frame::new(LEAD + number * SIXTEENTH);
        let word = match number % 4 {
            0 => ["1", "2", "3", "4"][usize::try_from(number / 4 % 4).expect("positive")],
            1 => "e",
            2 => "&",
            _ => "a",
        };
        let slot = Seconds::from_millis(125);
        if let Some(fitted) = pack.fit_before(word, slot, next_lead).expect("a word of the pack") {
            let voice = numbers.iter().position(|id| *id == fitted.recording).expect("in the pack");
            events.push(fitted.event(beat, voices[voice], StripId::new(1)));
            next_lead = fitted.centre;
        }
        if number % 4 == 0 {
            events.push(SoundEvent::new(beat, click, StripId::new(0)));
        }
        events.push(SoundEvent::new(beat, clap, StripId::new(2)));
    }
    Programme::new(bank, events, Frames::ZERO).expect("playable")
}

fn voice(criterion: &mut Criterion) {
    criterion.bench_function("read the female voice", |bencher| {
        bencher.iter(|| black_box(VoicePack::shipped("female")).expect("shipped"));
    });
    let pack = VoicePack::shipped("female").expect("shipped");
    let rate = SampleRate::new(44_100).expect("in range");
    criterion.bench_function("bring it to 44,100 Hz", |bencher| {
        bencher.iter(|| black_box(pack.clone().at_rate(rate)).expect("a usual rate"));
    });
    let programme = counted(&pack);
    let mut group = criterion.benchmark_group("render");
    group
        .throughput(Throughput::Elements(u64::try_from(programme.length().count()).expect("positive")))
        .sample_size(20);
    group.bench_function("count, click and clap in sixteenths", |bencher| {
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
    group.finish();
}

criterion_group!(benches, voice);
criterion_main!(benches);
