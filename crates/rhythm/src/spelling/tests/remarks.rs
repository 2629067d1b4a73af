//! Why an author's spelling is unusual.

use timebase::Span;

use super::{cut, meter, shown};
use crate::Form;
use crate::spelling::{Boundary, House, Oddity, remarks, spell_by_rules};

/// The remarks on a bar of lengths: where each begins, what it is, and the rules' own spelling of the bar.
#[track_caller]
fn check(in_meter: &str, written: &str, usual: &str, expected: &[(Span, Oddity)]) {
    let bar = cut(meter(in_meter), Form::Lengths, written);
    assert_eq!(shown(&spell_by_rules(&bar, House::default())), usual, "{in_meter}: {written}");
    let remarks = remarks(&bar, House::default());
    let told: Vec<_> = remarks.iter().map(|remark| (remark.at, remark.oddity)).collect();
    assert_eq!(told, expected, "{in_meter}: {written}");
    for remark in remarks {
        assert!(remark.at < remark.end && !remark.oddity.rule().is_empty());
        assert!(!remark.written.is_empty() && !remark.usual.is_empty());
    }
}

const NONE: &[(Span, Oddity)] = &[];

#[test]
fn usual_spellings_need_no_remark() {
    check("4/4", "1/4 1/8 1/8 1/2", "4 [8 8] 2", NONE);
    check("4/4", "1/4 1/2 1/4", "4 2 4", NONE);
    check("4/4", "(1/1)", "(bar)", NONE);
    check("4/4", "{3:2 1/4 1/4 1/4 } 1/2", "{3:2 4 4 4} 2", NONE);
    check("2/4", "{3:2 1/16 1/16 1/16 1/16 1/16 1/16 } 1/4", "{6:4 [16 16 16 16 16 16]} 4", NONE);
    check("6/8", "{2:3 1/8 1/8 } 3/8", "[8. 16 ~8] 4.", NONE);
    check("2/4", "{3:2 1/4 {3:2 1/8 1/8 1/8 } 1/4 }", "{3:2 4 {3:2 [8 8 8]} 4}", NONE);
}

#[test]
fn notes_that_hide_what_they_should_show() {
    let hides = |at: Span, boundary| [(at, Oddity::NoteHides(boundary))];
    check("4/4", "1/4 3/4", "4 4 ~2", &hides(Span::QUARTER, Boundary::Middle));
    check(
        "4/4",
        "3/8 1/4 3/8",
        "4. 8 [~8 8] ~4",
        &[
            (Span::new(3, 8), Oddity::NoteHides(Boundary::Middle)),
            (Span::new(5, 8), Oddity::NoteHides(Boundary::Beat)),
        ],
    );
    check(
        "3/4",
        "1/8 1/4 1/4 1/8",
        "[8 8] [~8 8] [~8 8]",
        &[
            (Span::EIGHTH, Oddity::NoteHides(Boundary::Beat)),
            (Span::new(3, 8), Oddity::NoteHides(Boundary::Beat)),
        ],
    );
    check("6/8", "1/4 1/4 1/4", "4 8 ~8 4", &hides(Span::QUARTER, Boundary::Beat));
    check("7/8 2+2+3", "3/8 1/8 3/8", "4 [~8 8] 4.", &hides(Span::ZERO, Boundary::Group));
    check("4/4", "7/8 1/8", "2 ~4. 8", &[(Span::ZERO, Oddity::TwoDots)]);
}

#[test]
fn rests_that_hide_what_they_should_show() {
    check("4/4", "1/4 (1/2) 1/4", "4 (4) (4) 4", &[(Span::QUARTER, Oddity::RestHides(Boundary::Middle))]);
    check("3/4", "1/4 (1/2)", "4 (4) (4)", &[(Span::QUARTER, Oddity::RestHides(Boundary::Beat))]);
    check("4/4", "(3/8) 1/8 1/2", "(4) (8) 8 2", &[(Span::ZERO, Oddity::RestHides(Boundary::Beat))]);
    check("2/4", "(3/16) 1/16 1/4", "(8) (16) 16 4", &[(Span::ZERO, Oddity::DottedRest)]);
    check("4/4", "1/2 (1/4) (1/4)", "2 (2)", &[(Span::HALF, Oddity::ManyRests)]);
    check("3/4", "(3/4)", "(bar)", NONE);
    check("3/4", "(1/2) (1/4)", "(bar)", &[(Span::ZERO, Oddity::SilentBar)]);
    check("7/8 2+2+3", "(1/2) 3/8", "(4) (4) 4.", &[(Span::ZERO, Oddity::RestHides(Boundary::Group))]);
}

#[test]
fn ties_that_one_note_replaces() {
    check("4/4", "1/4 _1/4 1/2", "2 2", &[(Span::ZERO, Oddity::NeedlessTie)]);
    check("4/4", "1/8 1/8 _1/8 1/8 1/2", "8 4 8 2", &[(Span::EIGHTH, Oddity::TiedSyncopation)]);
    check("4/4", "1/4 1/4 _1/4 1/4", "4 2 4", &[(Span::QUARTER, Oddity::TiedSyncopation)]);
    check("4/4", "5/8 _1/8 1/4", "2. 4", &[(Span::ZERO, Oddity::NeedlessTie)]);
}

#[test]
fn tuplets_that_are_not_usual() {
    check("2/4", "{3:2 3/16 3/16 } 1/4", "[8 8] 4", &[(Span::ZERO, Oddity::NeedlessTuplet)]);
    check(
        "4/4",
        "1/8 {3:2 1/8 1/8 1/8 } 1/8 1/2",
        "[8 {3:2 8 16]} {3:2 [~16 8} 8] 2",
        &[(Span::new(5, 24), Oddity::NoteHides(Boundary::Beat))],
    );
}

#[test]
fn beams_that_are_broken() {
    check("4/4", "1/8 1/8 !1/8 1/8 1/2", "[8 8 8 8] 2", &[(Span::QUARTER, Oddity::BrokenBeam)]);
    check("4/4", "1/4 !1/8 1/8 1/2", "4 [8 8] 2", NONE);
}

/// In counts only what was asked for can be unusual.
#[test]
fn counts_are_spelled_by_the_rules() {
    let tied = cut(meter("4/4"), Form::Counts, "1/4 _1/4 1/2");
    assert_eq!(
        remarks(&tied, House::default())[0].to_string(),
        "quarter tied to quarter: a tie that one note can replace; usual: half"
    );
    let plain = cut(meter("4/4"), Form::Counts, "1/4 3/4");
    assert!(remarks(&plain, House::default()).is_empty());
}

#[test]
fn remarks_in_words() {
    let told = |in_meter: &str, written: &str| {
        remarks(&cut(meter(in_meter), Form::Lengths, written), House::default())[0].to_string()
    };
    assert_eq!(
        told("4/4", "1/4 3/4"),
        "dotted half hides the middle of the bar; usual: quarter tied to half"
    );
    assert_eq!(
        told("3/4", "1/4 (1/2)"),
        "half rest hides where a beat begins; usual: quarter rest, quarter rest"
    );
    assert_eq!(
        told("2/4", "{3:2 3/16 3/16 } 1/4"),
        "triplet of dotted eighth, dotted eighth: a tuplet of what plain values show; usual: eighth, eighth"
    );
    assert_eq!(told("4/4", "1/8 1/8 !1/8 1/8 1/2"), "the beam is broken before the eighth; usual: one beam");
}
