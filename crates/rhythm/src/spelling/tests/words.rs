//! What is said of a rhythm to someone who does not see it: all that changes how it is played.

use crate::Rhythm;
use crate::spelling::{Around, bar_words, bars_in_words};

fn rhythm(text: &str) -> Rhythm {
    let reading = crate::text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics))
}

fn in_words(text: &str, around: Around) -> String {
    let rhythm = rhythm(text);
    bars_in_words(&rhythm, around, |index| bar_words(&rhythm.bars()[index])).join(" ")
}

#[track_caller]
fn check(text: &str, expected: &str) {
    assert_eq!(in_words(text, Around::All), expected);
}

#[test]
fn ties_are_told_over_bar_lines_too() {
    check(
        "| 1/4. 1/8 1/2 | _1/4 (1/4) 1/4.. 1/16 | _1/1 | (1/1) |",
        "4/4. Bar 1: dotted quarter, eighth, half. Bar 2: tied from the bar before: quarter, quarter rest, \
         double-dotted quarter, sixteenth. Bar 3: tied from the bar before: whole. Bar 4: whole-bar rest.",
    );
    check("| 1/4 _1/8 1/8 1/2 |", "4/4. Bar 1: quarter tied to eighth, eighth, half.");
}

#[test]
fn meters_are_told_where_they_change() {
    check(
        "meter: 3/4\n3 | 1 2 3 | 1 2 3 | [6/8] 1 2 | [7/8 2+2+3] 1/4 1/4 1/4. |",
        "3/4. Pickup: quarter. Bar 1: quarter, quarter, quarter. Bar 2: quarter, quarter, quarter. 6/8. Bar 3: dotted \
         quarter, dotted quarter. 7/8 2+2+3. Bar 4: quarter, quarter, dotted quarter.",
    );
}

#[test]
fn roads_are_told() {
    check("|: 1/1 :| 4 times", "4/4. Repeat begins, 4 times in all. Bar 1: whole. Repeat ends.");
    check(
        "| 1/1 |: 1/1 | [1. 2.] 1/1 :| [3.] 1/1 |",
        "4/4. Bar 1: whole. Repeat begins, 3 times in all. Bar 2: whole. Ending 1 and 2. Bar 3: whole. Back to where \
         the repeat begins. Ending 3. Bar 4: whole.",
    );
    check(
        "| 1/1 | [segno] 1/1 | 1/1 [to coda] | 1/1 [D.S. al coda] | [coda] 1/1 |",
        "4/4. Bar 1: whole. Segno. Bar 2: whole. Bar 3: whole. To coda. Bar 4: whole. D.S. al coda. Coda. Bar 5: \
         whole.",
    );
    check("| 1/1 [fine] | 1/1 [D.C. al fine] |", "4/4. Bar 1: whole. Fine. Bar 2: whole. D.C. al fine.");
    check("| 1/1 | [segno] 1/1 [D.S.] |", "4/4. Bar 1: whole. Segno. Bar 2: whole. D.S.");
}

#[test]
fn changes_of_tempo_are_told() {
    check(
        "tempo: quarter = 96\n| 1/1 | [quarter = 120] 1/1 | [quarter = 80 over 2 bars] 1/1 | 1/1 \
         | [quarter = dotted quarter] [6/8] 1/2. |",
        "4/4. Bar 1: whole. Tempo changes to quarter = 120. Bar 2: whole. Tempo changes to quarter = 80 over 2 bars. \
         Bar 3: whole. Bar 4: whole. 6/8. Tempo: the quarter of before is now the dotted quarter. Bar 5: dotted half.",
    );
}

#[test]
fn what_stands_on_notes_is_told() {
    check(
        "| 1/4 1/4 1/4 1/4 | 1/2 _1/4 1/4 | 1/2 1/2 fermata |\naccents: | > ^ . . | | |\nsticking: | RLB | | |\n\
         strokes: | flam drag+// ruff . | z / | |",
        "4/4. Bar 1: quarter right hand with flam and accent, quarter left hand with drag and roll of 2 slashes and \
         strong accent, quarter both hands with ruff, quarter. Bar 2: half with buzz roll tied to quarter, quarter \
         with roll of one slash. Bar 3: half, half with fermata.",
    );
    check(
        "| 1/1 | 1/1 | 1/1 |\ndynamics: | p< | f> | ppp |",
        "4/4. Piano, crescendo. Bar 1: whole. Forte, decrescendo. Bar 2: whole. Pianississimo. Bar 3: whole.",
    );
    let second = in_words("|: 1/1 :|\ndynamics: | p |", Around::OwnLoudness);
    assert_eq!(second, "Piano. Bar 1: whole.", "what the first part tells is not told again");
}

#[test]
fn every_tuplet_is_told_by_itself() {
    check(
        "| {3:2 1/8 1/8 1/8} {3:2 1/8 1/8 1/8} {3:2 1/8 (1/8) 1/8} 1/4 |",
        "4/4. Bar 1: triplet of eighth, eighth, eighth; triplet of eighth, eighth, eighth; triplet of eighth, eighth \
         rest, eighth; quarter.",
    );
    check(
        "| {5:4 1/16 1/16 1/16 1/16 1/16} _1/4 {3:2 _1/4 1/8} 1/4 |",
        "4/4. Bar 1: 5 in the time of 4: sixteenth, sixteenth, sixteenth, sixteenth, sixteenth; tied to quarter tied to \
         triplet of quarter, eighth; quarter.",
    );
    check(
        "| {3:2 1/2 {3:2 1/4 1/4 1/4} 1/2 } |",
        "4/4. Bar 1: outer triplet: half; triplet of quarter, quarter, quarter; half; end of outer triplet.",
    );
    check(
        "| {3:2 {3:2 1/8 1/8 1/8} {5:4 1/16 1/16 1/16 1/16 1/16} 1/4 } (1/2) |",
        "4/4. Bar 1: outer triplet: triplet of eighth, eighth, eighth; 5 in the time of 4: sixteenth, sixteenth, \
         sixteenth, sixteenth, sixteenth; quarter; end of outer triplet; half rest.",
    );
}
