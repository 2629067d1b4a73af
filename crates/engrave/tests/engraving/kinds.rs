use engrave::{Engraving, Glyph, Item, Layout};
use rhythm::Rhythm;

use crate::collisions::nothing_collides;
use crate::places::check_places;
use crate::{page, read};

/// Everything a rhythm text can say, on pages of several widths, with repeats between signs and written out.
const KINDS: [&str; 9] = [
    "meter: 7/8 2+2+3\n| 1 2 3 4 5 6 7 | 1 (2 3) 4 5 _6 7 | [7/8 3+2+2] 1 2 3 4 5 6 7 | [4/4 3+3+2] 1 _2 & 3 4 |",
    "meter: 7/8 2+2+3 by group\n| 1 2 1 2 1 2 3 | 1 (1) 1 2 3 |",
    "meter: 2/4\n| {3:2 1/4 {3:2 1/8 1/8 1/8} 1/4} | {3:2 {5:4 1/16 1/16 1/16 1/16 1/16} 1/4 (1/4)} | {3:2 1/8 1/16 1/16 1/8} 1/4 |",
    "| {5:4 1/8 {3:2 1/64 1/64 1/64} 1/32 1/16 1/8 1/8 1/8} 1/2 | {13:8 1/8 1/4 1/8 1/4. (1/8) 1/2 1/8} |",
    "4 | 1 2 3 4 |: 1 2 3 4 | [1.] 1 2 3 4 & :| [2.] _1 2 3 & || 1 2 3 |",
    "|: 1 2 3 4 | [1. 2.] 1 2 | _1 2 :| [3.] 1 | 1 2 3 4 |",
    "| 1 2 3 4 | [segno] 1 2 3 4 | 1 2 3 4 [to coda] | 1 2 3 4 [D.S. al coda] | [coda] _1 2 | 1 |",
    "| 1 2 3 4 [fine] |: 1 2 3 4 :| 3 times 1 & 2 & 3 & 4 & [D.C. al fine] |",
    "|: 1 2 3 4 | [lasts 1/2] 1 2 :| [from 1/2] 3 4 | (4 bars) | [quarter = 120] 1 2 3 4 | [6/8] [quarter = dotted quarter] 1 2 | [2/4] (1 2) |",
];

fn kinds() -> impl Iterator<Item = Rhythm> {
    KINDS.iter().map(|text| read(text))
}

#[test]
fn every_kind_of_rhythm_finds_its_place() {
    for rhythm in kinds() {
        for width in [30.0, 76.0, 200.0] {
            for written_out in [false, true] {
                let engraving = page(&rhythm, &Layout { width, written_out, ..Layout::default() });
                nothing_collides(&engraving);
                check_places(&rhythm, &engraving);
            }
        }
    }
}

fn glyphs(engraving: &Engraving, wanted: Glyph) -> usize {
    let is = |item: &&Item| matches!(item, Item::Glyph { glyph, .. } if *glyph == wanted);
    engraving.scene().items.iter().filter(is).count()
}

fn texts(engraving: &Engraving) -> Vec<&str> {
    let items = engraving.scene().items.iter();
    items
        .filter_map(|item| if let Item::Text { text, .. } = item { Some(text.as_str()) } else { None })
        .collect()
}

fn of(text: &str) -> Engraving {
    page(&read(text), &Layout { counts: false, ..Layout::default() })
}

/// Common practice, no source: every ending but the last closes with a repeat sign.
#[test]
fn endings_go_back_but_the_last() {
    let engraving = of("|: 1 2 3 4 | [1.] 1 2 3 4 :| [2.] 1 |");
    assert_eq!(glyphs(&engraving, Glyph::RepeatDot), 4);
    let texts = texts(&engraving);
    assert!(texts.contains(&"1.") && texts.contains(&"2."), "{texts:?}");
}

/// How often a passage is played is not read with what stands over the next bar.
#[test]
fn the_number_of_times_stands_before_its_sign() {
    let engraving = of("|: 1 2 3 4 :| 4 times | [quarter = dotted quarter] [6/8] 1 2 |");
    let bounds = |wanted: &dyn Fn(&Item) -> bool| {
        let found = engraving.scene().items.iter().find(|item| wanted(item));
        found.expect("it stands on the page").bounds()
    };
    let times = bounds(&|item| matches!(item, Item::Text { text, .. } if text == "4×"));
    let equal = bounds(&|item| matches!(item, Item::Text { text, .. } if text == "="));
    let dots = bounds(&|item| {
        let closes = item.bounds().x0 > engraving.places()[3].x;
        closes && matches!(item, Item::Glyph { glyph: Glyph::RepeatDot, .. })
    });
    assert!((times.x1 - dots.x0).abs() < 1e-6, "right-aligned to the sign: {times} {dots}");
    assert!(times.x1 < engraving.systems()[0].bar_lines[0] - 1.0 && times.x1 < equal.x0);
}

#[test]
fn jumps_are_told() {
    let engraving =
        of("| 1 2 3 4 | [segno] 1 2 3 4 | 1 2 3 4 [to coda] | 1 2 3 4 [D.S. al coda] | [coda] 1 |");
    assert_eq!((glyphs(&engraving, Glyph::Segno), glyphs(&engraving, Glyph::Coda)), (1, 2));
    assert!(texts(&engraving).contains(&"D.S. al Coda"));
    let engraving = of("| 1 2 3 4 [fine] | 1 2 3 4 [D.C. al fine] |");
    let texts = texts(&engraving);
    assert!(texts.contains(&"Fine") && texts.contains(&"D.C. al Fine"), "{texts:?}");
}

/// A bar that was cut bears its number once; groups stand over the meter.
#[test]
fn cut_bars_and_groups_are_told_once() {
    let engraving = of("| 1 2 3 4 | [lasts 1/2] 1 2 | [from 1/2] 3 4 | 1 2 3 4 |");
    let numbers: Vec<_> = texts(&engraving).into_iter().filter(|text| text.parse::<u32>().is_ok()).collect();
    assert_eq!(numbers, ["1", "2", "3"]);
    assert!(texts(&of("meter: 7/8 2+2+3\n| 1 2 3 4 5 6 7 |")).contains(&"2+2+3"));
}

/// Read in open teaching texts: a bracket where no beam shows the group, a rest is in it or values differ.
#[test]
fn brackets_stand_where_no_beam_shows_the_group() {
    let hooks = |text: &str| {
        let staff = of(text).systems()[0].staff;
        let items = of(text).scene().items.clone();
        let hook = |item: &&Item| matches!(item, Item::Line { from, to, width, .. } if from.x == to.x && (*width - 0.16).abs() < 1e-9 && to.y < staff - 3.0);
        items.iter().filter(hook).count()
    };
    assert_eq!(hooks("meter: 2/4\n| {3:2 1/8 1/8 1/8} 1/4 |"), 0);
    assert_eq!(hooks("meter: 2/4\n| {3:2 1/8 (1/8) 1/8} 1/4 |"), 2);
    assert_eq!(hooks("meter: 2/4\n| {3:2 1/4 1/8} 1/4 |"), 2);
    assert_eq!(hooks("meter: 2/4\n| {3:2 1/8 1/16 1/16 1/8} 1/4 |"), 2);
    assert_eq!(hooks("meter: 2/4\n| {3:2 1/16 1/16 1/16} 1/8 1/4 |"), 2);
    assert_eq!(hooks("meter: 2/4\n| {3:2 1/4 {3:2 1/8 1/8 1/8} 1/4} |"), 2);
}

/// The bracket of an ending stands over the signs in its bars and does not run through them.
#[test]
fn brackets_of_endings_are_clear_of_signs() {
    let check = |text: &str, signs: usize| {
        let engraving = of(text);
        let systems = engraving.systems();
        let items = &engraving.scene().items;
        let brackets: Vec<_> = items
            .iter()
            .filter(|item| match item {
                Item::Line { from, to, .. } => {
                    from.y == to.y
                        && systems.iter().any(|system| from.y < system.print && system.top < from.y)
                }
                _ => false,
            })
            .map(Item::bounds)
            .collect();
        assert!(brackets.len() >= 2, "{text}: {brackets:?}");
        let mut found = 0;
        for item in items {
            found += usize::from(matches!(item, Item::Glyph { glyph: Glyph::Segno | Glyph::Coda, .. }));
            if matches!(item, Item::Glyph { .. } | Item::Text { .. }) {
                let rect = item.bounds();
                let clear = |bracket: &&kurbo::Rect| bracket.intersect(rect).area() > 0.0;
                assert_eq!(brackets.iter().find(clear), None, "{text}: {item:?}");
            }
        }
        assert_eq!(found, signs, "{text}");
        for system in systems {
            assert!(system.mark < system.endings - 0.3, "the playhead's mark stands over the brackets");
        }
    };
    check("|: 1 2 3 4 | [1.] 1 2 3 4 :| [2.] 1 2 3 4 |", 0);
    check(
        "|: 1 2 3 4 | [1.] 1 2 3 4 :| [2.] [segno] 1 2 3 4 || 1 2 3 4 [fine] | 1 2 3 4 [D.S. al fine] |",
        1,
    );
    check("|: 1 2 3 4 | [1.] 1 2 3 4 :| [2.] 1 2 3 4 [to coda] || 1 2 3 4 [D.C. al coda] | [coda] 1 |", 2);
}
