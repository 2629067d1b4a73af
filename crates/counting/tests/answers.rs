//! Written counting held against its key.
//!
//! The verdicts follow from what the key says (its sources stand beside the counting systems' own tests). The misunderstandings, and the ways
//! in which pupils type, are common practice, no source.

use counting::answers::{Answer, CheckedCount, Compare, Settings, Verdict, check_with};
use rhythm::{Deed, Rhythm, text};

#[track_caller]
fn rhythm(text: &str) -> Rhythm {
    let reading = text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics))
}

fn marked(word: &str, deed: Deed) -> String {
    match deed {
        Deed::Attack => word.to_owned(),
        Deed::Hold => format!("_{word}"),
        Deed::Rest => format!("({word})"),
    }
}

/// An answer in one line: `2` right, `~2` written with another deed, `&≠2` another word for it, `>&` in the wrong place, `?2` missing, `+&`
/// where nothing begins.
fn verdicts(answer: &Answer) -> String {
    let shown = |count: &CheckedCount| {
        let key = count.key.as_ref().map(|key| marked(key.say.as_str(), key.deed)).unwrap_or_default();
        let written = count.written.as_ref().map(|word| marked(&word.word, word.deed)).unwrap_or_default();
        match count.verdict {
            Verdict::Right => key,
            Verdict::WrongDeed => format!("~{written}"),
            Verdict::WrongWord => format!("{written}≠{key}"),
            Verdict::WrongPlace => format!(">{key}"),
            Verdict::Missing => format!("?{key}"),
            Verdict::NothingBegins => format!("+{written}"),
        }
    };
    let bars = answer.counts().chunk_by(|a, b| a.bar == b.bar);
    bars.map(|bar| bar.iter().map(shown).collect::<Vec<_>>().join(" ")).collect::<Vec<_>>().join(" | ")
}

fn kinds(answer: &Answer) -> Vec<&'static str> {
    answer.misunderstandings().iter().map(|found| found.kind.name()).collect()
}

#[track_caller]
fn answered(key: &str, written: &str) -> Answer {
    let rhythm = rhythm(key);
    counting::answers::check(&counting::count(&rhythm), &rhythm, written)
}

/// Checks the verdicts, and the misunderstandings by name.
#[track_caller]
fn check(key: &str, written: &str, expected: &str, named: &[&str]) {
    let answer = answered(key, written);
    let says: Vec<_> = answer.misunderstandings().iter().map(|found| &found.says).collect();
    assert_eq!(verdicts(&answer), expected, "{key}\n{written}\n{says:#?}");
    assert_eq!(kinds(&answer), named, "{key}\n{written}\n{says:#?}");
}

/// Checks that `written` is right throughout.
#[track_caller]
fn right(key: &str, written: &str) {
    let answer = answered(key, written);
    assert!(answer.right() == answer.of() && answer.extra() == 0, "{key}\n{written}\n{}", verdicts(&answer));
    assert_eq!(kinds(&answer), [""; 0], "{key}\n{written}");
}

#[test]
fn every_way_of_typing_is_read() {
    let key = "| 1 & 2 & 3 e & a (4) | 1 _2 3 (4) |";
    right(key, "1 & 2 & 3 e & a (4) | 1 _2 3 (4)");
    right(key, "| 1+2+ 3e+a (4) | 1 _2 3 (4) |");
    right(key, "1 and 2 and 3 e and a (4) / 1 _2 3 (4)");
    right(key, "1And2AND3eanda(4)|1_2 3(4)");
    right(key, "1, &, 2, &, 3, e, &, a, (4); 1, _2, 3, (4).");
    right(key, "One & Two & Three e & a [Four]\nOne _two three (four)");
    right(key, "|| 1-&-2-& - 3-e-&-a (4) || 1 _2 3 (4) ||");
    right(key, "1n2n 3 e n a (4) 1 ~2 3 (4");
    right("| 1 2 3 4 | 1 2 3 4 |", "1234 | 1 2 34");
    right("meter: 6/8\n| 1 la li 2 ta la ta li ta |", "1lali 2talatalita");
    right("meter: 6/8\n| 1 la li 2 |", "1 LA-LI 2");
}

#[test]
fn missing_bar_lines_spoil_nothing() {
    let key = "| 1 & 2 3 4 | 1 2 & 3 (4) | 1 2 3 & 4 | 1 _2 3 4 |";
    right(key, "1 & 2 3 4   1 2 & 3 (4)   1 2 3 & 4   1 _2 3 4");
    right(key, "1 & 2 3 4 | 1 2 & 3 (4) 1 2 3 & 4 | 1 _2 3 4");
    check(
        key,
        "1 & 2 3 4 1 2 3 (4) 1 2 3 & 4 | 1 _2 3 4",
        "1 & 2 3 4 | 1 2 ?& 3 (4) | 1 2 3 & 4 | 1 _2 3 4",
        &[],
    );
}

#[test]
fn a_bar_line_inside_a_bar_is_told() {
    let key = "| 1 2 3 4 | 1 2 & 3 4 |";
    check(key, "1 2 3 | 4 1 2 & 3 4", "1 2 3 4 | 1 2 & 3 4", &["bar-line-inside"]);
    check(key, "1 2 3 | 4 | 1 2 & 3 4", "1 2 3 4 | 1 2 & 3 4", &["bar-line-inside"]);
}

#[test]
fn count_by_count() {
    let key = "| 1 & 2 (3) & 4 | 1 _2 3 e & 4 |";
    check(key, "1 & 2 (3) & | 1 _2 3 e & 4", "1 & 2 (3) & ?4 | 1 _2 3 e & 4", &[]);
    check(key, "1 2 (3) & 4 | 1 _2 3 e & 4", "1 ?& 2 (3) & 4 | 1 _2 3 e & 4", &[]);
    check(key, "1 & 2 & (3) & 4 | 1 _2 3 e & 4", "1 & 2 +& (3) & 4 | 1 _2 3 e & 4", &[]);
    check(key, "1 & 2 (3) e 4 | 1 _2 3 e & 4", "1 & 2 (3) e≠& 4 | 1 _2 3 e & 4", &[]);
    check(key, "1 & 2 & (3) 4 | 1 _2 3 e & 4", "1 & 2 (3) >& 4 | 1 _2 3 e & 4", &[]);
    check(key, "1 & 2 (3) & 4 |", "1 & 2 (3) & 4 | ?1 ?_2 ?3 ?e ?& ?4", &[]);
    check(key, "", "?1 ?& ?2 ?(3) ?& ?4 | ?1 ?_2 ?3 ?e ?& ?4", &[]);
    check("| 1 2 3 4 |", "1 2 ? 4", "1 2 ?≠3 4", &[]);
    check("| 1 2 3 4 |", "1 2 3 4 | 1 2", "1 2 3 4 +1 +2", &[]);
    check("| 1 3 |", "1 - 3 -", "1 _≠_2 3 _≠_4", &["hold-left-out"]);
}

#[test]
fn words_alone_can_be_compared() {
    let rhythm = rhythm("| 1 _2 3 (4) |");
    let line = counting::count(&rhythm);
    let settings = Settings { compare: Compare::Words };
    let answer = check_with(&line, &rhythm, "1 2 3 4", &settings);
    assert_eq!((answer.right(), answer.of()), (4, 4));
    assert_eq!(kinds(&answer), [""; 0]);
    let answer = check_with(&line, &rhythm, "1 2 3", &settings);
    assert_eq!(verdicts(&answer), "1 _2 3 ?(4)");
}

#[test]
fn numbers_go_wrong_in_the_usual_ways() {
    // The notes numbered: in each bar, or through the line; rests counted or not.
    let key = "| 1 & 2 & 3 4 | 1 2 & 3 (4) |";
    check(key, "1 2 3 4 5 6 | 1 2 3 4", "1 2≠& 3≠2 4≠& 5≠3 6≠4 | 1 2 3≠& 4≠3 ?(4)", &["numbered-notes"]);
    check(
        key,
        "1 2 3 4 5 6 | 7 8 9 10 (11)",
        "1 2≠& 3≠2 4≠& 5≠3 6≠4 | 7≠1 8≠2 9≠& 10≠3 (11)≠(4)",
        &["numbered-notes"],
    );
    check("| 1 3 | 1 3 |", "1 2 | 1 2", "1 ?_2 2≠3 ?_4 | 1 ?_2 2≠3 ?_4", &["numbered-notes"]);
    // Going on to 5.
    check("| 1 2 3 4 | 1 2 & 3 4 |", "1 2 3 4 | 5 6 & 7 8", "1 2 3 4 | 5≠1 6≠2 & 7≠3 8≠4", &["went-on"]);
    check(
        "meter: 3/4\n| 1 2 3 | 1 2 3 | 1 _2 3 |",
        "1 2 3 4 5 6 7 _8 9",
        "1 2 3 | 4≠1 5≠2 6≠3 | 7≠1 _8≠_2 9≠3",
        &["went-on"],
    );
    // Beginning again after a rest, counted or left out.
    check("| 1 (2) 3 4 |", "1 (2) 1 2", "1 (2) 1≠3 2≠4", &["began-again"]);
    check("| 1 2 (3) 4 & |", "1 2 1 &", "1 2 ?(3) 1≠4 &", &["began-again"]);
    // Each note's length counted from 1.
    check("| 1 3 |", "1 2 1 2", "1 ~2 1≠3 2≠_4", &["counted-values"]);
    check("| 1 2 3 |", "1 1 1 2", "1 1≠2 1≠3 2≠_4", &["counted-values"]);
    // The pickup from 1.
    check("4 & | 1 2 3 4 |", "1 & | 1 2 3 4", "1≠4 & | 1 2 3 4", &["pickup-from-one"]);
    // Rests and held beats that take no time.
    check("| 1 (2) 3 4 |", "1 2 3", "1 ?(2) 2≠3 3≠4", &["rest-left-out"]);
    check("| 1 _2 & (3) 4 |", "1 & (2) 3", "1 ?_2 & (2)≠(3) 3≠4", &["hold-left-out"]);
}

#[test]
fn words_of_a_beat_go_wrong_in_the_usual_ways() {
    let key = "meter: 2/4\n| 1 e & 2 |";
    check(key, "1 & a 2", "1 &≠e a≠& 2", &["another-group"]);
    check(key, "1 e a 2", "1 e a≠& 2", &["another-group"]);
    check("meter: 2/4\n| 1 & a 2 |", "1 e & 2", "1 e≠& &≠a 2", &["another-group"]);
    check(key, "1 la li 2", "1 la≠e li≠& 2", &["triplet-words"]);
    check("meter: 2/4\n| 1 la li 2 |", "1 & a 2", "1 &≠la a≠li 2", &["sixteenth-words"]);
    check("meter: 6/8\n| 1 la li 2 li |", "1 & a 2 &", "1 &≠la a≠li 2 &≠li", &["simple-in-compound"]);
    check("meter: 2/4\n| 1 & 2 & |", "1 li 2 li", "1 li≠& 2 li≠&", &["compound-in-simple"]);
    check(
        "| 1 2 & 3 4 | 1 2 3 4 |",
        "1 & 2 & 3 & 4 & | 1 & 2 & 3 & 4 &",
        "1 +& 2 & 3 +& 4 +& | 1 +& 2 +& 3 +& 4 +&",
        &["every-division"],
    );
}

#[test]
fn struck_held_and_silent_are_told_apart() {
    check("| 1 3 & 4 |", "1 2 3 & 4", "1 ~2 3 & 4", &["hold-struck"]);
    check("| 1 3 & 4 |", "1 (2) 3 & 4", "1 ~(2) 3 & 4", &["hold-silent"]);
    check("| 1 (2) 3 & 4 |", "1 2 3 & 4", "1 ~2 3 & 4", &["rest-struck"]);
    check("| 1 (2) 3 & 4 |", "1 _2 3 & 4", "1 ~_2 3 & 4", &["rest-held"]);
    check("| 1 2 3 & 4 |", "1 (2) 3 & 4", "1 ~(2) 3 & 4", &["attack-not-struck"]);
    check("| 1 3 & 4 |", "1 3 & 4", "1 ?_2 3 & 4", &["hold-left-out"]);
    check("| 1 (2) 3 & 4 |", "1 3 & 4", "1 ?(2) 3 & 4", &["rest-left-out"]);
}

/// What explains the most comes first.
#[test]
fn the_most_useful_comes_first() {
    let key = "| 1 (2) 3 4 | 1 2 & 3 4 | 1 2 3 4 |";
    let answer = answered(key, "1 2 3 4 | 5 6 & 7 8 | 9 10 11 12");
    assert_eq!(kinds(&answer), ["went-on", "rest-struck"]);
    let first = &answer.misunderstandings()[0];
    assert_eq!((first.bar, first.bars.as_slice(), first.explains), (1, [1, 2].as_slice(), 8));
    assert_eq!(
        first.says,
        "bar 2 goes on from the bar before, `5 6 & 7 8`; in the key every bar begins again, `1 2 & 3 4`; so also in bar 3"
    );
}
