//! Any text as the table of a counting system: reading it ends, with an error that points at the text or with a system
//! that counts in each of its variants.

#![no_main]

use counting::{Error, Say, Settings, System, count_in};
use libfuzzer_sys::fuzz_target;

const RHYTHM: &str = "meter: 4/4\n| 1 e & a 2 la li 3 (4) | 1/8. 1/16 {3:2 1/8 (1/8) 1/8} 1/4 1/32 7/32 | [6/8] 1 ta la 2 |";

fuzz_target!(|text: &str| {
    let rhythm = rhythm::text::read(RHYTHM).rhythm.expect("the text is right");
    let count = |system: &System| {
        for (_, say) in Say::NAMED {
            let line = count_in(&rhythm, system, &Settings { say, feet: true, ..Settings::default() });
            assert_eq!(line.bars().len(), rhythm.bars().len());
        }
    };
    match System::parse(text) {
        Ok(system) => {
            count(&system);
            for variant in system.variants() {
                count(&system.with_variant(variant.name).expect("every variant was checked"));
            }
        }
        Err(Error::Table(error)) => {
            assert!(text.get(error.span.clone()).is_some(), "an error points at the text");
        }
        Err(error) => panic!("{error}"),
    }
});
