//! A bar before it is placed: its symbols and counts in columns, and how far apart they want to be.

use counting::{Count, CountLine};
use rhythm::spelling::{Note, spell};
use rhythm::{Deed, Meter, PerformedBar, Rhythm};
use timebase::Span;

use crate::font::{Weight, text_width};
use crate::metrics::{
    BAR_LEAD, COUNT_GAP, COUNT_SIZE, HALF_HEAD, LEAST_TIE, QUARTER_WIDTH, SPACING_RATIO, SYMBOL_GAP,
};
use crate::{Glyph, Layout};

/// A bar of the page with all that stands in it.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    /// Every time it is played: once if repeats are written out.
    pub(crate) played: Vec<PerformedBar>,
    pub(crate) meter: Meter,
    /// Whether the meter is printed at its beginning.
    pub(crate) shows_meter: bool,
    pub(crate) notes: Vec<Note>,
    pub(crate) counts: Vec<Count>,
    pub(crate) columns: Vec<Column>,
    /// Before the first column, between each two, and behind the last.
    pub(crate) gaps: Vec<Gap>,
    pub(crate) opens_repeat: bool,
    /// Whether a repeated passage begins here, written out.
    pub(crate) begins_pass: bool,
    /// How often the repeat is played that it closes.
    pub(crate) closes_repeat: Option<u32>,
    pub(crate) is_last: bool,
}

/// What stands over and under each other in a bar.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Column {
    pub(crate) at: Span,
    pub(crate) note: Option<usize>,
    pub(crate) count: Option<usize>,
}

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

/// The bars of the page in order.
pub(crate) fn plan(rhythm: &Rhythm, counting: &CountLine, layout: &Layout) -> Vec<Plan> {
    let performance = rhythm.performance();
    let mut spelled: Vec<Option<Vec<Note>>> = vec![None; rhythm.bars().len()];
    let mut plans: Vec<Plan> = Vec::new();
    let mut plan_of: Vec<Option<usize>> = vec![None; rhythm.bars().len()];
    for played in performance.bars() {
        if let Some(first) = plan_of[played.index].filter(|_| !layout.written_out) {
            plans[first].played.push(*played);
            continue;
        }
        let bar = &rhythm.bars()[played.index];
        let notes = spelled[played.index].get_or_insert_with(|| spell(bar)).clone();
        let counts = if layout.counts { counting.bars()[played.index].counts().to_vec() } else { Vec::new() };
        let repeat = rhythm.repeats().iter().find(|repeat| repeat.bars.contains(&played.index));
        let signs = repeat.filter(|_| !layout.written_out);
        let before = plans.last().map(|plan| plan.meter);
        let columns = columns(&notes, &counts);
        let gaps = gaps(&notes, &counts, &columns, bar.meter().bar_length());
        plan_of[played.index] = Some(plans.len());
        plans.push(Plan {
            played: vec![*played],
            meter: bar.meter(),
            shows_meter: before != Some(bar.meter()),
            notes,
            counts,
            columns,
            gaps,
            opens_repeat: signs.is_some_and(|repeat| repeat.bars.start == played.index),
            begins_pass: layout.written_out && repeat.is_some_and(|repeat| repeat.bars.start == played.index),
            closes_repeat: signs
                .filter(|repeat| repeat.bars.end == played.index + 1)
                .map(|repeat| repeat.times),
            is_last: false,
        });
    }
    if let Some(last) = plans.last_mut() {
        last.is_last = true;
    }
    plans
}

fn columns(notes: &[Note], counts: &[Count]) -> Vec<Column> {
    let mut columns = Vec::with_capacity(notes.len().max(counts.len()));
    let (mut note, mut count) = (0, 0);
    while let Some(at) = match (notes.get(note), counts.get(count)) {
        (Some(note), Some(count)) => Some(note.at.min(count.at)),
        (note, count) => note.map(|note| note.at).or(count.map(|count| count.at)),
    } {
        let note_here = notes.get(note).is_some_and(|note| note.at == at);
        let count_here = counts.get(count).is_some_and(|count| count.at == at);
        columns.push(Column { at, note: note_here.then_some(note), count: count_here.then_some(count) });
        note += usize::from(note_here);
        count += usize::from(count_here);
    }
    columns
}

fn gaps(notes: &[Note], counts: &[Count], columns: &[Column], end: Span) -> Vec<Gap> {
    let ends = columns.iter().skip(1).map(|column| column.at).chain([end]);
    let mut sounding = notes.first();
    let mut gaps: Vec<Gap> = Vec::with_capacity(columns.len() + 1);
    gaps.push(Gap { ideal: BAR_LEAD + HALF_HEAD, least: 0.0 });
    for (column, end) in columns.iter().zip(ends) {
        sounding = column.note.map(|index| &notes[index]).or(sounding);
        // A note with counts inside it is as wide as without, and the counts divide it evenly.
        let ideal =
            sounding.map_or(0.0, |note| width_of(note.length) * part_of(end - column.at, note.length));
        gaps.push(Gap { ideal, least: 0.0 });
    }
    let symbols: Vec<Extent> = columns
        .iter()
        .enumerate()
        .filter_map(|(index, column)| {
            let note = notes.get(column.note?)?;
            let (left, right) = symbol_extent(note);
            Some(Extent {
                column: index,
                left,
                right,
                room: if note.is_tied() { LEAST_TIE } else { SYMBOL_GAP },
            })
        })
        .collect();
    let words: Vec<Extent> = columns
        .iter()
        .enumerate()
        .filter_map(|(index, column)| {
            let half = count_width(counts.get(column.count?)?)? / 2.0;
            Some(Extent { column: index, left: half, right: half, room: COUNT_GAP })
        })
        .collect();
    keep_clear(&mut gaps, &symbols, BAR_LEAD);
    keep_clear(&mut gaps, &words, COUNT_GAP);
    gaps
}

/// How far something reaches to both sides of its column, and the gap it wants before it.
struct Extent {
    column: usize,
    left: f64,
    right: f64,
    room: f64,
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
fn widen(gaps: &mut [Gap], first: usize, last: usize, least: f64) {
    let gaps = &mut gaps[first..=last];
    let missing = least - gaps.iter().map(|gap| gap.least).sum::<f64>();
    let ideal: f64 = gaps.iter().map(|gap| gap.ideal).sum();
    if missing > 0.0 && ideal > 0.0 {
        gaps.iter_mut().for_each(|gap| gap.least += missing * gap.ideal / ideal);
    }
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

/// How far a symbol reaches to the left and right of its column.
fn symbol_extent(note: &Note) -> (f64, f64) {
    if note.whole_bar {
        return (0.0, 0.0);
    }
    let symbol = if note.deed == Deed::Rest { Glyph::rest(note.value) } else { Glyph::head(note.value) };
    let half = symbol.bounds().width() / 2.0;
    let flag = if is_flagged(note) { Glyph::FlagEighth.bounds().width() } else { 0.0 };
    (half, half + flag + f64::from(note.dots) * (DOT_GAP + Glyph::Dot.bounds().width()))
}

/// Between a symbol and its dot, and between two dots.
pub(crate) const DOT_GAP: f64 = 0.25;

/// Whether a note stands alone with flags on its stem.
pub(crate) fn is_flagged(note: &Note) -> bool {
    note.deed != Deed::Rest && note.beam.is_none() && note.value.flags() > 0
}

/// What is written for a count: rests in parentheses; `None` where there is no word.
pub(crate) fn count_text(count: &Count) -> Option<String> {
    let word = count.say.as_ref()?.as_str();
    Some(if count.deed == Deed::Rest { format!("({word})") } else { word.to_owned() })
}

/// Struck counts are bold.
pub(crate) fn count_weight(count: &Count) -> Weight {
    if count.deed == Deed::Attack { Weight::Bold } else { Weight::Regular }
}

fn count_width(count: &Count) -> Option<f64> {
    Some(text_width(&count_text(count)?, COUNT_SIZE, count_weight(count)))
}
