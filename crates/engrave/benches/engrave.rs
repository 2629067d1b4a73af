//! How long a page takes: a window engraves again on every key, so 16 bars are to stay under 2 ms.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use engrave::{Layout, engrave, svg};

const EIGHT_BARS: &str = "| 1 2 & 3 (4) | 1 _2 3 & 4 & | (1) & 2 (3) 4 & | _1 _2 3 (4) \
    | 1 e & a 2 & a 3 e & 4 & | 1 a 2 e 3 & a 4 e a | 1 la li 2 la li 3 la 4 li | 1 (2 3 4) ";

fn rhythm(bars: usize) -> rhythm::Rhythm {
    let text = format!("title: Bench\nmeter: 4/4\n{}|", EIGHT_BARS.repeat(bars / 8));
    rhythm::text::read(&text).rhythm.expect("the text is right")
}

fn pages(criterion: &mut Criterion) {
    for bars in [16, 400] {
        let rhythm = rhythm(bars);
        let counting = counting::count(&rhythm);
        criterion.bench_function(&format!("engrave {bars} bars"), |bencher| {
            bencher.iter(|| engrave(black_box(&rhythm), &counting, &Layout::default()));
        });
    }
    let rhythm = rhythm(16);
    let engraving = engrave(&rhythm, &counting::count(&rhythm), &Layout::default()).expect("a page");
    criterion.bench_function("write 16 bars as SVG", |bencher| {
        bencher.iter(|| svg::write(black_box(engraving.scene()), &svg::SvgOptions::default()));
    });
}

criterion_group!(benches, pages);
criterion_main!(benches);
