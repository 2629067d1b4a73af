//! A bar before it is placed: its symbols and counts in columns, and how far apart they want to be.

use counting::{Count, CountLine, CountedBar};
use rhythm::spelling::{Note, spell};
use rhythm::{Bar, Deed, Ending, Jump, Meter, PerformedBar, Repeat, Rhythm, Until};
use timebase::Span;

use crate::font::{Weight, text_width};
use crate::metrics::{
    BAR_LEAD, COUNT_GAP, COUNT_SIZE, HALF_HEAD, LEAST_TIE, QUARTER_WIDTH, SMALL_SIZE, SPACING_RATIO,
    SYMBOL_GAP,
};
use crate::{Glyph, Layout};

/// A bar of the page with all that stands in it.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    /// Every time it is played: once if repeats are written out; never where no way through the piece leads.
    pub(crate) played: Vec<PerformedBar>,
    /// The written bar's number, if it is told: not of a pickup, nor again of the second half of a bar that was cut.
    pub(crate) number: Option<u32>,
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
    /// The repeat that it closes.
    pub(crate) closes_repeat: Option<Closing>,
    /// The ending of a repeated passage that it belongs to.
    pub(crate) ending: Option<EndingPart>,
    /// Whether the bar before it on the page is not played before it.
    pub(crate) stands_apart: bool,
    /// What stands over its beginning, from the left, and over its end, from the right.
    pub(crate) over_start: Vec<Print>,
    pub(crate) over_end: Vec<Print>,
    pub(crate) is_last: bool,
}

/// A closing repeat sign.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Closing {
    /// How often the passage is played, where that is told: endings tell it by themselves.
    pub(crate) times: Option<u32>,
}

/// A bar's part of the bracket over an ending.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EndingPart {
    pub(crate) begins: bool,
    pub(crate) ends: bool,
    /// Whether its bracket is closed at the end: all but the last.
    pub(crate) is_closed: bool,
}

/// Small print over a bar.
#[derive(Clone, Debug)]
pub(crate) enum Print {
    Words(String),
    Sign(Glyph),
}

impl Print {
    /// The size of a sign, of that of a full note.
    pub(crate) const SIGN_SCALE: f64 = 0.5;

    pub(crate) fn width(&self) -> f64 {
        match self {
            Self::Words(words) => text_width(words, SMALL_SIZE, Weight::Regular),
            Self::Sign(glyph) => glyph.bounds().width() * Self::SIGN_SCALE,
        }
    }

    /// What is kept free between two.
    pub(crate) const GAP: f64 = 0.8;
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

/// The bars of the page in order: as they are written, or as they are played where repeats are written out.
pub(crate) fn plan(rhythm: &Rhythm, counting: &CountLine, layout: &Layout) -> Vec<Plan> {
    let performance = rhythm.performance();
    let mut plans: Vec<Plan> = Vec::new();
    if layout.written_out {
        let mut spelled: Vec<Option<Vec<Note>>> = vec![None; rhythm.bars().len()];
        for played in performance.bars() {
            let bar = &rhythm.bars()[played.index];
            let notes = spelled[played.index].get_or_insert_with(|| spell(bar)).clone();
            let before = plans.last().map(|plan| plan.meter);
            let mut plan = bare(bar, notes, before, &counting.bars()[played.index], layout);
            let repeat = repeat_of(rhythm, played.index);
            plan.begins_pass = repeat.is_some_and(|repeat| repeat.bars.start == played.index);
            if plan.begins_pass && played.pass > 1 {
                plan.over_start.insert(0, Print::Words(format!("{} time", ordinal(played.pass))));
            }
            plan.played.push(*played);
            plans.push(plan);
        }
    } else {
        for (index, bar) in rhythm.bars().iter().enumerate() {
            let before = plans.last().map(|plan| plan.meter);
            let mut plan = bare(bar, spell(bar), before, &counting.bars()[index], layout);
            if let Some(repeat) = repeat_of(rhythm, index) {
                plan.show_repeat(repeat, index);
            }
            if let Some(jump) = rhythm.jump() {
                plan.show_jump(jump, index);
            }
            plans.push(plan);
        }
        for played in performance.bars() {
            plans[played.index].played.push(*played);
        }
    }
    for plan in &mut plans {
        plan.make_room_for_print();
    }
    if let Some(last) = plans.last_mut() {
        last.is_last = true;
    }
    plans
}

/// A bar as it stands by itself.
fn bare(bar: &Bar, notes: Vec<Note>, before: Option<Meter>, counted: &CountedBar, layout: &Layout) -> Plan {
    let counts = if layout.counts { counted.counts().to_vec() } else { Vec::new() };
    let columns = columns(&notes, &counts);
    let gaps = gaps(&notes, &counts, &columns, bar.end());
    let goes_on = bar.is_pickup() || bar.start().is_positive();
    Plan {
        played: Vec::new(),
        number: (!goes_on).then_some(bar.number()),
        meter: bar.meter(),
        shows_meter: before != Some(bar.meter()),
        notes,
        counts,
        columns,
        gaps,
        opens_repeat: false,
        begins_pass: false,
        closes_repeat: None,
        ending: None,
        stands_apart: false,
        over_start: bar.tempo_mark().map(|mark| Print::Words(mark.to_string())).into_iter().collect(),
        over_end: Vec::new(),
        is_last: false,
    }
}

/// The repeated passage that a written bar lies in: passages are in order and do not overlap.
fn repeat_of(rhythm: &Rhythm, index: usize) -> Option<&Repeat> {
    let after = rhythm.repeats().partition_point(|repeat| repeat.bars.end <= index);
    rhythm.repeats().get(after).filter(|repeat| repeat.bars.contains(&index))
}

impl Plan {
    fn show_repeat(&mut self, repeat: &Repeat, index: usize) {
        self.opens_repeat = repeat.bars.start == index;
        let Some((number, ending)) =
            repeat.endings.iter().enumerate().find(|(_, ending)| ending.bars.contains(&index))
        else {
            if repeat.endings.is_empty() && repeat.bars.end == index + 1 {
                self.closes_repeat = Some(Closing { times: Some(repeat.times) });
            }
            return;
        };
        let (begins, ends) = (ending.bars.start == index, ending.bars.end == index + 1);
        // Whoever comes to its end before the last time goes back.
        let goes_back = ending.passes.iter().any(|&pass| pass < repeat.times);
        if ends && goes_back {
            self.closes_repeat = Some(Closing { times: None });
        }
        self.ending = Some(EndingPart { begins, ends, is_closed: goes_back });
        self.stands_apart |= begins && number > 0;
        if begins {
            self.over_start.insert(0, Print::Words(passes(ending)));
        }
    }

    fn show_jump(&mut self, jump: Jump, index: usize) {
        if jump.from_sign && jump.to == index {
            self.over_start.push(Print::Sign(Glyph::Segno));
        }
        let end = match jump.until {
            Until::End => "",
            Until::Fine(fine) => {
                if fine == index {
                    self.over_end.push(Print::Words("Fine".to_owned()));
                }
                " al Fine"
            }
            Until::Coda { leave, coda } => {
                if coda == index {
                    self.over_start.push(Print::Sign(Glyph::Coda));
                    self.stands_apart = true;
                }
                if leave == index {
                    self.over_end.push(Print::Sign(Glyph::Coda));
                    self.over_end.push(Print::Words("To".to_owned()));
                }
                " al Coda"
            }
        };
        if jump.after == index {
            let from = if jump.from_sign { "D.S." } else { "D.C." };
            self.over_end.push(Print::Words(format!("{from}{end}")));
        }
        if let Some(Closing { times: Some(times) }) = self.closes_repeat.filter(|_| !self.over_end.is_empty())
        {
            // The number of times would stand in the same place.
            self.closes_repeat = Some(Closing { times: None });
            if times > 2 {
                self.over_end.insert(0, Print::Words(format!("{times}×")));
            }
        }
    }

    /// Widens the bar so that what stands over its beginning and what stands over its end do not touch.
    fn make_room_for_print(&mut self) {
        let print = self.over_start.iter().chain(&self.over_end);
        let room: f64 = print.map(|print| print.width() + Print::GAP).sum();
        if room > 0.0 {
            // The number of times a passage is played stands there too.
            let times = if self.closes_repeat.is_some() { 3.0 } else { 0.0 };
            let last = self.gaps.len() - 1;
            widen(&mut self.gaps, 0, last, room + times + 1.0);
        }
    }
}

/// `1. 2.`
fn passes(ending: &Ending) -> String {
    ending.passes.iter().map(|pass| format!("{pass}.")).collect::<Vec<_>>().join(" ")
}

fn ordinal(number: u32) -> String {
    let ending = match (number % 10, number % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
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
