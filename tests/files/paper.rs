//! The pages we write, read by others: poppler, qpdf, pdfua, librsvg.

use std::path::Path;
use std::process::Command;

use tests::program::run;
use tests::python;

const RHYTHMS: [&str; 3] = ["1-nine-doorsteps", "3-over-the-stile", "6-kettle-on-the-boil"];

/// What a program prints on standard output when it is content.
fn printed(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program)
        .args(arguments)
        .output()
        .unwrap_or_else(|error| panic!("{program}: {error}; tests/run installs it"));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        output.status.success(),
        "{program} {arguments:?}\n{}{said}",
        String::from_utf8_lossy(&output.stdout)
    );
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Writes pages with `countline`, and gives the path of the file named `out`.
fn write(folder: &Path, call: &[&str], out: &str) -> String {
    let out = folder.join(out).to_string_lossy().into_owned();
    run([call, &["-o", &out]].concat()).done();
    out
}

fn sheet<'a>(rhythms: &'a [String], more: &[&'a str]) -> Vec<&'a str> {
    [&["sheet"], more, &rhythms.iter().map(String::as_str).collect::<Vec<_>>()[..]].concat()
}

fn rhythms() -> Vec<String> {
    RHYTHMS.iter().map(|name| format!("demo-data/rhythms/{name}.rhythm")).collect()
}

/// Every kind of page as PDF.
fn documents(folder: &Path) -> Vec<String> {
    let rhythms = rhythms();
    let sheet_file = write(folder, &sheet(&rhythms, &["--title", "Week 3"]), "sheet.pdf");
    let take = folder.join("take.pdf").to_string_lossy().into_owned();
    let judged = ["judge", "demo-data/rhythms/2-lamp-on-the-landing.rhythm", "demo-data/takes/mistakes.mid"];
    run([&judged[..], &["--pdf", &take]].concat()).done();
    vec![
        sheet_file.replace("sheet.pdf", "sheet-key.pdf"),
        sheet_file,
        take,
        write(folder, &["chart", "values"], "values.pdf"),
        write(
            folder,
            &["chart", "counting", "--counting", "takadimi", "--large", "--size", "letter"],
            "counting.pdf",
        ),
    ]
}

#[test]
fn others_find_no_fault_in_our_pdf() {
    let folder = tempfile::tempdir().expect("a folder");
    let files = documents(folder.path());
    for file in &files {
        let checked = printed("qpdf", &["--check", file]);
        assert!(checked.contains("No syntax or stream encoding errors"), "{file}: {checked}");
        let information = printed("pdfinfo", &[file]);
        for wanted in ["Title:", "Tagged:          yes", "Creator:         countline"] {
            assert!(information.contains(wanted), "{file}: {wanted}\n{information}");
        }
        assert!(!information.contains("CreationDate"), "{file} tells when it was made\n{information}");
        // name, type, encoding, emb, sub, uni: every font is embedded, as a subset, and its text can be read.
        let fonts = printed("pdffonts", &[file]);
        let rows: Vec<&str> = fonts.lines().skip(2).collect();
        assert!(rows.len() >= 2, "{fonts}");
        for row in rows {
            let columns: Vec<&str> = row.split_whitespace().rev().skip(2).take(3).collect();
            assert_eq!(columns, ["yes", "yes", "yes"], "{file}: {row}");
        }
        assert!(std::fs::metadata(file).expect("it is there").len() < 200_000, "{file} holds whole fonts");
    }
    let files = files.iter().map(String::as_str);
    let known: serde_json::Value =
        serde_json::from_str(&python::run("tests/readers/pdf_ua.py", files)).expect("the reader prints JSON");
    assert!(known["rules"].as_u64().is_some_and(|rules| rules >= 16), "{known}");
}

/// poppler's text of a file in the order in which the file has it.
fn text(file: &str) -> String {
    printed("pdftotext", &["-raw", file, "-"])
}

#[test]
fn text_is_read_in_order_and_answers_stand_in_the_key_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythms = rhythms();
    let blank = write(folder.path(), &sheet(&rhythms, &["--title", "Week 3"]), "sheet.pdf");
    let key = text(&blank.replace("sheet.pdf", "sheet-key.pdf"));
    let blank = text(&blank);
    let in_order = |text: &str, words: &[&str]| {
        let mut rest = text;
        for word in words {
            let at =
                rest.find(word).unwrap_or_else(|| panic!("{word} is missing, or not in its place:\n{text}"));
            rest = &rest[at + word.len()..];
        }
    };
    in_order(&blank, &["Week 3", "Date", "Code", "Nine Doorsteps", "Over the Stile", "Kettle on the Boil"]);
    in_order(
        &key,
        &[
            "Week 3",
            "Answer key",
            "Nine Doorsteps",
            "(3)",
            "Over the Stile",
            "Kettle on the Boil",
            "la",
            "li",
        ],
    );
    for answer in ["&", "(3)", "la"] {
        assert!(!blank.contains(answer), "the sheet tells {answer}:\n{blank}");
    }
}

#[test]
fn the_same_call_writes_the_same_bytes() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythms = rhythms();
    let more = ["--versions", "2", "--seed", "7", "--date", "2026-09-14", "--counting", "gordon"];
    let read = |name: &str| {
        std::fs::read(folder.path().join(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    };
    let names = ["a-A.pdf", "a-A-key.pdf", "a-B.pdf", "a-B-key.pdf"];
    write(folder.path(), &sheet(&rhythms, &more), "a.pdf");
    let first = names.map(read);
    write(folder.path(), &sheet(&rhythms, &more), "a.pdf");
    assert!(first == names.map(read), "two calls, two files");
    assert!(first[0] != first[2], "two versions are two sheets");
    let foot = text(&folder.path().join("a-B.pdf").to_string_lossy());
    assert!(foot.contains("Version B, order drawn with seed 7") && foot.contains("2026-09-14"), "{foot}");
}

#[test]
fn a_viewer_draws_our_svg_pages() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythms = rhythms();
    let svg = write(folder.path(), &sheet(&rhythms, &["--answers", "key"]), "key.svg");
    let pages: Vec<_> = std::fs::read_dir(folder.path())
        .expect("the folder can be read")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    assert!(!pages.is_empty(), "{svg}");
    for page in pages {
        let png = folder.path().join("page.png").to_string_lossy().into_owned();
        printed("rsvg-convert", &[&page.to_string_lossy(), "-o", &png]);
        let size = printed("identify", &["-format", "%w %h %k", &png]);
        let numbers: Vec<u32> =
            size.split_whitespace().map(|number| number.parse().expect("a number")).collect();
        // A4 at 96 pixels an inch, with more on it than paper.
        assert!(numbers[0].abs_diff(794) <= 1 && numbers[1].abs_diff(1123) <= 1, "{size}");
        assert!(numbers[2] > 16, "{size}");
    }
}

/// How far two pictures of a page lie apart, 0 to 1, edges blurred so that only what stands elsewhere counts; the second
/// moved by so many pixels both ways.
fn apart(first: &str, second: &str, moved: u32) -> f64 {
    let roll = format!("+{moved}+{moved}");
    let both = [first, "(", second, "-roll", &roll, ")", "-colorspace", "gray", "-blur", "0x2"];
    let told = ["-compose", "difference", "-composite", "-format", "%[fx:mean]", "info:"];
    printed("convert", &[&both[..], &told].concat()).trim().parse().expect("a number")
}

/// The PDF as poppler draws it and the SVG as librsvg does, laid over each other: they differ by the edges of what they
/// draw and by the text font, which an SVG leaves to the viewer, and by less than half of what a millimetre makes.
#[test]
fn both_forms_of_a_page_look_alike() {
    let folder = tempfile::tempdir().expect("a folder");
    let rhythms = rhythms();
    let calls: [(&[&str], &str); 3] = [
        (&sheet(&rhythms[..1], &["--answers", "key"]), "key"),
        (&["chart", "values"], "values"),
        (&["chart", "counting", "--counting", "mchose-tibbs"], "counting"),
    ];
    for (call, name) in calls {
        let pdf = write(folder.path(), call, &format!("{name}.pdf"));
        let svg = write(folder.path(), call, &format!("{name}.svg"));
        let drawn = |form: &str| folder.path().join(format!("{name}-{form}")).to_string_lossy().into_owned();
        let (of_pdf, of_svg) = (drawn("pdf"), drawn("svg.png"));
        printed("pdftoppm", &["-r", "96", "-png", "-singlefile", &pdf, &of_pdf]);
        printed("rsvg-convert", &[&svg, "-o", &of_svg]);
        let of_pdf = of_pdf + ".png";
        let (own, moved) = (apart(&of_pdf, &of_svg, 0), apart(&of_pdf, &of_svg, 4));
        assert!(own * 2.0 < moved, "{name}: {own} apart, and {moved} where one is moved by a millimetre");
    }
}
