use engrave::{Ink, Item, Layout, PrintSize, Scene, engrave};
use kurbo::Point;
use picture::{Error, Mark, PictureOptions, Row, Side, Spread, picture};
use rhythm::AttackId;
use timebase::Span;

use crate::{attacks, page, read};

const TEXT: &str = "| 1 2 & 3 (4) |";

fn row(marks: Vec<Mark>) -> Row {
    Row { label: "P1".to_owned(), bias_ms: Some(-28.4), marks, ..Row::default() }
}

/// What the rows add to the engraving, the faint lines left out.
fn added(marks: &[Mark], options: &PictureOptions) -> (Scene, Vec<Item>) {
    let rhythm = read(TEXT);
    let rows = [row(marks.to_vec())];
    let engraving = page(&rhythm, &rows);
    let scene =
        picture(&engraving, &rows, &[], &PictureOptions { legend: false, ..*options }).expect("a picture");
    let without = picture(&engraving, &[row(Vec::new())], &[], &PictureOptions { legend: false, ..*options });
    let known = without.expect("a picture").items;
    let items = scene.items.iter().filter(|item| !known.contains(item)).cloned().collect();
    (engraving.scene().clone(), items)
}

/// The x of the written attack and of the foot and the bead of the pin at it.
fn lean_of(lean_ms: f64, beyond: Option<Side>) -> (f64, f64, f64, Ink) {
    let rhythm = read(TEXT);
    let id = attacks(&rhythm)[1];
    let x = page(&rhythm, &[row(Vec::new())]).place(id).expect("a place").x;
    let (_, items) = added(&[Mark::Pin { id, lean_ms, beyond }], &PictureOptions::default());
    let (from, to, ink) = items
        .iter()
        .find_map(|item| match item {
            Item::Line { from, to, ink, dash: None, .. } => Some((*from, *to, *ink)),
            _ => None,
        })
        .expect("a pin");
    assert!(to.y < from.y, "the bead stands over the foot");
    let bead = items.iter().any(|item| {
        let centre = item.bounds().center();
        matches!(item, Item::Path { .. }) && centre.distance(to) < 1e-6
    });
    assert!(bead, "a bead at the pin's end");
    (x, from.x, to.x, ink)
}

/// The foot stands on the written line; the bead to the left is early, to the right late, so many staff
/// spaces as the scale says.
#[test]
fn a_pin_leans_as_time_runs() {
    let check = |lean_ms: f64, beyond, spaces: f64, expected: Ink| {
        let (x, foot, bead, ink) = lean_of(lean_ms, beyond);
        assert!((foot - x).abs() < 1e-9, "the foot stands at {foot} and the note at {x}");
        assert!((bead - x - spaces).abs() < 1e-9, "{lean_ms} ms lean {} staff spaces", bead - x);
        assert_eq!(ink, expected);
    };
    check(0.0, None, 0.0, Ink::Main);
    check(-30.0, None, -1.0, Ink::Main);
    check(45.0, None, 1.5, Ink::Main);
    check(-60.0, Some(Side::Early), -2.0, Ink::Early);
    check(60.0, Some(Side::Late), 2.0, Ink::Late);
    // Beyond the edge the bead stays at the edge and an arrowhead points on.
    check(-900.0, Some(Side::Early), -2.8, Ink::Early);
    check(900.0, Some(Side::Late), 2.8, Ink::Late);
}

/// Whether it lies beyond the tolerance is the judge's word: the picture writes the number where it is told to.
#[test]
fn only_what_lies_beyond_the_tolerance_carries_its_number() {
    let check = |lean_ms: f64, beyond: Option<Side>, expected: &[&str]| {
        let id = attacks(&read(TEXT))[0];
        let (_, items) = added(&[Mark::Pin { id, lean_ms, beyond }], &PictureOptions::default());
        let texts: Vec<&str> = items
            .iter()
            .filter_map(|item| if let Item::Text { text, .. } = item { Some(text.as_str()) } else { None })
            .collect();
        assert_eq!(texts, expected);
    };
    check(62.0, Some(Side::Late), &["+62"]);
    check(-48.6, Some(Side::Early), &["−49"]);
    check(62.0, None, &[]);
}

#[test]
fn a_missed_attack_is_dashed_and_has_no_bead() {
    let rhythm = read(TEXT);
    let (_, items) = added(&[Mark::Missed { id: attacks(&rhythm)[2] }], &PictureOptions::default());
    assert!(
        matches!(items.as_slice(), [Item::Line { dash: Some(_), from, to, .. }] if from.x == to.x),
        "{items:?}"
    );
}

#[test]
fn an_extra_attack_is_a_hollow_bead_where_it_fell() {
    let (_, items) = added(&[Mark::Extra { system: 0, x: 40.0 }], &PictureOptions::default());
    let outlined: Vec<&Item> = items.iter().filter(|item| item.ink() == Ink::Extra).collect();
    assert_eq!(outlined.len(), 2, "a stem and a diamond: {items:?}");
    assert!(outlined.iter().all(|item| (item.bounds().center().x - 40.0).abs() < 1e-6));
    let is_filled = |item: &Item| matches!(item, Item::Path { paint: engrave::Paint::Fill, .. });
    assert!(items.iter().filter(|item| is_filled(item)).all(|item| item.ink() == Ink::Paper));
}

fn texts(scene: &Scene) -> Vec<(&str, Point)> {
    let text = |item: &'_ Item| if let Item::Text { at, .. } = item { Some(*at) } else { None };
    scene
        .items
        .iter()
        .filter_map(|item| {
            Some((if let Item::Text { text, .. } = item { text.as_str() } else { return None }, text(item)?))
        })
        .collect()
}

/// The label and the bias stand at every row's head, and which side is early is always said.
#[test]
fn every_system_has_its_heads_and_its_legend() {
    let rhythm = read(&("| 1 2 & 3 (4) ".repeat(12) + "|"));
    let rows = [row(Vec::new()), Row { label: "A very long name indeed".to_owned(), ..Row::default() }];
    let engraving = page(&rhythm, &rows);
    assert!(engraving.systems().len() > 2);
    let scene =
        picture(&engraving, &rows, &[], &PictureOptions { legend: false, ..PictureOptions::default() });
    let scene = scene.expect("a picture");
    for word in ["early | late", "P1", "−28 ms"] {
        let found = texts(&scene).iter().filter(|(text, _)| *text == word).count();
        assert_eq!(found, engraving.systems().len(), "{word}");
    }
    for (text, at) in texts(&scene) {
        let is_head = at.x < engraving.layout().staff_left() - 0.5;
        let right = scene
            .items
            .iter()
            .find(|item| matches!(item, Item::Text { text: t, at: a, .. } if t == text && *a == at));
        let right = right.expect("it was just found").bounds().x1;
        assert!(!is_head || right < engraving.layout().staff_left(), "{text} runs into the staff");
    }
}

/// The widest head has room for the whole of itself, however its width was added up; what is to be known stands under the label, clear
/// of it, and of the legend and the row above.
#[test]
fn heads_are_whole_and_stand_one_under_the_other() {
    let rhythm = read(TEXT);
    for (label, state) in
        [("K1", "gone"), ("K2 at the back", ""), ("Xylophone", "not there: Left"), ("K1", "cross-talk")]
    {
        let rows =
            [row(Vec::new()), Row { label: label.to_owned(), state: state.to_owned(), ..row(Vec::new()) }];
        let options = PictureOptions { legend: false, ..PictureOptions::default() };
        let scene = picture(&page(&rhythm, &rows), &rows, &[], &options).expect("a picture");
        let heads: Vec<&Item> = scene
            .items
            .iter()
            .filter(|item| {
                matches!(item, Item::Text { text, .. }
                if ["early | late", "P1", "−28 ms", label].contains(&text.as_str()) || *text == state)
            })
            .collect();
        let whole = 5 + usize::from(!state.is_empty());
        assert_eq!(heads.len(), whole, "{label}, {state}: {:?}", texts(&scene));
        // Letters that hang lowest and stand highest take about a fifth less than the box.
        let ink = |head: &Item| head.bounds().inset((0.0, -0.16));
        let clear = |(index, head): (usize, &&Item)| {
            heads[index + 1..].iter().all(|other| ink(head).intersect(ink(other)).is_zero_area())
        };
        assert!(heads.iter().enumerate().all(clear), "{label}, {state}: one over the other");
    }
}

/// Everything drawn for a row lies in the room that was kept free for it, on the page.
#[test]
fn rows_stay_in_their_room() {
    let rhythm = read(&("| 1 e & a 2 e & a 3 e & a 4 e & a ".repeat(8) + "|"));
    let marks: Vec<Mark> = attacks(&rhythm)
        .into_iter()
        .zip([900.0, -900.0, 70.0, -70.0, 0.0].into_iter().cycle())
        .map(|(id, lean_ms)| Mark::Pin {
            id,
            lean_ms,
            beyond: Some(if lean_ms < 0.0 { Side::Early } else { Side::Late }),
        })
        .collect();
    let rows = vec![row(marks); 4];
    let engraving = page(&rhythm, &rows);
    let spreads: Vec<Spread> = attacks(&rhythm).into_iter().map(|id| Spread { id, ms: 500.0 }).collect();
    let scene = picture(&engraving, &rows, &spreads, &PictureOptions::default()).expect("a picture");
    let page = kurbo::Rect::new(0.0, 0.0, scene.width, scene.height);
    for item in &scene.items {
        assert!(page.contains_rect(item.bounds()), "{item:?} leaves the page");
    }
    let systems = engraving.systems();
    for item in scene.items.iter().filter(|item| matches!(item.ink(), Ink::Early | Ink::Late | Ink::Spread)) {
        let (top, bottom) = (item.bounds().y0, item.bounds().y1);
        let legend = systems.last().is_some_and(|system| top >= system.bottom);
        let inside = systems.iter().any(|system| system.rows <= top && bottom <= system.bottom);
        assert!(legend || inside, "{item:?}");
    }
}

/// Numbers stand clear of the lines that rows stand on, those too that are raised over a neighbour.
#[test]
fn numbers_are_clear_of_the_row_above() {
    let rhythm = read(&format!("| {}|", "1/32 ".repeat(32)));
    let beyond = Some(Side::Late);
    let marks = attacks(&rhythm).into_iter().map(|id| Mark::Pin { id, lean_ms: 120.0, beyond });
    let rows = vec![row(marks.collect()); 3];
    for print in [PrintSize::Usual, PrintSize::Large] {
        let layout = picture::layout(Layout { print, ..Layout::default() }, &rows, false);
        let engraving = engrave(&rhythm, &counting::count(&rhythm), &layout).expect("a page");
        let options = PictureOptions { legend: false, ..PictureOptions::default() };
        let scene = picture(&engraving, &rows, &[], &options).expect("a picture");
        let lines: Vec<f64> = (scene.items.iter())
            .filter_map(|item| match item {
                Item::Line { from, to, ink: Ink::Faint, .. } if from.y == to.y => Some(from.y),
                _ => None,
            })
            .collect();
        let numbers: Vec<_> = (scene.items.iter())
            .filter(|item| matches!(item, Item::Text { text, .. } if text == "+120"))
            .map(Item::bounds)
            .collect();
        let mut heights: Vec<f64> = numbers.iter().map(|bounds| bounds.y1).collect();
        heights.sort_by(f64::total_cmp);
        heights.dedup();
        assert_eq!(heights.len(), 2 * lines.len(), "some are raised in every row");
        for bounds in numbers {
            for &y in &lines {
                assert!(bounds.y1 < y || bounds.y0 > y + 0.3, "{bounds} at the line {y}, {print:?}");
            }
        }
    }
}

#[test]
fn what_the_engraving_does_not_have_is_an_error() {
    let rhythm = read(TEXT);
    let engraving = page(&rhythm, &[row(Vec::new())]);
    let unknown = AttackId { bar: 9, pass: 1, at: Span::ZERO };
    let check = |mark: Mark, expected: &str| {
        let error =
            picture(&engraving, &[row(vec![mark])], &[], &PictureOptions::default()).expect_err("no picture");
        assert!(error.to_string().contains(expected), "{error}");
    };
    check(Mark::Missed { id: unknown }, "the row of P1 names an attack in bar 9, time 1, at 0");
    check(Mark::Pin { id: unknown, lean_ms: 0.0, beyond: None }, "judge and engrave the same rhythm");
    check(Mark::Extra { system: 3, x: 1.0 }, "system 3 of 1");
    let spread = [Spread { id: unknown, ms: 1.0 }];
    assert!(picture(&engraving, &[], &spread, &PictureOptions::default()).is_err());
    for given in [0.0, -3.0, f64::NAN] {
        let options = PictureOptions { ms_per_space: given, ..PictureOptions::default() };
        assert!(matches!(picture(&engraving, &[], &[], &options), Err(Error::Scale { .. })));
    }
    let bare = engrave(&rhythm, &counting::count(&rhythm), &Layout::default()).expect("a page");
    let error = picture(&bare, &[row(Vec::new())], &[], &PictureOptions::default()).expect_err("no room");
    assert!(error.to_string().contains("engrave with `picture::layout`"), "{error}");
}
