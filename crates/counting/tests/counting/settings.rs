//! How much is counted, how it is said, and what the foot does.

use counting::{Foot, Say, Settings, Voicing, count_in};

use crate::rhythms::{rhythm, shown, system, words};

/// `1 & 2 &` throughout where the smallest value is an eighth: common practice, no source.
#[test]
fn every_division_of_the_smallest_value() {
    let check = |names: &str, meter: &str, bars: &str, expected: &str| {
        let settings = Settings { say: Say::Divisions, ..Settings::default() };
        let line = count_in(&rhythm(meter, bars), &system(names), &settings);
        assert_eq!(words(&line), expected, "{names}, {meter}: {bars}");
    };
    check("numbers", "4/4", "4*1/4", "1 2 3 4");
    check("numbers", "4/4", "1/4 2*1/8 1/2", "1 _& 2 & 3 _& _4 _&");
    check("numbers", "2/4", "3/16 1/16 (1/4)", "1 _e _& a (2) (e) (&) (a)");
    check("numbers", "6/8", "3/8 1/4 1/8", "1 _la _li 2 _la li");
    check("numbers", "6/8", "3/16 1/16 1/8 3/8", "1 _ta _la ta li _ta 2 _ta _la _ta _li _ta");
    // A beat that divides otherwise is counted in its own divisions.
    check("numbers", "3/4", "1/6 1/12 2*1/8 1/4", "1 _la li 2 & 3 _&");
    check("takadimi", "2/4", "1/10 3/20 1/4", "ta _ka di _mi _ti ta");
    // Twos and threes as fine as one another.
    check("takadimi", "5/8 2+3", "1/4 1/8 1/4", "ta _di ta ki _da");
    check("takadimi", "5/8 2+3", "1/16 3/16 3/8", "ta ka _di _mi ta _va _ki _di _da _ma");
    check("takadimi", "7/8 4+3", "3/8 1/8 3/8", "ta _ka _di mi ta _ki _da");
    check("takadimi", "7/8 4+3", "1/2 3/8", "ta ta");
    check("mchose-tibbs", "1/4", "1/32 7/32", "1 ta _ta _ta _te _ta _ta _ta");
    // What is finer than any word is counted only where it is struck.
    check("numbers", "2/4", "1/32 7/32 1/4", "1 · _e _& _a 2 _e _& _a");
    check("gordon", "2/4", "1/8 (1/8) 1/4", "du du _de");
}

#[test]
fn attacks_only() {
    let check = |names: &str, meter: &str, bars: &str, expected: &str| {
        let settings = Settings { say: Say::Attacks, ..Settings::default() };
        let line = count_in(&rhythm(meter, bars), &system(names), &settings);
        assert_eq!(words(&line), expected, "{names}, {meter}: {bars}");
    };
    check("numbers", "4/4", "3/8 1/8 (1/4) 1/8 (1/8)", "1 & 4");
    check("numbers", "4/4", "(1/2) 1/2 | _1/2 (1/2)", "3 | ");
    check("kodaly", "4/4", "3/8 1/8 (1/4) 1/8 (1/8)", "ta ti ti");
    check("takadimi", "6/8", "1/4 1/8 (3/8)", "ta da");
}

/// Said, softer, in parentheses or silent: as the system has it (numbers from memory, Gordon and takadimi read), or as asked.
#[test]
fn holds_and_rests_are_said_as_asked() {
    let check = |names: &str, holds: Option<Voicing>, rests: Option<Voicing>, expected: &str| {
        let settings = Settings { holds, rests, ..Settings::default() };
        let line = count_in(&rhythm("4/4", "1/2 (1/4) 1/8 (1/8)"), &system(names), &settings);
        let counts: Vec<_> = line.bars()[0].counts().iter().map(shown).collect();
        assert_eq!(counts.join(" "), expected, "{names}, {holds:?}, {rests:?}");
    };
    check("numbers", None, None, "1 _2 (3), 4 (&),");
    check("takadimi", None, None, "ta <_ta> <(ta)> ta <(di)>");
    check("gordon", None, None, "du <_du> (·) du");
    check("kodaly", None, None, "ta _a (sh), ti (sh),");
    check("numbers", Some(Voicing::Softer), Some(Voicing::Said), "1 _2, (3) 4 (&)");
    check("numbers", Some(Voicing::Parentheses), Some(Voicing::Parentheses), "1 <_2> <(3)> 4 <(&)>");
    check("numbers", Some(Voicing::Silent), Some(Voicing::Silent), "1 _· (·) 4");
    check("gordon", None, Some(Voicing::Softer), "du <_du> (du), du (de),");
}

#[test]
fn what_is_aloud() {
    let line = count_in(&rhythm("4/4", "1/2 (1/4) 1/4"), &system("takadimi"), &Settings::default());
    let aloud: Vec<_> = line.bars()[0].counts().iter().map(|c| c.aloud().map(|word| word.as_str())).collect();
    assert_eq!(aloud, [Some("ta"), None, None, Some("ta")]);
}

/// Down on the beat and up halfway: common practice, no source. Up with the last third of a beat in three: a band
/// directors' article on tapping in compound meter (2016), read.
#[test]
fn the_foot() {
    let check = |names: &str, meter: &str, bars: &str, expected: &str| {
        let settings = Settings { feet: true, ..Settings::default() };
        let line = count_in(&rhythm(meter, bars), &system(names), &settings);
        let steps = line.bars()[0]
            .feet()
            .iter()
            .map(|step| format!("{}{}", if step.foot == Foot::Down { "↓" } else { "↑" }, step.at));
        assert_eq!(steps.collect::<Vec<_>>().join(" "), expected, "{names}, {meter}");
    };
    check("numbers", "2/4", "1/2", "↓0 ↑1/8 ↓1/4 ↑3/8");
    check("numbers", "6/8", "3/4", "↓0 ↑1/4 ↓3/8 ↑5/8");
    check("takadimi", "5/8 2+3", "5/8", "↓0 ↑1/8 ↓1/4 ↑1/2");
    check("slow-six", "3/8", "3/8", "↓0 ↑1/16 ↓1/8 ↑3/16 ↓1/4 ↑5/16");
    let bare = count_in(&rhythm("2/4", "1/2"), &system("numbers"), &Settings::default());
    assert_eq!(bare.bars()[0].feet(), []);
}
