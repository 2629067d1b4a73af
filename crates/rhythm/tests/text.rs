//! Rhythm text, read and written.

use proptest::prelude::*;
use rhythm::text::{Place, Severity, read, read_piece, write, write_piece};
use rhythm::{Deed, Rhythm};

/// A rhythm in short: bar by bar, `at+length` of every event, `!` struck, `_` held, `.` silent.
fn short(rhythm: &Rhythm) -> String {
    let bars = rhythm.bars().iter().map(|bar| {
        let events = bar.events().iter().map(|event| {
            let deed = match event.deed {
                Deed::Attack => '!',
                Deed::Hold => '_',
                Deed::Rest => '.',
            };
            format!("{deed}{}+{}", event.at, event.length)
        });
        events.collect::<Vec<_>>().join(" ")
    });
    bars.collect::<Vec<_>>().join(" | ")
}

#[track_caller]
fn rhythm(text: &str) -> Rhythm {
    let reading = read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics))
}

#[track_caller]
fn check(text: &str, expected: &str) {
    let rhythm = rhythm(text);
    assert_eq!(short(&rhythm), expected, "{text}");
    assert_eq!(read(&write(&rhythm)).rhythm.as_ref(), Some(&rhythm), "written again:\n{}", write(&rhythm));
}

/// The first error of `text`: its line and column, and words its message and help must hold.
#[track_caller]
fn check_error(text: &str, line: usize, column: usize, words: &[&str]) {
    let reading = read(text);
    assert_eq!(reading.rhythm, None, "{text} was read");
    let error = reading.diagnostics.iter().find(|d| d.severity == Severity::Error).expect("an error");
    let said = format!("{}\n{}", error.message, error.help);
    for word in words {
        assert!(said.contains(word), "{text}: {word:?} is missing in\n{said}");
    }
    let place = Place::of(text, error.span.start);
    assert_eq!((place.line, place.column), (line, column), "{text}: {said}");
}

#[test]
fn counts_are_attacks_that_last_until_the_next() {
    check("| 1 2 & 3 (4) |", "!0+1/4 !1/4+1/8 !3/8+1/8 !1/2+1/4 .3/4+1/4");
    check("| 1 3 |", "!0+1/2 !1/2+1/2");
    check("| 1 _2 3 |", "!0+1/4 _1/4+1/4 !1/2+1/2");
    check("| 1 (2 3 4) |", "!0+1/4 .1/4+3/4");
    check("| 1 (2) (3) 4 |", "!0+1/4 .1/4+1/4 .1/2+1/4 !3/4+1/4");
    check("| 1 |", "!0+1");
}

#[test]
fn a_tie_over_the_bar_line() {
    check("| 1 2 3 4 & | _1 2 |", "!0+1/4 !1/4+1/4 !1/2+1/4 !3/4+1/8 !7/8+1/8 | _0+1/4 !1/4+3/4");
    check("| 1 | _1 | _1 (3) |", "!0+1 | _0+1 | _0+1/2 .1/2+1/2");
}

#[test]
fn counts_are_typed_as_teachers_type() {
    check("meter: 2/4\n| 1e+a 2 and |", "!0+1/16 !1/16+1/16 !1/8+1/16 !3/16+1/16 !1/4+1/8 !3/8+1/8");
    check("meter: 2/4\n1E&A 2AND", "!0+1/16 !1/16+1/16 !1/8+1/16 !3/16+1/16 !1/4+1/8 !3/8+1/8");
    check("meter: 2/4\n| 1anda 2 |", "!0+1/8 !1/8+1/16 !3/16+1/16 !1/4+1/4");
}

#[test]
fn a_hold_that_names_what_follows_leaves_the_spelling_to_the_program() {
    check("| 1 _2 & 3 |", "!0+3/8 !3/8+1/8 !1/2+1/2");
    check("| 1 (2) & 3 |", "!0+1/4 .1/4+1/8 !3/8+1/8 !1/2+1/2");
    check("| (1 2) & 3 |", ".0+3/8 !3/8+1/8 !1/2+1/2");
    check("meter: 6/8\n| 1 _la ta li 2 |", "!0+3/16 !3/16+1/16 !1/4+1/8 !3/8+3/8");
    check("meter: 6/8\n| (1 la) ta li 2 |", ".0+3/16 !3/16+1/16 !1/4+1/8 !3/8+3/8");
}

#[test]
fn compound_beats_divide_in_three() {
    check("meter: 6/8\n| 1 la li 2 li |", "!0+1/8 !1/8+1/8 !1/4+1/8 !3/8+1/4 !5/8+1/8");
    check(
        "meter: 6/8\n| 1 ta la ta li ta 2 |",
        "!0+1/16 !1/16+1/16 !1/8+1/16 !3/16+1/16 !1/4+1/16 !5/16+1/16 !3/8+3/8",
    );
    check(
        "meter: 6/8 in 6\n| 1 & 2 3 4 5 6 |",
        "!0+1/16 !1/16+1/16 !1/8+1/8 !1/4+1/8 !3/8+1/8 !1/2+1/8 !5/8+1/8",
    );
    check("meter: 2/2\n| 1 e & a 2 |", "!0+1/8 !1/8+1/8 !1/4+1/8 !3/8+1/8 !1/2+1/2");
}

#[test]
fn a_triplet_in_a_simple_beat() {
    check("meter: 2/4\n| 1 la li 2 |", "!0+1/12 !1/12+1/12 !1/6+1/12 !1/4+1/4");
    check("meter: 2/4\n| 1 ta la 2 |", "!0+1/24 !1/24+1/24 !1/12+1/6 !1/4+1/4");
    // The half of a beat is `ta` beside a third and `&` by itself.
    check("meter: 2/4\n| 1 _la ta li 2 & |", "!0+1/8 !1/8+1/24 !1/6+1/12 !1/4+1/8 !3/8+1/8");
    check("la ta | 1 2 3 4 | 1 |", "!5/6+1/24 !7/8+1/8 | !0+1/4 !1/4+1/4 !1/2+1/4 !3/4+1/4 | !0+5/6");
    check("meter: 2/4\n| {3:2 1/8 1/8 1/8} 1/4 |", "!0+1/12 !1/12+1/12 !1/6+1/12 !1/4+1/4");
    check("meter: 2/4\n| 1/4 {3:2 1/8 (1/8) 1/8} |", "!0+1/4 !1/4+1/12 .1/3+1/12 !5/12+1/12");
    check("meter: 2/4\n| {3:2 1/8 1/8. 1/16} 1/4 |", "!0+1/12 !1/12+1/8 !5/24+1/24 !1/4+1/4");
}

#[test]
fn lengths_keep_the_authors_values() {
    check(
        "| 1/4 1/8 1/8 (1/4) 1/8. 1/16 | _1/2. 1/4 |",
        "!0+1/4 !1/4+1/8 !3/8+1/8 .1/2+1/4 !3/4+3/16 !15/16+1/16 | _0+3/4 !3/4+1/4",
    );
    check("| 1/2.. 1/8 |", "!0+7/8 !7/8+1/8");
    check("meter: 2/4\n| 1/8 , 1/8 1/4 | 1 2 |", "!0+1/8 !1/8+1/8 !1/4+1/4 | !0+1/4 !1/4+1/4");
    assert!(rhythm("meter: 2/4\n| 1/8 , 1/8 1/4 |").bars()[0].events()[1].beam_broken);
}

#[test]
fn pickups_belong_to_the_end_of_their_bar() {
    check("4 & | 1 2 3 4 | 1 |", "!3/4+1/8 !7/8+1/8 | !0+1/4 !1/4+1/4 !1/2+1/4 !3/4+1/4 | !0+3/4");
    check("1/8 | 1 | 1/1 |", "!7/8+1/8 | !0+1 | !0+1");
    check("meter: 6/8\nli | 1 2 | 1 (2) |", "!5/8+1/8 | !0+3/8 !3/8+3/8 | !0+3/8 .3/8+1/4");
    let numbers: Vec<u32> = rhythm("4 | 1 | 1 |").bars().iter().map(rhythm::Bar::number).collect();
    assert_eq!(numbers, [0, 1, 2]);
    // A first bar that begins on count 1 is no pickup, with or without its bar line.
    assert_eq!(rhythm("1 2 | 1 |").bars()[0].number(), 1);
}

/// Common practice, no source: the last bar of a rhythm with a pickup is as much shorter as the pickup is long.
#[test]
fn the_last_bar_is_the_complement_of_the_pickup() {
    check("4 | 1 2 3 |", "!3/4+1/4 | !0+1/4 !1/4+1/4 !1/2+1/4");
    check("4 | 1 |", "!3/4+1/4 | !0+3/4");
    check("& | 1 |", "!7/8+1/8 | !0+7/8");
    check("(3) 4 | 1 |", ".1/2+1/4 !3/4+1/4 | !0+1/2");
    check("1/4 | 1/2. |", "!3/4+1/4 | !0+3/4");
    // A count that is written is played: the bar is then full.
    check("4 | 1 2 3 4 |", "!3/4+1/4 | !0+1/4 !1/4+1/4 !1/2+1/4 !3/4+1/4");
    check("4 | 1 (4) |", "!3/4+1/4 | !0+3/4 .3/4+1/4");
    check("4 | 1 (3 4) |", "!3/4+1/4 | !0+1/2 .1/2+1/2");
    check("4 | 1/1 |", "!3/4+1/4 | !0+1");
    check("4 | [lasts 1] 1 |", "!3/4+1/4 | !0+1");
    check(
        "li | _1 la li 2 | % |",
        "!11/12+1/12 | _0+1/12 !1/12+1/12 !1/6+1/12 !1/4+3/4 | _0+1/12 !1/12+1/12 !1/6+1/12 !1/4+3/4",
    );
    // Two wholes in an equation are written 2/1, not as a bare number.
    check("| [quarter = 6/3] 1 |", "!0+1");
    // Only the last bar.
    check_error("1/4 | 1/2. | 1/1 |", 1, 7, &["too early"]);
}

#[test]
fn repeats_are_played_out() {
    let order = |text: &str| {
        let bars: Vec<String> =
            rhythm(text).performance().bars().iter().map(|b| format!("{}.{}", b.number, b.pass)).collect();
        bars.join(" ")
    };
    assert_eq!(order("| 1 | % | 1 2 |"), "1.1 2.1 3.1");
    assert_eq!(order("|: 1 | 2/2 :| 1 |"), "1.1 2.1 1.2 2.2 3.1");
    assert_eq!(order("| 1 |: 1 :| 3 times | 1 |"), "1.1 2.1 2.2 2.3 3.1");
    assert_eq!(order("4 | 1 | 1 :| 1 |"), "0.1 1.1 2.1 1.2 2.2 3.1");
    assert_eq!(order("|: 1 :|: 1 :|\n|: 1 :|"), "1.1 1.2 2.1 2.2 3.1 3.2");
    check("|: 1 2 | % :| 3 times\n| 1 |", "!0+1/4 !1/4+3/4 | !0+1/4 !1/4+3/4 | !0+1");
}

#[test]
fn the_meter_and_the_felt_beat_change_before_a_bar() {
    check(
        "meter: 2/4\n| 1 2 | [3/4] 1 3 | [6/8 in 6] 1 6 |",
        "!0+1/4 !1/4+1/4 | !0+1/2 !1/2+1/4 | !0+5/8 !5/8+1/8",
    );
}

#[test]
fn the_head() {
    let text =
        "# a comment\n\ntitle: Tin Roof\nMeter: 3/4\ntempo: dotted quarter = 62.5\n| 1 2 3 | # the end\n";
    let rhythm = rhythm(text);
    assert_eq!(rhythm.title(), Some("Tin Roof"));
    assert_eq!(rhythm.tempo().to_string(), "dotted quarter = 62.5");
    assert_eq!(write(&rhythm), "title: Tin Roof\nmeter: 3/4\ntempo: dotted quarter = 62.5\n\n| 1 2 3 |\n");
}

#[test]
fn errors_point_at_the_token_and_say_what_is_allowed() {
    check_error("| 1 2 3 5 |", 1, 9, &["no count 5 in 4/4", "1 to 4"]);
    check_error("meter: 6/8\n| 1 2 3 |", 2, 7, &["no count 3 in 6/8", "1 to 2", "[6/8 in 3]"]);
    check_error("| 1 3 2 |", 1, 7, &["`2` stands after `3`", "rise"]);
    check_error("| 1 1 |", 1, 5, &["written twice"]);
    check_error("| 2 3 |", 1, 3, &["every full bar begins at count 1", "`1`", "`(1)`", "`_1`"]);
    check_error("| & 2 |", 1, 3, &["before any number"]);
    check_error("| (1) _2 |", 1, 7, &["nothing sounds before this hold"]);
    check_error("| _1 2 |", 1, 3, &["nothing sounds before this hold"]);
    check_error("| 1 (2) | _1 |", 1, 11, &["nothing sounds before this hold"]);
    check_error("| 1 foo |", 1, 5, &["`foo`", "counts", "lengths"]);
    check_error("| 1 é |", 1, 5, &["`é`"]);
    check_error("| 1 & la |", 1, 7, &["`la` and `&` stand in one beat", "not both"]);
    check_error("meter: 6/8\n| 1 & 2 |", 2, 5, &["`&` is not a part", "1 la li", "[6/8 in 6]"]);
    check_error("| 1 (2 |", 1, 5, &["not closed"]);
    check_error("| 1 2) |", 1, 6, &["closes nothing"]);
    check_error("| 1 () |", 1, 5, &["names no count", "(2)"]);
    check_error("| 1 _ |", 1, 5, &["before no count"]);
    check_error("| 1 | | 1 |", 1, 7, &["nothing stands between"]);
    check_error("% | 1 |", 1, 1, &["first"]);
    check_error("| 1 % |", 1, 5, &["`%` stands among counts"]);
    check_error("| 1 1/4 |", 1, 3, &["a count stands among lengths"]);
    check_error("|: 1 |", 1, 1, &["not closed", ":|"]);
    check_error("|: 1 :| 99 times", 1, 9, &["99", "2 to 50"]);
    check_error("", 1, 1, &["no bar is written"]);
    check_error("title: x\nmeter: 5\n| 1 |", 2, 8, &["`5` is not a meter"]);
    check_error("tempo: quick\n| 1 |", 1, 8, &["`quick` is not a tempo", "quarter = 88"]);
    check_error("tempo: quarter = 900\n| 1 |", 1, 8, &["900", "from 20 to 300"]);
    check_error("speed: 5\n| 1 |", 1, 1, &["`speed:`", "title:", "meter:", "tempo:"]);
    check_error("| 1 |\nmeter: 3/4\n", 2, 1, &["`meter:` stands among the bars"]);
    check_error("| [3/4 1 2 3 |", 1, 3, &["not closed"]);
    check_error("| [6/8 in 5] 1 |", 1, 4, &["cannot be felt in 5", "1, 2, 3, 6, 12"]);
    check_error("| 1 (4 bars) |", 1, 8, &["a rest of several bars", "bar lines of its own"]);
    check_error("| 1/4 1/2 |", 1, 7, &["1/4 of a whole note too early", "(1/4)"]);
    check_error("| 1/4 1/1 |", 1, 7, &["goes over the end"]);
    check_error("| 1/3 1/1 |", 1, 3, &["1/3 is not a length"]);
    check_error("meter: 2/2\n| 1 e e & |", 2, 7, &["written twice", "[2/2 in 4]", "lengths"]);
    check_error("|: (1) :|: _1 (2) :|", 1, 12, &["nothing sounds"]);
    check_error("| 1/1 1/4 |", 1, 7, &["where nothing is left"]);
    // The commonest slips.
    check_error("meter: 6/8\n| 1 2 3 4 5 6 |", 2, 7, &["no count 3", "[6/8 in 6]"]);
    check_error("meter: 12/8\n| 1 2 3 4 5 6 7 8 9 10 11 12 |", 2, 11, &["no count 5", "[12/8 in 12]"]);
    check_error("meter 6/8\n| 1 2 |", 1, 1, &["the colon behind `meter` is missing", "`meter: 6/8`"]);
    check_error("title: x\nTempo quarter = 90\n| 1 2 |", 2, 1, &["colon", "`tempo: quarter = 90`"]);
    check_error("| 1 2 |\nsticking R L\n", 2, 1, &["`sticking`", "colon"]);
    check_error("| (4 bar) |", 1, 6, &["(4 bars)"]);
}

/// One slip is one error: what follows from it alone is not told.
#[test]
fn one_slip_is_told_once() {
    let check = |text: &str, words: &str| {
        let reading = read(text);
        let told: Vec<&str> = reading.diagnostics.iter().map(|d| d.message.as_str()).collect();
        assert!(matches!(told.as_slice(), [only] if only.contains(words)), "{text}: {told:?}");
    };
    check("meter: 7/8 2+2+2\n| 1 2 3 4 5 6 7 |", "2+2+2");
    check("meter: 4\n| 1 2 3 4 5 6 7 |", "`4` is not a meter");
    check("| 1 2 |\nacents: > .\n", "there is no line `acents:`");
    check("tempo quarter = 90\n| 1 2 |", "colon");
}

#[test]
fn a_hold_at_the_beginning_of_a_passage_must_hold_in_every_pass() {
    check_error("| 1 |: _1 (2) :|", 1, 8, &["when the passage is repeated"]);
    check("| 1 |: _1 2 :|", "!0+1 | _0+1/4 !1/4+3/4");
}

#[test]
fn several_errors_are_told_in_one_go() {
    let reading = read("meter: 4/4\n| 1 5 | 1 2 | 2 3 | 1 x |");
    assert_eq!(reading.diagnostics.len(), 3, "{:#?}", reading.diagnostics);
}

#[test]
fn a_silence_where_a_hold_is_likely_is_hinted_at() {
    let hints = |text: &str| -> Vec<String> {
        let reading = read(text);
        assert!(reading.rhythm.is_some(), "{text}");
        reading.diagnostics.into_iter().map(|d| d.message).collect()
    };
    assert_eq!(hints("| 1 (2) & 3 |"), ["2 is silent here; held would be `_2`"]);
    assert_eq!(hints("| 1 | (1) & 2 |"), ["1 is silent here; held would be `_1`"]);
    assert!(hints("| 1 (2) 3 & 4 |").is_empty());
    assert!(hints("| (1) (2) & 3 |").is_empty());
    assert!(hints("| 1 (2 3) & 4 |").is_empty());
}

/// A passage that grows without bound is refused before it is played out.
#[test]
fn repeats_cannot_grow_without_bound() {
    let passage = format!("|: {} :| 50 times", vec!["1"; 300].join(" | "));
    let reading = read(&passage);
    assert_eq!(reading.rhythm, None);
    assert!(reading.diagnostics[0].help.contains("10000"), "{:#?}", reading.diagnostics);
}

/// A short text may ask for more than memory holds: reading ends at the limit, and says where.
#[test]
fn what_is_written_cannot_grow_without_bound() {
    let check = |text: String, words: &str| {
        let reading = read(&text);
        assert_eq!(reading.rhythm, None);
        assert!(reading.diagnostics[0].message.contains(words), "{:?}", reading.diagnostics[0]);
        assert!(!reading.diagnostics[0].span.is_empty());
    };
    check("| (200 bars) ".repeat(700), "120000");
    check(format!("meter: 4/4\n| {}{}", "1/64 ".repeat(64), "| % ".repeat(13_000)), "800000");
    // In all parts together, at the bar that is too many.
    let parts: String = (0..64).map(|part| format!("part: p{part}\n{}|\n", "|1".repeat(2_000))).collect();
    let reading = read_piece(&parts);
    assert_eq!(reading.piece, None);
    assert_eq!(reading.diagnostics.len(), 1, "{:#?}", reading.diagnostics);
    assert!(reading.diagnostics[0].message.contains("120000"), "{:?}", reading.diagnostics[0]);
    let hints = "| 1 (2) & 3 ".repeat(100);
    let hints = read(&hints).diagnostics;
    let told: Vec<&str> = hints.iter().map(|hint| hint.message.as_str()).collect();
    assert_eq!(
        told,
        ["2 is silent here; held would be `_2`; so also in 99 more places"],
        "a hint is given once"
    );
}

/// A length that only dots can say, whatever stands before them, is written with them again.
#[test]
fn odd_dotted_lengths_are_written_as_they_can_be_read() {
    for length in ["7/64.", "5/64.", "5/64..", "5/32..", "1/64..", "9/64.", "3/64.."] {
        let rhythm = read(length).rhythm.unwrap_or_else(|| panic!("{length}"));
        let written = rhythm::text::write(&rhythm);
        assert_eq!(read(&written).rhythm, Some(rhythm), "{length}: {written}");
    }
}

/// Texts made of the pieces of the grammar, right and wrong.
fn pieces() -> impl Strategy<Value = String> {
    let piece = prop::sample::select(vec![
        "1",
        "2",
        "3",
        "4",
        "6",
        "&",
        "e",
        "a",
        "la",
        "li",
        "ta",
        "_1",
        "_2",
        "_la",
        "(",
        ")",
        "(1)",
        "(2 3)",
        "|",
        "|",
        "|",
        "|:",
        ":|",
        ":|:",
        "%",
        "3 times",
        "[3/4]",
        "[6/8 in 6]",
        "[2/2 in 4]",
        "1/4",
        "1/8.",
        "(1/4)",
        "_1/8",
        "{3:2",
        "}",
        ",",
        "\n",
        "# x\n",
        "meter: 3/4\n",
        "title: é\n",
        "0",
        "99999999999",
        "_",
        ":",
        "1/0",
        "é",
        "\u{feff}",
        "times",
        "bars",
        "||",
        "[1.]",
        "[2.]",
        "[segno]",
        "[fine]",
        "[to coda]",
        "[coda]",
        "[D.C.]",
        "[D.S. al fine]",
        "[quarter = 60]",
        "[quarter = dotted quarter]",
        "[lasts 1/2]",
        "[from 1/2]",
        "[7/8 2+2+3]",
        "[7/8 2+2+3 by group]",
        "fermata",
        "(4 bars)",
        "{5:4",
        "\nsticking: R L\n",
        "\naccents: > . | ^\n",
        "\nstrokes: flam+z ///\n",
        "\ndynamics: p< | f\n",
        "\npart: b\n",
        "\npart: c\n",
    ]);
    prop::collection::vec(piece, 0..40).prop_map(|pieces| pieces.join(" "))
}

/// A readable bar of counts in `meter`, written from the numbers `dice`.
fn bar_text(beats: u32, three: bool, dice: &[u8], sounding: &mut bool) -> String {
    let mut words = Vec::new();
    let mut die = dice.iter().copied().cycle();
    let mut roll = move || die.next().unwrap_or(0);
    let mut put = |word: &str, choice: u8, sounding: &mut bool| match choice % 5 {
        0 => {
            *sounding = false;
            words.push(format!("({word})"));
        }
        1 if *sounding => words.push(format!("_{word}")),
        _ => {
            *sounding = true;
            words.push(word.to_owned());
        }
    };
    for beat in 1..=beats {
        let choice = roll();
        if beat > 1 && choice % 3 == 0 {
            continue;
        }
        put(&beat.to_string(), roll(), sounding);
        let parts: &[&str] = match (three, choice % 4) {
            (true, 0) => &["la", "li"],
            (true, 1) => &["ta", "la", "ta", "li", "ta"],
            (true, 2) => &["li"],
            (false, 0) => &["e", "&", "a"],
            (false, 1) => &["&"],
            (false, 2) => &["la", "li"],
            _ => &[],
        };
        let skip = roll();
        for part in parts {
            if part == &"ta" || skip % 2 == 0 || roll() % 2 == 0 {
                put(part, roll(), sounding);
            }
        }
    }
    words.join(" ")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_panics(text in "\\PC{0,80}") {
        let reading = read(&text);
        prop_assert_eq!(
            reading.rhythm.is_none(),
            reading.diagnostics.iter().any(|d| d.severity == Severity::Error)
        );
    }

    #[test]
    fn no_pieces_panic_and_what_is_read_is_written_alike(text in pieces()) {
        let reading = read_piece(&text);
        for diagnostic in &reading.diagnostics {
            prop_assert!(text.get(diagnostic.span.clone()).is_some(), "{:?} in {:?}", diagnostic, text);
        }
        match reading.piece {
            Some(piece) => {
                let again = read_piece(&write_piece(&piece));
                prop_assert_eq!(again.piece, Some(piece));
            }
            None => prop_assert!(reading.diagnostics.iter().any(|d| d.severity == Severity::Error)),
        }
    }

    #[test]
    fn what_is_read_and_written_again_is_the_same_rhythm(
        meter in prop::sample::select(vec![("4/4", 4, false), ("3/4", 3, false), ("2/2", 2, false), ("6/8", 2, true), ("12/8", 4, true), ("6/8 in 6", 6, false)]),
        dice in prop::collection::vec(prop::collection::vec(any::<u8>(), 40), 1..6),
    ) {
        let (name, beats, three) = meter;
        let mut sounding = false;
        let bars: Vec<String> = dice.iter().map(|dice| bar_text(beats, three, dice, &mut sounding)).collect();
        let text = format!("meter: {name}\n| {} |", bars.join(" | "));
        let reading = read(&text);
        if let Some(rhythm) = reading.rhythm {
            let written = write(&rhythm);
            let again = read(&written);
            prop_assert_eq!(again.rhythm, Some(rhythm), "{}\n{}", text, written);
        } else {
            // The dice may write two `ta` in a row or mix two divisions; nothing else.
            for d in &reading.diagnostics {
                prop_assert!(
                    d.message.contains("`ta`") || d.message.contains("one beat") || d.message.contains("twice")
                        || d.severity == Severity::Hint,
                    "{}: {:?}", text, d
                );
            }
        }
    }
}
