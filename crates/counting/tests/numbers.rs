//! Counting in the numbers system.
//!
//! Sources: every full bar starts on count 1 and its beats are numbered consecutively, every beat is counted
//! aloud, also through rests and held notes, the "and" is counted where something begins there, beamed and
//! single eighths are counted alike: common practice, no source. `1 e & a` and `1 la li`: read in an
//! encyclopedia article on counting in music and a music teacher's survey of systems (2014). `ta` for the
//! sixteenths of a beat in three: McHose and Tibbs, read in the same survey.

use proptest::prelude::*;
use rhythm::{Deed, Rhythm, text};

#[track_caller]
fn rhythm(text: &str) -> Rhythm {
    let reading = text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics))
}

/// Checks the count line of `text`: struck counts bare, held ones with `_`, silent ones in parentheses.
#[track_caller]
fn check(text: &str, expected: &str) {
    let line = counting::count(&rhythm(text));
    let bars = line.bars().iter().map(|bar| {
        let counts = bar.counts().iter().map(|count| {
            let word = count.say.as_ref().map_or("·", |word| word.as_str());
            match count.deed {
                Deed::Attack => word.to_owned(),
                Deed::Hold => format!("_{word}"),
                Deed::Rest => format!("({word})"),
            }
        });
        counts.collect::<Vec<_>>().join(" ")
    });
    assert_eq!(bars.collect::<Vec<_>>().join(" | "), expected, "{text}");
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
    check("2 | 1 |", "2 _3 _4 | 1 _2 _3 _4");
}

/// What has no word is an attack all the same, with nothing to say.
#[test]
fn an_attack_without_a_word_is_a_count() {
    check("meter: 2/4\n| 1/32 7/32 1/4 |", "1 · 2");
    check("meter: 2/2\n| 1/16 7/16 1/2 |", "1 · 2");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Every attack is a count, every felt beat is a count, and no place is counted twice.
    #[test]
    fn attacks_and_beats_are_all_counted(lengths in prop::collection::vec((1u32..9, 0u8..3), 1..12)) {
        let mut at = 0;
        let mut sounding = false;
        let mut words = Vec::new();
        for (length, deed) in lengths {
            let length = length.min(16 - at);
            if length == 0 { break; }
            at += length;
            words.push(match deed {
                0 => { sounding = false; format!("({length}/16)") }
                1 if sounding => format!("_{length}/16"),
                _ => { sounding = true; format!("{length}/16") }
            });
        }
        if at < 16 { words.push(format!("({}/16)", 16 - at)); }
        let rhythm = rhythm(&format!("| {} |", words.join(" ")));
        let bar = &rhythm.bars()[0];
        let line = counting::count(&rhythm);
        let counts = line.bars()[0].counts();
        for event in bar.events().iter().filter(|event| event.deed == Deed::Attack) {
            prop_assert!(counts.iter().any(|count| count.at == event.at && count.deed == Deed::Attack));
        }
        prop_assert_eq!(counts.iter().filter(|count| count.on_beat).count(), 4);
        prop_assert!(counts.windows(2).all(|pair| pair[0].at < pair[1].at));
    }
}
