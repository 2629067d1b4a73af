//! Pieces with several parts on sheets.

use counting::{CountLine, count};
use engrave::{Glyph, Item, Staff};
use paper::{Answers, Document, Exercise, Part, Print, Role, SheetOptions, sheet, staves_in_words};
use rhythm::{Piece, Rhythm, together};

use crate::figures;

const TRIO: &str = "title: Low Tide\npart: snare drum\n| 1 & 2 e & a (3) 4 |\npart: hands\n| 1 2 3 & 4 |\n\
    part: feet\nline: hands\n| 1 (2) 3 (4) |";

fn piece() -> Piece {
    let reading = rhythm::text::read_piece(TRIO);
    reading.piece.unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

/// `all` are count lines a part; one line for all stands under the last.
fn document(piece: &Piece, lines: &[Vec<CountLine>], answers: Answers, print: Print) -> Document {
    let staves = piece.parts().iter().zip(lines).map(|(part, lines)| Staff {
        name: part.name.as_deref(),
        rhythm: &part.rhythm,
        countings: lines.iter().collect(),
        shares_line: part.shares_line,
    });
    let exercises = [Exercise { title: "Low Tide", staves: staves.collect() }];
    let options = SheetOptions { title: "Week 3".to_owned(), ..SheetOptions::new(print, answers) };
    sheet(&exercises, &options).expect("a sheet")
}

fn each(piece: &Piece) -> Vec<Vec<CountLine>> {
    piece.parts().iter().map(|part| vec![count(&part.rhythm)]).collect()
}

fn all_as_one(piece: &Piece) -> Vec<Vec<CountLine>> {
    let rhythms: Vec<&Rhythm> = piece.parts().iter().map(|part| &part.rhythm).collect();
    let line = count(&together(&rhythms).expect("parts of one piece"));
    vec![Vec::new(), Vec::new(), vec![line]]
}

/// The lines to write on: level, and as long as the staff.
fn lines(document: &Document) -> Vec<f64> {
    let parts = document.pages[0].parts.iter().filter(|part| part.role == Role::Decoration);
    let long = |item: &Item| match item {
        Item::Line { from, to, .. } if from.y == to.y && to.x - from.x > 30.0 => Some(from.y),
        _ => None,
    };
    parts.flat_map(|part| &part.items).filter_map(long).collect()
}

fn words(part: &Part) -> Vec<&str> {
    let text = |item: &'_ Item| matches!(item, Item::Text { .. });
    let texts = part.items.iter().filter(|item| text(item));
    texts.map(|item| if let Item::Text { text, .. } = item { text.as_str() } else { "" }).collect()
}

#[test]
fn parts_are_joined_and_named() {
    let piece = piece();
    for print in [Print::default(), Print::default().large()] {
        let key = document(&piece, &each(&piece), Answers::Key, print);
        let (figure, alt) = figures(&key.pages[0]).next().expect("a system");
        let of_glyph = |wanted: Glyph| {
            let found = |item: &&Item| matches!(item, Item::Glyph { glyph, .. } if *glyph == wanted);
            figure.items.iter().filter(found).count()
        };
        assert_eq!((of_glyph(Glyph::BracketTop), of_glyph(Glyph::Clef)), (1, 2), "two staves, one bracket");
        for name in ["snare drum", "hands", "feet"] {
            assert!(words(figure).contains(&name), "{:?}", words(figure));
            // Meter and repeats are told once, with the first part.
            let meter = if name == "snare drum" { "4/4. " } else { "" };
            assert!(alt.contains(&format!("{name}. {meter}Bar 1:")), "{alt}");
        }
    }
}

/// A line to write on for every part, each under its own notes, or one for all.
#[test]
fn every_part_has_its_line_or_all_have_one() {
    let piece = piece();
    let check = |counts: &[Vec<CountLine>], expected: usize| {
        let blank = document(&piece, counts, Answers::Blank, Print::default());
        let key = document(&piece, counts, Answers::Key, Print::default());
        let ys = lines(&blank);
        assert_eq!(ys.len(), expected, "{ys:?}");
        assert!(lines(&key).is_empty(), "the key is filled in");
        let (blank, _) = figures(&blank.pages[0]).next().expect("a system");
        let (key, _) = figures(&key.pages[0]).next().expect("a system");
        assert!(!words(blank).contains(&"&") && words(key).contains(&"&"));
        let clefs = |part: &Part| -> Vec<f64> {
            let found = part.items.iter().filter_map(|item| match item {
                Item::Glyph { glyph: Glyph::Clef, at, .. } => Some(at.y),
                _ => None,
            });
            found.collect()
        };
        assert_eq!(clefs(blank), clefs(key), "laid out alike");
        if expected == 3 {
            let [upper, lower] = clefs(blank)[..] else { panic!("two staves") };
            assert!(upper < ys[0] && ys[0] < lower && lower < ys[1] && ys[1] < ys[2], "{ys:?}");
        }
    };
    check(&each(&piece), 3);
    check(&all_as_one(&piece), 1);
}

/// What children write has room: `1 e & a` under sixteenths, a hand's breadth of 5.5 mm from count to count, and under the
/// notes the 8 mm of ruled paper at least (common practice, no source).
#[test]
fn sixteenths_leave_room_for_a_hand() {
    let reading = rhythm::text::read("| 1 e & a 2 e & a 3 e & a 4 e & a | 1 |");
    let rhythm = reading.rhythm.expect("a rhythm");
    let counting = count(&rhythm);
    for (print, step, high) in [(Print::default(), 5.5, 8.0), (Print::default().large(), 7.5, 12.0)] {
        let exercises = [Exercise::new("", &rhythm, &counting)];
        let mm = |spaces: f64| spaces * print.space_pt() * 25.4 / 72.0;
        let blank = sheet(&exercises, &SheetOptions::new(print, Answers::Blank)).expect("a sheet");
        let (figure, _) = figures(&blank.pages[0]).next().expect("a system");
        let mut heads: Vec<(f64, f64)> = figure
            .items
            .iter()
            .filter_map(|item| match item {
                Item::Glyph { glyph: Glyph::NoteBlack, at, .. } => Some((at.x, at.y)),
                _ => None,
            })
            .collect();
        // The tempo at the head has a symbol of its own.
        heads.sort_by(|a, b| a.0.total_cmp(&b.0));
        assert_eq!(heads.len(), 16);
        for pair in heads.windows(2) {
            assert!(mm(pair[1].0 - pair[0].0) >= step - 0.01, "{} mm", mm(pair[1].0 - pair[0].0));
        }
        let room = mm(lines(&blank)[0] - heads[0].1 - 0.5);
        assert!(room >= high, "{room} mm under the heads");
    }
}

/// Six parts of 16 bars keep more together than a page holds: their heading and tempo still stand over their first system.
#[test]
fn a_heading_stands_on_the_page_of_its_first_system() {
    let bars = "| 1 e & a 2 & 3 4 | 1 & 2 3 & 4 ".repeat(8) + "|";
    let section: String = (1..=6).map(|part| format!("part: drum {part}\n{bars}\n")).collect();
    let piece = rhythm::text::read_piece(&section).piece.expect("six parts");
    let short = crate::counted(&["| 1 2 3 & 4 | 1 (2) 3 4 | 1 & 2 & 3 4 | 1 _2 3 4 |"; 2]);
    let counted = each(&piece);
    let staves = piece.parts().iter().zip(&counted).map(|(part, lines)| Staff {
        name: part.name.as_deref(),
        rhythm: &part.rhythm,
        countings: lines.iter().collect(),
        shares_line: part.shares_line,
    });
    let mut exercises = crate::exercises(&short);
    exercises.push(Exercise { title: "Section", staves: staves.collect() });
    for print in [Print::default(), Print::default().large()] {
        let document = sheet(&exercises, &SheetOptions::new(print, Answers::Blank)).expect("a sheet");
        let mut headings = 0;
        for page in &document.pages {
            for (index, part) in page.parts.iter().enumerate() {
                let bounds = part.bounds().expect("marks");
                assert!(bounds.y0 >= 0.0 && bounds.y1 <= page.height, "{:?} at {bounds}", part.role);
                let Role::Heading { level: 2, text } = &part.role else { continue };
                headings += 1;
                // Its tempo at the end of its line, then its first system.
                let [tempo, system, ..] = &page.parts[index + 1..] else { panic!("{text} stands alone") };
                let mark = tempo.bounds().expect("a tempo");
                assert!(mark.y1 > bounds.y0 && mark.y0 < bounds.y1, "{text}: {mark} beside {bounds}");
                let Role::Figure { alt } = &system.role else { panic!("{text} without its system") };
                assert!(alt.starts_with("Tempo: ") && alt.contains("Bar 1"), "{alt}");
            }
        }
        assert_eq!(headings, 3);
    }
}

/// What is said of a page tells all that changes how it is played, with the counts as with the notes; the counts of all parts
/// are told after the notes of each.
#[test]
fn counts_are_told_with_what_stands_on_them() {
    let written = "meter: 3/4\n|: 1 2 & 3 | _1 2 3 fermata :| 3 times | [2/4] 1 2 |\naccents: | > ^ | | |\nsticking: | RLR | | |\n\
        dynamics: | p< | f | |";
    let one = crate::counted(&[written]);
    let (rhythm, counting) = &one[0];
    let staff = Staff { name: Some("snare"), rhythm, countings: vec![counting], shares_line: false };
    assert_eq!(
        staves_in_words(&[staff], true),
        "3/4. Repeat begins, 3 times in all. Piano, crescendo. Bar 1: 1 right hand with accent, 2 left hand with strong \
         accent, & right hand, 3. Forte. Bar 2: hold 1, 2, 3 with fermata. Repeat ends. 2/4. Bar 3: 1, 2."
    );
    let piece = piece();
    let lines = all_as_one(&piece);
    let staves = piece.parts().iter().zip(&lines).map(|(part, lines)| Staff {
        name: part.name.as_deref(),
        rhythm: &part.rhythm,
        countings: lines.iter().collect(),
        shares_line: part.shares_line,
    });
    let words = staves_in_words(&staves.collect::<Vec<_>>(), true);
    assert!(words.starts_with("snare drum. 4/4. Bar 1: eighth, eighth, "), "{words}");
    let feet = "feet. Bar 1: quarter, quarter rest, quarter, quarter rest. Counting. Bar 1: 1, &, 2, e, &, a, 3, &, 4.";
    assert!(words.ends_with(feet), "{words}");
}
