use engrave::svg::{SvgOptions, write};
use engrave::{Glyph, Item, Layout, Scene};

use crate::{page, read};

/// Reference pictures stand in `snapshots/`. After a change that is meant, look at the new ones and keep
/// them with `INSTA_UPDATE=always cargo test -p engrave`.
fn check(name: &str, text: &str, layout: Layout) {
    let rhythm = read(text);
    let engraving = page(&rhythm, &layout);
    let options = SvgOptions {
        title: rhythm.title().unwrap_or_default().to_owned(),
        description: engraving.description(),
        ..SvgOptions::default()
    };
    let svg = write(engraving.scene(), &options);
    insta::assert_binary_snapshot!(&format!("{name}.svg"), svg.into_bytes());
}

#[test]
fn simple_meter() {
    let text = "title: Tin Roof\nmeter: 4/4\ntempo: quarter = 88\n\
        | 1 2 & 3 (4) | 1 _2 3 & 4 & | (1) & 2 (3) 4 & | _1 _2 3 (4) | 1 e & a 2 & a 3 e & 4 a | (1) | 1 & (2) & 3 \
        | 1 la li 2 la 3 (la) li 4 |";
    check("simple_meter", text, Layout::default());
}

#[test]
fn compound_meter() {
    let text = "title: Six in two\nmeter: 6/8\ntempo: dotted quarter = 60\n\
        li | 1 la li 2 la li | 1 _la ta li 2 | 1 ta la ta li ta 2 li | 1 (la li) 2 _la | _1 li 2 | (1) 2 | [12/8] 1 2 li 3 4 |";
    check("compound_meter", text, Layout::default());
}

#[test]
fn repeats() {
    let text = "meter: 3/4\ntempo: quarter = 120\n|: 1 2 3 | 1 & 2 3 :| 3 times 1 2 3 |: _1 2 3 :|";
    check("repeats_between_signs", text, Layout { width: 60.0, ..Layout::default() });
    check("repeats_written_out", text, Layout { width: 60.0, written_out: true, ..Layout::default() });
}

/// A title that looks like markup stays text, and what XML does not know is left out.
#[test]
fn text_is_escaped() {
    let items = vec![
        Item::text(
            "<b> & \"\u{7}q\"",
            (1.0, 2.0),
            1.0,
            engrave::Weight::Bold,
            engrave::Anchor::End,
            engrave::Ink::Soft,
        ),
        Item::glyph(Glyph::Dot, (1.0, -0.0), engrave::Ink::Main),
    ];
    let options =
        SvgOptions { title: "a < b".to_owned(), description: "c > d".to_owned(), ..SvgOptions::default() };
    let svg = write(&Scene { width: 4.0, height: 3.0, items }, &options);
    for expected in [
        "&lt;b&gt; &amp; &quot;q&quot;</text>",
        "<title>a &lt; b</title>",
        "<desc>c &gt; d</desc>",
        r#"role="img""#,
        r##"<use xlink:href="#augmentationDot" x="1" y="0""##,
        r#"width="40" height="30" viewBox="0 0 4 3""#,
    ] {
        assert!(svg.contains(expected), "{expected} is not in {svg}");
    }
}
