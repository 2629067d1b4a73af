//! Any text as written counting: it has an answer in every system that answers every count once and points at the text, and it is a rhythm
//! or errors that point at it.

#![no_main]

use std::sync::LazyLock;

use counting::{CountLine, Settings, System, answers, count_in, read_rhythm};
use libfuzzer_sys::fuzz_target;
use rhythm::Rhythm;

/// A simple and a compound meter, thirds in a simple beat, unequal beats, a pickup, holds and rests.
const KEYS: [&str; 3] = [
    "4 & | 1 2 & 3 e & a 4 | _1 2 & (3) 4 la li | 1 3 & (4) & |",
    "meter: 6/8\n| 1 la li 2 ta la ta li ta | 1 _2 li | (1) 2 |",
    "meter: 7/8 2+2+3\n| 1 2 3 4 5 6 7 | 1 3 _5 6 & 7 |",
];

static LINES: LazyLock<Vec<(Rhythm, CountLine)>> = LazyLock::new(|| {
    let rhythms = KEYS.iter().map(|text| rhythm::text::read(text).rhythm.expect("the keys are rhythms"));
    rhythms
        .flat_map(|rhythm| {
            let lines = System::shipped().iter().map(|system| count_in(&rhythm, system, &Settings::default()));
            lines.map(|line| (rhythm.clone(), line)).collect::<Vec<_>>()
        })
        .collect()
});

fuzz_target!(|text: &str| {
    for (rhythm, line) in LINES.iter() {
        let answer = answers::check(line, rhythm, text);
        let counts = line.bars().iter().flat_map(|bar| bar.counts()).filter(|count| count.say.is_some()).count();
        assert_eq!(answer.of(), counts);
        let words = answer.counts().iter().filter_map(|count| count.written.as_ref()).map(|word| &word.span);
        let evidence = answer.misunderstandings().iter().flat_map(|found| &found.evidence);
        for span in words.chain(evidence) {
            assert!(text.get(span.clone()).is_some_and(|word| !word.is_empty()), "it points at the text");
        }
        match read_rhythm(line.system(), rhythm.bars()[0].meter(), text) {
            Ok(read) => assert!(!read.bars().is_empty()),
            Err(errors) => {
                for error in errors {
                    assert!(text.get(error.span.clone()).is_some(), "an error points at the text");
                }
            }
        }
    }
});
