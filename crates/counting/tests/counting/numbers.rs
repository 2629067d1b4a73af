//! Counting in the numbers system.
//!
//! Sources: every full bar starts on count 1 and its beats are numbered consecutively, every beat is counted
//! aloud, also through rests and held notes, the "and" is counted where something begins there, beamed and
//! single eighths are counted alike: common practice, no source. `1 e & a` and `1 la li`: read in an
//! encyclopedia article on counting in music and a music teacher's survey of systems (2014). `ta` for the
//! sixteenths of a beat in three: McHose and Tibbs, read in the same survey.

use rhythm::{Rhythm, text};

use crate::rhythms::words;

#[track_caller]
fn rhythm(text: &str) -> Rhythm {
    let reading = text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics))
}

/// Checks the count line of `text`: struck counts bare, held ones with `_`, silent ones in parentheses.
#[track_caller]
fn check(text: &str, expected: &str) {
    assert_eq!(words(&counting::count(&rhythm(text))), expected, "{text}");
}

#[test]
fn every_beat_is_counted_also_through_holds_and_rests() {
    check("| 1 |", "1 _2 _3 _4");
    check("| 1 3 |", "1 _2 3 _4");
    check("| 1 _2 3 |", "1 _2 3 _4");
    check("| (1) 4 |", "(1) (2) (3) 4");
    check("| 1 (2 3 4) |", "1 (2) (3) (4)");
    check("| 1 2 3 4 & | _1 2 (3) |", "1 2 3 4 & | _1 2 (3) (4)");
    check("meter: 6/8\n| 1 | _1 (2) |", "1 _2 | _1 (2)");
}

#[test]
fn between_the_beats_only_what_begins_is_counted() {
    check("| 1 _2 & 3 (&) 4 |", "1 _2 & 3 (&) 4");
    check("meter: 2/4\n| 1 e & a 2 |", "1 e & a 2");
    check("meter: 2/4\n| 1 _& a 2 |", "1 a 2");
    check("meter: 2/4\n| 1/8. _1/16 1/4 |", "1 2");
    check("meter: 2/4\n| 1 la li 2 |", "1 la li 2");
    check("meter: 2/4\n| 1 _la ta li 2 & |", "1 ta li 2 &");
    check("meter: 6/8\n| 1 la li 2 |", "1 la li 2");
    check("meter: 6/8\n| 1 _la ta li 2 |", "1 ta li 2");
    check("meter: 6/8\n| 1 ta la ta li ta 2 |", "1 ta la ta li ta 2");
    check("meter: 6/8 in 6\n| 1 4 |", "1 _2 _3 4 _5 _6");
    check("meter: 2/2\n| 1 & 2 |", "1 & 2");
}

#[test]
fn beamed_and_single_eighths_count_alike() {
    check("meter: 2/4\n| 1/8 1/8 1/4 |", "1 & 2");
    check("meter: 2/4\n| 1/8 , 1/8 1/4 |", "1 & 2");
    check("meter: 2/4\n| 1 & 2 |", "1 & 2");
}

#[test]
fn a_pickup_ends_on_the_last_count() {
    check("4 & | 1 2 3 4 |", "4 & | 1 2 3 4");
    check("& | 1 |", "& | 1 _2 _3 _4");
    check("meter: 6/8\nli | 1 2 |", "li | 1 2");
    check("2 | 1 |", "2 _3 _4 | 1");
}

/// What has no word is an attack all the same, with nothing to say.
#[test]
fn an_attack_without_a_word_is_a_count() {
    check("meter: 2/4\n| 1/32 7/32 1/4 |", "1 · 2");
    check("meter: 2/2\n| 1/16 7/16 1/2 |", "1 · 2");
}
