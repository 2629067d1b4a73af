//! How long a page takes: a window engraves again on every key, so 16 bars are to stay under 2 ms; and how the time
//! grows with the bars, from a hundred to ten thousand.

use std::hint::black_box;

use counting::{System, count, count_in};
use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use engrave::{CountStyle, Layout, Staff, engrave, engrave_staves, svg};

const EIGHT_BARS: &str = "| 1 2 & 3 (4) | 1 _2 3 & 4 & | (1) & 2 (3) 4 & | _1 _2 3 (4) \
    | 1 e & a 2 & a 3 e & 4 & | 1 a 2 e 3 & a 4 e a | 1 la li 2 la li 3 la 4 li | 1 (2 3 4) |\n";

/// What stands on the notes of the eight bars.
const MARKS: &str = "sticking: | R L R L | R L R L | R L R | L | R L R L R L R L R L R L | R L R L R L R L R L | R L R L R L R L R | B |\n\
    accents: | > | | . > | | > | | > | ^ |\nstrokes: | flam | . z | drag | | | | | ruff+/// |\ndynamics: | p< | | f | | > | | mp | |\n";

fn rhythm(bars: usize, marks: &str) -> rhythm::Rhythm {
    let text = format!("title: Bench\nmeter: 4/4\n{}", format!("{EIGHT_BARS}{marks}").repeat(bars / 8));
    rhythm::text::read(&text).rhythm.expect("the text is right")
}

fn pages(criterion: &mut Criterion) {
    let plain = rhythm(16, "");
    let counting = count(&plain);
    criterion.bench_function("engrave 16 bars", |bencher| {
        bencher.iter(|| engrave(black_box(&plain), &counting, &Layout::default()));
    });
    let marked = rhythm(16, MARKS);
    let takadimi = System::named("takadimi").expect("a shipped system");
    let countings = [count(&marked), count_in(&marked, &takadimi, &counting::Settings::default())];
    let style = CountStyle { hands: true, legend: true, ..CountStyle::default() };
    let layout = Layout { count_style: style, ..Layout::default() };
    criterion.bench_function(
        "engrave 16 bars with everything on them, two count lines and the hands",
        |bencher| {
            let staff = Staff {
                name: None,
                rhythm: &marked,
                countings: countings.iter().collect(),
                shares_line: false,
            };
            let staff = [staff];
            bencher.iter(|| engrave_staves(black_box(&staff), &layout));
        },
    );
    let counted = count(&marked);
    criterion.bench_function("engrave 16 bars of four parts", |bencher| {
        let staff =
            |_| Staff { name: Some("part"), rhythm: &marked, countings: vec![&counted], shares_line: false };
        let staves: Vec<_> = (0..4).map(staff).collect();
        bencher.iter(|| engrave_staves(black_box(&staves), &Layout::default()));
    });
    let engraving = engrave(&plain, &counting, &Layout::default()).expect("a page");
    criterion.bench_function("write 16 bars as SVG", |bencher| {
        bencher.iter(|| svg::write(black_box(engraving.scene()), &svg::SvgOptions::default()));
    });
}

fn growth(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("engrave bars");
    group.sample_size(20);
    for bars in [104, 1_000, 10_000] {
        let rhythm = rhythm(bars, MARKS);
        let counting = count(&rhythm);
        group.throughput(Throughput::Elements(u64::try_from(bars).expect("few bars")));
        group.bench_with_input(BenchmarkId::from_parameter(bars), &rhythm, |bencher, rhythm| {
            bencher.iter(|| engrave(black_box(rhythm), &counting, &Layout::default()));
        });
    }
    group.finish();
}

criterion_group!(benches, pages, growth);
criterion_main!(benches);
