use sequencer::drill::Steps;

use super::*;

#[test]
fn the_template_is_the_plan_that_serves_where_nothing_is_said() {
    let plan = parse(TEMPLATE).expect("it is a plan");
    assert_eq!(plan.plan, DrillPlan::default());
    assert_eq!(parse("rhythms = [\"a\"]").expect("a list is a plan").plan, DrillPlan::default());
    assert_eq!(plan.steps, StepsAsked::default());
    // What is commented out are examples that can be read.
    let examples = TEMPLATE.lines().map(|line| match line.strip_prefix("# ") {
        Some(example) if example.contains(" = ") || example.starts_with('[') => example,
        _ => line,
    });
    let plan = parse(&examples.collect::<Vec<_>>().join("\n")).expect("it is a plan");
    assert_eq!(plan.plan.bars, Some(2));
    assert_eq!(plan.plan.hard, [HardBar { rhythm: 0, bar: 3, times: 2 }]);
    assert_eq!(plan.plan.silent.by_turns, Some((2, 2)));
    assert_eq!(plan.plan.heard.model, Some(Audible::ALL));
    assert_eq!(plan.plan.turns.players, ["K1", "K2"]);
    let own = Tempo::new(Span::QUARTER, 88.into()).expect("a tempo");
    let steps = Steps {
        from: 72.into(),
        by: 4.into(),
        up_after: 2,
        down_after: 1,
        least: 60.into(),
        most: 96.into(),
        ends_at_most: true,
    };
    assert_eq!(plan.steps.pace(own), Ok(Pace::Stepping(steps)));
}

#[test]
fn what_is_left_out_of_the_steps_is_the_rhythms_own_tempo() {
    let own = Tempo::new(Span::QUARTER, 88.into()).expect("a tempo");
    let pace =
        |text: &str| parse(&format!("rhythms = [\"a\"]\n[tempo]\n{text}")).expect("a plan").steps.pace(own);
    assert_eq!(pace(""), Ok(Pace::Own));
    assert_eq!(pace("at = 72.5"), Ok(Pace::Steady(Ratio::new(145, 2))));
    let Ok(Pace::Stepping(steps)) = pace("at = 60\nstep = 2.5") else { panic!("it steps") };
    assert_eq!((steps.from, steps.by), (60.into(), Ratio::new(5, 2)));
    assert_eq!((steps.least, steps.most), (60.into(), 88.into()));
    assert!(pace("fastest = 90").expect_err("no step").contains("give the size of a step too"));
}

/// The text the error points at, what it says, and what it offers.
fn check(text: &str, at: &str, message: &str, help: &str) {
    let text = format!("rhythms = [\"a\"]\n{text}");
    let wrong = parse(&text).expect_err("it is no plan");
    assert_eq!(&text[wrong.span.clone()], at, "{wrong:?}");
    assert!(wrong.message.contains(message), "{wrong:?}");
    assert!(wrong.help.contains(help), "{wrong:?}");
}

#[test]
fn what_is_wrong_is_pointed_at() {
    check("bars = 0", "0", "0 is not a number of bars called at once", "from 1 to 64");
    check("bars = \"all\"", "\"all\"", "expected a whole number", "countline drill --template");
    check("bar = 2", "bar", "`bar` does not stand here", "did you mean `bars`");
    check("hidden = true", "hidden", "`hidden` does not stand here", "under [call]");
    check("brass = 1", "brass", "unknown field `brass`", "countline drill --template");
    check("time = 2", "time", "`time` is nothing that a plan says here", "did you mean `times`?");
    check("players = \"K1, K2\"", "\"K1, K2\"", "such as [1, 2] or [\"K1\", \"K2\"]", "");
    check("breath = 1.5", "1.5", "the number `1.5`, expected a whole number", "");
    check("breath = -1", "-1", "-1 is not a number of beats to breathe", "from 0 to 32");
    check("rest = 33", "33", "33 is not a number of beats to rest", "from 0 to 32");
    check("turns = \"by-round\"", "\"by-round\"", "nobody is there to take turns", "players = [");
    check("times = 1001", "1001", "1001 is not a number of times through a drill", "from 1 to 1000");
    check("players = [\"K1\", \"K1\"]", "\"K1\"", "two players are called \"K1\"", "everybody once");
    check("players = [\" \"]", "\" \"", "is no player", "a code");
    check("turns = \"at-random\"", "\"at-random\"", "is not a way to take turns", "\"within-round\"");
    check("[count-in]\nbars = 9", "9", "9 is not a number of bars counted in", "from 0 to 8");
    check("[count-in]\nbefore = \"never\"", "\"never\"", "is not what is counted in", "\"rounds\"");
    check("[response]\nsounds = [\"hum\"]", "\"hum\"", "\"hum\" is not a sound", "\"clap\"");
    check("[sound]\nmute = [\"tone\"]", "\"tone\"", "a tone is muted where there is none", "tone = false");
    check("[sound]\nmute = [\"all\"]", "\"all\"", "\"all\" is not a sound", "\"clap\"");
    check("[response]\npickup = \"me\"", "\"me\"", "is not who sounds a pickup", "\"players\"");
    check("[click]\nwith = 2", "2", "by turns", "`without`");
    check("[click]\nwith = 2\nwithout = 0", "0", "is not a number of bars with or without", "from 1 to 64");
    check("[tempo]\nat = 12", "12", "12 is not a tempo in beats a minute", "from 20 to 300");
    check("[tempo]\nat = 60.12345", "60.12345", "is not a tempo", "from 20 to 300");
    check("[tempo]\nat = 60\nstep = 0", "0", "0 is not a step", "more than 0");
    check("[tempo]\nat = 60\nslowest = 70\nstep = 2", "70", "70 is faster than 60", "at most the first");
    check("[tempo]\nat = 60\nfastest = 50\nstep = 2", "50", "50 is slower than 60", "at least the first");
    check("[[hard]]\nrhythm = 2\nbar = 1", "2", "there is no rhythm 2: the plan has 1", "from 1");
    check("[[hard]]\nbar = -3", "-3", "-3 is not a number of a bar", "from 0");
    let bare = parse("rhythms = [../r/b1.rhythm]").expect_err("no quotes");
    assert!(bare.message.contains("a text stands in quotes"), "{bare:?}");
    let none = parse("bars = 2").expect_err("no rhythms");
    assert!(none.message.contains("missing field `rhythms`"), "{none:?}");
    let empty = parse("rhythms = []").expect_err("no rhythms");
    assert!(empty.message.contains("0 is not a number of rhythms in a drill"), "{empty:?}");
}

#[test]
fn what_nothing_would_come_of_is_refused() {
    let idle = |text: &str, at: &str, why: &str| check(text, at, why, "");
    idle("[sound]\nmute = [\"click\"]\nclick = \"downbeats\"", "\"downbeats\"", "the click is muted");
    idle("[sound]\nmute = [\"count\"]\nrests = \"silent\"", "\"silent\"", "the counts are muted");
    idle("[sound]\ncount = \"attacks\"\nholds = \"softer\"", "\"softer\"", "none of them is said");
    idle("[count-in]\nbars = 0\nentry = \"ready-go\"", "\"ready-go\"", "there is none");
    idle("play-along = true\nbreath = 2", "2", "nothing is called");
}
