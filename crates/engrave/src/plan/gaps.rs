//! How far the columns of a bar want to stand apart, and how far they must.

use rhythm::Deed;
use timebase::Span;

use super::part::{PartBar, Sign};
use super::words::{count_weight, count_words};
use crate::Layout;
use crate::draw::hands;
use crate::font::{Weight, text_width};
use crate::metrics::{BAR_LEAD, COUNT_GAP, HALF_HEAD, LEAST_TIE, QUARTER_WIDTH, SPACING_RATIO, SYMBOL_GAP};

/// A distance between two columns in staff spaces.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gap {
    /// By the length of what lies in it.
    pub(crate) ideal: f64,
    /// So that nothing touches.
    pub(crate) least: f64,
}

impl Gap {
    /// Its width where the page is stretched by `stretch`.
    pub(crate) fn at(self, stretch: f64) -> f64 {
        (self.ideal * stretch).max(self.least)
    }
}

/// Before the first column, between each two, and behind the last.
pub(crate) fn gaps(parts: &[PartBar], columns: &[Span], end: Span, layout: &Layout) -> Vec<Gap> {
    let mut gaps = ideal(parts, columns, end);
    for part in parts {
        let symbols: Vec<Extent> = part.signs.iter().map(symbol).collect();
        keep_clear(&mut gaps, &symbols, BAR_LEAD);
        let sticking: Vec<Extent> = part.signs.iter().filter_map(|sign| sticking(sign, layout)).collect();
        keep_clear(&mut gaps, &sticking, COUNT_GAP);
        for line in &part.counts {
            let words = line.iter().filter_map(|at| {
                let text = count_words(&at.count, layout)?;
                let width = text_width(&text, layout.print.count(), count_weight(&at.count));
                let half = (width / 2.0).max((layout.writing.step - COUNT_GAP) / 2.0);
                Some(Extent::about(at.column, half))
            });
            keep_clear(&mut gaps, &words.collect::<Vec<_>>(), COUNT_GAP);
        }
        if layout.counts && layout.count_style.hands {
            let marks: Vec<Extent> =
                part.signs.iter().map(|sign| Extent::about(sign.column, hands::MARK)).collect();
            keep_clear(&mut gaps, &marks, COUNT_GAP);
        }
        let feet: Vec<Extent> =
            part.feet.iter().map(|(_, column)| Extent::about(*column, hands::MARK)).collect();
        keep_clear(&mut gaps, &feet, COUNT_GAP);
    }
    gaps
}

/// The gaps by the length of what sounds in them: of several parts the shortest note tells.
fn ideal(parts: &[PartBar], columns: &[Span], end: Span) -> Vec<Gap> {
    let ends = columns.iter().skip(1).copied().chain([end]);
    let mut sounding = vec![0; parts.len()];
    let mut gaps: Vec<Gap> = Vec::with_capacity(columns.len() + 1);
    gaps.push(Gap { ideal: BAR_LEAD + HALF_HEAD, least: 0.0 });
    for (column, (&at, end)) in columns.iter().zip(ends).enumerate() {
        let shortest = parts.iter().zip(&mut sounding).filter_map(|(part, sounding)| {
            while part.signs.get(*sounding + 1).is_some_and(|next| next.column <= column) {
                *sounding += 1;
            }
            Some(part.signs.get(*sounding)?.note.length)
        });
        // A note with counts inside it is as wide as without, and the counts divide it evenly.
        let ideal = shortest.min().map_or(0.0, |length| width_of(length) * part_of(end - at, length));
        gaps.push(Gap { ideal, least: 0.0 });
    }
    gaps
}

/// Room for a note of this length.
fn width_of(length: Span) -> f64 {
    QUARTER_WIDTH * SPACING_RATIO.powf(part_of(length, Span::QUARTER).log2())
}

/// `part` of `whole` as a number for drawing.
pub(crate) fn part_of(part: Span, whole: Span) -> f64 {
    let number = |span: Span| span.numerator() as f64 / span.denominator() as f64;
    number(part) / number(whole)
}

/// How far something reaches to both sides of its column, and the gap it wants before it.
struct Extent {
    column: usize,
    left: f64,
    right: f64,
    room: f64,
}

impl Extent {
    fn about(column: usize, half: f64) -> Self {
        Self { column, left: half, right: half, room: COUNT_GAP }
    }
}

fn symbol(sign: &Sign) -> Extent {
    let (left, right) = sign.extent();
    let room = if sign.note.is_tied() { LEAST_TIE } else { SYMBOL_GAP };
    Extent { column: sign.column, left, right, room }
}

fn sticking(sign: &Sign, layout: &Layout) -> Option<Extent> {
    let letter = super::words::sticking(sign.marks.sticking.filter(|_| sign.note.deed == Deed::Attack)?);
    let half = text_width(letter, layout.print.sticking(), Weight::Bold) / 2.0;
    Some(Extent { room: SYMBOL_GAP, ..Extent::about(sign.column, half) })
}

/// Widens gaps so that neighbours of a row do not touch, nor the ends of the bar.
fn keep_clear(gaps: &mut [Gap], row: &[Extent], lead: f64) {
    let Some((first, last)) = row.first().zip(row.last()) else { return };
    widen(gaps, 0, first.column, first.left + lead);
    for pair in row.windows(2) {
        widen(gaps, pair[0].column + 1, pair[1].column, pair[0].right + pair[1].room + pair[1].left);
    }
    let behind = gaps.len() - 1;
    widen(gaps, last.column + 1, behind, last.right + COUNT_GAP);
}

/// Makes the gaps from `first` to `last` at least `least` in all, by their ideal shares.
pub(crate) fn widen(gaps: &mut [Gap], first: usize, last: usize, least: f64) {
    let gaps = &mut gaps[first..=last];
    let missing = least - gaps.iter().map(|gap| gap.least).sum::<f64>();
    let ideal: f64 = gaps.iter().map(|gap| gap.ideal).sum();
    if missing > 0.0 && ideal > 0.0 {
        gaps.iter_mut().for_each(|gap| gap.least += missing * gap.ideal / ideal);
    }
}
