//! How long a book of 300 exercises takes, from the rhythms to the bytes of its PDF.

use std::hint::black_box;

use counting::CountLine;
use criterion::{Criterion, criterion_group, criterion_main};
use paper::{Answers, Document, Exercise, Print, SheetOptions, pdf, sheet};
use rhythm::Rhythm;

/// Four bars each: ten stand on a page, where sixteenths do not need two systems.
const EXERCISES: [&str; 6] = [
    "| 1 2 & 3 (4) | 1 _2 3 & 4 & | (1) & 2 (3) 4 & | _1 _2 3 (4) |",
    "| 1 e & a 2 & a 3 e & 4 & | 1 a 2 e 3 & a 4 | 1 & 2 & 3 e & a 4 | 1 (2 3 4) |",
    "| 1 la li 2 3 la 4 li | 1 2 3 & 4 | 1 & 2 (3) 4 & | 1 2 & 3 4 |",
    "meter: 3/4\n| 1 2 3 & | 1 _2 3 | 1 & 2 & 3 | (1) 2 3 & |",
    "meter: 6/8\n| 1 la li 2 | 1 li 2 li | 1 2 la li | _1 la li 2 |",
    "meter: 2/2\n| 1 2 & | 1 e & 2 | 1 & _2 & | _1 & 2 e & |",
];

fn book(rhythms: &[(Rhythm, CountLine)], answers: Answers) -> Document {
    let exercises: Vec<Exercise<'_>> =
        rhythms.iter().map(|(rhythm, counting)| Exercise::new("Over the Stile", rhythm, counting)).collect();
    let options = SheetOptions {
        title: "A Year of Rhythms".to_owned(),
        ..SheetOptions::new(Print::default(), answers)
    };
    sheet(&exercises, &options).expect("a book")
}

fn books(criterion: &mut Criterion) {
    let rhythms: Vec<(Rhythm, CountLine)> = (0..300)
        .map(|number| {
            let rhythm = rhythm::text::read(EXERCISES[number % EXERCISES.len()]).rhythm.expect("a rhythm");
            let counting = counting::count(&rhythm);
            (rhythm, counting)
        })
        .collect();
    for (name, answers) in [("blank", Answers::Blank), ("key", Answers::Key)] {
        let document = book(&rhythms, answers);
        let bytes = pdf(&document).expect("a PDF").len();
        criterion.bench_function(
            &format!("300 exercises, {name}: {} pages, {bytes} bytes", document.pages.len()),
            |bencher| bencher.iter(|| pdf(&book(black_box(&rhythms), answers))),
        );
    }
}

criterion_group!(benches, books);
criterion_main!(benches);
