use engrave::{Engraving, Glyph, Item, Layout, Scene};
use kurbo::Rect;
use proptest::prelude::*;

use crate::any_rhythm::any_rhythm;
use crate::{page, read};

/// Boxes may touch by so much: less than the thickness of any line.
const TOUCH: f64 = 0.02;

/// Glyphs and texts, with what they are, for the message.
fn boxes(scene: &Scene) -> Vec<(&Item, Rect)> {
    let solid = |item: &&Item| matches!(item, Item::Glyph { .. } | Item::Text { .. });
    scene.items.iter().filter(solid).map(|item| (item, item.bounds().inset(-TOUCH))).collect()
}

/// A flag hangs over its own note's head; their boxes overlap, their outlines do not.
fn belong_together(a: &Item, b: &Item) -> bool {
    let glyph = |item: &Item| if let Item::Glyph { glyph, .. } = item { Some(*glyph) } else { None };
    let is_flag = |glyph: Option<Glyph>| {
        use Glyph::{FlagEighth, FlagSixteenth, FlagSixtyFourth, FlagThirtySecond};
        matches!(glyph, Some(FlagEighth | FlagSixteenth | FlagThirtySecond | FlagSixtyFourth))
    };
    let is_head = |glyph: Option<Glyph>| glyph == Some(Glyph::NoteBlack);
    let (a, b) = (glyph(a), glyph(b));
    (is_flag(a) && is_head(b)) || (is_head(a) && is_flag(b))
}

#[track_caller]
pub(crate) fn nothing_collides(engraving: &Engraving) {
    let mut boxes = boxes(engraving.scene());
    boxes.sort_by(|a, b| a.1.x0.total_cmp(&b.1.x0));
    for (index, (item, rect)) in boxes.iter().enumerate() {
        for (other, next) in boxes[index + 1..].iter().take_while(|(_, next)| next.x0 < rect.x1) {
            let apart = next.y0 >= rect.y1 || next.y1 <= rect.y0;
            assert!(apart || belong_together(item, other), "{item:?} {rect:?} touches {other:?} {next:?}");
        }
    }
    let page = Rect::new(0.0, 0.0, engraving.scene().width, engraving.scene().height);
    for item in &engraving.scene().items {
        let rect = item.bounds();
        assert!(page.contains_rect(rect), "{item:?} leaves the page");
    }
}

#[test]
fn nothing_collides_in_dense_bars() {
    let dense = [
        "| 1 e & a 2 e & a 3 e & a 4 e & a | 1 la li 2 la li 3 la li 4 la li | 1 (e) & (a) 2 (e & a) 3 & 4 (&) |",
        "meter: 12/8\n| 1 ta la ta li ta 2 ta la ta li ta 3 ta la ta li ta 4 ta la ta li ta | 1 la li 2 (la) li 3 4 |",
        "|: 1 2 3 4 :| 3 times [12/8] 1 li 2 3 4 li | [2/2 in 4] 1 2 3 4 & | [6/8 in 6] 1 2 3 4 5 6 |",
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
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn nothing_ever_collides(rhythm in any_rhythm(), width in 24.0f64..140.0, counts: bool, written_out: bool) {
        let layout = Layout { width, counts, written_out, ..Layout::default() };
        nothing_collides(&page(&rhythm, &layout));
    }
}
