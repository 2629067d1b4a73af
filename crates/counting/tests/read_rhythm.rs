//! From counting to rhythm.
//!
//! The words are those of the systems' tables, with their sources beside them in `assets/counting`.

use counting::{Settings, System, Voicing, count_in, read_rhythm};
use proptest::prelude::*;
use rhythm::{Deed, Meter, Rhythm, text};
use timebase::Span;

fn system(name: &str) -> System {
    System::named(name).unwrap_or_else(|error| panic!("{error}"))
}

fn rhythm(text: &str) -> Rhythm {
    let reading = text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics))
}

fn meter(upper: u32, lower: u32) -> Meter {
    Meter::new(upper, lower).expect("a meter")
}

/// What sounds and what is silent, bar by bar: where an attack or a silence begins. Ties and rests side by side are one.
fn sounds(rhythm: &Rhythm) -> Vec<(u32, Span, bool)> {
    let mut sounds = Vec::new();
    let mut silent = true;
    for bar in rhythm.bars() {
        for event in bar.events() {
            match event.deed {
                Deed::Attack => sounds.push((bar.number(), event.at, true)),
                Deed::Rest if !silent => sounds.push((bar.number(), event.at, false)),
                Deed::Rest | Deed::Hold => {}
            }
            silent = event.deed == Deed::Rest;
        }
    }
    sounds
}

/// Checks that `counting` is read as `expected`, a rhythm text.
#[track_caller]
fn check(name: &str, counting: &str, expected: &str) {
    let expected = rhythm(expected);
    let read = read_rhythm(&system(name), expected.bars()[0].meter(), counting);
    let read = read.unwrap_or_else(|errors| panic!("{counting}\n{errors:#?}"));
    assert_eq!(sounds(&read), sounds(&expected), "{counting}\n{}", text::write(&read));
}

#[test]
fn words_name_places() {
    check("numbers", "1 2 & 3 4 | _1 2e+a 3 (4)", "| 1 2 & 3 4 | _1 2 e & a 3 (4) |");
    check("numbers", "1 2 & 3 4 | _1 (2 3) 4 la li", "| 1 2 & 3 4 | _1 (2) 4 la li |");
    check("takadimi", "| ta ta-di ta (ta) |", "| 1 2 & 3 (4) |");
    check("takadimi", "| ta _ta-di takadimi ta-ki-da |", "| 1 _2 & 3 e & a 4 la li |");
    check("gordon", "| du du-de (du) de du |", "| 1 2 & (3) & 4 |");
    check("mchose-tibbs", "1 te 2 te ta 3 (4)", "| 1 & 2 & a 3 (4) |");
    check("slow-six", "1 2 3 4 & 5 6", "meter: 6/8\n| 1 la li 2 ta la li |");
    check("takadimi", "ta ki da ta di da", "meter: 6/8\n| 1 la li 2 _la ta li |");
    check("takadimi", "| ta di ta ki da |", "meter: 5/8 2+3\n| 1 2 3 4 5 |");
}

#[test]
fn words_name_lengths() {
    check("kodaly", "| ti ti ta ta-a |", "| 1 & 2 3 |");
    check("kodaly", "| ta-i ti tikatika sh |", "| 1 _2 & 3 e & a (4) |");
    check("kodaly", "| ti ta ti ta ta | sh ti-i-ka ta-a |", "| 1 & _2 & 3 4 | (1) 2 _e _& a 3 |");
    check("kodaly", "ta | ta ta ta ta", "4 | 1 2 3 4 |");
    check("kodaly", "| ta ta ta ti ti | a ta ta-a", "| 1 2 3 4 & | _1 2 3 |");
    check("kodaly", "ta-i ti ti ti", "meter: 6/8\n| 1 2 la li |");
}

#[test]
fn a_pickup_ends_with_its_bar() {
    check("numbers", "4 & | 1 2 3 4", "4 & | 1 2 3 4 |");
    check("numbers", "& | 1 2 3 4", "& | 1 2 3 4 |");
    check("takadimi", "ta di | ta ta ta ta", "4 & | 1 2 3 4 |");
    check("takadimi", "di | ta ta ta ta", "& | 1 2 3 4 |");
    check("kodaly", "ti | ta-a-a-a", "& | 1 |");
}

/// As every beat is counted, a last bar behind a pickup that wants its last beats ends before them.
#[test]
fn the_last_bar_is_a_pickups_complement() {
    let check = |name: &str, head: &str, counting: &str, expected: &str| {
        let expected = rhythm(&format!("meter: {head}\n{expected}"));
        let read = read_rhythm(&system(name), expected.bars()[0].meter(), counting).expect(counting);
        assert_eq!(sounds(&read), sounds(&expected), "{counting}");
        let ends = |rhythm: &Rhythm| rhythm.bars().iter().map(rhythm::Bar::end).collect::<Vec<_>>();
        assert_eq!(ends(&read), ends(&expected), "{counting}\n{}", text::write(&read));
    };
    check("numbers", "4/4", "4 | 1 2 3 4 | 1 2 3 |", "4 | 1 2 3 4 | 1 2 3 |");
    check("numbers", "4/4", "4 | 1 2 3 4 | 1 2 3 4 |", "4 | 1 2 3 4 | [lasts 1] 1 2 3 4 |");
    check("numbers", "3/4", "3 & | 1 2 3 | 1 (2) |", "3 & | 1 2 3 | 1 (2) |");
    check("numbers", "4/4", "& | 1 2 3 4 | 1 2 3 4", "& | 1 2 3 4 | 1 2 3 4 |");
    check("takadimi", "4/4", "ta di | ta ta ta ta | ta ta-di ta", "4 & | 1 2 3 4 | 1 2 & 3 |");
    check("kodaly", "4/4", "ta | ta ta ta ta | ta ti ti ta", "4 | 1 2 3 4 | 1 2 & 3 |");
}

/// Several bars of rest are counted by their number, **1** 2 3 4, **2** 2 3 4 (common practice, no source).
#[test]
fn bars_of_rest_are_counted_by_their_number() {
    let counting = "| 1 2 3 4 | (1) (2) (3) (4) | (2) (2) (3) (4) | (3) (2) (3) (4) | 1 2 3 4 |";
    let expected = rhythm("| 1 2 3 4 | (3 bars) | 1 2 3 4 |");
    let read = read_rhythm(&system("numbers"), meter(4, 4), counting).expect(counting);
    let rests = |rhythm: &Rhythm| rhythm.bars().iter().map(rhythm::Bar::rest).collect::<Vec<_>>();
    assert_eq!(rests(&read), rests(&expected), "{}", text::write(&read));
    let wrong = |counting: &str| {
        read_rhythm(&system("numbers"), meter(4, 4), counting).expect_err(counting);
    };
    wrong("| (1) (2) (3) (4) | (3) (2) (3) (4) |");
    wrong("| 1 2 3 4 | (2) (2) (3) (4) |");
    wrong("| (1) (2) (3) (4) | (2) (2) 3 (4) |");
}

/// Durations are said by the notes as they are printed: counted or in lengths, `& _3` is two tied eighths.
#[test]
fn tied_notes_are_said_alike_in_counts_and_in_lengths() {
    let words = |text: &str| {
        let line = count_in(&rhythm(text), &system("kodaly"), &Settings::default());
        let words = line.bars()[0].counts().iter().map(|count| (count.at, count.deed, count.say.clone()));
        words.collect::<Vec<_>>()
    };
    let printed = words("| 1/8 1/4 1/8 _1/8 1/8 1/8 1/8 |");
    assert_eq!(words("| 1 & _2 & _3 & 4 & |"), printed);
    let on_three = printed.iter().find(|(at, ..)| *at == Span::HALF).expect("a count");
    assert_eq!((on_three.1, on_three.2.as_ref().map(counting::Word::as_str)), (Deed::Hold, Some("i")));
}

#[test]
fn mistakes_are_pointed_at() {
    let check = |name: &str, counting: &str, at: &str, message: &str| {
        let errors = read_rhythm(&system(name), meter(4, 4), counting).expect_err(counting);
        assert_eq!(
            (&counting[errors[0].span.clone()], errors[0].message.as_str()),
            (at, message),
            "{counting}"
        );
    };
    check("numbers", "| 1 2 3 4 5 |", "5", "there is no count 5 in 4/4");
    check(
        "numbers",
        "| 1 3 2 |",
        "2",
        "`2` stands here, but the numbers rise through a bar and none stands twice",
    );
    check("numbers", "| 1 a e 2 |", "e", "`e` does not stand behind `a` in one beat");
    check("numbers", "| 1 di 2 |", "di", "`di` is no part of this beat");
    check("numbers", "| 2 3 |", "2", "this bar does not begin with its first count");
    check("numbers", "| (1) _2 |", "_2", "nothing sounds before this hold");
    check("numbers", "| & 2 |", "&", "`&` stands before any beat");
    check("takadimi", "| ta ta ta |", "ta", "this bar has 3 beats, but 4/4 has 4");
    check("takadimi", "| ta ta ta ta ta |", "ta", "this is a beat too many: a bar of 4/4 has 4");
    check("kodaly", "| ta ta ta |", "ta", "the notes of this bar do not fill 4/4, read up to here");
    check("kodaly", "| ta ta ta do |", "do", "`do` is no word of this counting system");
    check("numbers", "", "", "nothing is counted in this text");
}

/// The counting of a rhythm, as it is typed.
fn typed(rhythm: &Rhythm, system: &System) -> String {
    // What is not said is written all the same, in parentheses.
    let settings = Settings { rests: Some(Voicing::Parentheses), ..Settings::default() };
    let line = count_in(rhythm, system, &settings);
    let bar = |bar: &counting::CountedBar| {
        let word = |count: &counting::Count| {
            let word = count.say.as_ref()?;
            Some(match count.deed {
                Deed::Attack => word.to_string(),
                Deed::Hold => format!("_{word}"),
                Deed::Rest => format!("({word})"),
            })
        };
        bar.counts().iter().filter_map(word).collect::<Vec<_>>().join(" ")
    };
    let bars: Vec<String> = line.bars().iter().map(bar).collect();
    format!("| {} |", bars.join(" | "))
}

/// A rhythm of notes whose lengths are so many `unit`s.
fn rhythm_of(head: &str, units: u32, unit: u32, lengths: &[(u32, u8)]) -> Rhythm {
    let mut text = format!("meter: {head}\n");
    let mut sounding = false;
    let mut lengths = lengths.iter().copied().cycle();
    for _ in 0..2 {
        let mut left = units;
        text += "|";
        while left > 0 {
            let (length, deed) = lengths.next().expect("it goes round");
            let length = length.clamp(1, left);
            left -= length;
            let (word, sounds) = match deed {
                0 => (format!(" ({length}/{unit})"), false),
                1 if sounding => (format!(" _{length}/{unit}"), true),
                _ => (format!(" {length}/{unit}"), true),
            };
            text += &word;
            sounding = sounds;
        }
        text += " ";
    }
    rhythm(&(text + "|"))
}

/// Where the words of a system tell places apart: its name, a meter, the units in a bar and the unit.
const TOLD_APART: [(&str, &str, u32, u32); 12] = [
    ("numbers", "4/4", 16, 16),
    ("numbers", "3/4", 12, 16),
    ("numbers", "6/8", 6, 8),
    ("numbers", "7/8 2+2+3", 14, 16),
    ("slow-six", "6/8", 12, 16),
    ("takadimi", "4/4", 16, 16),
    ("takadimi", "6/8", 12, 16),
    ("takadimi", "7/8 2+2+3", 7, 8),
    ("gordon", "4/4", 8, 8),
    ("gordon", "6/8", 6, 8),
    ("mchose-tibbs", "4/4", 8, 8),
    ("mchose-tibbs", "6/8", 6, 8),
];

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// What is counted is read back as the same attacks and silences, where the words tell them apart.
    #[test]
    fn counting_is_read_back(
        case in 0usize..TOLD_APART.len(),
        lengths in prop::collection::vec((1u32..9, 0u8..5), 1..24),
    ) {
        let (name, head, units, unit) = TOLD_APART[case];
        let rhythm = rhythm_of(head, units, unit, &lengths);
        let counting = typed(&rhythm, &system(name));
        let read = read_rhythm(&system(name), rhythm.bars()[0].meter(), &counting);
        prop_assert!(read.is_ok(), "{} {}\n{:?}", name, counting, read);
        let read = read.expect("just seen");
        prop_assert_eq!(sounds(&read), sounds(&rhythm), "{} {}\n{}", name, counting, text::write(&read));
    }

    /// Durations too, in eighths without rests.
    #[test]
    fn durations_are_read_back(lengths in prop::collection::vec((1u32..9, 1u8..5), 1..24)) {
        let rhythm = rhythm_of("4/4", 8, 8, &lengths);
        // Nothing is settled for a note of seven eighths.
        let unsaid = |event: &rhythm::Event| event.length == Span::EIGHTH * 7;
        prop_assume!(!rhythm.bars().iter().flat_map(|bar| bar.events()).any(unsaid));
        let kodaly = system("kodaly");
        let counting = typed(&rhythm, &kodaly);
        let read = read_rhythm(&kodaly, meter(4, 4), &counting);
        prop_assert!(read.is_ok(), "{}\n{:?}", counting, read);
        prop_assert_eq!(sounds(&read.expect("just seen")), sounds(&rhythm), "{}", counting);
    }

    /// Any text is a rhythm or an error that points at it.
    #[test]
    fn any_text_is_a_rhythm_or_an_error(
        text in prop_oneof![".{0,60}", "(ta|ti|di|ka|a|1|2|3|&|\\||_|\\(|\\)| ){0,60}"],
        system in 0usize..6,
        meter_index in 0usize..4,
    ) {
        let (upper, lower) = [(4, 4), (6, 8), (2, 2), (5, 8)][meter_index];
        if let Err(errors) = read_rhythm(&System::shipped()[system], meter(upper, lower), &text) {
            prop_assert!(!errors.is_empty());
            for error in errors {
                prop_assert!(text.get(error.span.clone()).is_some(), "{:?}", error);
            }
        }
    }
}
