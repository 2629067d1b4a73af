//! Pages as they come out: what stands where, what belongs together, and the files made of them.

mod files;
mod judged;
mod parts;

use counting::{CountLine, Settings, System, count_in};
use engrave::Item;
use paper::{
    Answers, Document, Error, Exercise, Page, PaperSize, Part, Print, Role, SheetOptions, sheet, versions,
};
use rhythm::Rhythm;

const SHORT: &str = "| 1 2 & 3 (4) | 1 _2 3 & 4 & | (1) & 2 (3) 4 & | _1 _2 3 (4) |";

fn rhythm(text: &str) -> Rhythm {
    let reading = rhythm::text::read(text);
    reading.rhythm.unwrap_or_else(|| panic!("{text}: {:?}", reading.diagnostics))
}

/// Rhythms with their counting, for [`exercises`] to point at.
fn counted(texts: &[&str]) -> Vec<(Rhythm, CountLine)> {
    let count = |text: &&str| {
        let rhythm = rhythm(text);
        let counting = count_in(&rhythm, System::numbers(), &Settings::default());
        (rhythm, counting)
    };
    texts.iter().map(count).collect()
}

fn exercises(counted: &[(Rhythm, CountLine)]) -> Vec<Exercise<'_>> {
    counted.iter().map(|(rhythm, counting)| Exercise::new("Tin Roof", rhythm, counting)).collect()
}

fn document(texts: &[&str], answers: Answers, print: Print) -> Document {
    let options = SheetOptions { title: "Week 3".to_owned(), ..SheetOptions::new(print, answers) };
    sheet(&exercises(&counted(texts)), &options).expect("a sheet")
}

fn figures(page: &Page) -> impl Iterator<Item = (&Part, &str)> {
    page.parts.iter().filter_map(|part| match &part.role {
        Role::Figure { alt } => Some((part, alt.as_str())),
        _ => None,
    })
}

fn texts(part: &Part) -> Vec<&str> {
    let texts = part.items.iter().filter_map(|item| match item {
        Item::Text { text, .. } => Some(text.as_str()),
        _ => None,
    });
    texts.collect()
}

#[test]
fn the_key_is_the_sheet_with_its_counts() {
    let all = [SHORT, "meter: 3/4\n| 1 2 3 & | 1 _2 3 |", "meter: 6/8\n2 li | 1 la li 2 | 1 li |"];
    let check = |print: Print| {
        let many: Vec<&str> = all.iter().copied().cycle().take(30).collect();
        let blank = document(&many, Answers::Blank, print);
        let key = document(&many, Answers::Key, print);
        assert_eq!(blank.pages.len(), key.pages.len());
        assert!(blank.pages.len() > 1, "several pages");
        for (blank, key) in blank.pages.iter().zip(&key.pages) {
            let (blank, key): (Vec<_>, Vec<_>) = (figures(blank).collect(), figures(key).collect());
            assert_eq!(blank.len(), key.len(), "as many systems on the page");
            for ((blank, words), (key, counts)) in blank.iter().zip(&key) {
                let bars = |alt: &str| alt.matches("Bar ").count();
                assert_eq!(bars(words), bars(counts), "the same bars: {words} {counts}");
                assert!(
                    !texts(blank).contains(&"&") && !texts(blank).contains(&"(3)"),
                    "no answer: {:?}",
                    texts(blank)
                );
                assert!(key.items.len() > blank.items.len(), "the key has the counts");
                assert!(words.contains("quarter") && !words.contains('&'), "{words}");
            }
        }
    };
    check(Print::default());
    check(Print::new(PaperSize::Letter));
    check(Print::default().large());
}

#[test]
fn a_system_and_its_line_are_never_parted() {
    let bars = SHORT.trim_end_matches('|').repeat(12);
    let long = format!("{bars}|");
    let document = document(&[&long, SHORT, SHORT, &long], Answers::Blank, Print::default());
    let mut systems = 0;
    for page in &document.pages {
        let lines: Vec<_> = page
            .parts
            .iter()
            .enumerate()
            .filter(|(_, part)| matches!(&part.role, Role::Figure { .. }))
            .map(|(index, part)| (part, &page.parts[index + 1]))
            .collect();
        for (system, line) in lines {
            systems += 1;
            assert_eq!(line.role, Role::Decoration, "the line to write on follows its system");
            let (system, line) = (system.bounds().expect("marks"), line.bounds().expect("marks"));
            assert!(line.y1 > system.y1 && line.y1 < system.y1 + 8.0, "it stands under it: {system} {line}");
            assert!(
                line.x0 >= system.x0 - 0.2 && line.x1 <= system.x1 + 0.2,
                "and is as wide: {system} {line}"
            );
        }
    }
    assert!(systems > 10, "{systems}");
}

/// Of each heading of the second level, the pages on which its systems stand.
fn pages_of_exercises(document: &Document) -> Vec<Vec<usize>> {
    let mut pages: Vec<Vec<usize>> = Vec::new();
    for (number, page) in document.pages.iter().enumerate() {
        for part in &page.parts {
            match &part.role {
                Role::Heading { level: 2, .. } => pages.push(Vec::new()),
                Role::Figure { .. } => {
                    pages.last_mut().expect("a heading comes first").push(number);
                }
                _ => {}
            }
        }
    }
    pages
}

#[test]
fn short_exercises_are_kept_whole_and_long_ones_parted_well() {
    let three = format!("{}|", SHORT.trim_end_matches('|').repeat(3));
    let document_of = |texts: &[&str]| document(texts, Answers::Blank, Print::default());
    let many: Vec<&str> = std::iter::repeat_n(three.as_str(), 12).collect();
    let pages = pages_of_exercises(&document_of(&many));
    assert_eq!(pages.len(), 12);
    for pages in &pages {
        assert!(pages.len() > 1 && pages.iter().all(|page| *page == pages[0]), "whole: {pages:?}");
    }
    let long = format!("{}|", SHORT.trim_end_matches('|').repeat(16));
    let pages = pages_of_exercises(&document_of(&[&three, &long]));
    let on = |page: usize| pages[1].iter().filter(|other| **other == page).count();
    assert!(pages[1].first() < pages[1].last(), "a long one is parted: {pages:?}");
    let (first, last) = (pages[1][0], *pages[1].last().expect("systems"));
    assert!(on(first) >= 2 && on(last) >= 2, "two systems at least on either side: {pages:?}");
}

#[test]
fn everything_stands_on_the_page() {
    let wide = "meter: 4/4\n| 1 e & a 2 e & a 3 e & a 4 e & a | 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 \
        1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 1/32 |";
    for print in [Print::default(), Print::new(PaperSize::Letter).large()] {
        for answers in [Answers::Blank, Answers::Key] {
            for page in document(&[SHORT, wide], answers, print).pages {
                for part in &page.parts {
                    let bounds = part.bounds().expect("marks");
                    assert!(
                        bounds.x0 >= 0.0
                            && bounds.x1 <= page.width
                            && bounds.y0 >= 0.0
                            && bounds.y1 <= page.height,
                        "{:?} at {bounds} on a page of {} by {}",
                        part.role,
                        page.width,
                        page.height
                    );
                }
            }
        }
    }
}

#[test]
fn no_two_parts_of_a_page_overlap() {
    for answers in [Answers::Blank, Answers::Key] {
        for page in document(&[SHORT; 12], answers, Print::default()).pages {
            let boxes = |part: &Part| part.items.iter().map(Item::bounds).collect::<Vec<_>>();
            for (index, part) in page.parts.iter().enumerate() {
                for other in &page.parts[index + 1..] {
                    for bounds in boxes(part) {
                        for around in boxes(other) {
                            let both = bounds.intersect(around);
                            let clear = both.width() <= 0.01 || both.height() <= 0.01;
                            assert!(clear, "{:?} and {:?}: {both}", part.role, other.role);
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn versions_have_the_same_rhythms_in_other_orders() {
    let written = [SHORT, "meter: 3/4\n| 1 2 3 |", "meter: 6/8\n| 1 2 |"];
    let all = counted(&written);
    let exercises = exercises(&all);
    let alts = |document: &Document| {
        let mut alts: Vec<String> =
            document.pages.iter().flat_map(figures).map(|(_, alt)| alt.to_owned()).collect();
        let as_given = alts.clone();
        alts.sort();
        (as_given, alts)
    };
    let drawn = versions(3, exercises.len(), 5).expect("there are six orders");
    let documents: Vec<Document> = drawn
        .iter()
        .map(|(version, order)| {
            let exercises: Vec<Exercise<'_>> = order.iter().map(|&index| exercises[index].clone()).collect();
            let options = SheetOptions {
                version: Some(*version),
                title: "Week 3".to_owned(),
                ..SheetOptions::new(Print::default(), Answers::Key)
            };
            sheet(&exercises, &options).expect("a sheet")
        })
        .collect();
    let (orders, sets): (Vec<_>, Vec<_>) = documents.iter().map(alts).unzip();
    assert!(sets.iter().all(|set| *set == sets[0]));
    assert!(orders[0] != orders[1] && orders[1] != orders[2] && orders[0] != orders[2]);
    assert_eq!(documents[1].title, "Week 3, version B, answer key");
    let foot = documents[1].pages[0].parts.iter().flat_map(texts).any(|text| text.contains("seed 5"));
    assert!(foot, "the seed is printed");
}

#[test]
fn what_cannot_be_printed_is_said() {
    let options = SheetOptions::new(Print::default(), Answers::Blank);
    assert_eq!(sheet(&[], &options), Err(Error::NoExercise));
    let all = counted(&[SHORT]);
    let options = SheetOptions { title: "\u{4e2d}".to_owned(), ..options };
    let document = sheet(&exercises(&all), &options).expect("it can be laid out");
    let error = paper::pdf(&document).expect_err("the font has no such letter").to_string();
    assert!(error.contains('\u{4e2d}') && error.contains("other letters"), "{error}");
}
