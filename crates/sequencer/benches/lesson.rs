//! How long it takes to prepare a lesson of 40 minutes, and how much of it is in memory at once.
//!
//! `cargo bench -p sequencer --bench lesson`

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use sequencer::Sounds;
use sequencer::drill::{Audible, CountIn, CountInWhen, Drill, DrillPlan, Heard, Material, Outcome};
use timebase::Seconds;
use voice::VoicePack;

/// Six rhythms of eight bars, from quarters to sixteenths beside triplets.
const RHYTHMS: [&str; 6] = [
    "tempo: quarter = 84\n| 1 2 (3) 4 | 1 2 & (3) 4 | (1) 2 3 & 4 | 1 & (2) 3 4 & | 1 (2) 3 4 | (1) 2 & 3 4 & | 1 & 2 (3) 4 & | 1 & 2 3 (4) |",
    "tempo: quarter = 92\n| 1 _2 3 4 | 1 2 & _3 4 | 1 (2) 3 4 & | _1 2 & 3 (4) | 1 & _2 & 3 4 | 1 2 _3 & 4 | (1) 2 3 & _4 & | _1 2 (3) 4 |",
    "meter: 3/4\ntempo: quarter = 100\n3 & | 1 2 3 & | 1 _2 3 | 1 & 2 & 3 | (1) 2 3 & | 1 2 & 3 | 1 _2 & 3 | 1 & 2 (3) | 1 (3) |",
    "meter: 6/8\ntempo: dotted quarter = 66\n| 1 la li 2 | 1 li 2 li | 1 2 la li | _1 la li 2 | 1 _la ta li 2 | 1 ta la li 2 li | (1) 2 la li | 1 li 2 (li) |",
    "meter: 2/2\ntempo: half = 58\n| 1 2 & | 1 e & 2 | 1 & _2 & | _1 & 2 e & | 1 a 2 | 1 & a 2 & a | (1 &) 2 & | 1 e & a 2 (&) |",
    "tempo: quarter = 69\n| 1 e & a 2 & 3 la li 4 | 1 a 2 e & 3 4 la li | 1 la li 2 & a (3) 4 | 1 e & a 2 & 3 4 | 1 e & 2 & a 3 la li 4 e & a | 1 (2 3 4) | 1 & 2 & 3 & 4 & | 1 2 3 4 |",
];

fn lesson() -> Drill {
    let material = |text: &&str| {
        let rhythm = rhythm::text::read(text).rhythm.expect("a rhythm");
        let line = counting::count(&rhythm);
        Material::new(rhythm, &line)
    };
    let plan = DrillPlan {
        bars: Some(2),
        times: 8,
        rest: 2,
        count_in: CountIn { when: CountInWhen::Changes, ..CountIn::default() },
        heard: Heard { model: Some(Audible::ALL), response: Audible::ALL, ..Heard::default() },
        ..DrillPlan::default()
    };
    Drill::new(plan, RHYTHMS.iter().map(material).collect()).expect("a drill")
}

/// Makes every round sound; gives the rounds, the events and the most events of two rounds that follow one another.
fn prepare(drill: &Drill, voice: &VoicePack) -> (usize, usize, usize) {
    let words = drill.words();
    let sounds = Sounds::of(voice, words.iter().map(|word| word.as_str()));
    let (mut rounds, mut events, mut before, mut most) = (0, 0, 0, 0);
    for round in drill.rounds_if(|_| Outcome::Good) {
        let sounding = sounds.lower_round(&round).expect("sayable");
        let now = sounding.programme().events().len();
        rounds += 1;
        events += now;
        most = most.max(before + now);
        before = now;
        black_box(sounding);
    }
    (rounds, events, most)
}

#[expect(clippy::print_stdout, reason = "what is in memory is a figure of this benchmark")]
fn lesson_of_forty_minutes(criterion: &mut Criterion) {
    let voice = VoicePack::shipped("female").expect("shipped");
    let drill = lesson();
    let (least, most) = drill.bounds();
    assert_eq!(least, most);
    assert!(least >= Seconds::from_millis(40 * 60_000), "a lesson lasts 40 minutes: {least}");
    let (rounds, events, alive) = prepare(&drill, &voice);
    println!(
        "a lesson of {least}: {rounds} rounds, {events} events, at most {alive} of them in memory at once"
    );
    let mut group = criterion.benchmark_group("lesson of 40 minutes");
    group.sample_size(20);
    group.bench_function("read, counted, planned and made sound", |bencher| {
        bencher.iter(|| prepare(&lesson(), &voice));
    });
    group.bench_function("how long it lasts", |bencher| bencher.iter(|| black_box(lesson().bounds())));
    group.bench_function("the first round", |bencher| {
        bencher.iter(|| {
            let drill = lesson();
            let round = drill.rounds().next_round().expect("a round");
            let words = drill.words();
            let sounds = Sounds::of(&voice, words.iter().map(|word| word.as_str()));
            black_box(sounds.lower_round(&round).expect("sayable"))
        });
    });
    group.finish();
}

criterion_group!(benches, lesson_of_forty_minutes);
criterion_main!(benches);
