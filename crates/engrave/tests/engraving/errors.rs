use engrave::{Error, Layout, engrave};

use crate::read;

/// An error says what was given, what is allowed and what to do.
#[test]
fn a_page_without_room_is_an_error() {
    let rhythm = read("| 1 2 3 4 |");
    let counting = counting::count(&rhythm);
    let check = |layout: Layout, expected: &str| {
        let error = engrave(&rhythm, &counting, &layout).expect_err("no page").to_string();
        assert!(error.contains(expected), "{error}");
    };
    let usual = Layout::default();
    check(Layout { width: 20.0, ..usual }, "give it 24 to 100000");
    check(Layout { width: f64::NAN, ..usual }, "a page NaN staff spaces wide");
    check(Layout { room_left: 60.0, ..usual }, "with 60 kept free at the left");
    check(Layout { room_below: -1.0, ..usual }, "-1 staff spaces cannot be kept free below");
    check(Layout { room_left: f64::INFINITY, ..usual }, "cannot be kept free left of");
}

#[test]
fn another_rhythms_counting_is_an_error() {
    let counting = counting::count(&read("| 1 2 3 4 | 1 |"));
    let error = engrave(&read("| 1 2 3 4 |"), &counting, &Layout::default()).expect_err("another rhythm");
    assert_eq!(error, Error::OtherRhythm { counted: 2, written: 1 });
}
