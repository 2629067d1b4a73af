//! The words of an answer laid along the counts of the key: a monotone dynamic programme with bar lines as soft anchors.
//!
//! Both lines are read as counts with bar lines between them. The cheapest way from end to end wins; what each step
//! costs stands in [`cost`]. A missing bar line costs less than a missing count, so it does not spoil what follows.

use std::collections::HashMap;

use rhythm::Deed;

use super::key::{Deeds, Key};
use super::token::{Token, Written};

/// One step along both lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// A count of the key, as an index into the keys, and the word that answers it, as an index into the tokens.
    Pair(usize, usize),
    /// A count that nothing answers.
    Missing(usize),
    /// A word that answers nothing.
    Extra(usize),
    /// A bar line of the key, and the token that answers it.
    BarLine(Option<usize>),
    /// A bar line of the answer alone, as a token.
    BarLineInside(usize),
}

impl Step {
    /// The same step where the keys and the tokens are those behind so many others.
    pub(super) fn moved(self, keys: usize, tokens: usize) -> Self {
        match self {
            Self::Pair(key, token) => Self::Pair(key + keys, token + tokens),
            Self::Missing(key) => Self::Missing(key + keys),
            Self::Extra(token) => Self::Extra(token + tokens),
            Self::BarLine(token) => Self::BarLine(token.map(|token| token + tokens)),
            Self::BarLineInside(token) => Self::BarLineInside(token + tokens),
        }
    }
}

/// The costs of the steps. A wrong word for a count costs less than leaving the count out and writing a needless word;
/// two words that changed places cost less as one left out and one needless than as two wrong ones.
mod cost {
    pub(super) const MISSING: u32 = 10;
    pub(super) const EXTRA: u32 = 10;
    pub(super) const OTHER_DEED: u32 = 2;
    /// A number for another number, a syllable for another syllable.
    pub(super) const OTHER_WORD: u32 = 13;
    /// A number for a syllable or a syllable for a number.
    pub(super) const OTHER_SORT: u32 = 16;
    /// A hold or a silence that is marked but has no word.
    pub(super) const NO_WORD: u32 = 6;
    /// A silence for a count that is none: no less than a count left out and a silence beside it.
    pub(super) const SILENCE: u32 = MISSING + EXTRA;
    /// A dash that marks no hold is a way to write a blank.
    pub(super) const DASH: u32 = 1;
    pub(super) const BAR_LINE_MISSING: u32 = 4;
    pub(super) const BAR_LINE_INSIDE: u32 = 6;
    /// More than any line can cost.
    pub(super) const NEVER: u32 = 1 << 29;
}

/// A count, a word or a bar line, with what is needed to compare it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Symbol {
    word: u32,
    number: bool,
    /// What the answer says is done; of the key, what may be written there.
    deed: Deed,
    accepted: Option<Deeds>,
    /// Its index among the keys or the tokens.
    index: usize,
}

const BAR_LINE: u32 = 0;
const NO_WORD: u32 = 1;

/// The cells of the programme that are looked at, at most: a quarter of a second's work.
const CELLS: usize = 32 << 20;

/// The way a cell goes on: with both lines, with the key alone, with the answer alone.
const BOTH: u8 = 0;
const KEY: u8 = 1;
const ANSWER: u8 = 2;

/// The cheapest steps through all of `keys` and `tokens`. Of equal ways, the one that leaves counts out later.
pub(super) fn align(keys: &[Key], tokens: &[Token]) -> Vec<Step> {
    let mut ids: HashMap<&str, u32> = HashMap::new();
    let mut written = Vec::with_capacity(tokens.len());
    for (index, token) in tokens.iter().enumerate() {
        written.push(match token {
            Token::BarLine(_) => bar_line(index),
            Token::Word(word) => symbol(&mut ids, &word.word, word.number.is_some(), word.deed, index),
        });
    }
    let mut key = Vec::with_capacity(keys.len());
    for (index, count) in keys.iter().enumerate() {
        if index > 0 && keys[index - 1].bar != count.bar {
            key.push(bar_line(index));
        }
        let symbol = symbol(&mut ids, &count.word, count.number.is_some(), count.deed, index);
        key.push(Symbol { accepted: Some(count.accepted), ..symbol });
    }
    // The band about the diagonal grows until the way keeps clear of its edges, or the work is too much.
    let mut half = 16;
    loop {
        let (steps, clear) = banded(&key, &written, half);
        if clear || (key.len() + 1).saturating_mul(half * 4 + 1) > CELLS {
            return steps;
        }
        half *= 4;
    }
}

fn symbol<'w>(
    ids: &mut HashMap<&'w str, u32>,
    word: &'w str,
    number: bool,
    deed: Deed,
    index: usize,
) -> Symbol {
    let next = u32::try_from(ids.len()).unwrap_or(u32::MAX - 2) + 2;
    let word = if word.is_empty() { NO_WORD } else { *ids.entry(word).or_insert(next) };
    Symbol { word, number, deed, accepted: None, index }
}

fn bar_line(index: usize) -> Symbol {
    Symbol { word: BAR_LINE, number: false, deed: Deed::Attack, accepted: None, index }
}

fn pair_cost(key: Symbol, written: Symbol) -> u32 {
    if (key.word == BAR_LINE) != (written.word == BAR_LINE) {
        return cost::NEVER;
    }
    let same = key.accepted.is_none_or(|accepted| accepted.hold(written.deed));
    let other_deed = if same { 0 } else { cost::OTHER_DEED };
    if key.word == written.word {
        other_deed
    } else if written.word == NO_WORD {
        match (key.deed, written.deed) {
            (Deed::Hold, Deed::Hold) | (Deed::Rest, Deed::Rest) => cost::NO_WORD,
            (_, Deed::Rest) => cost::SILENCE,
            _ => cost::NEVER,
        }
    } else if key.number == written.number {
        cost::OTHER_WORD + other_deed
    } else {
        cost::OTHER_SORT + other_deed
    }
}

fn key_cost(key: Symbol) -> u32 {
    if key.word == BAR_LINE { cost::BAR_LINE_MISSING } else { cost::MISSING }
}

fn answer_cost(written: Symbol) -> u32 {
    match written.word {
        BAR_LINE => cost::BAR_LINE_INSIDE,
        NO_WORD if written.deed == Deed::Hold => cost::DASH,
        _ => cost::EXTRA,
    }
}

/// The cheapest way that stays within `half` symbols of the diagonal, and whether it kept clear of the band's edges.
fn banded(key: &[Symbol], written: &[Symbol], half: usize) -> (Vec<Step>, bool) {
    let (rows, columns) = (key.len(), written.len());
    let centre = |row: usize| (row * columns).checked_div(rows).unwrap_or(0);
    let slope = columns.checked_div(rows).map_or(columns, |steps| steps + 1);
    let half = half.max(slope + 1);
    let from = |row: usize| centre(row).saturating_sub(half);
    let to = |row: usize| if rows == 0 { columns } else { (centre(row) + half).min(columns) };
    let width = if rows == 0 { columns + 1 } else { (2 * half + 1).min(columns + 1) };

    let mut ways = vec![BOTH; (rows + 1) * width];
    let mut below = vec![cost::NEVER; width];
    for row in (0..=rows).rev() {
        let mut costs = vec![cost::NEVER; width];
        let (first, last) = (from(row), to(row));
        // A cell of the row below, NEVER outside the band.
        let at_below = |column: usize| {
            let inside = row < rows && (from(row + 1)..=to(row + 1)).contains(&column);
            if inside { below[column - from(row + 1)] } else { cost::NEVER }
        };
        for column in (first..=last).rev() {
            let cell = column - first;
            if row == rows && column == columns {
                costs[cell] = 0;
                continue;
            }
            let both = if row < rows && column < columns {
                at_below(column + 1).saturating_add(pair_cost(key[row], written[column]))
            } else {
                cost::NEVER
            };
            let alone =
                if row < rows { at_below(column).saturating_add(key_cost(key[row])) } else { cost::NEVER };
            let needless = if column < last {
                costs[cell + 1].saturating_add(answer_cost(written[column]))
            } else {
                cost::NEVER
            };
            let best = both.min(alone).min(needless);
            costs[cell] = best;
            ways[row * width + cell] = if best == both {
                BOTH
            } else if best == needless {
                ANSWER
            } else {
                KEY
            };
        }
        below = costs;
    }

    let mut steps = Vec::with_capacity(rows + columns);
    let (mut row, mut column) = (0, 0);
    let mut clear = true;
    while row < rows || column < columns {
        let (first, last) = (from(row), to(row));
        clear &= (column > first || first == 0) && (column < last || last == columns);
        match ways[row * width + (column - first)] {
            BOTH => {
                steps.push(if key[row].word == BAR_LINE {
                    Step::BarLine(Some(written[column].index))
                } else {
                    Step::Pair(key[row].index, written[column].index)
                });
                (row, column) = (row + 1, column + 1);
            }
            KEY => {
                steps.push(if key[row].word == BAR_LINE {
                    Step::BarLine(None)
                } else {
                    Step::Missing(key[row].index)
                });
                row += 1;
            }
            _ => {
                steps.push(if written[column].word == BAR_LINE {
                    Step::BarLineInside(written[column].index)
                } else {
                    Step::Extra(written[column].index)
                });
                column += 1;
            }
        }
    }
    (steps, clear)
}

/// The words of `tokens` by their indices.
pub(super) fn word(tokens: &[Token], index: usize) -> Option<&Written> {
    tokens.get(index)?.word()
}
