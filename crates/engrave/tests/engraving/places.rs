use engrave::{Engraving, Item, Layout};
use proptest::prelude::*;
use rhythm::{Deed, Rhythm};
use timebase::{Position, Span};

use crate::any_rhythm::any_rhythm;
use crate::{page, read};

pub(crate) fn check_places(rhythm: &Rhythm, engraving: &Engraving) {
    for bar in rhythm.performance().bars() {
        for event in rhythm.bars()[bar.index].events() {
            let id = bar.attack_id(event.at);
            let place = engraving.place(id).unwrap_or_else(|| panic!("no place for {id:?}"));
            assert_eq!((place.deed, place.position), (event.deed, bar.position(event.at)));
            let (system, x) = engraving.x_at(place.position).expect("inside the piece");
            assert_eq!((system, x), (place.system, place.x));
            let system = &engraving.systems()[system];
            assert!(system.left < x && x < system.right);
        }
    }
    for passage in engraving.passages() {
        let rises = |pair: &[(Position, f64)]| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1;
        assert!(passage.knots.windows(2).all(rises), "{:?}", passage.knots);
        assert_eq!(passage.knots.first().map(|knot| knot.0), Some(passage.start));
        assert_eq!(passage.knots.last().map(|knot| knot.0), Some(passage.end));
    }
    let systems = engraving.systems();
    for system in systems {
        assert!(system.top < system.staff && system.staff < system.rows && system.rows <= system.bottom);
        assert!(system.bar_lines.windows(2).all(|pair| pair[0] < pair[1]));
    }
    assert!(systems.windows(2).all(|pair| pair[0].bottom < pair[1].top));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn every_event_has_its_place(rhythm in any_rhythm(), width in 24.0f64..140.0, counts: bool, written_out: bool) {
        let layout = Layout { width, counts, written_out, ..Layout::default() };
        check_places(&rhythm, &page(&rhythm, &layout));
    }

    #[test]
    fn time_moves_to_the_right_where_repeats_are_written_out(rhythm in any_rhythm(), steps in 2i64..40) {
        let engraving = page(&rhythm, &Layout { written_out: true, ..Layout::default() });
        let performance = rhythm.performance();
        let whole = performance.end() - performance.start();
        let mut before = (0, f64::NEG_INFINITY);
        for step in 0..=steps {
            let here = engraving.x_at(performance.start() + whole * step / steps).expect("inside the piece");
            prop_assert!(here > before, "{here:?} does not follow {before:?}");
            before = here;
        }
    }
}

#[test]
fn passes_share_their_places_between_repeat_signs() {
    let rhythm = read("|: 1 2 3 4 :| 3 times");
    let layout = Layout::default();
    let (signs, written_out) =
        (page(&rhythm, &layout), page(&rhythm, &Layout { written_out: true, ..layout }));
    let second =
        |engraving: &Engraving| engraving.x_at(Position::ZERO + Span::WHOLE).expect("the second time");
    assert_eq!(second(&signs), signs.x_at(Position::ZERO).expect("the first time"));
    assert!(second(&written_out) > written_out.x_at(Position::ZERO).expect("the first time"));
    assert_eq!(signs.place(written_out.places()[8].id).map(|place| place.id.pass), Some(3));
}

#[test]
fn outside_the_piece_there_is_no_place() {
    let engraving = page(&read("4 | 1 2 3 4 |"), &Layout::default());
    let at = |quarters: i64| engraving.x_at(Position::ZERO + Span::QUARTER * quarters);
    assert!(at(-1).is_some() && at(4).is_some());
    assert!(at(-2).is_none() && at(5).is_none());
}

/// Read in open teaching texts: spacing grows by about 1.4 to 1.5 for each doubling of length.
#[test]
fn spacing_follows_length() {
    let layout = Layout { counts: false, ..Layout::default() };
    let engraving = page(&read("| 1/2 1/2 | 1/4 1/4 1/8 1/8 1/4 |"), &layout);
    let xs: Vec<f64> = engraving.places().iter().map(|place| place.x).collect();
    let (half, quarter, eighth) = (xs[1] - xs[0], xs[3] - xs[2], xs[5] - xs[4]);
    for ratio in [half / quarter, quarter / eighth] {
        assert!((1.4..=1.5).contains(&ratio), "{ratio}");
    }
}

#[test]
fn full_systems_end_at_the_margin() {
    let engraving = page(&read(&("| 1 2 & 3 (4) ".repeat(20) + "|")), &Layout::default());
    let (last, full) = engraving.systems().split_last().expect("systems");
    assert!(full.len() > 3);
    for system in full {
        assert!((system.right - engraving.layout().staff_right()).abs() < 0.01, "{}", system.right);
    }
    assert!(last.right <= engraving.layout().staff_right() + 0.01);
}

/// Struck counts are bold, held ones light, rests light in parentheses; a line lies under what is held.
#[test]
fn the_count_line_shows_what_is_done() {
    let engraving = page(&read("| 1 _2 3 (4) |"), &Layout::default());
    let counts = engraving.systems()[0].counts;
    let texts: Vec<(&str, bool)> = engraving
        .scene()
        .items
        .iter()
        .filter_map(|item| match item {
            Item::Text { text, at, weight, .. } if (at.y - counts).abs() < 1e-9 => {
                Some((text.as_str(), *weight == engrave::Weight::Bold))
            }
            _ => None,
        })
        .collect();
    assert_eq!(texts, [("1", true), ("2", false), ("3", true), ("(4)", false)]);
    let place = |index: usize| engraving.places()[index].x;
    let under = engraving.scene().items.iter().find_map(|item| match item {
        Item::Line { from, to, .. } if from.y > counts && from.y == to.y => Some((from.x, to.x)),
        _ => None,
    });
    let (from, to) = under.expect("a line under the held count");
    assert!(place(0) < from && from < place(1) && place(1) < to && to < place(2));
    assert_eq!(engraving.places()[1].deed, Deed::Hold);
    assert_eq!(engraving.description(), "Bar 1: 1, hold 2, 3, rest 4.");
}
