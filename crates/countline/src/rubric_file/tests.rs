use super::*;

#[test]
fn the_default_that_is_printed_is_the_default_that_serves() {
    let read = parse(DEFAULT).expect("it is a rubric");
    assert_eq!(read.rubric, Rubric::default());
    assert_eq!(read.tolerance("P1"), Some(judge::Settings::DEFAULT_TOLERANCE));
    assert_eq!(parse("").expect("nothing is a rubric").rubric, Rubric::default());
    // The players that are commented out are an example that can be read.
    let all: String =
        DEFAULT.replace("# [players.P3]", "[players.P3]").replace("# tolerance-ms = 80", "tolerance-ms = 80");
    let all = all.replace("# left = [38]", "left = [38]").replace("# right = [40]", "right = [40]");
    let read = parse(&all).expect("it is a rubric");
    assert_eq!(read.tolerance("P3"), Some(Seconds::from_millis(80)));
    assert_eq!(read.tolerance("P4"), Some(Seconds::from_millis(50)));
    let player = read.player("P3").expect("it is there");
    assert_eq!((player.left.as_slice(), player.right.as_slice()), (&[38][..], &[40][..]));
}

/// The text the error points at, what it says, and what it offers.
fn check(text: &str, at: &str, message: &str, help: &str) {
    let wrong = parse(text).expect_err("it is no rubric");
    assert_eq!(&text[wrong.span.clone()], at, "{wrong:?}");
    assert!(wrong.message.contains(message), "{wrong:?}");
    assert!(wrong.help.contains(help), "{wrong:?}");
}

#[test]
fn what_is_wrong_is_pointed_at() {
    check("[rhythm]\nmissed = -1", "-1", "-1 is not a weight", "from 0 to 100");
    check("[rhythm]\nmissed = nan", "nan", "NaN is not a weight", "from 0 to 100");
    check("[rhythm]\nmised = 1", "mised", "unknown field `mised`", "countline rubric");
    check("[rhythm]\nmissed = \"much\"", "\"much\"", "expected a number", "countline rubric");
    check("tolerance-ms = 4", "4", "4 is not a tolerance in ms", "from 5 to 250");
    check("[players.P3]\ntolerance-ms = 900", "900", "900 is not a tolerance", "from 5 to 250");
    check("result = \"stars\"", "\"stars\"", "\"stars\" is no kind of result", "\"levels\" or \"points\"");
    check("result = \"points\"\nout-of = 0", "0", "0 is not a number of points", "from 1 to 1000");
    check("levels = []", "[]", "0 is not a number of levels", "from 1 to 12");
    let two = "levels = [{ name = \"a\", from = 10 }, { name = \"b\", from = 20 }]";
    check(two, "20", "\"b\" begins at 20, and \"a\" before it at 10", "from the highest down");
    check("levels = [{ name = \"a\", from = 10 }]", "10", "begins at 10", "begin at 0");
    let alike = "levels = [{ name = \"a\", from = 10 }, { name = \"a\", from = 0 }]";
    check(alike, "\"a\"", "two levels are called \"a\"", "a name of its own");
    check("levels = [{ name = \" \", from = 0 }]", "\" \"", "is no name of a level", "1 to 40");
    check("[pulse]\nspread-bounds = [1]", "[1]", "1 numbers are no two bounds", "two numbers");
    check("[pulse]\nspread-bounds = [2, 1]", "[2, 1]", "lies behind the second", "the smaller first");
    check("[pulse]\ndrift-bounds = [1, 101]", "101", "101 is not a bound of the drift", "from 0 to 100");
    check("[players.P3]\nleft = [128]", "128", "128 is not a MIDI note", "from 0 to 127");
    check("[players.P3]\nleft = [38]\nright = [40, 38]", "38", "both the left hand's", "to one hand");
    check("[rhythm\nmissed = 1", "", "unclosed table", "countline rubric");
}
