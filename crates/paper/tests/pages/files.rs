//! PDF and SVG, read back.

use paper::{
    Answers, Date, Document, PaperSize, Print, SheetOptions, counting_chart, pdf, sheet, svg, values_chart,
};
use quick_xml::Reader;
use quick_xml::events::Event;

use crate::{SHORT, counted, document, exercises};

fn documents() -> Vec<Document> {
    let dated = SheetOptions {
        title: "Week 3".to_owned(),
        date: Some(Date { year: 2026, month: 9, day: 14 }),
        ..SheetOptions::new(Print::default(), Answers::Blank)
    };
    vec![
        document(&[SHORT; 12], Answers::Blank, Print::default()),
        document(&[SHORT], Answers::Key, Print::new(PaperSize::Letter).large()),
        sheet(&exercises(&counted(&[SHORT])), &dated).expect("a sheet"),
        values_chart(Print::default()).expect("a chart"),
        counting_chart(counting::System::numbers(), Print::default()).expect("a chart"),
    ]
}

#[test]
fn the_same_document_is_the_same_bytes() {
    for (document, again) in documents().iter().zip(documents()) {
        let bytes = pdf(document).expect("a PDF");
        assert_eq!(bytes, pdf(&again).expect("a PDF"), "{}", document.title);
        assert_eq!(svg(document), svg(&again));
    }
}

#[test]
fn a_pdf_tells_no_time_but_the_day_it_is_for() {
    for document in documents() {
        let bytes = pdf(&document).expect("a PDF");
        let has = |word: &[u8]| bytes.windows(word.len()).any(|window| window == word);
        assert_eq!(has(b"CreateDate") || has(b"CreationDate"), document.date.is_some(), "{}", document.title);
        assert_eq!(has(b"D:20260914"), document.date.is_some());
    }
}

/// Every element and its text, by a parser that checks that what is opened is closed.
fn elements(svg: &str) -> Vec<(String, String)> {
    let mut reader = Reader::from_str(svg);
    reader.config_mut().check_end_names = true;
    let mut found: Vec<(String, String)> = Vec::new();
    let mut depth = 0;
    loop {
        match reader.read_event().unwrap_or_else(|error| panic!("{error}")) {
            Event::Start(start) => {
                depth += 1;
                found.push((String::from_utf8_lossy(start.name().as_ref()).into_owned(), String::new()));
            }
            Event::Empty(start) => {
                found.push((String::from_utf8_lossy(start.name().as_ref()).into_owned(), String::new()));
            }
            Event::Text(text) => {
                if let Some((_, said)) = found.last_mut() {
                    said.push_str(&String::from_utf8_lossy(&text));
                }
            }
            Event::End(_) => depth -= 1,
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(depth, 0);
    found
}

#[test]
fn every_page_is_a_picture_with_a_title_and_words() {
    for document in documents() {
        let pages = svg(&document);
        assert_eq!(pages.len(), document.pages.len());
        for (number, page) in (1..).zip(&pages) {
            assert!(page.contains("role=\"img\""));
            let elements = elements(page);
            let said = |name: &str| {
                let found = elements.iter().find(|(other, _)| other == name);
                found.map(|(_, text)| text.as_str()).unwrap_or_else(|| panic!("no {name}"))
            };
            assert!(said("title").starts_with(&document.title), "{}", said("title"));
            if pages.len() > 1 {
                assert!(said("title").contains(&format!("page {number} of {}", pages.len())));
            }
            assert!(said("desc").len() > 40, "{}", said("desc"));
        }
    }
}
