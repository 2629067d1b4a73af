//! Damaged, hostile and huge files get a clear error with its place, soon, and never a panic.

use std::io::{Cursor, Write};

use exchange::Error;
use exchange::musicxml::{Choice, contents, read, write};
use proptest::prelude::*;
use zip::write::SimpleFileOptions;

fn error(bytes: &[u8]) -> String {
    read(bytes, &Choice::default()).expect_err("it must be refused").to_string()
}

/// That a file is refused with a message that holds all of `words`.
fn check(bytes: &[u8], words: &[&str]) {
    let message = error(bytes);
    for word in words {
        assert!(message.contains(word), "{word:?} in: {message}");
    }
}

const GOOD: &str = "<score-partwise><part-list><score-part id=\"P1\"><part-name>S</part-name></score-part></part-list>\
    <part id=\"P1\"><measure number=\"1\"><attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type>\
    </time></attributes><note><unpitched/><duration>8</duration></note></measure></part></score-partwise>";

#[test]
fn what_is_no_score() {
    check(b"", &["0 bytes"]);
    check(b"hello", &["no MusicXML score"]);
    check(b"<html><body/></html>", &["<html>", "<score-partwise>"]);
    check(b"<score-partwise/>", &["no bar"]);
    check(&GOOD.as_bytes()[..200], &["line 1, column 200", "whole XML"]);
    check(GOOD.replace("</note>", "</nots>").as_bytes(), &["line 1, column", "save it again"]);
    check(GOOD.replace("<duration>8", "<duration>long").as_bytes(), &["<duration>", "\"long\"", "a number"]);
    check(GOOD.replace("<duration>8", "<duration>99999999999").as_bytes(), &["99999999999", "1073741824"]);
    check(GOOD.replace("<divisions>2", "<divisions>0").as_bytes(), &["<divisions>", "above 0"]);
    check(GOOD.replace("<beats>4", "<beats>0").as_bytes(), &["<time>", "\"0/4\"", "from 1 to 32"]);
    check(GOOD.replace("<duration>8", "<duration>1000000").as_bytes(), &["bar 1 lasts"]);
}

#[test]
fn entities_of_the_file_are_not_expanded() {
    let mut bomb = String::from("<!DOCTYPE score-partwise [<!ENTITY a0 \"ha\">");
    for level in 1..30 {
        let inside = format!("&a{};", level - 1).repeat(10);
        bomb += &format!("<!ENTITY a{level} \"{inside}\">");
    }
    bomb += "]>\n";
    check(
        (bomb.clone() + &GOOD.replace("<part-name>S", "<part-name>&a29;")).as_bytes(),
        &["line 2", "&a29;"],
    );
    // Where nothing uses them, they do no harm.
    assert!(read((bomb + GOOD).as_bytes(), &Choice::default()).is_ok());
}

#[test]
fn elements_a_hundred_thousand_deep() {
    let many = 100_000;
    let nested = "<x>".repeat(many) + &"</x>".repeat(many);
    check(GOOD.replace("<note>", &format!("{nested}<note>")).as_bytes(), &["depth", "64"]);
    check("<a>".repeat(many).as_bytes(), &["no MusicXML score"]);
}

#[test]
fn repeats_without_end() {
    let repeat = |times: &str| {
        GOOD.replace(
            "</note>",
            &format!("</note><barline location=\"right\"><repeat direction=\"backward\" times=\"{times}\"/></barline>"),
        )
    };
    check(repeat("1000000000").as_bytes(), &["line 1", "times through", "50"]);
    check(repeat("often").as_bytes(), &["\"often\"", "a whole number"]);
    // Fifty times a thousand bars is more than a rhythm may repeat.
    let bars =
        "<measure number=\"2\"><note><unpitched/><duration>8</duration></note></measure>".repeat(1_000);
    let long = GOOD.replace(
        "</measure>",
        &format!(
            "</measure>{bars}<measure number=\"3\"><note><unpitched/><duration>8</duration></note>\
        <barline location=\"right\"><repeat direction=\"backward\" times=\"50\"/></barline></measure>"
        ),
    );
    check(long.as_bytes(), &["bars that repeats add", "10000"]);
}

#[test]
fn too_many_bars_parts_and_voices() {
    let bars = GOOD.replace("</measure>", &format!("</measure>{}", "<measure/>".repeat(120_000)));
    check(bars.as_bytes(), &["120001", "bars"]);
    let parts: String = (0..600).map(|number| format!("<score-part id=\"Q{number}\"/>")).collect();
    check(
        GOOD.replace("</part-list>", &format!("{parts}</part-list>")).as_bytes(),
        &["number of parts in a file", "500"],
    );
    let voices: String =
        (0..100).map(|v| format!("<note><rest/><duration>1</duration><voice>v{v}</voice></note>")).collect();
    check(GOOD.replace("</measure>", &format!("{voices}</measure>")).as_bytes(), &["voices", "64"]);
}

#[test]
fn too_many_notes_bars_signs_and_elements() {
    let notes = "<note><rest/><duration>1</duration></note>".repeat(200_001);
    check(
        GOOD.replace("</measure>", &format!("{notes}</measure>")).as_bytes(),
        &["200001", "number of notes"],
    );
    // In all parts together.
    let part = format!("<part id=\"P2\">{}</part>", "<measure/>".repeat(60_000));
    let bars = GOOD.replace("</measure>", &format!("</measure>{}", "<measure/>".repeat(60_000)));
    check(
        bars.replace("</score-partwise>", &format!("{part}</score-partwise>")).as_bytes(),
        &["120001", "number of bars of all parts together"],
    );
    let signs = "<sound tempo=\"90\"/>".repeat(200_001);
    check(
        GOOD.replace("</measure>", &format!("{signs}</measure>")).as_bytes(),
        &["200001", "number of signs beside the notes", "200000"],
    );
    let elements = "<x/>".repeat(6_000_001);
    check(
        GOOD.replace("</measure>", &format!("{elements}</measure>")).as_bytes(),
        &["6000001", "number of elements"],
    );
}

/// Divisions without a common measure would make numbers that no longer fit.
#[test]
fn lengths_finer_than_any_rhythm() {
    let note = |divisions: u32| {
        format!(
            "<attributes><divisions>{divisions}</divisions></attributes><note><rest/><duration>1</duration></note>"
        )
    };
    let fine = note(999_983) + &note(999_979) + &note(999_961);
    check(GOOD.replace("</measure>", &format!("{fine}</measure>")).as_bytes(), &["line 1", "1048576"]);
}

fn packed(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        archive.start_file(*name, SimpleFileOptions::default()).expect("a file");
        archive.write_all(bytes).expect("its bytes");
    }
    archive.finish().expect("an archive").into_inner()
}

#[test]
fn packed_files() {
    let container = b"<container><rootfiles><rootfile full-path=\"a/b.xml\"/></rootfiles></container>";
    let good = packed(&[("META-INF/container.xml", container), ("a/b.xml", GOOD.as_bytes())]);
    assert!(read(&good, &Choice::default()).is_ok());
    let without = packed(&[("score.xml", GOOD.as_bytes())]);
    assert!(read(&without, &Choice::default()).is_ok());
    check(&packed(&[("META-INF/container.xml", container)]), &["a/b.xml", "unpacked"]);
    check(&packed(&[("picture.png", b"x")]), &["no score"]);
    check(&good[..good.len() - 30], &["cut off"]);
    let many: Vec<(String, &[u8])> =
        (0..3_000).map(|number| (format!("{number}.txt"), b"".as_slice())).collect();
    let many: Vec<(&str, &[u8])> = many.iter().map(|(name, bytes)| (name.as_str(), *bytes)).collect();
    check(&packed(&many), &["3000 files", "2000"]);
}

/// 200 MB of blanks in 200 KB.
#[test]
fn a_packed_file_that_unpacks_without_end() {
    let blanks = vec![b' '; 200 << 20];
    check(&packed(&[("score.xml", &blanks)]), &["209715200 bytes", "50331648"]);
}

/// The same, but the archive says that they are few.
#[test]
fn a_packed_file_that_lies_about_its_size() {
    let blanks = vec![b' '; 140 << 20];
    let mut file = packed(&[("score.xml", &blanks)]);
    let size = (140_u32 << 20).to_le_bytes();
    let places: Vec<usize> = (0..file.len() - 4).filter(|&at| file[at..at + 4] == size).collect();
    assert!(!places.is_empty());
    for at in places {
        file[at..at + 4].copy_from_slice(&1_000_u32.to_le_bytes());
    }
    assert!(matches!(
        read(&file, &Choice::default()),
        Err(Error::Size { .. } | Error::Archive { .. } | Error::NotMusicXml { .. })
    ));
}

/// A file with much in it, to be damaged.
fn rich() -> String {
    let text = "title: Loose Shingle\nmeter: 4/4\ntempo: quarter = 92\n\n| 1 2 & 3 4 | _1 2 3 & 4 & |\n| [6/8] 1 la li 2 |\n";
    write(&rhythm::text::read(text).rhythm.expect("a rhythm").into()).expect("a file")
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn damaged_files_never_panic(
        cuts in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), 0..40_usize, any::<u8>()), 1..6),
    ) {
        let mut bytes = rich().into_bytes();
        for (at, from, many, byte) in cuts {
            let (at, from) = (at.index(bytes.len()), from.index(bytes.len()));
            match byte % 4 {
                0 => bytes[at] = byte,
                1 => {
                    bytes.drain(at..(at + many).min(bytes.len()));
                }
                2 => {
                    let piece = bytes[from..(from + many * 8).min(bytes.len())].to_vec();
                    bytes.splice(at..at, piece);
                }
                _ => bytes[at] = b"0123456789-+.<>&/"[many % 17],
            }
            if bytes.is_empty() {
                break;
            }
        }
        if let Ok(import) = read(&bytes, &Choice::default()) {
            // What was read can be played and written.
            for part in import.piece.parts() {
                let _ = part.rhythm.performance();
            }
            let _ = write(&import.piece);
        }
        let _ = contents(&bytes);
    }

    #[test]
    fn damaged_packed_files_never_panic(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8),
    ) {
        let mut bytes = packed(&[("score.xml", rich().as_bytes())]);
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let _ = read(&bytes, &Choice::default());
    }
}
