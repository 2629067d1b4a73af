use counting::{CountLine, Settings, System, count_in};
use engrave::{
    CountStyle, Engraving, Glyph, Item, Layout, PrintSize, RestWords, Scene, Staff, StickingAt, WritingRoom,
    engrave_staves,
};
use kurbo::{BezPath, PathEl, Rect};
use proptest::prelude::*;
use rhythm::Rhythm;

use crate::any_rhythm::{any_marked, any_parts, any_rhythm};
use crate::{page, read};

/// Boxes may touch by so much: less than the thickness of any line.
const TOUCH: f64 = 0.02;

/// What a mark of the page is, as far as it matters to what may lie over what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    /// A note's head, full or small.
    Head,
    Flag,
    /// The sign of a roll, which stands on a stem.
    Roll,
    /// Any other symbol or text: nothing lies over it but what leads through it by its nature.
    Symbol,
    /// A beam, a bead or another filled shape.
    Shape,
    /// The line of a staff.
    Staff,
    /// A short line that stands upright: a stem, a bracket's hook.
    Upright,
    /// Any other line: bar lines, brackets, threads.
    Line,
    /// A tie.
    Tie,
}

fn kind(item: &Item, engraving: &Engraving) -> Kind {
    use Glyph::{FlagEighth, FlagSixteenth, FlagSixtyFourth, FlagThirtySecond};
    use Glyph::{FlagEighthDown, FlagSixteenthDown, FlagSixtyFourthDown, FlagThirtySecondDown};
    use Glyph::{NoteBlack, NoteHalf, NoteWhole, Tremolo1, Tremolo2, Tremolo3, Tremolo4};
    match item {
        Item::Glyph { glyph: NoteBlack | NoteHalf | NoteWhole, .. } => Kind::Head,
        Item::Glyph { glyph: FlagEighth | FlagSixteenth | FlagThirtySecond | FlagSixtyFourth, .. } => {
            Kind::Flag
        }
        Item::Glyph {
            glyph: FlagEighthDown | FlagSixteenthDown | FlagThirtySecondDown | FlagSixtyFourthDown,
            ..
        } => Kind::Flag,
        Item::Glyph { glyph: Tremolo1 | Tremolo2 | Tremolo3 | Tremolo4 | Glyph::BuzzRoll, .. } => Kind::Roll,
        Item::Glyph { .. } | Item::Text { .. } => Kind::Symbol,
        // Ties are the only shapes that are curved and not round.
        Item::Path { path, .. } if is_curved(path) && !is_round(item.bounds()) => Kind::Tie,
        Item::Path { .. } => Kind::Shape,
        Item::Line { from, to, width, .. } => {
            let on_staff = engraving
                .staves()
                .iter()
                .flat_map(engrave::EngravedStaff::systems)
                .any(|system| system.staff == from.y && from.y == to.y);
            match (on_staff, from.x == to.x) {
                (true, _) => Kind::Staff,
                (false, true) if (0.05..0.13).contains(width) => Kind::Upright,
                _ => Kind::Line,
            }
        }
    }
}

fn is_curved(path: &BezPath) -> bool {
    path.elements().iter().any(|element| matches!(element, PathEl::CurveTo(..)))
}

fn is_round(bounds: Rect) -> bool {
    (bounds.width() - bounds.height()).abs() < 0.01
}

/// Whether two kinds may lie over one another.
fn may_touch(a: Kind, b: Kind) -> bool {
    use Kind::{Flag, Head, Line, Roll, Shape, Staff, Symbol, Tie, Upright};
    match (a, b) {
        // The line of the staff leads through all that stands on it; lines cross lines.
        (Staff | Upright | Line | Tie, Staff | Upright | Line | Tie) => true,
        (Staff, _) | (_, Staff) => true,
        // A stem belongs to its head, its flag, its roll and its beam.
        (Upright, Head | Flag | Roll | Shape) | (Head | Flag | Roll | Shape, Upright) => true,
        // A flag hangs over its own head, and a roll's sign stands inside its bow: their boxes overlap, their outlines
        // do not (or they belong together).
        (Flag, Head | Roll) | (Head | Roll, Flag) => true,
        // Beams touch their own second beams' corners and threads their beads; shapes are checked against symbols.
        (Shape, Shape | Line) | (Line, Shape) => true,
        (Symbol | Shape | Head | Flag | Roll | Upright | Line | Tie, _) => false,
    }
}

#[track_caller]
pub(crate) fn nothing_collides(engraving: &Engraving) {
    let items = engraving.scene().items.iter();
    let mut boxes: Vec<(&Item, Kind, Rect)> =
        items.map(|item| (item, kind(item, engraving), item.bounds().inset(-TOUCH))).collect();
    boxes.sort_by(|a, b| a.2.x0.total_cmp(&b.2.x0));
    for (index, (item, kind, rect)) in boxes.iter().enumerate() {
        for (other, next_kind, next) in boxes[index + 1..].iter().take_while(|(_, _, next)| next.x0 < rect.x1)
        {
            // What is thinner than the touch has no box left.
            let apart =
                next.y0 >= rect.y1 || next.y1 <= rect.y0 || rect.height() <= 0.0 || next.height() <= 0.0;
            assert!(
                apart || may_touch(*kind, *next_kind),
                "{kind:?} {item:?} {rect:?} touches {next_kind:?} {other:?} {next:?}"
            );
        }
    }
    everything_stands_on_its_page(engraving);
}

/// Every item lies on the page, in the band that claims it, and every band claims its own items.
fn everything_stands_on_its_page(engraving: &Engraving) {
    let scene: &Scene = engraving.scene();
    let page = Rect::new(0.0, 0.0, scene.width, scene.height);
    for item in &scene.items {
        assert!(page.contains_rect(item.bounds()), "{item:?} leaves the page");
    }
    let bands: Vec<_> =
        engraving.head().into_iter().chain(engraving.bands()).chain(engraving.foot()).collect();
    assert_eq!(bands.iter().map(|band| band.items.len()).sum::<usize>(), scene.items.len());
    for pair in bands.windows(2) {
        assert!(pair[0].bottom <= pair[1].top && pair[0].items.end == pair[1].items.start, "{pair:?}");
    }
    for band in bands {
        for item in &scene.items[band.items.clone()] {
            let bounds = item.bounds();
            assert!(
                band.top - TOUCH <= bounds.y0 && bounds.y1 <= band.bottom + TOUCH,
                "{item:?} leaves its band {band:?}"
            );
        }
    }
}

#[test]
fn nothing_collides_in_dense_bars() {
    let dense = [
        "| 1 e & a 2 e & a 3 e & a 4 e & a | 1 la li 2 la li 3 la li 4 la li | 1 (e) & (a) 2 (e & a) 3 & 4 (&) |",
        "meter: 12/8\n| 1 ta la ta li ta 2 ta la ta li ta 3 ta la ta li ta 4 ta la ta li ta | 1 la li 2 (la) li 3 4 |",
        "|: 1 2 3 4 :| 3 times [12/8] 1 li 2 3 4 li | [2/2 in 4] 1 2 3 4 & | [6/8 in 6] 1 2 3 4 5 6 |",
        "| 1 2 3 4 & | [3/4] _1 2 3 & | [7/8 2+2+3] _1 2 3 4 5 6 7 |: 1 2 3 :| [12/8 in 12] 1 2 3 |",
        "| 1/4.. 1/16 1/64 1/64 1/64 1/64 1/16. 1/32 (1/32) 1/32 (1/16) (1/64) 1/64 1/32 1/16 1/16 |",
    ];
    for text in dense {
        for width in [30.0, 60.0, 76.0, 200.0] {
            for written_out in [false, true] {
                let layout = Layout { width, written_out, ..Layout::default() };
                nothing_collides(&page(&read(text), &layout));
            }
        }
    }
}

#[test]
fn numbers_of_many_digits_find_room() {
    let bars = "| 1 2 3 4 & ".repeat(1_200) + "|";
    nothing_collides(&page(&read(&bars), &Layout::default()));
    let layout = Layout { print: PrintSize::Large, ..Layout::default() };
    nothing_collides(&page(&read(&bars), &layout));
}

/// The rhythms that are shipped as examples, in every style of the count line.
#[test]
fn nothing_collides_in_the_demo() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo-data/rhythms");
    let mut found = 0;
    for file in std::fs::read_dir(folder).expect("the demo's rhythms") {
        let text = std::fs::read_to_string(file.expect("a file").path()).expect("a text");
        let rhythm = read(&text);
        for (width, print) in [(40.0, PrintSize::Large), (76.0, PrintSize::Usual)] {
            let style = CountStyle { hands: true, legend: true, ..CountStyle::default() };
            let layout = Layout { width, print, count_style: style, ..Layout::default() };
            nothing_collides(&page(&rhythm, &layout));
        }
        found += 1;
    }
    assert!(found >= 6, "{found} rhythms");
}

/// Styles of the page that change where things stand.
fn any_layout() -> impl Strategy<Value = Layout> {
    let style = (any::<bool>(), any::<bool>(), any::<bool>()).prop_map(|(lighter, hands, legend)| {
        let rests = if lighter { RestWords::Lighter } else { RestWords::Parentheses };
        CountStyle { rests, hands, legend, ..CountStyle::default() }
    });
    let flags = (any::<bool>(), any::<bool>(), any::<bool>(), any::<bool>());
    let writing = prop_oneof![
        3 => Just(WritingRoom::default()), 1 => Just(WritingRoom { below: 1.8, step: 3.2 })
    ];
    let all = (24.0f64..140.0, style, flags, writing);
    all.prop_map(|(width, count_style, (counts, written_out, large, over), writing)| Layout {
        writing,
        width,
        counts,
        written_out,
        count_style,
        print: if large { PrintSize::Large } else { PrintSize::Usual },
        sticking: if over { StickingAt::Over } else { StickingAt::Under },
        ..Layout::default()
    })
}

/// Two count lines, one with the foot's way.
fn counted(rhythm: &Rhythm) -> Vec<CountLine> {
    let feet = Settings { feet: true, ..Settings::default() };
    let takadimi = System::named("takadimi").expect("a shipped system");
    vec![count_in(rhythm, System::numbers(), &feet), count_in(rhythm, &takadimi, &Settings::default())]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn nothing_ever_collides(rhythm in any_rhythm(), layout in any_layout()) {
        nothing_collides(&page(&rhythm, &layout));
    }

    #[test]
    fn nothing_collides_with_marks(rhythm in any_marked(), layout in any_layout()) {
        nothing_collides(&page(&rhythm, &layout));
    }

    #[test]
    fn nothing_collides_under_two_count_lines(rhythm in any_marked(), layout in any_layout()) {
        let countings = counted(&rhythm);
        let staff = Staff { name: None, rhythm: &rhythm, countings: countings.iter().collect(), shares_line: false };
        nothing_collides(&engrave_staves(&[staff], &layout).expect("a page"));
    }

    #[test]
    fn nothing_collides_between_parts(rhythms in any_parts(), layout in any_layout()) {
        let countings: Vec<CountLine> = rhythms.iter().map(counting::count).collect();
        let names = ["snare drum", "a name that is far too long for any page", "", "bass"];
        let staves: Vec<Staff<'_>> = rhythms.iter().zip(&countings).zip(names).map(|((rhythm, counting), name)| {
            let name = Some(name).filter(|name| !name.is_empty());
            Staff { name, rhythm, countings: vec![counting], shares_line: false }
        }).collect();
        let layout = Layout { width: layout.width + 20.0, ..layout };
        nothing_collides(&engrave_staves(&staves, &layout).expect("a page"));
    }

    /// Two voices on a line, with another part or two more voices under them; counted each, or the lower one for both.
    #[test]
    fn nothing_collides_between_two_voices(
        rhythms in any_parts(),
        layout in any_layout(),
        together in any::<bool>(),
    ) {
        let countings: Vec<CountLine> = rhythms.iter().map(counting::count).collect();
        let names = ["hands", "feet", "a name that is far too long for any page", ""];
        let staves = rhythms.iter().zip(&countings).zip(names).enumerate();
        let staves: Vec<Staff<'_>> = staves.map(|(index, ((rhythm, counting), name))| Staff {
            name: Some(name).filter(|name| !name.is_empty()),
            rhythm,
            countings: if together && index % 2 == 0 { Vec::new() } else { vec![counting] },
            shares_line: index % 2 == 1,
        }).collect();
        let layout = Layout { width: layout.width + 20.0, ..layout };
        nothing_collides(&engrave_staves(&staves, &layout).expect("a page"));
    }
}
