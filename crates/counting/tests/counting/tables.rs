//! The tables themselves: those shipped, a school's own, and wrong ones.

use counting::{Error, Settings, System, count_in};

use proptest::prelude::*;

use crate::rhythms::{rhythm, words};

const OWN: &str = r##"
name = "our-school"

[say]
rests = "parentheses"
elsewhere = "da"
simple.2 = "n up"
simple.3 = "tri po let"
compound.3 = "n da dum"
also.up = "upp"

[[variants]]
name = "quiet"
say.rests = "silent"
say.simple.4 = "n ti up ti"
"##;

#[test]
fn every_shipped_table_says_where_it_comes_from() {
    let names: Vec<&str> = System::shipped().iter().map(System::name).collect();
    assert_eq!(names, ["numbers", "mchose-tibbs", "gordon", "takadimi", "kodaly", "slow-six"]);
    for system in System::shipped() {
        assert!(system.about().is_some() && system.source().is_some(), "{}", system.name());
        for variant in system.variants() {
            assert!(
                variant.about.is_some() && variant.source.is_some(),
                "{} {}",
                system.name(),
                variant.name
            );
        }
    }
    assert_eq!(System::numbers().name(), "numbers");
}

#[test]
fn a_school_brings_its_own() {
    let check = |system: &System, meter: &str, bars: &str, expected: &str| {
        assert_eq!(
            words(&count_in(&rhythm(meter, bars), system, &Settings::default())),
            expected,
            "{meter}: {bars}"
        );
    };
    let own = System::parse(OWN).expect("a right table");
    check(&own, "2/4", "2*1/8 3*1/12", "1 up tri po let");
    check(&own, "2/4", "4*1/16 (1/4)", "1 da up da (2)");
    check(&own, "6/8", "3*1/8 3/8", "1 da dum 2");
    let quiet = own.with_variant("quiet").expect("its variant");
    check(&quiet, "2/4", "4*1/16 (1/4)", "1 ti up ti (·)");
    assert_eq!(quiet.chosen().collect::<Vec<_>>(), ["quiet"]);
    assert_eq!(own.chosen().count(), 0);
    assert_eq!(own.title(), "our-school");
    assert_eq!(
        own.words().iter().map(|word| word.as_str()).collect::<Vec<_>>(),
        ["da", "dum", "let", "po", "tri", "up"]
    );
}

#[test]
fn what_a_pupil_types_is_read() {
    let check = |name: &str, typed: &str, expected: Option<&str>| {
        let word = System::named(name).expect("a shipped system").word_for(typed);
        assert_eq!(word.as_ref().map(|word| word.as_str()), expected, "{name}: {typed}");
    };
    check("numbers", "&", Some("&"));
    check("numbers", "+", Some("&"));
    check("numbers", "And", Some("&"));
    check("numbers", "E", Some("e"));
    check("numbers", "3", Some("3"));
    check("numbers", "12", Some("12"));
    check("numbers", "di", None);
    check("takadimi", "DI", Some("di"));
    check("takadimi", "1", None);
    check("gordon", "doo", Some("du"));
    check("kodaly", "ti", Some("ti"));
    check("kodaly", "a", Some("a"));
    check("numbers", "", None);
}

#[test]
fn names_that_are_none() {
    let error = System::named("tango").expect_err("no such system").to_string();
    assert!(error.contains("tango") && error.contains("takadimi") && error.contains(".toml"), "{error}");
    let error = System::numbers().with_variant("loud").expect_err("no such variant").to_string();
    assert!(error.contains("loud") && error.contains("tri-plet"), "{error}");
    let error = System::parse("name = \"x\"\n[say]\nsimple.2 = \"n a\"\ncompound.3 = \"n a b\"\n");
    let error = error.expect("a right table").with_variant("loud").expect_err("no such variant").to_string();
    assert!(error.contains("it has none"), "{error}");
}

/// Checks that a table with `line` in place of a right one is refused at `place` with these words.
#[track_caller]
fn check_error(right: &str, wrong: &str, place: (usize, usize), expected: &[&str]) {
    assert!(OWN.contains(right), "{right}");
    let text = OWN.replacen(right, wrong, 1);
    let Err(Error::Table(error)) = System::parse(&text) else { panic!("{wrong} is read as right") };
    assert_eq!((error.place.line, error.place.column), place, "{wrong}: {error}");
    assert!(text.get(error.span.clone()).is_some(), "{wrong}: {:?}", error.span);
    let message = error.to_string();
    for word in expected {
        assert!(message.contains(word), "{wrong}: \"{word}\" is missing in: {message}");
    }
    assert!(!error.help.is_empty() && !message.ends_with('.'), "{message}");
}

#[test]
fn a_wrong_table_is_pointed_at() {
    // Not TOML, or another form.
    check_error("name = \"our-school\"", "name = our school", (2, 8), &["README"]);
    check_error("name = \"our-school\"\n", "", (1, 1), &["name", "README"]);
    check_error("rests = ", "rest-voicing = ", (5, 1), &["rest-voicing", "rests"]);
    check_error("simple.2 = \"n up\"", "simple.2 = 7", (7, 12), &["integer", "string"]);
    check_error("[say]", "[says]", (4, 2), &["says", "say"]);
    // Names.
    check_error("\"our-school\"", "\"Our School\"", (2, 8), &["Our School", "small letters"]);
    check_error("\"our-school\"", "\"\"", (2, 8), &["1 to 40"]);
    check_error("name = \"quiet\"", "name = \"Quiet!\"", (13, 8), &["Quiet!"]);
    check_error(
        "[[variants]]",
        "[[variants]]\nname = \"quiet\"\nsay = {}\n[[variants]]",
        (16, 8),
        &["two variants", "quiet"],
    );
    // Rows.
    check_error("simple.2 = \"n up\"", "simple.2 = \"n up up\"", (7, 12), &["2 parts", "3 words", "write 2"]);
    check_error("simple.2", "simple.1", (7, 8), &["1", "2 to 16"]);
    check_error("simple.2", "simple.two", (7, 8), &["two", "2 to 16"]);
    check_error("simple.2", "simple.99", (7, 8), &["99", "2 to 16"]);
    check_error("simple.2 = \"n up\"\n", "", (7, 12), &["simple", "2 or 4", "simple.2"]);
    check_error("compound.3 = \"n da dum\"", "compound.4 = \"n a b c\"", (9, 14), &["3 or 6", "compound.3"]);
    check_error("compound.3 = \"n da dum\"\n", "", (4, 1), &["simple", "compound", "lengths"]);
    // Words.
    check_error("\"n up\"", "\"n n\"", (7, 15), &["number of the beat", "first"]);
    check_error("\"n up\"", "\"- up\"", (7, 13), &["says nothing"]);
    check_error("\"n up\"", "\"n (up)\"", (7, 15), &["(up)", "'('"]);
    check_error("\"n up\"", "\"n hippopotamusses!\"", (7, 15), &["16 bytes", "1 to 15"]);
    check_error("\"n up\"", "\"n _up\"", (7, 15), &["_up"]);
    check_error("elsewhere = \"da\"", "elsewhere = \"da di\"", (6, 13), &["2 words", "one"]);
    check_error("elsewhere = \"da\"", "elsewhere = \"\"", (6, 13), &["0 words", "one"]);
    check_error("also.up = \"upp\"", "also.up = \"up|p\"", (10, 12), &["up|p"]);
    // Choices.
    check_error("\"parentheses\"", "\"loud\"", (5, 9), &["loud", "said, softer, parentheses, silent"]);
    check_error("say.rests = \"silent\"", "say.rests = \"none\"", (14, 13), &["none", "silent"]);
    check_error(
        "elsewhere =",
        "asymmetrical-by = \"bar\"\nelsewhere =",
        (6, 19),
        &["bar", "units, group, beats"],
    );
    check_error("elsewhere =", "compound-by = \"six\"\nelsewhere =", (6, 15), &["six", "beats, units"]);
    // The two kinds of system are not mixed.
    check_error("elsewhere =", "rest = \"sh\"\nelsewhere =", (4, 1), &["\"rest\"", "length of the note"]);
    check_error("elsewhere =", "lengths.\"1/4\" = \"ta\"\nelsewhere =", (4, 1), &["lengths", "simple"]);
}

#[test]
fn a_wrong_table_of_lengths_is_pointed_at() {
    const LENGTHS: &str = "name = \"x\"\n[say.lengths]\n\"1/4\" = \"ta\"\n\"1/2\" = \"ta-a\"\n";
    System::parse(LENGTHS).expect("a right table");
    let check = |line: &str, place: (usize, usize), expected: &[&str]| {
        let text = format!("{LENGTHS}{line}\n");
        let Err(Error::Table(error)) = System::parse(&text) else { panic!("{line} is read as right") };
        assert_eq!((error.place.line, error.place.column), place, "{line}: {error}");
        for word in expected {
            assert!(error.to_string().contains(word), "{line}: \"{word}\" is missing in: {error}");
        }
    };
    check("\"quarter\" = \"ta\"", (5, 1), &["quarter", "\"1/4\" is a quarter"]);
    check("\"0\" = \"ta\"", (5, 1), &["\"0\"", "note value"]);
    check("\"-1/4\" = \"ta\"", (5, 1), &["-1/4"]);
    check("\"1/3\" = \"o\"", (5, 1), &["1/3", "power of two"]);
    check("\"1/32\" = \"\"", (5, 10), &["no word"]);
    check(&format!("\"2\" = \"a{}\"", "-a".repeat(20)), (5, 8), &["21 syllables", "16"]);
    check("\"1/8\" = \"ta--a\"", (5, 10), &["0 bytes"]);
    check("[say.held]\nta = \"a a\"", (6, 6), &["2 words"]);
    check("[say.tuplets]\n3 = \"tri o\"", (6, 5), &["3 notes", "2 words"]);
    check("[say.tuplets]\n1 = \"o\"", (6, 1), &["2 to 16"]);
    check("[say.patterns]\n\"1/8\" = \"o\"", (6, 1), &["1 notes", "2 to 16"]);
    check("[say.patterns]\n\"1/8 x\" = \"o o\"", (6, 6), &["\"x\"", "note value"]);
    check("[say.patterns]\n\"1/8 1/8\" = \"o o o\"", (6, 13), &["2 notes", "3 words"]);
    check("[say.two]\n2 = \"n o\"", (2, 2), &["\"two\"", "place in the beat"]);
}

#[test]
fn a_huge_table_is_refused() {
    let text = format!("{OWN}\n# {}", "x".repeat(70_000));
    let error = System::parse(&text).expect_err("too large").to_string();
    assert!(error.contains("65536"), "{error}");
    let many: String = (0..40).map(|n| format!("[[variants]]\nname = \"v{n}\"\nsay = {{}}\n")).collect();
    let error = System::parse(&format!("{OWN}\n{many}")).expect_err("too many").to_string();
    assert!(error.contains("41 variants") && error.contains("32"), "{error}");
    let deep = format!("name = {}", "[".repeat(60_000));
    assert!(System::parse(&deep).is_err());
}

/// A table that is nearly one of the shipped ones.
fn spoilt() -> impl Strategy<Value = String> {
    const TABLES: [&str; 2] = [
        include_str!("../../../../assets/counting/kodaly.toml"),
        include_str!("../../../../assets/counting/numbers.toml"),
    ];
    let change = (any::<prop::sample::Index>(), 0_usize..40, "[ -~\n\"]{0,6}");
    (prop::sample::select(TABLES.to_vec()), prop::collection::vec(change, 1..6)).prop_map(
        |(table, changes)| {
            changes.into_iter().fold(table.to_owned(), |text, (at, out, into)| {
                let chars: Vec<char> = text.chars().collect();
                let at = at.index(chars.len() + 1);
                let behind = (at + out).min(chars.len());
                chars[..at]
                    .iter()
                    .copied()
                    .chain(into.chars())
                    .chain(chars[behind..].iter().copied())
                    .collect()
            })
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 512, ..ProptestConfig::default() })]

    /// Whatever the text, reading it ends with a system that counts, or with an error that points into the text.
    #[test]
    fn no_table_panics(text in prop_oneof![spoilt(), ".{0,200}"]) {
        match System::parse(&text) {
            Ok(system) => {
                let rhythm = rhythm("4/4", "1/4 4*1/16 3*1/12 (1/4) | 3/8 1/8 5*1/20 _1/4");
                for system in std::iter::once(Ok(system.clone())).chain(system.variants().map(|v| system.with_variant(v.name))) {
                    let line = count_in(&rhythm, &system.expect("every variant was checked"), &Settings::default());
                    prop_assert_eq!(line.bars().len(), 2);
                }
            }
            Err(Error::Table(error)) => prop_assert!(text.get(error.span.clone()).is_some(), "{:?}", error),
            Err(error) => prop_assert!(false, "{}", error),
        }
    }
}
