//! A judged take with its findings beside it.

use engrave::{Engraving, Item, Scene, engrave};
use paper::{Document, Judged, PaperSize, Print, Remark, Role, Told, judged, judged_layout, pdf};
use picture::{Mark, PictureOptions, Row};
use rhythm::{AttackId, Rhythm};

use crate::{figures, rhythm, texts};

fn taken(rhythm: &Rhythm, print: Print, labels: &[&str]) -> (Engraving, Vec<Row>, Scene) {
    let attacks: Vec<AttackId> = rhythm
        .performance()
        .bars()
        .iter()
        .flat_map(|bar| {
            let events = rhythm.bars()[bar.index].events();
            let struck = events.iter().filter(|event| event.deed == rhythm::Deed::Attack);
            struck.map(|event| bar.attack_id(event.at)).collect::<Vec<_>>()
        })
        .collect();
    let marks: Vec<Mark> = attacks
        .iter()
        .map(|&id| Mark::Pin { id, lean_ms: 240.0, beyond: Some(picture::Side::Late) })
        .collect();
    let row = |label: &&str| Row {
        label: (*label).to_owned(),
        bias_ms: Some(-8.0),
        marks: marks.clone(),
        ..Row::default()
    };
    let rows: Vec<Row> = labels.iter().map(row).collect();
    let layout = picture::layout(judged_layout(print), &rows, false);
    let engraving = engrave(rhythm, &counting::count(rhythm), &layout).expect("a page");
    let scene = picture::picture(&engraving, &rows, &[], &PictureOptions::default()).expect("a picture");
    (engraving, rows, scene)
}

fn document(print: Print, labels: &[&str]) -> (Document, usize) {
    document_with(print, labels, 0)
}

/// `more` findings about the whole take stand behind the others.
fn document_with(print: Print, labels: &[&str], more: usize) -> (Document, usize) {
    let bars = "| 1 2 & 3 (4) | 1 _2 3 & 4 & ".repeat(8) + "|";
    let rhythm = rhythm(&bars);
    let (engraving, rows, scene) = taken(&rhythm, print, labels);
    let place = |bar: u32| {
        let found = engraving.places().iter().find(|place| place.id.bar == bar);
        found.map(|place| place.id)
    };
    let system = |bar: u32| {
        let found = engraving.places().iter().find(|place| place.id.bar == bar);
        found.expect("a place").system
    };
    let told = |label: &&str| Told {
        label: (*label).to_owned(),
        sums: "8 ms early, spread 14 ms.".to_owned(),
        findings: vec![
            Remark { says: "The whole take is steady.".to_owned(), place: None },
            Remark { says: "In bar 1 the 4 was struck.".to_owned(), place: place(1) },
            Remark { says: "In bar 16 the 2 was struck twice.".to_owned(), place: place(16) },
        ]
        .into_iter()
        .chain(std::iter::repeat_n(Remark { says: "It is late after rests.".to_owned(), place: None }, more))
        .collect(),
    };
    let players: Vec<Told> = labels.iter().map(told).collect();
    let take = Judged {
        title: "Tin Roof",
        about: "quarter = 80, tolerance 50 ms.",
        date: None,
        engraving: &engraving,
        scene: &scene,
        rows: &rows,
        players: &players,
    };
    assert!(system(16) > 0, "the last bar stands in another system");
    (judged(&take, print).expect("pages"), system(16))
}

/// A player's name and sums never stand alone at the foot of a page.
#[test]
fn names_keep_with_what_is_told() {
    let labels = ["P1", "P2", "P3", "P4", "P5"];
    let mut ends = 0;
    for more in 0..24 {
        for print in [Print::new(PaperSize::Letter).large(), Print::default().large()] {
            let (document, _) = document_with(print, &labels, more);
            for page in &document.pages {
                let last = page.parts.iter().rfind(|part| part.role != Role::Decoration).expect("a part");
                let is_name = matches!(last.role, Role::Heading { .. })
                    || texts(last)
                        .first()
                        .is_some_and(|text| labels.contains(text) || text.contains("spread"));
                assert!(!is_name || matches!(last.role, Role::Figure { .. }), "{more}: {:?}", texts(last));
                ends += 1;
            }
        }
    }
    assert!(ends > 100, "many ends of pages: {ends}");
}

/// Each finding stands beside the system its place is in, right of the music, and is read after it; in large print under it.
#[test]
fn findings_stand_beside_their_system() {
    for (print, labels) in [(Print::default(), &["P1"][..]), (Print::default().large(), &["P1", "P2"][..])] {
        let is_large = print.print_size() == engrave::PrintSize::Large;
        let (document, last) = document(print, labels);
        let mut number = 0;
        let mut found = Vec::new();
        for page in &document.pages {
            let mut figure = None;
            for part in &page.parts {
                let bounds = part.bounds();
                match &part.role {
                    Role::Figure { .. } => {
                        figure = bounds;
                        number += 1;
                    }
                    Role::Item => {
                        let item = bounds.expect("words");
                        match figure {
                            Some(music) if is_large => {
                                assert!(item.y0 >= music.y1, "under the music: {item} {music}");
                            }
                            Some(music) => {
                                assert!(
                                    item.x0 > music.x1,
                                    "right of the music, of beads that lean far too: {item} {music}"
                                );
                                assert!(item.y0 >= music.y0 - 0.5, "not over it");
                            }
                            None => assert!(is_large, "beside a system"),
                        }
                        assert!(item.x1 <= page.width, "on the page");
                        found.push((number - 1, texts(part).join(" ")));
                    }
                    _ => {}
                }
            }
        }
        let beside = |words: &str| -> Vec<usize> {
            let found = found.iter().filter(|(_, text)| text.contains(words));
            found.map(|(system, _)| *system).collect()
        };
        let whole = beside("whole take");
        assert_eq!(whole.len(), labels.len(), "once of each player: {whole:?}");
        if is_large {
            assert!(
                whole.iter().all(|&figure| figure == number - 1),
                "under the last, the legend: {whole:?}"
            );
        } else {
            assert!(whole[0] == 0 && whole.is_sorted(), "from the first system on: {whole:?}");
        }
        assert_eq!(beside("bar 1 "), vec![0; labels.len()]);
        assert_eq!(beside("bar 16 "), vec![last; labels.len()]);
        let labelled = document.pages.iter().flat_map(|page| &page.parts);
        let headings = labelled.filter(|part| matches!(&part.role, Role::Heading { level: 2, .. }));
        assert_eq!(headings.count(), labels.len());
        assert!(pdf(&document).expect("it keeps the rules of PDF/UA").starts_with(b"%PDF"));
    }
}

/// No mark of one part lies over another's.
#[test]
fn nothing_overlaps_beside_the_picture() {
    for print in [Print::default(), Print::default().large()] {
        let (document, _) = document(print, &["P1", "P2"]);
        for page in &document.pages {
            let column = page.parts.iter().filter(|part| matches!(part.role, Role::Item | Role::Text));
            for part in column {
                for (figure, _) in figures(page) {
                    for words in &part.items {
                        let hit = figure.items.iter().map(Item::bounds).find(|bounds| {
                            let both = bounds.intersect(words.bounds());
                            both.width() > 0.01 && both.height() > 0.01
                        });
                        assert!(hit.is_none(), "{words:?} over {hit:?}");
                    }
                }
            }
        }
    }
}
