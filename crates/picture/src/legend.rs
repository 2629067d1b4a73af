use engrave::{Ink, Item, Layout, Scene, Weight, text_width};
use kurbo::{Point, Rect};

use crate::draw::{HALF_SPREAD, PIN, Sizes, extra, missed, pin, small};
use crate::{PictureOptions, Side};

/// Room of the legend under the page.
const HEIGHT: f64 = 5.6;
/// Between two of its signs.
const GAP: f64 = 1.8;
/// Between a sign and its word.
const WORD: f64 = 0.6;

/// Milliseconds with their sign, as they stand on the page: `+62`, `−48`, `0`.
pub(crate) fn signed_ms(ms: f64) -> String {
    let rounded = ms.round();
    if rounded == 0.0 {
        "0".to_owned()
    } else {
        format!("{}{}", if rounded < 0.0 { '−' } else { '+' }, rounded.abs())
    }
}

/// Every sign with its word, and the scale, in one line under the page; in two where the page is narrow.
pub(crate) fn add(scene: &mut Scene, layout: &Layout, options: &PictureOptions, with_spread: bool) {
    let mut pen = Pen {
        left: Layout::MARGIN,
        right: layout.staff_right(),
        x: Layout::MARGIN,
        sizes: Sizes::of(layout.print),
        foot: scene.height - Layout::MARGIN + HEIGHT - 1.2,
        items: Vec::new(),
    };
    let lean = options.ms_per_space * 1.4;
    pen.sign("early", 2.0, |items, at| {
        pin(items, (at + (1.8, 0.0), PIN), -lean, Some(Side::Early), options);
    });
    pen.sign("with the note", 0.9, |items, at| {
        pin(items, (at + (0.4, 0.0), PIN), 0.0, None, options);
    });
    pen.sign("late", 2.0, |items, at| {
        pin(items, (at + (0.2, 0.0), PIN), lean, Some(Side::Late), options);
    });
    pen.sign("missed", 0.6, |items, at| items.push(missed(at + (0.3, 0.0))));
    pen.sign("extra", 1.3, |items, at| extra(items, at + (0.6, 0.0)));
    let scale = scale_ms(options.ms_per_space);
    let length = scale / options.ms_per_space;
    pen.sign(&format!("{scale} ms"), length, |items, at| {
        let y = at.y - PIN / 2.0;
        items.push(Item::line((at.x, y), (at.x + length, y), 0.14, Ink::Main));
        for x in [at.x, at.x + length] {
            items.push(Item::line((x, y - 0.4), (x, y + 0.4), 0.14, Ink::Main));
        }
    });
    if with_spread {
        let lengths = [0.4, 1.0, 1.8];
        let width = lengths.len() as f64 * 1.2 - 0.3;
        pen.sign("spread: longer is further apart", width, |items, at| {
            for (number, length) in lengths.into_iter().enumerate() {
                let (left, top) = (at.x + 1.2 * number as f64, at.y - PIN / 2.0 - 0.9);
                items.push(Item::block(
                    Rect::new(left, top, left + HALF_SPREAD * 2.0, top + length),
                    Ink::Spread,
                ));
            }
        });
    }
    pen.sign(&format!("pins lean against {}", options.against.name()), 0.0, |_, _| {});
    scene.height = pen.foot + 1.2 + Layout::MARGIN / 2.0;
    scene.items.extend(pen.items);
}

/// A round number of milliseconds that is two to five staff spaces long.
fn scale_ms(ms_per_space: f64) -> f64 {
    let decade = 10_f64.powf(ms_per_space.log10().floor());
    [2.0, 5.0, 10.0, 20.0, 50.0]
        .into_iter()
        .map(|step| step * decade)
        .find(|ms| ms / ms_per_space >= 1.6)
        .unwrap_or(ms_per_space * 2.0)
}

struct Pen {
    left: f64,
    right: f64,
    x: f64,
    /// Where the pins of this line stand.
    foot: f64,
    sizes: Sizes,
    items: Vec<Item>,
}

impl Pen {
    fn sign(&mut self, word: &str, width: f64, draw: impl FnOnce(&mut Vec<Item>, Point)) {
        let word_width = text_width(word, self.sizes.small, Weight::Regular);
        let gap = if width > 0.0 { WORD } else { 0.0 };
        if self.x + width + gap + word_width > self.right && self.x > self.left {
            self.x = self.left;
            self.foot += HEIGHT - 1.4;
        }
        draw(&mut self.items, Point::new(self.x, self.foot));
        let at = Point::new(self.x + width + gap, self.foot - PIN / 2.0 + 0.4);
        small(&mut self.items, word, at, self.sizes);
        self.x = at.x + word_width + GAP;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn milliseconds_carry_their_sign() {
        let check = |ms: f64, expected: &str| assert_eq!(signed_ms(ms), expected);
        check(62.4, "+62");
        check(-48.5, "−49");
        check(0.4, "0");
        check(-0.4, "0");
    }

    #[test]
    fn the_scale_is_a_round_number() {
        let check = |ms_per_space: f64, expected: f64| {
            assert!((scale_ms(ms_per_space) - expected).abs() < 1e-9, "{ms_per_space}");
        };
        check(30.0, 50.0);
        check(10.0, 20.0);
        check(25.0, 50.0);
        check(100.0, 200.0);
        check(1.0, 2.0);
    }
}
