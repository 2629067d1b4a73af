//! The waveforms of a voice, a syllable a row and a speed a column, on one scale of time.

use std::collections::BTreeMap;

use engrave::{Anchor, Ink, Item, Paint, Scene, Weight, text_width};
use kurbo::{Point, Rect};
use timebase::{SampleRate, Seconds};
use voice::{Recording, VoicePack};

/// Heights and widths in staff spaces.
const ROW: f64 = 4.0;
const NAME: f64 = 9.0;
const COLUMN_GAP: f64 = 4.0;
const MARGIN: f64 = 2.0;
const HEAD: f64 = 8.0;
/// Room for the axis below the rows.
const FOOT: f64 = 3.0;
const TITLE: f64 = 1.8;
const TEXT: f64 = 1.4;
/// A mark of the axis stands at every tenth of a second.
const MARKS_A_SECOND: u32 = 10;
const MARK: f64 = 0.5;
/// Staff spaces a second.
const SECOND: f64 = 40.0;
/// Steps of a waveform's outline a second: five a staff space.
const STEPS_A_SECOND: u32 = 200;
/// Half the height of a waveform at full scale.
const FULL: f64 = 2.2;

/// Every recording of a voice: its outline, its vowel as a pale ground, its centre as an upright line with the
/// milliseconds from the beginning.
pub(super) fn draw(pack: &VoicePack) -> Scene {
    let mut rows: BTreeMap<&str, Vec<&Recording>> = BTreeMap::new();
    let mut speeds: Vec<&str> = Vec::new();
    for (_, recording) in pack.recordings() {
        if !speeds.contains(&recording.speed()) {
            speeds.push(recording.speed());
        }
        rows.entry(recording.syllable()).or_default().push(recording);
    }
    let seconds = |time: Seconds| time.as_secs_f64() * SECOND;
    let length = |recording: &Recording| seconds(recording.length().seconds(pack.rate()));
    let widths: Vec<f64> = speeds
        .iter()
        .map(|speed| {
            let of_speed = pack.recordings().filter(|(_, recording)| recording.speed() == *speed);
            of_speed.map(|(_, recording)| length(recording)).fold(6.0, f64::max)
        })
        .collect();
    let lefts: Vec<f64> = widths
        .iter()
        .scan(MARGIN + NAME, |left, width| {
            let here = *left;
            *left += width + COLUMN_GAP;
            Some(here)
        })
        .collect();
    let mut items = Vec::new();
    let title = format!("{}: perceptual centres in ms from the beginning", pack.name());
    items.push(Item::text(title, (MARGIN, MARGIN + 1.0), TITLE, Weight::Bold, Anchor::Start, Ink::Main));
    let bottom = HEAD + ROW * rows.len() as f64;
    for ((speed, left), width) in speeds.iter().zip(&lefts).zip(&widths) {
        items.push(Item::text(*speed, (*left, HEAD - 3.0), TEXT, Weight::Regular, Anchor::Start, Ink::Soft));
        axis(Point::new(*left, HEAD), -1.0, *width, &mut items);
        axis(Point::new(*left, bottom), 1.0, *width, &mut items);
    }
    for (number, (syllable, recordings)) in rows.iter().enumerate() {
        let middle = HEAD + ROW * (number as f64 + 0.5);
        items.push(Item::text(
            *syllable,
            (MARGIN, middle + 0.5),
            TEXT,
            Weight::Bold,
            Anchor::Start,
            Ink::Main,
        ));
        for recording in recordings {
            let column = speeds.iter().position(|speed| *speed == recording.speed()).unwrap_or(0);
            one(recording, pack, Point::new(lefts[column], middle), &mut items);
        }
    }
    // A voice of one speed is narrower than its heading; a unit may stand out beyond its column.
    let width = items.iter().map(|item| item.bounds().x1).fold(NAME, f64::max) + MARGIN;
    Scene { width, height: bottom + FOOT + MARGIN, items }
}

/// An axis of milliseconds from the beginning, so long, its marks and their numbers above it (-1) or below it (1).
fn axis(at: Point, side: f64, length: f64, items: &mut Vec<Item>) {
    items.push(Item::line(at, (at.x + length, at.y), 0.1, Ink::Soft));
    let step = SECOND / f64::from(MARKS_A_SECOND);
    let baseline = if side < 0.0 { at.y - MARK - 0.3 } else { at.y + MARK + 1.0 };
    let mut text = |text: String, x: f64, anchor: Anchor| {
        items.push(Item::text(text, (x, baseline), 1.0, Weight::Regular, anchor, Ink::Soft));
    };
    let last = (0_u32..).take_while(|&mark| f64::from(mark) * step <= length).last().unwrap_or(0);
    for mark in 0..=last {
        let milliseconds = mark * 1_000 / MARKS_A_SECOND;
        let x = at.x + f64::from(mark) * step;
        if mark == last {
            // The unit stands once, behind the last number, which stays where it is.
            let number = milliseconds.to_string();
            let half = text_width(&number, 1.0, Weight::Regular) / 2.0;
            text(format!("{number} ms"), x - half, Anchor::Start);
        } else {
            text(milliseconds.to_string(), x, Anchor::Middle);
        }
    }
    for mark in 0..=last {
        let x = at.x + f64::from(mark) * step;
        items.push(Item::line((x, at.y), (x, at.y + side * MARK), 0.1, Ink::Soft));
    }
}

/// One recording, beginning at `at`.
fn one(recording: &Recording, pack: &VoicePack, at: Point, items: &mut Vec<Item>) {
    let place = |time: Seconds| at.x + time.as_secs_f64() * SECOND;
    let (top, bottom) = (at.y - 0.42 * ROW, at.y + 0.42 * ROW);
    if let Some(vowel) = recording.vowel() {
        items.push(Item::block(Rect::new(place(vowel.begin), top, place(vowel.end), bottom), Ink::Column));
    }
    let outline = outline(recording.sample().data(), pack.rate(), at);
    items.push(Item::polygon(&outline, Paint::Fill, Ink::Main));
    let centre = place(recording.centre_seconds());
    items.push(Item::line((centre, top), (centre, bottom), 0.22, Ink::Late));
    let number = format!("{:.0}", recording.centre_seconds().as_millis_f64());
    let mark = if recording.is_set_by_ear() { format!("{number} by hand") } else { number };
    items.push(Item::text(mark, (centre + 0.3, top + 0.7), 1.0, Weight::Regular, Anchor::Start, Ink::Late));
}

/// The greatest and least value of every step, forwards above and back below.
fn outline(frames: &[f32], rate: SampleRate, at: Point) -> Vec<Point> {
    let step = usize::try_from(rate.hz() / STEPS_A_SECOND).unwrap_or(1).max(1);
    let x = |number: usize| at.x + (number * step) as f64 / f64::from(rate.hz()) * SECOND;
    let y = |value: f32| at.y - FULL * f64::from(value);
    let steps = || frames.chunks(step).enumerate();
    let above = steps().map(|(n, step)| Point::new(x(n), y(step.iter().copied().fold(0.0, f32::max))));
    let below = steps().map(|(n, step)| Point::new(x(n), y(step.iter().copied().fold(0.0, f32::min))));
    let mut back: Vec<Point> = below.collect();
    back.reverse();
    above.chain(back).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A voice of one speed is narrower than its heading; nothing of a picture lies beyond its edges, and there is a
    /// scale of time.
    #[test]
    fn a_picture_holds_its_heading_and_an_axis() {
        for name in ["spanish", "female"] {
            let scene = draw(&VoicePack::shipped(name).expect(name));
            for item in &scene.items {
                let bounds = item.bounds();
                assert!(
                    bounds.x0 >= 0.0
                        && bounds.x1 <= scene.width
                        && bounds.y0 >= 0.0
                        && bounds.y1 <= scene.height,
                    "{name}: {item:?} in {} by {}",
                    scene.width,
                    scene.height
                );
            }
            let texts = |wanted: &str| {
                scene
                    .items
                    .iter()
                    .filter(|item| matches!(item, Item::Text { text, ink: Ink::Soft, .. } if text == wanted))
                    .count()
            };
            // Above and below each column.
            let speeds = if name == "spanish" { 1 } else { 3 };
            assert_eq!((texts("0"), texts("100")), (2 * speeds, 2 * speeds), "{name}");
        }
    }
}
