//! Written counting held against its key.
//!
//! The verdicts follow from what the key says (its sources stand beside the counting systems' own tests). The misunderstandings, and the ways
//! in which pupils type, are common practice, no source.

use counting::answers::{Answer, CheckedCount, Compare, Settings, Verdict, WrittenCount, check_with};
use counting::{CountLine, System, count_in};
use proptest::prelude::*;
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
        let written = count.written.as_ref().map(WrittenCount::shown).unwrap_or_default();
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

/// A pickup from 1, and straight on: where bars have as many words as the key's, the bar lines tell which is which.
#[test]
fn bars_with_as_many_words_as_the_key_are_kept_together() {
    let named = &["went-on", "pickup-from-one"];
    check("3 4 | 1 2 3 4 | 1 2 |", "1 2 | 3 4 5 6 | 7 8", "1≠3 2≠4 | 3≠1 4≠2 5≠3 6≠4 | 7≠1 8≠2", named);
    check("4 | 1 2 3 4 | 1 2 3 |", "1 | 2 3 4 5 | 6 7 8", "1≠4 | 2≠1 3≠2 4≠3 5≠4 | 6≠1 7≠2 8≠3", named);
    check("3 4 | 1 2 3 4 | 1 2 |", "1 2 3 4 5 6 7 8", "1≠3 2≠4 | 3≠1 4≠2 5≠3 6≠4 | 7≠1 8≠2", named);
    check("3 4 | 1 2 3 4 | 1 2 |", "3 4 1 2 3 4 1 2", "3 4 | 1 2 3 4 | 1 2", &[]);
    // Nobody who begins again goes straight on.
    check("3 4 | 1 2 3 4 | 1 2 |", "1 2 3 4 1 2", "?3 ?4 | 1 2 3 4 | 1 2", &[]);
    // One bar in three with a word too few.
    check("4 | 1 2 3 4 | 1 2 3 |", "1 | 2 3 4 5 | 6 7", "1≠4 | 2≠1 3≠2 4≠3 5≠4 | 6≠1 7≠2 ?3", named);
    // A bar line in the wrong place leaves no bar as it is in the key, and the words tell.
    check("3 4 | 1 2 3 4 | 1 2 |", "3 4 1 | 2 3 4 1 | 2", "3 4 | 1 2 3 4 | 1 2", &["bar-line-inside"]);
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
    check("| 1 3 |", "1 - 3 -", "1 -≠_2 3 -≠_4", &["without-word"]);
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

/// Beats side by side that have one another's figures: no word went to the other beat.
#[test]
fn figures_that_changed_places_are_each_told() {
    let group = &["another-group"];
    check("| 1 e & 2 & a 3 4 |", "1 & a 2 e & 3 4", "1 &≠e a≠& 2 e≠& &≠a 3 4", group);
    check("| 1 & a 2 e & 3 4 |", "1 e & 2 & a 3 4", "1 e≠& &≠a 2 &≠e a≠& 3 4", group);
    check("| 1 2 e & 3 & a 4 |", "1 2 & a 3 e & 4", "1 2 &≠e a≠& 3 e≠& &≠a 4", group);
    check("| 1 2 & a 3 e & 4 |", "1 2 e & 3 & a 4", "1 2 e≠& &≠a 3 &≠e a≠& 4", group);
    check(
        "| 1 e & 2 & a 3 e & 4 & a |",
        "1 & a 2 e & 3 & a 4 e &",
        "1 &≠e a≠& 2 e≠& &≠a 3 &≠e a≠& 4 e≠& &≠a",
        group,
    );
    check(
        "| 1 2 3 4 e & | 1 & a 2 3 4 |",
        "1 2 3 4 & a 1 e & 2 3 4",
        "1 2 3 4 &≠e a≠& | 1 e≠& &≠a 2 3 4",
        group,
    );
    check_in(
        "takadimi",
        "| 1 e & 2 & a 3 4 |",
        "ta di mi ta ka di ta ta",
        "ta di≠ka mi≠di ta ka≠di di≠mi ta ta",
        group,
    );
}

/// Any figure for any other of as many words, in two to four beats side by side: every word stands where it is written.
#[test]
fn beats_with_as_many_words_as_the_key_are_read_beat_by_beat() {
    let figures = [vec!["&", "e", "a"], vec!["e &", "& a", "e a"]];
    let say = |takadimi: bool, chosen: &[&str]| {
        let beats = (1..).zip(chosen).flat_map(|(beat, figure): (usize, _)| {
            std::iter::once(beat.to_string()).chain(figure.split(' ').map(str::to_owned))
        });
        let syllable = |word: String| match word.as_str() {
            "e" => "ka".to_owned(),
            "&" => "di".to_owned(),
            "a" => "mi".to_owned(),
            _ => "ta".to_owned(),
        };
        beats.map(|word| if takadimi { syllable(word) } else { word }).collect::<Vec<_>>()
    };
    for figures in figures {
        for beats in 2..=4_u32 {
            let figures = if beats < 4 { &figures[..] } else { &figures[..2] };
            let many = figures.len().pow(beats);
            let chosen = |code: usize| {
                (0..beats)
                    .map(|beat| figures[code / figures.len().pow(beat) % figures.len()])
                    .collect::<Vec<_>>()
            };
            for (key, other) in (0..many).flat_map(|key| (0..many).map(move |other| (key, other))) {
                let text = format!("meter: {beats}/4\n| {} |", say(false, &chosen(key)).join(" "));
                for (takadimi, name) in [(false, "numbers"), (true, "takadimi")] {
                    let written = say(takadimi, &chosen(other));
                    let answer = answered_in(name, &text, &written.join(" "));
                    let shown: Vec<&str> = answer
                        .counts()
                        .iter()
                        .map(|count| count.written.as_ref().map_or("", |word| &word.word))
                        .collect();
                    assert_eq!(shown, written, "{text}");
                    assert_eq!((answer.of(), answer.extra()), (written.len(), 0), "{text}");
                }
            }
        }
    }
}

/// Dotted figures, and two notes for them.
#[test]
fn two_notes_of_a_beat_are_told_as_figures_of_three_are() {
    let says = |name: &str, key: &str, written: &str, says: &str| {
        let answer = answered_in(name, key, written);
        assert_eq!(kinds(&answer), ["another-group"], "{written}\n{}", verdicts(&answer));
        assert_eq!(answer.misunderstandings()[0].says, says);
    };
    says(
        "numbers",
        "| 1 a 2 3 4 |",
        "1 & 2 3 4",
        "beat 1 of bar 1 is written `1 &`, two eighths; the key has a dotted eighth and a sixteenth, `1 a`",
    );
    says(
        "numbers",
        "| 1 a 2 3 4 |",
        "1 e 2 3 4",
        "beat 1 of bar 1 is written `1 e`, a sixteenth and a dotted eighth; the key has a dotted eighth and a sixteenth, \
         `1 a`",
    );
    says(
        "takadimi",
        "| 1 2 & 3 4 |",
        "ta ta mi ta ta",
        "beat 2 of bar 1 is written `ta mi`, a dotted eighth and a sixteenth; the key has two eighths, `ta di`",
    );
    says(
        "numbers",
        "meter: 6/8\n| 1 li 2 |",
        "1 la 2",
        "beat 1 of bar 1 is written `1 la`, an eighth and a quarter; the key has a quarter and an eighth, `1 li`",
    );
    says(
        "gordon",
        "| 1 a 2 3 4 |",
        "du de du du du",
        "beat 1 of bar 1 is written `du de`, two eighths; the key has a dotted eighth and a sixteenth, `du ta`",
    );
    // `du ta` is either dotted figure, so it is told as a word.
    check_in("gordon", "| 1 & 2 3 4 |", "du ta du du du", "du ta≠de du du du", &[]);
    check_in("gordon", "| 1 & a 2 3 4 |", "du ta de du du du", "du ta≠de de≠ta du du du", &["another-group"]);
    check("| 1 & 2 a 3 4 |", "1 a 2 & 3 4", "1 a≠& 2 &≠a 3 4", &["another-group"]);
}

/// A needless word weighs as much as a missing one.
#[test]
fn needless_words_take_from_the_share() {
    let key = "| 1 2 & 3 4 |";
    let all = "1 e & a 2 e & a 3 e & a 4 e & a";
    let answer = answered(key, all);
    assert_eq!((answer.right(), answer.of(), answer.extra(), answer.percent()), (5, 5, 11, Some(31)));
    assert_eq!(answer.bars()[0].percent(), Some(31));
    assert_eq!(kinds(&answer), ["every-division"]);
    assert_eq!(
        answer.misunderstandings()[0].says,
        "words between the beats, `e & a`, are written 11 times where nothing begins, first in bar 1, \
         `1 e & a 2 e & a 3 e & a 4 e & a`; the key has a word between the beats only where a note or a rest begins, \
         `1 2 & 3 4`"
    );
    assert_eq!(answered(key, "1 2 & 3 4").percent(), Some(100));
    assert_eq!(answered(key, "1 2 & 3 4 &").percent(), Some(83));
    assert_eq!(answered(key, "1 2 3 4").percent(), Some(80));
    assert_eq!(answered(key, "").percent(), Some(0));
    let in_two = "ta ka di mi ta ka di mi ta ka di mi ta ka di mi";
    assert_eq!(kinds(&answered_in("takadimi", key, in_two)), ["every-division"]);
    let in_three = "1 ta la ta li ta 2 ta la ta li ta";
    assert_eq!(kinds(&answered_in("numbers", "meter: 6/8\n| 1 li 2 |", in_three)), ["every-division"]);
    // A bar of which nothing is said.
    let answer = answered_in("gordon", "| 1 2 3 4 | (1) (2) (3) (4) |", "du du du du");
    assert_eq!((answer.bars()[1].percent(), answer.percent()), (None, Some(100)));
}

/// A word for a silence or a hold that is no count: it is shown as it is typed, and what is written is not missing.
#[test]
fn marks_without_their_words_are_shown_as_typed() {
    let says = |name: &str, key: &str, written: &str, shown: &str, named: &[&str], says: &[&str]| {
        let answer = answered_in(name, key, written);
        assert_eq!(verdicts(&answer), shown);
        assert_eq!(kinds(&answer), named);
        let said: Vec<&str> = answer.misunderstandings().iter().map(|found| found.says.as_str()).collect();
        assert_eq!(said, says);
    };
    for word in ["sh", "rest", "Shh"] {
        says(
            "numbers",
            "| 1 2 3 (4) |",
            &format!("1 2 3 {word}"),
            &format!("1 2 3 {word}≠(4)"),
            &["without-word"],
            &[&format!(
                "the `4` of bar 1 is written as `{word}`, without its word; the key counts the silence, `(4)`"
            )],
        );
    }
    says(
        "takadimi",
        "| 1 2 3 (4) |",
        "ta ta ta sh",
        "ta ta ta sh≠(ta)",
        &["without-word"],
        &[
            "the `ta` on beat 4 of bar 1 is written as `sh`, without its word; the key counts the silence, `(ta)`",
        ],
    );
    says(
        "numbers",
        "| 1 3 4 |",
        "1 _ 3 4",
        "1 _≠_2 3 4",
        &["without-word"],
        &["the `2` of bar 1 is written as `_`, without its word; the key counts the held note, `_2`"],
    );
    says(
        "numbers",
        "| 1 2 3 4 |",
        "1 2 3 rest",
        "1 2 3 rest≠4",
        &["attack-not-struck"],
        &["the `4` of bar 1 is written as silent, `rest`; in the key it is struck, `4`"],
    );
    // What is not written is told by its beat where its word does not tell which.
    says(
        "takadimi",
        "| 1 2 3 4 | 1 3 (4) |",
        "ta ta ta ta | ta ta",
        "ta ta ta ta | ta ?_ta ta ?(ta)",
        &["hold-left-out", "rest-left-out"],
        &[
            "the `ta` on beat 2 of bar 2 is not written; the key counts it while the note is held, `_ta`",
            "the `ta` on beat 4 of bar 2 is not written; the key counts it through the silence, `(ta)`",
        ],
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

fn system(name: &str) -> System {
    System::named(name).unwrap_or_else(|error| panic!("{error}"))
}

#[track_caller]
fn answered_in(name: &str, key: &str, written: &str) -> Answer {
    let rhythm = rhythm(key);
    let line = count_in(&rhythm, &system(name), &counting::Settings::default());
    counting::answers::check(&line, &rhythm, written)
}

#[track_caller]
fn check_in(name: &str, key: &str, written: &str, expected: &str, named: &[&str]) {
    let answer = answered_in(name, key, written);
    let says: Vec<_> = answer.misunderstandings().iter().map(|found| &found.says).collect();
    assert_eq!(verdicts(&answer), expected, "{name}: {key}\n{written}\n{says:#?}");
    assert_eq!(kinds(&answer), named, "{name}: {key}\n{written}\n{says:#?}");
}

/// The rows of the systems' tables (sources beside them in `assets/counting`), typed with and without joints.
#[test]
fn every_system_can_be_typed() {
    let right = |name: &str, key: &str, written: &str| {
        let answer = answered_in(name, key, written);
        assert!(
            answer.right() == answer.of() && answer.extra() == 0,
            "{name}: {written}\n{}",
            verdicts(&answer)
        );
    };
    right("takadimi", "| 1 2 & 3 e & a (4) |", "ta ta-di takadimi (ta)");
    right("takadimi", "| 1 3 & 4 la li |", "ta (ta) tadi ta-ki-da");
    right("takadimi", "| 1 3 & 4 la li |", "Ta _ta Ta-Di ta ki da");
    right("takadimi", "meter: 6/8\n| 1 la li 2 ta la ta li ta |", "ta ki da | tavakididama");
    right(
        "mchose-tibbs",
        "| 1 & 2 e & a 3 la li (4) |",
        "1te 2tatete, 3 la lee (4)".replace("tatete", "tateta").as_str(),
    );
    right("gordon", "| 1 & 2 e & a 3 (4) |", "du de dutadeta doo");
    // A rest is not spoken; written in parentheses it is no mistake.
    right("gordon", "| 1 (2) 3 & 4 |", "du du de du");
    right("gordon", "| 1 (2) 3 & 4 |", "du (du) du de du");
    right("gordon", "| 1 (2) 3 & 4 |", "du rest du de du");
    right("kodaly", "| 1 2 & 3 (4) |", "ta ti-ti ta sh");
    right("kodaly", "| 1 2 & 3 (4) |", "ta titi ta (shh)");
    right("kodaly", "| 1 3 | 1 & (2) 3 e & a 4 |", "ta-a ta-a | ti ti sh tikatika ta");
    right("kodaly", "| 1 _2 & 3 4 |", "ta-i ti ta ta");
    right("slow-six", "meter: 6/8\n| 1 la li 2 |", "1 2 3 4 _5 _6");
}

#[test]
fn every_system_is_checked() {
    check_in(
        "takadimi",
        "| 1 e & 2 3 4 |",
        "ta di mi ta ta ta",
        "ta di≠ka mi≠di ta ta ta",
        &["another-group"],
    );
    check_in(
        "takadimi",
        "| 1 e & 2 3 4 |",
        "ta ki da ta ta ta",
        "ta ki≠ka da≠di ta ta ta",
        &["triplet-words"],
    );
    check_in("gordon", "| 1 e & 2 3 4 |", "du de ta du du du", "du de≠ta ta≠de du du du", &["another-group"]);
    check_in(
        "mchose-tibbs",
        "| 1 la li 2 3 4 |",
        "1 te ta 2 3 4",
        "1 te≠la ta≠li 2 3 4",
        &["sixteenth-words"],
    );
    check_in("takadimi", "| 1 (2) 3 & 4 |", "ta ta ta di ta", "ta ~ta ta di ta", &["rest-struck"]);
    check_in("kodaly", "| 1 2 & 3 (4) |", "ta ta ti ta sh", "ta ta≠ti ti ta (sh)", &[]);
}

/// The rest of the words are right in another system.
#[test]
fn another_system_is_named() {
    let check = |name: &str, key: &str, written: &str, says: &str| {
        let answer = answered_in(name, key, written);
        assert_eq!(kinds(&answer), ["another-system"], "{}", verdicts(&answer));
        assert_eq!(answer.misunderstandings()[0].says, says);
    };
    check(
        "numbers",
        "| 1 & 2 3 & (4) | 1 2 & 3 4 |",
        "ta di ta ta di (ta) | ta ta di ta ta",
        "the words are those of Takadimi, `ta di ta ta di (ta) ta ta`, and 11 of 11 are right there; the key counts in \
         Numbers, `1 & 2 3 & (4) 1 2`",
    );
    check(
        "takadimi",
        "| 1 & 2 3 & (4) |",
        "1 & 2 3 & (4)",
        "the words are those of Numbers, `1 & 2 3 & (4)`, and 6 of 6 are right there; the key counts in Takadimi, \
         `ta di ta ta di (ta)`",
    );
    check(
        "numbers",
        "meter: 6/8\n| 1 la li 2 | 1 li 2 li |",
        "1 2 3 4 _5 _6 | 1 _2 3 4 _5 6",
        "the words are those of Slow six, `1 2 3 4 _5 _6 1 _2`, and 12 of 12 are right there; the key counts in \
         Numbers, `1 la li 2 1 li 2 li`",
    );
}

/// The variants' words are those of their tables (sources beside them in `assets/counting`).
#[test]
fn another_variant_is_named() {
    let seven = "meter: 7/8 2+2+3\n| 1 2 3 4 5 6 7 |";
    let check = |name: &str, key: &str, written: &str, shown: &str, says: &str| {
        let answer = answered_in(name, key, written);
        assert_eq!(verdicts(&answer), shown);
        assert_eq!(kinds(&answer), ["another-variant"]);
        assert_eq!(answer.misunderstandings()[0].says, says);
    };
    check(
        "numbers",
        seven,
        "1 2 1 2 1 2 3",
        "1 2 1≠3 2≠4 1≠5 2≠6 3≠7",
        "the words are those of the same system in the variant by-group, `1 2 1 2 1 2 3`, and 7 of 7 are right there; the \
         key counts without a variant, `1 2 3 4 5 6 7`",
    );
    check(
        "numbers",
        seven,
        "1 & 2 & 3 la li",
        "1 &≠2 2≠3 &≠4 3≠5 la≠6 li≠7",
        "the words are those of the same system in the variant unequal-beats, `1 & 2 & 3 la li`, and 7 of 7 are right there; the \
         key counts without a variant, `1 2 3 4 5 6 7`",
    );
    check(
        "kodaly",
        "| 1 e & a 2 3 4 |",
        "ti ri ti ri ta ta ta",
        "ti ri≠ka ti ri≠ka ta ta ta",
        "the words are those of the same system in the variant ti-ri, `ti ri ti ri ta ta ta`, and 7 of 7 are right there; the \
         key counts without a variant, `ti ka ti ka ta ta ta`",
    );
    // The key in a variant, the answer in none.
    let rhythm = rhythm(seven);
    let by_group = system("numbers").with_variant("by-group").expect("it has it");
    let line = count_in(&rhythm, &by_group, &counting::Settings::default());
    let answer = counting::answers::check(&line, &rhythm, "1 2 3 4 5 6 7");
    assert_eq!(kinds(&answer), ["another-variant"]);
    assert_eq!(verdicts(&answer), "1 2 3≠1 4≠2 5≠1 6≠2 7≠3");
    // One figure taken for another is no variant, though the variant `and-a` would have it so.
    let answer = answered("meter: 2/4\n| 1 la li 2 la li |", "1 & a 2 & a");
    assert_eq!(kinds(&answer), ["sixteenth-words"]);
}

/// Words, holds and rests of a rhythm in sixteenths, as a teacher might write them.
fn rhythm_of(meter: usize, lengths: &[(u32, u8)]) -> Rhythm {
    let (head, unit) = [("4/4", 16), ("6/8", 12), ("3/4", 12), ("7/8 2+2+3", 14)][meter];
    let mut text = format!("meter: {head}\n");
    let mut sounding = false;
    let mut lengths = lengths.iter().copied().cycle();
    for _ in 0..3 {
        let mut left = unit;
        text += "|";
        while left > 0 {
            let (length, deed) = lengths.next().expect("it goes round");
            let length = length.clamp(1, left);
            left -= length;
            text += &match deed {
                0 => {
                    sounding = false;
                    format!(" ({length}/16)")
                }
                1 if sounding => format!(" _{length}/16"),
                _ => {
                    sounding = true;
                    format!(" {length}/16")
                }
            };
        }
        text += " ";
    }
    rhythm(&(text + "|"))
}

/// The key as somebody types it.
fn typed(line: &CountLine) -> Vec<Vec<String>> {
    let bar = |bar: &counting::CountedBar| {
        let counts = bar.counts().iter();
        counts.filter_map(|count| Some(marked(count.say.as_ref()?.as_str(), count.deed))).collect()
    };
    line.bars().iter().map(bar).collect()
}

fn text_of(bars: &[Vec<String>]) -> String {
    bars.iter().map(|bar| bar.join(" ")).collect::<Vec<_>>().join(" | ")
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// The key itself is right throughout, in every system, with and without its bar lines.
    #[test]
    fn the_key_is_right(
        meter in 0usize..4,
        lengths in prop::collection::vec((1u32..9, 0u8..5), 1..20),
        system in 0usize..6,
        bar_lines in any::<bool>(),
    ) {
        let rhythm = rhythm_of(meter, &lengths);
        let line = count_in(&rhythm, &System::shipped()[system], &counting::Settings::default());
        let text = text_of(&typed(&line));
        let text = if bar_lines { text } else { text.replace('|', " ") };
        let answer = counting::answers::check(&line, &rhythm, &text);
        prop_assert_eq!((answer.right(), answer.extra()), (answer.of(), 0), "{}\n{}", text, verdicts(&answer));
        prop_assert!(answer.misunderstandings().is_empty(), "{:?}", answer.misunderstandings());
    }

    /// One word dropped, added, changed or exchanged with its neighbour changes the verdict on that word and no other.
    #[test]
    fn one_slip_is_one_slip(
        meter in 0usize..4,
        lengths in prop::collection::vec((1u32..9, 0u8..5), 1..20),
        system in 0usize..6,
        at in any::<prop::sample::Index>(),
        edit in 0u8..4,
        other in prop::sample::select(vec!["1", "3", "&", "e", "ta", "di", "du", "x"]),
    ) {
        let rhythm = rhythm_of(meter, &lengths);
        let line = count_in(&rhythm, &System::shipped()[system], &counting::Settings::default());
        let mut bars = typed(&line);
        let places: Vec<(usize, usize)> =
            bars.iter().enumerate().flat_map(|(bar, words)| (0..words.len()).map(move |word| (bar, word))).collect();
        prop_assume!(places.len() > 3);
        let (bar, word) = places[at.index(places.len())];
        let was = bars[bar][word].clone();
        let bare = |word: &str| word.trim_matches(['(', ')', '_']).to_owned();
        // What stands beside the word, so that a slip that cannot be told from another place is seen as such.
        let wrong: &[Verdict] = match edit {
            0 => {
                // Two bar lines without a word between them are one.
                prop_assume!(bars[bar].len() > 1);
                bars[bar].remove(word);
                &[Verdict::Missing]
            }
            1 => {
                // A silence where the key says nothing is no slip, nor is a hold that the word tells: a struck word is.
                bars[bar].insert(word, other.to_owned());
                &[Verdict::NothingBegins]
            }
            2 => {
                prop_assume!(bare(&was) != other);
                bars[bar][word] = other.to_owned();
                &[Verdict::WrongWord]
            }
            _ => {
                prop_assume!(word + 1 < bars[bar].len() && bare(&bars[bar][word + 1]) != bare(&was));
                // Deeds that go astray with their words are not looked at here.
                prop_assume!(!bars[bar][word + 1].contains(['(', '_']) && !was.contains(['(', '_']));
                bars[bar].swap(word, word + 1);
                &[Verdict::WrongPlace]
            }
        };
        let text = text_of(&bars);
        let answer = counting::answers::check(&line, &rhythm, &text);
        let found: Vec<Verdict> =
            answer.counts().iter().map(|count| count.verdict).filter(|verdict| *verdict != Verdict::Right).collect();
        // `du de ta` for `du ta de` is the words of another group, each in its place.
        let group = kinds(&answer) == ["another-group"];
        let wrong = if edit == 3 && group { &[Verdict::WrongWord; 2][..] } else { wrong };
        prop_assert_eq!(&found[..], wrong, "{} instead of {}\n{}", text, text_of(&typed(&line)), verdicts(&answer));
        let slip = answer.counts().iter().find(|count| count.verdict != Verdict::Right).expect("one is wrong");
        prop_assert_eq!(slip.bar, bar, "{}\n{}", text, verdicts(&answer));
        match (edit, &slip.key, &slip.written) {
            // Of a held and a silent count side by side, both written in parentheses, either may be the one left out.
            (0, Some(key), None) => prop_assert_eq!(key.say.as_str(), bare(&was)),
            (1, None, Some(word)) => prop_assert_eq!(&text[word.span.clone()], other),
            (2, Some(key), Some(word)) => {
                prop_assert_eq!(marked(key.say.as_str(), key.deed), was);
                prop_assert_eq!(&text[word.span.clone()], other);
            }
            (3, Some(_), Some(_)) => {}
            _ => prop_assert!(false, "{:?}", slip),
        }
    }

    /// Any text has an answer that points at it, and every count of the key is answered once, in order.
    #[test]
    fn any_text_has_an_answer(
        text in prop_oneof![".{0,60}", "[1-9a&+ ()|_,-]{0,80}", "(ta|ti|di|1|2|5|&|\\||_|\\(|\\)| ){0,60}"],
        system in 0usize..6,
        meter in 0usize..4,
        lengths in prop::collection::vec((1u32..9, 0u8..5), 1..20),
    ) {
        let rhythm = rhythm_of(meter, &lengths);
        let line = count_in(&rhythm, &System::shipped()[system], &counting::Settings::default());
        let answer = counting::answers::check(&line, &rhythm, &text);
        for word in answer.counts().iter().filter_map(|count| count.written.as_ref()) {
            prop_assert!(text.get(word.span.clone()).is_some_and(|word| !word.is_empty()));
        }
        for span in answer.misunderstandings().iter().flat_map(|found| &found.evidence) {
            prop_assert!(text.get(span.clone()).is_some_and(|word| !word.is_empty()));
        }
        let answered: Vec<_> =
            answer.counts().iter().filter_map(|count| Some((count.bar, count.key.as_ref()?.at))).collect();
        let keys: Vec<_> = line.bars().iter().enumerate().flat_map(|(bar, counted)| {
            counted.counts().iter().filter(|count| count.say.is_some()).map(move |count| (bar, count.at))
        }).collect();
        prop_assert_eq!(answered, keys);
    }
}
