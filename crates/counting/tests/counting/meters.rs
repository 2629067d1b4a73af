//! Asymmetrical meters, cut bars, bars of rest, and what lies across the beats.

use counting::{Settings, System, count_in};
use rhythm::{Bar, BarsOfRest, Form, Tuplet};
use timebase::Span;

use crate::rhythms::{check, events, meter, of_bars, shown, system, words};

/// Through the bar or by group: a music teacher's survey of systems, read, for 5/8; 1 2 1 2 1 2 3: from memory.
#[test]
fn asymmetrical_bars_in_numbers() {
    check("numbers", "5/8", "5*1/8", "1 2 3 4 5");
    check("numbers", "5/8 2+3", "5*1/8", "1 2 3 4 5");
    check("numbers", "7/8 2+2+3 by group", "7*1/8", "1 2 1 2 1 2 3");
    check("numbers by-group", "7/8 2+2+3", "7*1/8", "1 2 1 2 1 2 3");
    check("numbers by-group", "5/4 3+2", "5*1/4", "1 2 3 1 2");
    check("numbers by-group", "4/4 3+3+2", "8*1/8", "1 2 3 1 2 3 1 2");
    check("numbers", "7/8 2+2+3", "1/4 1/8 2*1/16 3/8", "1 _2 3 4 & 5 _6 _7");
    check("numbers unequal-beats", "7/8 2+2+3", "7*1/8", "1 & 2 & 3 la li");
    check("numbers unequal-beats and-a", "7/8 2+2+3", "7*1/8", "1 & 2 & 3 & a");
    check("slow-six by-group", "8/8 3+3+2", "8*1/8", "1 2 3 1 2 3 1 2");
}

/// 5/8 and 7/8: takadimi read in Hoffman, Pelto and White 1996; Gordon second-hand; te on every eighth but the beats is
/// proposed by Gary Garner for McHose and Tibbs, read.
#[test]
fn unequal_beats() {
    check("takadimi", "5/8 2+3", "5*1/8", "ta di ta ki da");
    check("takadimi", "7/8 3+2+2", "7*1/8", "ta ki da ta di ta di");
    check("takadimi", "7/8 3+2+2", "3/8 4*1/16 1/4", "ta ta ka di mi ta");
    check("takadimi", "5/8 2+3", "5/8", "ta _ta");
    check("takadimi", "4/4 3+3+2", "8*1/8", "ta ki da ta ki da ta di");
    check("takadimi", "9/8 2+2+2+3", "9*1/8", "ta di ta di ta di ta ki da");
    check("gordon", "5/8 2+3", "5*1/8", "du be du ba bi");
    check("gordon", "7/8 2+2+3", "8*1/16 6*1/16", "du ta be ta du ta be ta du ta ba ta bi ta");
    check("mchose-tibbs unequal-beats", "7/8 2+2+3", "7*1/8", "1 te 2 te 3 te te");
    // A group of four divides as a beat twice as long.
    check("takadimi", "7/8 4+3", "7*1/8", "ta ka di mi ta ki da");
    // Nobody declared a grouping, or it groups beats: then the units are the beats.
    check("takadimi", "7/8", "7*1/8", "ta ta ta ta ta ta ta");
    check("takadimi", "5/4 3+2", "5*1/4", "ta ta ta ta ta");
    // Groups that are equal are felt as the meter is, unless they are counted by themselves.
    check("takadimi", "6/8 3+3", "6*1/8", "ta ki da ta ki da");
    check("takadimi", "6/8 3+3 by group", "6*1/8", "ta ki da ta ki da");
}

/// The words go by the place in each beat (takadimi: read; two-beat triplets in McHose and Tibbs: Gary Garner's handout).
#[test]
fn tuplets_across_beats() {
    check("takadimi", "2/4", "3*1/6", "ta da _ta ki");
    check("mchose-tibbs", "2/4", "3*1/6", "1 li _2 la");
    check("numbers", "2/4", "3*1/6", "1 li _2 la");
    check("takadimi", "2/4", "5*1/10", "ta di ti _ta ka mi");
    check("numbers", "4/4", "3*1/3", "1 _2 la _3 li _4");
}

/// n ta te ta for duplets and quadruplets: a handout on McHose and Tibbs (2010), read. di is always the half: Hoffman,
/// Pelto and White 1996, read.
#[test]
fn two_and_four_in_a_beat_of_three() {
    let check = |names: &str, written: &str, tuplets: &[(u32, u32, i64)], expected: &str| {
        let tuplets = tuplets.iter().scan(Span::ZERO, |at, &(actual, normal, eighths)| {
            let tuplet = Tuplet { at: *at, length: Span::EIGHTH * eighths, actual, normal };
            *at += tuplet.length;
            Some(tuplet)
        });
        let bar = Bar::new(1, meter("6/8"), Form::Lengths, events(Span::ZERO, written)).expect("a full bar");
        let bar = bar.with_tuplets(tuplets.collect()).expect("tuplets");
        let line = count_in(&of_bars(vec![bar]), &system(names), &Settings::default());
        assert_eq!(words(&line), expected, "{names}: {written}");
    };
    let duplets = &[(2, 3, 3), (2, 3, 3)];
    check("numbers", "4*3/16", duplets, "1 & 2 &");
    check("mchose-tibbs", "4*3/16", duplets, "1 te 2 te");
    check("takadimi", "4*3/16", duplets, "ta di ta di");
    check("gordon", "4*3/16", duplets, "du de du de");
    check("numbers", "4*3/32 3/8", &[(4, 3, 3)], "1 e & a 2");
    // Four in the time of both beats.
    check("numbers", "4*3/16", &[(4, 6, 6)], "1 & 2 &");
    // Without a tuplet they are dotted eighths, and the half is the fourth sixteenth.
    check("numbers", "4*3/16", &[], "1 ta 2 ta");
    // Quarters of the beat have a row of their own, tuplet or not.
    check("numbers", "4*3/32 3/8", &[], "1 e & a 2");
}

/// Common practice, no source: bars of rest are counted **1** 2 3 4, **2** 2 3 4.
#[test]
fn bars_of_rest_say_their_number() {
    let check = |names: &str, in_meter: &str, expected: &str| {
        let meter = meter(in_meter);
        let rest = |number: u32, index: u32, of: u32| {
            let events = events(Span::ZERO, &format!("({})", meter.bar_length()));
            let bar = Bar::new(number, meter, Form::Counts, events).expect("a full bar");
            bar.with_rest(BarsOfRest { index, of }).expect("bars of rest")
        };
        let rhythm = of_bars((1..=2).map(|number| rest(number, number, 2)).collect());
        let line = count_in(&rhythm, &system(names), &Settings::default());
        let bars = line.bars().iter().map(|bar| bar.counts().iter().map(shown).collect::<Vec<_>>().join(" "));
        assert_eq!(bars.collect::<Vec<_>>().join(" | "), expected, "{names}, {in_meter}");
    };
    check("numbers", "4/4", "(1), (2), (3), (4), | (2), (2), (3), (4),");
    check("numbers", "6/8", "(1), (2), | (2), (2),");
    check("slow-six", "6/8", "(1), (2), (3), (4), (5), (6), | (2), (2), (3), (4), (5), (6),");
    check("takadimi", "3/4", "<(1)> <(2)> <(3)> | <(2)> <(2)> <(3)>");
    check("gordon", "2/4", "<(1)> <(2)> | <(2)> <(2)>");
    check("kodaly", "2/4", "(1), (2), | (2), (2),");
}

/// Common practice, no source: only what lies inside a bar that is cut is counted, and by its number in the full bar.
#[test]
fn cut_bars_keep_their_numbers() {
    let check = |names: &str, expected: &str| {
        let meter = meter("4/4");
        let part = |number, at: Span, text: &str| {
            Bar::cut(number, meter, Form::Lengths, events(at, text)).expect("a part of a bar")
        };
        let bars = vec![
            part(0, Span::new(5, 8), "1/8 1/4"),
            part(1, Span::ZERO, "1/4 1/4"),
            part(1, Span::HALF, "1/8 1/8 1/4"),
            part(2, Span::ZERO, "1/2 1/8"),
        ];
        let line = count_in(&of_bars(bars), &system(names), &Settings::default());
        assert_eq!(words(&line), expected, "{names}");
    };
    check("numbers", "& 4 | 1 2 | 3 & 4 | 1 _2 3");
    check("takadimi", "di ta | ta ta | ta di ta | ta _ta ta");
    check("kodaly", "ti ta | ta ta | ti ti ta | ta _a ti");
}

/// A meter may change from bar to bar.
#[test]
fn every_bar_is_counted_in_its_own_meter() {
    let bar = |number, in_meter: &str, text: &str| {
        Bar::new(number, meter(in_meter), Form::Lengths, events(Span::ZERO, text)).expect("a full bar")
    };
    let rhythm = of_bars(vec![
        bar(1, "2/4", "2*1/8 1/4"),
        bar(2, "6/8", "6*1/8"),
        bar(3, "5/8 3+2", "5*1/8"),
        bar(4, "2/4", "2*1/8 1/4"),
    ]);
    let line = count_in(&rhythm, System::numbers(), &Settings::default());
    assert_eq!(words(&line), "1 & 2 | 1 la li 2 la li | 1 2 3 4 5 | 1 & 2");
    let line = count_in(&rhythm, &system("takadimi"), &Settings::default());
    assert_eq!(words(&line), "ta di ta | ta ki da ta ki da | ta ki da ta di | ta di ta");
}
