use counting::{System, count, count_in};
use engrave::svg::{SvgOptions, write};
use engrave::{
    CountStyle, Engraving, Glyph, Item, Layout, PrintSize, Scene, Staff, StickingAt, engrave_staves,
};

use crate::{page, read};

/// Reference pictures stand in `snapshots/`. After a change that is meant, look at the new ones and keep
/// them with `INSTA_UPDATE=always cargo test -p engrave`.
fn check(name: &str, text: &str, layout: Layout) {
    let rhythm = read(text);
    keep(name, rhythm.title(), &page(&rhythm, &layout));
}

fn keep(name: &str, title: Option<&str>, engraving: &Engraving) {
    let options = SvgOptions {
        title: title.unwrap_or_default().to_owned(),
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

/// Whatever may stand on notes.
#[test]
fn marks() {
    let text = "title: Everything on it\nmeter: 4/4\ntempo: quarter = 96\n\
        | 1 2 & 3 e & a 4 | 1 & 2 la li 3 fermata (4) |\n\
        sticking: | R L R L R L R B | R L R L R B |\n\
        accents: | > . . ^ . > . . | . . > . . ^ |\n\
        strokes: | flam drag . . . / . ruff | // /// . . . flam+z |\n\
        dynamics: | p< | f> |\n\
        | 1 3 | _1 2 3 4 & |\n\
        strokes: | z /// | . . ////  / |\n\
        dynamics: | | ff |\n\
        | [6/8] [quarter = dotted quarter] 1 li 2 | (1) |";
    check("marks", text, Layout { width: 64.0, ..Layout::default() });
}

/// Large print, two counting systems, and what the hands do, explained.
#[test]
fn count_lines() {
    let rhythm = read("title: Lamp\n| 1 _2 3 & (4) | 1 & _2 & 3 _4 & | _1 (2) 3 |");
    let takadimi = count_in(&rhythm, &System::named("takadimi").expect("a system"), &Default::default());
    let numbers = count(&rhythm);
    let staff =
        Staff { name: None, rhythm: &rhythm, countings: vec![&numbers, &takadimi], shares_line: false };
    let style = CountStyle { hands: true, legend: true, ..CountStyle::default() };
    let layout = Layout { width: 56.0, count_style: style, print: PrintSize::Large, ..Layout::default() };
    let engraving = engrave_staves(&[staff], &layout).expect("a page");
    keep("count_lines", rhythm.title(), &engraving);
}

/// Two parts and bars of rest, the hands named over the notes.
#[test]
fn parts() {
    let text = "meter: 3/4\npart: snare drum\n3 & | 1 & 2 3 e & a | 1 (2) 3 | (6 bars) | 1 & a 2 3 |\n\
        sticking: | R L R L R L R | R L | | R L R L R |\n\
        part: bass drum\n(3) | 1 2 3 | _1 3 | (6 bars) | 1 (2 3) |";
    let piece = rhythm::text::read_piece(text).piece.expect("two parts");
    let staves = piece.parts().iter().map(|part| Staff {
        name: part.name.as_deref(),
        rhythm: &part.rhythm,
        countings: Vec::new(),
        shares_line: false,
    });
    let layout = Layout { width: 64.0, counts: false, sticking: StickingAt::Over, ..Layout::default() };
    let engraving = engrave_staves(&staves.collect::<Vec<_>>(), &layout).expect("a page");
    keep("parts", Some("Two parts"), &engraving);
}

/// Two voices on a line, under another part.
#[test]
fn voices() {
    let text = "meter: 4/4\npart: cymbals\n| 1 2 3 4 | 1 (2 3) 4 |: (1) | 1 3 :|\n\
        part: hands\n| 1 & 2 e & a (3) & 4 & | 1/4. _1/8 {3:2 1/8 (1/8) 1/8} (1/4) |: 1 & _2 & 3 & _4 & | _1 3 (4) :|\n\
        strokes: | flam . z | | | |\naccents: | . > . . ^ | > | |\n\
        part: feet\nline: hands\n| 1 (2) 3 & 4 | 1/2. 1/8 1/8 |: (1) 2 & a 3 la li 4 | (1) 3 4 & :|\n\
        strokes: | drag | | | |\naccents: | > . . > | . ^ | | |";
    let reading = rhythm::text::read_piece(text);
    let piece = reading.piece.unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
    let countings: Vec<_> = piece.parts().iter().map(|part| counting::count(&part.rhythm)).collect();
    let staves = piece.parts().iter().zip(&countings).map(|(part, counting)| Staff {
        name: part.name.as_deref(),
        rhythm: &part.rhythm,
        countings: vec![counting],
        shares_line: part.shares_line,
    });
    let layout = Layout { width: 84.0, ..Layout::default() };
    let engraving = engrave_staves(&staves.collect::<Vec<_>>(), &layout).expect("a page");
    keep("voices", Some("Hands and feet"), &engraving);
}

/// Read by an XML parser that takes nothing amiss: tags close, attributes are there once, names of outlines are there once,
/// and every symbol that is used is defined.
#[test]
fn the_svg_is_well_formed() {
    use quick_xml::events::Event;

    let rhythm = read(
        "title: <Any> & \"all\"\n| 1 & 2 3 4 | (1) |\nstrokes: | flam z . /// . | |\naccents: | > ^ | |\ndynamics: | p< | f |",
    );
    let engraving = page(&rhythm, &Layout::default());
    let options = SvgOptions {
        title: rhythm.title().unwrap_or_default().to_owned(),
        description: engraving.description(),
        ..SvgOptions::default()
    };
    let svg = write(engraving.scene(), &options);
    let mut reader = quick_xml::Reader::from_str(&svg);
    reader.config_mut().enable_all_checks(true);
    let (mut defined, mut used, mut texts) = (Vec::new(), Vec::new(), 0);
    loop {
        let event = reader.read_event().unwrap_or_else(|error| panic!("{error}"));
        if let Event::Start(tag) | Event::Empty(tag) = &event {
            texts += usize::from(tag.name().as_ref() == b"text");
            for attribute in tag.attributes() {
                let attribute = attribute.unwrap_or_else(|error| panic!("{error}"));
                let value = String::from_utf8_lossy(&attribute.value).into_owned();
                match attribute.key.as_ref() {
                    b"id" => defined.push(value),
                    b"xlink:href" => used.push(value.trim_start_matches('#').to_owned()),
                    _ => {}
                }
            }
        }
        if matches!(event, Event::Eof) {
            break;
        }
    }
    used.sort_unstable();
    used.dedup();
    defined.sort_unstable();
    assert_eq!(defined, used);
    assert!(texts > 8 && defined.len() > 10, "{texts} texts, {defined:?}");
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
