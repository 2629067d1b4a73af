//! Rules of engraving as tables: what a teacher types, and what must stand on the page. "Teaching texts" are open
//! textbooks of music theory and their chapters on notation; "from memory" is marked so.

use engrave::{Anchor, Engraving, Glyph, Item, Layout};
use kurbo::{Point, Rect};

use crate::{page, read};

fn of(text: &str) -> Engraving {
    page(&read(text), &Layout { counts: false, ..Layout::default() })
}

fn glyphs(engraving: &Engraving) -> Vec<(Glyph, Point, f64)> {
    let items = engraving.scene().items.iter();
    let mut found: Vec<_> = items
        .filter_map(|item| match item {
            Item::Glyph { glyph, at, scale, .. } => Some((*glyph, *at, *scale)),
            _ => None,
        })
        .collect();
    found.sort_by(|a, b| a.1.x.total_cmp(&b.1.x));
    found
}

/// The rests of a page by their names, from the left.
fn rests(text: &str) -> Vec<&'static str> {
    let names = glyphs(&of(text)).into_iter().map(|(glyph, ..)| glyph.name());
    names.filter(|name| name.starts_with("rest")).collect()
}

/// The level beams of a page: of each its box, how far over the staff.
fn beams(engraving: &Engraving) -> Vec<Rect> {
    let items = engraving.scene().items.iter();
    let blocks = items.filter(|item| matches!(item, Item::Path { .. })).map(Item::bounds);
    blocks.filter(|rect| (rect.height() - 0.5).abs() < 1e-9 && rect.width() > 1.0).collect()
}

/// The middles of all stems of full size.
fn stems(engraving: &Engraving) -> Vec<f64> {
    let items = engraving.scene().items.iter();
    let stem = items.filter_map(|item| match item {
        Item::Line { from, to, width, .. } if from.x == to.x && (width - 0.12).abs() < 1e-9 => Some(from.x),
        _ => None,
    });
    stem.collect()
}

/// How many notes stand under each beam of this level, from the left; the first level is 1.
fn under_beams(text: &str, level: u8) -> Vec<usize> {
    let engraving = of(text);
    let beams = beams(&engraving);
    let stems = stems(&engraving);
    let over = |rect: &Rect| {
        let covers = |other: &&Rect| other.x0 < rect.x1 && rect.x0 < other.x1 && other.y0 < rect.y0 - 0.1;
        beams.iter().filter(covers).count()
    };
    let mut found: Vec<_> = beams.iter().filter(|rect| over(rect) + 1 == usize::from(level)).collect();
    found.sort_by(|a, b| a.x0.total_cmp(&b.x0));
    let covered = |rect: &Rect| stems.iter().filter(|&&x| rect.x0 < x && x < rect.x1).count();
    found.into_iter().map(covered).collect()
}

/// Teaching texts: beam by beat; in 4/4 four eighths in each half, never across the middle; 2/4 one beam; 3/4 in pairs.
/// From memory: compound meters in threes, declared groups as declared.
#[test]
fn beams_show_the_beats() {
    let check = |text: &str, expected: &[usize]| assert_eq!(under_beams(text, 1), expected, "{text}");
    check("| 1 & 2 & 3 & 4 & |", &[4, 4]);
    check("| 1 2 & 3 & 4 |", &[2, 2]);
    check("meter: 2/4\n| 1 & 2 & |", &[4]);
    check("meter: 3/4\n| 1 & 2 & 3 & |", &[2, 2, 2]);
    check("| 1 e & a 2 e & a 3 & 4 e & |", &[4, 4, 2, 3]);
    check("meter: 6/8\n| 1 la li 2 la li |", &[3, 3]);
    check("meter: 12/8\n| 1 la li 2 la li 3 la li 4 la li |", &[3, 3, 3, 3]);
    check("meter: 7/8 2+2+3\n| 1 2 3 4 5 6 7 |", &[2, 2, 3]);
}

/// Common practice, no source: second beams join only what is as short, and a single shorter note has a stub. From
/// memory: where there are thirty-seconds only the first beam goes on over an eighth's end.
#[test]
fn second_beams_are_broken() {
    let check = |text: &str, level: u8, expected: &[usize]| {
        assert_eq!(under_beams(text, level), expected, "{text}");
    };
    check("| 1 e & a 2 & 3 4 |", 2, &[4]);
    check("| 1 & a 2 e & 3 4 |", 2, &[2, 2]);
    check("| 1/8. 1/16 1/16 1/8 1/16 1/4 1/4 |", 2, &[1, 1, 1]);
    check("meter: 1/4\n| 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 |", 1, &[8]);
    check("meter: 1/4\n| 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 |", 2, &[4, 4]);
    check("meter: 1/4\n| 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 |", 3, &[4, 4]);
}

/// One line, one voice: all beams are level (from memory), and all notes under one have stems of one length.
#[test]
fn beams_are_level() {
    let engraving = of("| 1 e & a 2 & a 3 la li 4 & | 1/8. 1/16 1/32 1/32 1/16 1/8 1/4 1/4 |");
    for item in &engraving.scene().items {
        if let Item::Line { from, to, .. } = item {
            assert!(from.x == to.x || from.y == to.y, "{item:?} is sloped");
        }
    }
    assert!(beams(&engraving).len() > 8);
}

/// Teaching texts: a silent bar takes a whole rest in any meter; no half rest in 3/4; in 4/4 one only on beats 1 and 2 or
/// 3 and 4; compound beats a dotted quarter rest, or a quarter and an eighth; as few as possible.
#[test]
fn rests_show_the_beats() {
    let check = |text: &str, expected: &[&str]| assert_eq!(rests(text), expected, "{text}");
    for meter in ["2/4", "3/4", "4/4", "6/8", "12/8", "2/2"] {
        check(&format!("meter: {meter}\n| (1) | 1 |"), &["restWhole"]);
    }
    check("meter: 3/4\n| 1 (2 3) |", &["restQuarter", "restQuarter"]);
    check("| (1 2) 3 4 |", &["restHalf"]);
    check("| 1 2 (3 4) |", &["restHalf"]);
    check("| 1 (2 3) 4 |", &["restQuarter", "restQuarter"]);
    check("meter: 6/8\n| (1) 2 |", &["restQuarter"]);
    check("meter: 6/8\n| (1) li 2 |", &["restQuarter"]);
    check("meter: 6/8\n| 1 (la) 2 |", &["restQuarter"]);
    check("meter: 6/8\n| 1 (la) li 2 |", &["rest8th"]);
}

/// Teaching texts: a dot of a rest or note stands in the space over the line; a whole rest hangs from the line, a half
/// rest lies on it. On one line all others stand about it (common practice, no source).
#[test]
fn rests_stand_on_their_line() {
    let staff = |engraving: &Engraving| engraving.systems()[0].staff;
    let check = |text: &str, glyph: Glyph, low: f64, high: f64| {
        let engraving = of(text);
        let found = glyphs(&engraving).into_iter().find(|(other, ..)| *other == glyph);
        let (_, at, _) = found.unwrap_or_else(|| panic!("{text} has no {}", glyph.name()));
        let bounds = glyph.bounds() + at.to_vec2();
        let (over, under) = (staff(&engraving) - bounds.y0, bounds.y1 - staff(&engraving));
        assert!((low..=high).contains(&(over - under)), "{text}: {over} over, {under} under the line");
    };
    check("| (1) |", Glyph::RestWhole, -0.6, -0.4);
    check("| (1 2) 3 4 |", Glyph::RestHalf, 0.4, 0.6);
    check("| (1) 2 3 4 |", Glyph::RestQuarter, -0.1, 0.1);
    check("meter: 6/8\n| (1) 2 |", Glyph::Dot, 0.9, 1.1);
    check("| 1 _2 & 3 4 |", Glyph::Dot, 0.9, 1.1);
}

/// Teaching texts: what crosses the middle of a 4/4 bar is two tied notes; syncopations inside a half bar, and quarter,
/// half, quarter, are accepted (from memory).
#[test]
fn notes_show_the_middle_of_the_bar() {
    let check = |text: &str, heads: usize| {
        let found = glyphs(&of(text)).into_iter();
        let heads_found = found.filter(|(glyph, ..)| glyph.name().starts_with("notehead")).count();
        assert_eq!(heads_found, heads, "{text}");
    };
    check("| 1 2 & _3 & 4 |", 6);
    check("| 1 & _2 & 3 4 |", 5);
    check("| 1 2 4 |", 3);
    check("| 1 2 & 4 |", 5);
}

/// From memory: on a line by itself stems point upwards and are an octave, 3.5 spaces, long.
#[test]
fn stems_point_upwards() {
    let engraving = of("| 1 2 & 3 (4) |");
    let staff = engraving.systems()[0].staff;
    let mut found = 0;
    for item in &engraving.scene().items {
        if let Item::Line { from, to, width, .. } = item
            && from.x == to.x
            && (width - 0.12).abs() < 1e-9
        {
            assert!((staff - to.y - 3.5).abs() < 1e-9 && from.y < staff, "{item:?}");
            found += 1;
        }
    }
    assert_eq!(found, 4);
}

/// The SMuFL standard: a stem meets a black notehead at the font's anchor `stemUpSE`, 1.18 spaces from the head's left
/// edge and 0.168 over its middle.
#[test]
fn stems_meet_their_heads() {
    let engraving = of("| 1 2 3 4 |");
    let staff = engraving.systems()[0].staff;
    let heads = glyphs(&engraving).into_iter().filter(|(glyph, ..)| *glyph == Glyph::NoteBlack);
    let stems = stems(&engraving);
    for (_, at, _) in heads {
        assert!(stems.iter().any(|x| (x + 0.06 - at.x - 1.18).abs() < 1e-9), "{at:?} has no stem");
        assert!((at.y - staff).abs() < 1e-9);
    }
}

/// The width of the count text is a minimum: where the counts are wide, notes stand further apart than by their lengths
/// alone, and as far as counts and a blank need.
#[test]
fn counts_find_room() {
    let text = "| 1 e & a 2 e & a 3 e & a 4 e & a |";
    let distance = |counts: bool| {
        let layout = Layout { counts, width: 24.0, ..Layout::default() };
        let engraving = page(&read(text), &layout);
        let places = engraving.places();
        places.windows(2).map(|pair| pair[1].x - pair[0].x).fold(f64::INFINITY, f64::min)
    };
    assert!(distance(true) > distance(false) + 0.1, "{} {}", distance(true), distance(false));
}

/// Grace strokes stand before their note, as small as 3/5 (the font's own single grace note is): one with a slash, two
/// and three under two beams.
#[test]
fn grace_notes_lead_in() {
    let text = "| 1 2 3 4 |\nstrokes: | flam drag ruff . |";
    let engraving = of(text);
    let found = glyphs(&engraving);
    assert_eq!(found.iter().filter(|(glyph, ..)| *glyph == Glyph::GraceFlam).count(), 1);
    let small = found.iter().filter(|(glyph, _, scale)| *glyph == Glyph::NoteBlack && *scale == 0.6);
    assert_eq!(small.count(), 2 + 3);
    let flam = found.iter().find(|(glyph, ..)| *glyph == Glyph::GraceFlam).expect("a flam");
    assert!(flam.1.x + Glyph::GraceFlam.bounds().x1 < engraving.places()[0].x - 0.59);
}

/// So many slashes as are written; a z where the roll is not measured; a note tied to a roll goes on with it, as the
/// grammar of rhythm text has it.
#[test]
fn rolls_have_their_slashes() {
    let check = |text: &str, expected: &[Glyph]| {
        let rolls = glyphs(&of(text)).into_iter().map(|(glyph, ..)| glyph);
        let rolls = rolls.filter(|glyph| {
            let name = glyph.name();
            name.starts_with("tremolo") || name == "buzzRoll"
        });
        assert_eq!(rolls.collect::<Vec<_>>(), expected, "{text}");
    };
    check(
        "| 1 2 3 4 |\nstrokes: | / // /// //// |",
        &[Glyph::Tremolo1, Glyph::Tremolo2, Glyph::Tremolo3, Glyph::Tremolo4],
    );
    check("| 1 2 3 4 |\nstrokes: | z . . . |", &[Glyph::BuzzRoll]);
    check("| 1 2 3 4 & | _1 2 3 4 |\nstrokes: | . . . . z | . . . |", &[Glyph::BuzzRoll; 2]);
    check("| 1/1 |\nstrokes: | /// |", &[Glyph::Tremolo3]);
}

/// The hands' letters stand under (or over) the middle of their notes, all on one line.
#[test]
fn stickings_are_aligned() {
    let text = "| 1 2 & 3 4 |\nsticking: | R L R B . |";
    let engraving = of(text);
    let letters: Vec<(&str, Point)> = engraving
        .scene()
        .items
        .iter()
        .filter_map(|item| match item {
            Item::Text { text, at, anchor: Anchor::Middle, .. } => Some((text.as_str(), *at)),
            _ => None,
        })
        .collect();
    let words: Vec<_> = letters.iter().map(|(text, _)| *text).collect();
    assert_eq!(words, ["R", "L", "R", "B"]);
    for ((_, at), place) in letters.iter().zip(engraving.places()) {
        assert!((at.x - place.x).abs() < 1e-9 && (at.y - letters[0].1.y).abs() < 1e-9);
        assert!(at.y > engraving.systems()[0].staff);
    }
    let over = page(&read(text), &Layout { sticking: engrave::StickingAt::Over, ..Layout::default() });
    let staff = over.systems()[0].staff;
    let is_over =
        |item: &Item| matches!(item, Item::Text { text, at, .. } if text == "L" && at.y < staff - 3.5);
    assert!(over.scene().items.iter().any(is_over));
}

/// Several bars of rest are one sign with their number where no counts are to stand under them; with counts each bar is
/// there to be counted.
#[test]
fn bars_of_rest_are_one() {
    let rhythm = read("| 1 2 3 4 | (12 bars) | 1 2 3 4 |");
    let joined = page(&rhythm, &Layout { counts: false, ..Layout::default() });
    let digits = |engraving: &Engraving| {
        let names = glyphs(engraving).into_iter().map(|(glyph, ..)| glyph.name());
        names.filter(|name| name.starts_with("timeSig")).collect::<Vec<_>>()
    };
    assert_eq!(digits(&joined), ["timeSig4", "timeSig4", "timeSig1", "timeSig2"]);
    assert_eq!(joined.systems().len(), 1);
    assert_eq!(glyphs(&joined).iter().filter(|(glyph, ..)| *glyph == Glyph::RestWhole).count(), 0);
    let apart = page(&rhythm, &Layout::default());
    assert_eq!(glyphs(&apart).iter().filter(|(glyph, ..)| *glyph == Glyph::RestWhole).count(), 12);
    let numbers = |engraving: &Engraving| {
        let texts = engraving.scene().items.iter().filter_map(|item| match item {
            Item::Text { text, size, .. } if *size < 1.5 => text.parse::<u32>().ok(),
            _ => None,
        });
        texts.collect::<Vec<_>>()
    };
    assert_eq!(numbers(&joined), [1, 2, 14]);
}

/// What stays where the tempo changes is told by two notes and an equals sign (common practice, no source).
#[test]
fn what_stays_is_told_in_notes() {
    let engraving = of("| 1 2 3 4 | [6/8] [quarter = dotted quarter] 1 2 | [2/4] [quarter = 132] 1 2 |");
    let names: Vec<_> = glyphs(&engraving).into_iter().map(|(glyph, ..)| glyph.name()).collect();
    let notes = names.iter().filter(|name| **name == "metNoteQuarterUp").count();
    assert_eq!((notes, names.iter().filter(|name| **name == "metAugmentationDot").count()), (4, 1));
    let says = |words: &str| {
        let is = |item: &Item| matches!(item, Item::Text { text, .. } if text == words);
        engraving.scene().items.iter().any(is)
    };
    assert!(says("=") && says("= 132"));
}

/// A loudness stands under the beginning of its bar, a swell from there to the next.
#[test]
fn loudness_stands_under_its_bar() {
    let engraving = of("| 1 2 3 4 | 1 2 3 4 | 1 2 3 4 |\ndynamics: | p< | | f> |");
    let found = glyphs(&engraving);
    let x = |wanted: Glyph| found.iter().find(|(glyph, ..)| *glyph == wanted).map(|(_, at, _)| at.x);
    let (soft, loud) = (x(Glyph::P).expect("p"), x(Glyph::F).expect("f"));
    assert!(soft < engraving.places()[0].x && loud < engraving.places()[8].x);
    let sloped: Vec<_> = engraving
        .scene()
        .items
        .iter()
        .filter_map(|item| match item {
            Item::Line { from, to, .. } if from.x != to.x && from.y != to.y => Some((*from, *to)),
            _ => None,
        })
        .collect();
    assert_eq!(sloped.len(), 4, "two hairpins of two lines");
    let grows = |(from, to): &(Point, Point)| soft < from.x && to.x < loud + 0.6;
    assert_eq!(sloped.iter().filter(|line| grows(line)).count(), 2);
}

/// The two lines of every hairpin.
fn hairpins(engraving: &Engraving) -> Vec<(Point, Point)> {
    let items = engraving.scene().items.iter();
    let lines = items.filter_map(|item| match item {
        Item::Line { from, to, .. } if from.x != to.x && from.y != to.y => Some((*from, *to)),
        _ => None,
    });
    lines.collect()
}

/// A swell to the first note of a system ends with the system before; one that goes on does so in the next.
#[test]
fn no_swell_leaves_a_stub_in_the_next_system() {
    let bars = "| 1 & 2 & 3 & 4 & ".repeat(6) + "|\ndynamics: ";
    let layout = Layout { counts: false, width: 84.0, ..Layout::default() };
    let lines = |dynamics: &str| {
        let engraving = page(&read(&(bars.clone() + dynamics)), &layout);
        let systems = engraving.systems();
        assert!(systems.len() > 1);
        let first = |number: usize| {
            let place = engraving.places().iter().find(|place| place.system == number);
            place.expect("a place").x
        };
        let in_first: Vec<bool> = hairpins(&engraving)
            .into_iter()
            .map(|(from, to)| {
                assert!(to.x - from.x > 2.0, "a stub from {from} to {to}");
                let number = systems.partition_point(|system| system.bottom < from.y);
                from.x < first(number) - 0.6
            })
            .collect();
        (in_first.len(), in_first.into_iter().filter(|before| *before).count())
    };
    assert_eq!(lines("| p< | f> | p< | f> | p< | f> |"), (12, 0), "each in its bar");
    let (many, before_first) = lines("| p< | | | | | f |");
    assert!(
        many == 2 * (before_first / 2 + 1) && before_first > 0,
        "one that goes on: {many} {before_first}"
    );
}

/// The beams of grace notes under other beams stand further from them than beams do from each other.
#[test]
fn grace_notes_stand_clear_of_the_beams_over_them() {
    let check = |value: &str, many: usize| {
        let strokes = "flam drag ruff . ".repeat(many / 4);
        let notes = format!("{value} ").repeat(many);
        let engraving = of(&format!("meter: 1/4\n| {notes}|\nstrokes: | {strokes}|"));
        let beams = beams(&engraving);
        let items = || engraving.scene().items.iter();
        let small = items().map(|item| (item, item.bounds())).filter(|(item, bounds)| match item {
            Item::Path { .. } => (bounds.height() - 0.3).abs() < 1e-9,
            Item::Glyph { glyph, .. } => *glyph == Glyph::GraceFlam,
            _ => false,
        });
        let mut under = 0;
        for (_, bounds) in small {
            let over = beams.iter().filter(|beam| beam.x0 < bounds.x1 && bounds.x0 < beam.x1);
            if let Some(lowest) = over.map(|beam| beam.y1).reduce(f64::max) {
                under += 1;
                assert!(bounds.y0 - lowest >= 0.6, "{value}: {bounds} under a beam that ends at {lowest}");
            }
        }
        assert!(under > 2, "{value}: {under} under beams");
    };
    check("1/16", 4);
    check("1/32", 8);
    check("1/64", 16);
}

/// Where a system begins with another meter, the one before ends with it as well, behind its last bar line (common
/// practice, no source).
#[test]
fn a_meter_is_told_before_it_comes() {
    let text = "| 1 2 3 4 ".repeat(4) + "| [3/4] " + &"1 2 3 | ".repeat(5);
    let check = |width: f64, expected: usize| {
        let layout = Layout { counts: false, width, ..Layout::default() };
        let engraving = page(&read(&text), &layout);
        let threes = glyphs(&engraving).into_iter().filter(|(glyph, ..)| *glyph == Glyph::Meter3);
        assert_eq!(threes.count(), expected, "{width}");
        for system in engraving.systems() {
            assert!(system.bar_lines.iter().all(|&x| x <= system.right));
        }
        let behind = engraving
            .systems()
            .iter()
            .filter(|system| system.bar_lines.last().is_some_and(|&last| last < system.right - 1.0));
        assert_eq!(behind.count(), expected - 1);
    };
    check(400.0, 1);
    check(84.0, 2);
}
