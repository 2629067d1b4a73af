use counting::{System, count, count_in};
use engrave::{CountStyle, CountsShown, Engraving, Error, Glyph, Item, Layout, Staff, engrave_staves};
use rhythm::Piece;

use crate::places::check_places;
use crate::{page, read};

const DUET: &str = "title: Two at a time\nmeter: 3/4\n\
    part: snare drum\n|: 1 & 2 3 e & a | 1 (2) 3 :| [2/4] 1 la li 2 |\n\
    part: bass drum\n|: 1 2 3 | (1) :| [2/4] 1 2 |";

fn piece(text: &str) -> Piece {
    let reading = rhythm::text::read_piece(text);
    reading.piece.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics))
}

fn joined(piece: &Piece, layout: &Layout) -> Engraving {
    let countings: Vec<_> = piece.parts().iter().map(|part| count(&part.rhythm)).collect();
    let staves = piece.parts().iter().zip(&countings).map(|(part, counting)| Staff {
        name: part.name.as_deref(),
        rhythm: &part.rhythm,
        countings: vec![counting],
        shares_line: part.shares_line,
    });
    engrave_staves(&staves.collect::<Vec<_>>(), layout).expect("a page")
}

/// Several parts are joined by one bracket a system, their bar lines go through, and what is played together stands
/// one under the other.
#[test]
fn parts_are_joined() {
    let piece = piece(DUET);
    for width in [40.0, 76.0] {
        for written_out in [false, true] {
            let engraving = joined(&piece, &Layout { width, written_out, ..Layout::default() });
            let [upper, lower] = engraving.staves() else { panic!("two staves") };
            assert_eq!((upper.name(), lower.name()), (Some("snare drum"), Some("bass drum")));
            for place in lower.places() {
                let above = upper.places().iter().find(|other| other.position == place.position);
                if let Some(above) = above {
                    assert_eq!((place.x, place.system), (above.x, above.system));
                }
            }
            let items = &engraving.scene().items;
            let ends = items.iter().filter(|item| {
                matches!(item, Item::Glyph { glyph: Glyph::BracketTop | Glyph::BracketBottom, .. })
            });
            assert_eq!(ends.count(), 2 * engraving.systems().len());
            for (upper, lower) in upper.systems().iter().zip(lower.systems()) {
                assert!(upper.rows < lower.top && upper.bar_lines == lower.bar_lines);
                let through = items.iter().filter(|item| {
                    matches!(item, Item::Line { from, to, .. }
                        if from.x == to.x && from.y <= upper.staff - 1.0 && to.y >= lower.staff + 1.0
                            && from.y > upper.top)
                });
                assert!(through.count() > upper.bar_lines.len());
            }
            assert_eq!(engraving.bands().len(), engraving.systems().len());
            check_places(&piece.parts()[0].rhythm, &engraving);
        }
    }
}

#[test]
fn every_part_is_described() {
    let engraving = joined(&piece("part: a\n| 1 2 3 4 |\npart: b\n| 1 (2) 3 4 |"), &Layout::default());
    assert_eq!(engraving.description(), "a. Bar 1: 1, 2, 3, 4. b. Bar 1: 1, rest 2, 3, 4.");
}

#[test]
fn what_does_not_fit_together_is_an_error() {
    let (a, b) = (read("| 1 2 3 4 |"), read("| 1 2 3 4 | 1 |"));
    let staff = |rhythm| Staff { name: None, rhythm, countings: Vec::new(), shares_line: false };
    let check = |staves: &[Staff<'_>], expected: Error| {
        assert_eq!(engrave_staves(staves, &Layout::default()).expect_err("no page"), expected);
    };
    check(&[], Error::NoStaff);
    check(&[staff(&a), staff(&b)], Error::OtherBars { staff: 2 });
    let sharing = || Staff { shares_line: true, ..staff(&a) };
    check(&[sharing()], Error::SharedLine { staff: 1 });
    check(&[staff(&a), sharing(), sharing()], Error::SharedLine { staff: 3 });
}

const DRUMSET: &str = "meter: 4/4\npart: hands\n| 1 & 2 & (3) & 4 & | 1/2 _1/4 (1/8) 1/8 |\n\
    part: feet\nline: hands\n| 1 (2) 3 4 & | (1) 2 _3 _4 |";

/// Two voices on one line: heads over and under it, stems up and down, rests apart, one staff and no bracket.
#[test]
fn two_voices_share_a_line() {
    let engraving = joined(&piece(DRUMSET), &Layout::default());
    let [upper, lower] = engraving.staves() else { panic!("two parts") };
    for (above, below) in upper.systems().iter().zip(lower.systems()) {
        assert_eq!((above.staff, above.top), (below.staff, below.top), "one line");
        assert!(above.counts < below.counts && above.rows < below.rows, "each its counts");
    }
    let line = upper.systems()[0].staff;
    let system = &engraving.bands()[0];
    let items = &engraving.scene().items[system.items.clone()];
    let heads: Vec<f64> = items
        .iter()
        .filter_map(|item| match item {
            Item::Glyph { glyph: Glyph::NoteBlack | Glyph::NoteHalf, at, .. } => Some(at.y - line),
            _ => None,
        })
        .collect();
    assert!(heads.iter().all(|y| (y.abs() - 0.5).abs() < 1e-9), "in the spaces beside the line: {heads:?}");
    assert!(heads.iter().any(|y| *y > 0.0) && heads.iter().any(|y| *y < 0.0));
    for item in items {
        let Item::Line { from, to, width, .. } = item else { continue };
        if from.x == to.x && (0.11..0.13).contains(width) {
            let (from, to) = (from.y - line, to.y - line);
            assert!(from.signum() == to.signum() && to.abs() >= 4.0 - 1e-9, "a stem from {from} to {to}");
        }
    }
    for item in items {
        if let Item::Glyph { glyph: Glyph::RestQuarter | Glyph::RestEighth | Glyph::RestHalfLedger, .. } =
            item
        {
            let bounds = item.bounds();
            let clear = bounds.y1 < line - 0.2 || bounds.y0 > line + 0.2;
            assert!(clear, "a rest off the line: {bounds:?}");
        }
    }
    let glyphs = |wanted: Glyph| {
        let found = |item: &&Item| matches!(item, Item::Glyph { glyph, .. } if *glyph == wanted);
        items.iter().filter(found).count()
    };
    assert_eq!(glyphs(Glyph::BracketTop), 0, "one staff needs no bracket");
    assert_eq!(glyphs(Glyph::Clef), 1);
    let names = items.iter().filter(|item| matches!(item, Item::Text { text, .. } if text == "feet"));
    assert_eq!(names.count(), 2, "before its notes, and before its counts");
}

/// What is kept free for writing is kept under every count line and between all counts, on the sheet and on its key.
#[test]
fn there_is_room_to_write() {
    let rhythm = read("| 1 e & a 2 e & a 3 e & a 4 e & a |");
    let writing = engrave::WritingRoom { below: 2.0, step: 3.2 };
    let with = |writing| page(&rhythm, &Layout { writing, width: 120.0, ..Layout::default() });
    let (wide, usual) = (with(writing), with(Default::default()));
    let steps = wide.places().windows(2).map(|pair| pair[1].x - pair[0].x);
    assert!(steps.into_iter().all(|step| step > 3.2 - 1e-9));
    let height = |engraving: &Engraving| engraving.systems()[0].bottom - engraving.systems()[0].staff;
    assert!((height(&wide) - height(&usual) - 2.0).abs() < 1e-9);
}

fn texts_at(engraving: &Engraving, y: f64) -> Vec<&str> {
    let items = engraving.scene().items.iter();
    let texts = items.filter_map(|item| match item {
        Item::Text { text, at, .. } if (at.y - y).abs() < 1e-9 => Some(text.as_str()),
        _ => None,
    });
    texts.collect()
}

/// Two counting systems stand one above the other, each aligned under its notes.
#[test]
fn two_count_lines_stand_one_above_the_other() {
    let rhythm = read("meter: 6/8\n| 1 la li 2 |");
    let takadimi = count_in(&rhythm, &System::named("takadimi").expect("a system"), &Default::default());
    let numbers = count(&rhythm);
    let staff =
        Staff { name: None, rhythm: &rhythm, countings: vec![&numbers, &takadimi], shares_line: false };
    let engraving = engrave_staves(&[staff], &Layout::default()).expect("a page");
    let lines = &engraving.systems()[0].count_lines;
    assert_eq!(texts_at(&engraving, lines[0]), ["1", "la", "li", "2"]);
    assert_eq!(texts_at(&engraving, lines[1]), ["ta", "ki", "da", "ta"]);
}

/// A sheet to write on is laid out as its key is, with a line in the place of every count line.
#[test]
fn a_sheet_and_its_key_are_laid_out_alike() {
    let rhythm = read(&("| 1 2 & 3 (4) | 1 e & a 2 & 3 _4 ".repeat(6) + "|"));
    let style = CountStyle { hands: true, ..CountStyle::default() };
    let key = page(&rhythm, &Layout { count_style: style, ..Layout::default() });
    let ruled = CountStyle { shown: CountsShown::Ruled, ..style };
    let sheet = page(&rhythm, &Layout { count_style: ruled, ..Layout::default() });
    assert_eq!(key.places(), sheet.places());
    assert_eq!(key.systems(), sheet.systems());
    let words = |engraving: &Engraving| texts_at(engraving, engraving.systems()[0].counts).len();
    assert!(words(&key) > 10 && words(&sheet) == 0);
}

/// How many beads, rings, knots and threads stand in the row of the hands at this height.
fn hands_marks(engraving: &Engraving, y: f64) -> [usize; 4] {
    let mut marks = [0; 4];
    for item in &engraving.scene().items {
        let middle = item.bounds().center();
        match item {
            Item::Path { paint, .. } if (middle.y - y).abs() < 1e-6 => {
                marks[usize::from(!matches!(paint, engrave::Paint::Fill))] += 1;
            }
            Item::Line { from, to, .. } if (middle.y - y).abs() < 1e-6 => {
                marks[if from.x == to.x { 2 } else { 3 }] += 1;
            }
            _ => {}
        }
    }
    marks
}

/// The row of the hands: a bead where it is struck, a knot where a held count falls, a ring where a silent one does.
#[test]
fn the_hands_have_marks_of_their_own() {
    let style = CountStyle { hands: true, legend: true, ..CountStyle::default() };
    let engraving = page(&read("| 1 _2 (3 4) |"), &Layout { count_style: style, ..Layout::default() });
    let y = engraving.systems()[0].hands.expect("a row of the hands");
    assert_eq!(hands_marks(&engraving, y), [1, 2, 1, 1], "a bead, two rings, a knot, a thread");
    let foot = engraving.foot().expect("a legend");
    let words: Vec<_> = engraving.scene().items[foot.items.clone()]
        .iter()
        .filter_map(|item| if let Item::Text { text, .. } = item { Some(text.as_str()) } else { None })
        .collect();
    assert_eq!(words, ["1", "struck", "2", "held", "(3)", "silent", "strike", "hold", "rest"]);
}

/// Under one count line for several parts the row shows what they do together: struck where any strikes, held where any
/// sounds on, silent where all are.
#[test]
fn the_hands_of_parts_counted_together_are_those_of_all() {
    let layout =
        Layout { count_style: CountStyle { hands: true, ..CountStyle::default() }, ..Layout::default() };
    let check = |line: &str, upper: &str, lower: &str, expected: [usize; 4]| {
        let piece = piece(&format!("part: hands\n{upper}\npart: feet\n{line}{lower}"));
        let rhythms: Vec<_> = piece.parts().iter().map(|part| &part.rhythm).collect();
        let all = count(&rhythm::together(&rhythms).expect("parts of a piece"));
        let staves = piece.parts().iter().zip([vec![], vec![&all]]).map(|(part, countings)| Staff {
            name: part.name.as_deref(),
            rhythm: &part.rhythm,
            countings,
            shares_line: part.shares_line,
        });
        let engraving = engrave_staves(&staves.collect::<Vec<_>>(), &layout).expect("a page");
        let y = engraving.staves()[1].systems()[0].hands.expect("a row under the lower part");
        assert_eq!(hands_marks(&engraving, y), expected, "{upper} {lower}: beads, rings, knots, threads");
    };
    for line in ["line: hands\n", ""] {
        check(line, "| 1 (2 3 4) |", "| (1) 2 _3 (4) |", [2, 1, 1, 1]);
        check(line, "| 1 & 2 & 3 & 4 & |", "| 1 (2) 3 (4) |", [8, 0, 0, 0]);
        check(line, "| 1 _2 _3 _4 |", "| (1) 2 (3 4) |", [2, 0, 2, 2]);
    }
}

/// On a wide page there is room for longer names, up to a fifth of its width.
#[test]
fn long_names_of_parts_are_cut_only_where_there_is_no_room() {
    let long = "snare drum with brushes";
    let piece = piece(&format!("part: {long}\n| 1 2 3 4 |\npart: feet\n| 1 2 3 4 |"));
    let check = |width: f64, whole: bool| {
        let engraving = joined(&piece, &Layout { width, ..Layout::default() });
        let names = engraving.scene().items.iter().filter_map(|item| match item {
            Item::Text { text, .. } if text.starts_with("snare") => Some((text.clone(), item.bounds())),
            _ => None,
        });
        for (text, bounds) in names {
            assert_eq!(text == long, whole, "{text} on a page of {width}");
            assert!(bounds.x0 >= Layout::MARGIN && bounds.width() <= (0.2 * (width - 4.0)).max(14.0));
        }
    };
    check(107.0, true);
    check(60.0, false);
}
