//! Bars laid out in lines, with their signs, their directions and the marks under them.

use std::collections::{BTreeMap, BTreeSet};

use timebase::Span;

use super::bar::{Cell, cells, shows_its_end};
use crate::text::aligned::{self, Kind};
use crate::{Bar, Jump, Marks, Meter, Repeat, Rhythm, Until};

/// Full bars in a line.
const BARS_IN_A_LINE: usize = 4;

/// Comments of one part, kept when its text is written again. Bars are indices; bars of rest written as one are
/// spoken of by the first.
#[derive(Clone, Debug, Default)]
pub(in crate::text) struct Comments {
    /// Above the first bar, and above the name of the part.
    pub(in crate::text) head: Vec<String>,
    /// On lines of their own before a bar.
    pub(in crate::text) before: BTreeMap<usize, Vec<String>>,
    /// At the end of the line that this bar ends.
    pub(in crate::text) behind: BTreeMap<usize, String>,
    /// Below everything.
    pub(in crate::text) end: Vec<String>,
}

impl Comments {
    pub(super) fn write_head(&self, text: &mut String) {
        self.head.iter().for_each(|comment| super::line(text, comment));
    }
}

/// A rhythm about to be written.
pub(super) struct Lines<'r> {
    rhythm: &'r Rhythm,
    comments: &'r Comments,
    /// The sign that ends a passage or an ending before a bar.
    ended: BTreeMap<usize, String>,
    /// The bars at which a passage begins.
    begins: BTreeSet<usize>,
    /// The directions before the notes of a bar that repeats and the jump put there.
    opening: BTreeMap<usize, Vec<String>>,
    /// Those behind its notes.
    closing: BTreeMap<usize, Vec<String>>,
}

/// One bar in a line, or several bars of rest.
struct Block {
    /// The bar line before it; empty before a pickup.
    sign: String,
    /// Directions before the notes, with a blank behind.
    opening: String,
    cells: Vec<Cell>,
    closing: String,
    dynamics: String,
}

impl<'r> Lines<'r> {
    pub(super) fn of(rhythm: &'r Rhythm, comments: &'r Comments) -> Self {
        let mut lines = Self {
            rhythm,
            comments,
            ended: BTreeMap::new(),
            begins: rhythm.repeats().iter().map(|repeat| repeat.bars.start).collect(),
            opening: BTreeMap::new(),
            closing: BTreeMap::new(),
        };
        for repeat in rhythm.repeats() {
            lines.repeat(repeat);
        }
        if let Some(jump) = rhythm.jump() {
            lines.jump(jump);
        }
        lines
    }

    fn repeat(&mut self, repeat: &Repeat) {
        for ending in &repeat.endings {
            let passes: Vec<String> = ending.passes.iter().map(|pass| format!("{pass}.")).collect();
            self.opening.entry(ending.bars.start).or_default().push(passes.join(" "));
            let last = ending.bars.end == repeat.bars.end;
            self.ended.insert(ending.bars.end, if last { "||" } else { ":|" }.to_owned());
        }
        if repeat.endings.is_empty() {
            let sign = match repeat.times {
                2 => ":|".to_owned(),
                times => format!(":| {times} times"),
            };
            self.ended.insert(repeat.bars.end, sign);
        }
    }

    fn jump(&mut self, jump: Jump) {
        if jump.from_sign {
            self.opening.entry(jump.to).or_default().push("segno".to_owned());
        }
        let al = match jump.until {
            Until::End => "",
            Until::Fine(fine) => {
                self.closing.entry(fine).or_default().push("fine".to_owned());
                " al fine"
            }
            Until::Coda { leave, coda } => {
                self.closing.entry(leave).or_default().push("to coda".to_owned());
                self.opening.entry(coda).or_default().push("coda".to_owned());
                " al coda"
            }
        };
        let from = if jump.from_sign { "D.S." } else { "D.C." };
        self.closing.entry(jump.after).or_default().push(format!("{from}{al}"));
    }

    pub(super) fn write(self, text: &mut String) {
        let bars = self.rhythm.bars();
        let mut meter = bars[0].meter();
        let mut line: Vec<Block> = Vec::new();
        let mut full = 0;
        let mut index = 0;
        while index < bars.len() {
            let many = self.bars_of_rest(index);
            let sign = self.sign(index, line.is_empty());
            line.push(self.block(index, many, sign, &mut meter));
            full += usize::from(!bars[index].is_pickup());
            let next = index + many;
            let comment = self.comments.behind.get(&index);
            let break_here = comment.is_some() || self.comments.before.contains_key(&next);
            if full == BARS_IN_A_LINE || break_here || next == bars.len() {
                self.line(&line, &self.end_sign(next), comment, text);
                line.clear();
                full = 0;
                if let Some(comments) = self.comments.before.get(&next) {
                    comments.iter().for_each(|comment| super::line(text, comment));
                }
            }
            index = next;
        }
        self.comments.end.iter().for_each(|comment| super::line(text, comment));
    }

    /// How many bars from `index` on are written as one.
    fn bars_of_rest(&self, index: usize) -> usize {
        let bars = self.rhythm.bars();
        let Some(rest) = bars[index].rest().filter(|rest| rest.index == 1) else { return 1 };
        let many = usize::try_from(rest.of).unwrap_or(1);
        let together = (1..many).all(|offset| {
            let place = index + offset;
            bars.get(place).is_some_and(|bar| {
                let plain = bar.tempo_mark().is_none() && aligned::dynamics_sign(bar.dynamics()).is_empty();
                plain && bar.rest().is_some() && bar.meter() == bars[index].meter() && self.is_plain(place)
            })
        });
        if together { many } else { 1 }
    }

    /// Whether only a plain bar line stands before bar `index`, and no direction at it.
    fn is_plain(&self, index: usize) -> bool {
        self.sign(index, false) == "|"
            && !self.opening.contains_key(&index)
            && !self.closing.contains_key(&(index - 1))
    }

    /// The sign before bar `index`; at the head of a line without what already ended the line before.
    fn sign(&self, index: usize, heads_a_line: bool) -> String {
        let ended = if heads_a_line { None } else { self.ended.get(&index).cloned() };
        match (ended, self.begins.contains(&index)) {
            (Some(ended), true) if ended == "||" => "|:".to_owned(),
            (Some(ended), true) => format!("{ended} |:"),
            (Some(ended), false) => ended,
            (None, true) => "|:".to_owned(),
            (None, false) if self.rhythm.bars().get(index).is_some_and(Bar::is_pickup) => String::new(),
            (None, false) => "|".to_owned(),
        }
    }

    /// The sign that ends a line before bar `index`.
    fn end_sign(&self, index: usize) -> String {
        let sign = self.ended.get(&index).cloned().unwrap_or_else(|| "|".to_owned());
        let at_the_end = index == self.rhythm.bars().len();
        if sign == "||" && (at_the_end || self.begins.contains(&index)) { "|".to_owned() } else { sign }
    }

    fn block(&self, index: usize, many: usize, sign: String, meter: &mut Meter) -> Block {
        let bars = self.rhythm.bars();
        let bar = &bars[index];
        let is_last = index + 1 == bars.len();
        let complement = is_last.then(|| complement(self.rhythm, bar)).flatten();
        let mut opening = self.opening.get(&index).cloned().unwrap_or_default();
        if bar.meter() != *meter {
            *meter = bar.meter();
            opening.push(meter.to_string());
        }
        if let Some(mark) = bar.tempo_mark() {
            opening.push(mark.to_string());
        }
        let tells_where =
            !bar.is_pickup() || self.begins.contains(&index) && bar.meter().is_counted_by_group();
        if tells_where && bar.start().is_positive() {
            opening.push(format!("from {}", bar.start()));
        }
        let is_full = bar.end() == bar.meter().bar_length();
        let tells_its_length = match complement {
            Some(complement) if is_full => !shows_its_end(bar, complement),
            complement => !is_full && complement != Some(bar.end()),
        };
        if tells_its_length {
            opening.push(format!("lasts {}", bar.length()));
        }
        let opening: String = opening.iter().map(|direction| format!("[{direction}] ")).collect();
        let cells = if many > 1 {
            vec![Cell { text: format!("({many} bars)"), marks: None }]
        } else {
            cells(bar, complement.filter(|_| !tells_its_length))
        };
        let closing = self.closing.get(&(index + many - 1)).into_iter().flatten();
        let closing = closing.map(|direction| format!(" [{direction}]")).collect();
        Block { sign, opening, cells, closing, dynamics: aligned::dynamics_sign(bar.dynamics()) }
    }

    /// Writes a line of bars and the lines of marks under it.
    fn line(&self, blocks: &[Block], end: &str, comment: Option<&String>, text: &mut String) {
        let kinds: Vec<Kind> =
            Kind::ALL.into_iter().filter(|kind| blocks.iter().any(|block| block.has(*kind))).collect();
        let indent = kinds.iter().map(|kind| kind.name().len() + 2).max().unwrap_or(0);
        let mut rows: Vec<String> = vec![" ".repeat(indent)];
        rows.extend(kinds.iter().map(|kind| format!("{:indent$}", format!("{}:", kind.name()))));
        for block in blocks {
            block.write(&kinds, &mut rows);
        }
        rows[0].push_str(end);
        if let Some(comment) = comment {
            rows[0].push_str("  ");
            rows[0].push_str(comment);
        }
        for row in rows {
            super::line(text, row.trim_end());
        }
    }
}

/// Where the last bar of a rhythm with a pickup ends when it is the pickup's complement.
fn complement(rhythm: &Rhythm, last: &Bar) -> Option<Span> {
    let pickup = rhythm.pickup()?;
    Some(last.meter().bar_length() - pickup.length()).filter(|complement| complement.is_positive())
}

impl Block {
    /// Whether it has a mark of this kind.
    fn has(&self, kind: Kind) -> bool {
        let sign = |marks: Marks| kind.sign(marks).is_some();
        match kind {
            Kind::Dynamics => !self.dynamics.is_empty(),
            _ => self.cells.iter().filter_map(|cell| cell.marks).any(sign),
        }
    }

    /// Adds itself to the line of bars, the first row, and to the rows of marks, each column under its own.
    fn write(&self, kinds: &[Kind], rows: &mut [String]) {
        let columns = |text: &str| text.chars().count();
        let bar_line = if self.sign.is_empty() { "" } else { "|" };
        let before = if self.sign.is_empty() { 0 } else { columns(&self.sign) + 1 };
        rows[0].push_str(&self.sign);
        if before > 0 {
            rows[0].push(' ');
        }
        rows[0].push_str(&self.opening);
        let ahead = before + columns(&self.opening);
        for row in &mut rows[1..] {
            row.push_str(&format!("{bar_line:<ahead$}"));
        }
        let mut dynamics = Some(self.dynamics.clone());
        for cell in &self.cells {
            let signs: Vec<String> = kinds
                .iter()
                .map(|kind| match (kind, cell.marks) {
                    (Kind::Dynamics, _) => dynamics.take().unwrap_or_default(),
                    (_, Some(marks)) if self.has(*kind) => kind.sign(marks).unwrap_or_else(|| ".".to_owned()),
                    _ => String::new(),
                })
                .collect();
            let width =
                signs.iter().map(|sign| columns(sign)).chain([columns(&cell.text)]).max().unwrap_or(0);
            rows[0].push_str(&format!("{:<width$} ", cell.text));
            for (sign, row) in signs.iter().zip(&mut rows[1..]) {
                row.push_str(&format!("{sign:<width$} "));
            }
        }
        let closing = columns(&self.closing);
        if closing > 0 {
            rows[0].truncate(rows[0].trim_end().len());
            rows[0].push_str(&self.closing);
            rows[0].push(' ');
            rows[1..].iter_mut().for_each(|row| row.push_str(&" ".repeat(closing)));
        }
    }
}
