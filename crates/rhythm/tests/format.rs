//! The canonical form of a rhythm text.

use rhythm::text::format;

#[track_caller]
fn check(text: &str, expected: &str) {
    let formatted = format(text);
    assert_eq!(formatted.text.as_deref(), Some(expected), "{text}\n{:#?}", formatted.diagnostics);
    assert_eq!(format(expected).text.as_deref(), Some(expected), "the canonical form of itself");
}

#[test]
fn four_bars_stand_in_a_line() {
    check(
        "1e+a 2 and 3 4|%|1|1|\n1|",
        "meter: 4/4\n\n| 1 e & a 2 & 3 4 | 1 e & a 2 & 3 4 | 1 | 1 |\n| 1 |\n",
    );
    check(
        "TEMPO: Quarter=90\ntitle:  Two  Doors \n4&|1|",
        "title: Two  Doors\nmeter: 4/4\ntempo: quarter = 90\n\n4 & | 1 |\n",
    );
}

#[test]
fn repeats_endings_and_jumps_have_one_form() {
    check(
        "|: 1 :| 2 times [1.] 2/4 2/4 :| [2.] 1 |: 1 | 1 :| 3 times 1 [d.c.]",
        "meter: 4/4\n\n|: 1 :| |: [1.] 1/2 1/2 :| [2.] 1 |: 1 |\n| 1 :| 3 times 1 [D.C.] |\n",
    );
}

#[test]
fn marks_are_aligned_to_their_attacks() {
    check(
        "| 1 2 & 3 (4) | 1 2 3 4 |\nsticking: RRLB | R L . R\nstrokes: flam ruff . z\ndynamics: | | ff<",
        "\
meter: 4/4

          | 1    2    & 3 (4) | 1   2 3 4 |
sticking: | R    R    L B     | R   L . R
strokes:  | flam ruff . z     |
dynamics: |                   | ff<
",
    );
}

#[test]
fn comments_stay_where_they_belong() {
    check(
        "\
# The first lesson.
title: Two Doors
meter: 3/4   # a waltz
# Clap it first.
| 1 2 3 | 1 2 & 3 |  # twice
# Now with rests.

| 1 (2) 3 |
sticking: R L   # the weak hand ends
# The end.
",
        "\
# The first lesson.
# a waltz
title: Two Doors
meter: 3/4

# Clap it first.
| 1 2 3 | 1 2 & 3 |  # twice
# Now with rests.
          | 1 (2) 3 |
sticking: | R     L
# the weak hand ends
# The end.
",
    );
}

#[test]
fn a_text_with_an_error_is_left_alone() {
    let formatted = format("| 1 5 |");
    assert_eq!(formatted.text, None);
    assert_eq!(formatted.diagnostics.len(), 1);
}
