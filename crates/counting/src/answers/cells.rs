//! What stands in which bar and beat, after the answer was laid along the key.

use std::ops::Range;

use rhythm::Deed;

use super::align::{Step, word};
use super::key::{Key, Keys};
use super::token::{Token, Written};

/// Cells between a count and a word that still can be one another's, at most.
const NEAR: usize = 12;

/// A count of the key, a word of the answer, or both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) bar: usize,
    /// The felt beat of that bar.
    pub(super) beat: u32,
    /// An index into the keys.
    pub(super) key: Option<usize>,
    /// An index into the tokens.
    pub(super) word: Option<usize>,
    /// They are the same word in different places.
    pub(super) misplaced: bool,
    /// A misunderstanding explains it.
    pub(super) explained: bool,
}

/// An answer laid along its key.
#[derive(Debug)]
pub(super) struct Sheet<'a> {
    pub(super) keys: &'a [Key],
    pub(super) tokens: &'a [Token],
    silences: &'a [u32],
    /// In the order of the key, words that answer nothing where they stand; bar by bar.
    pub(super) cells: Vec<Cell>,
    /// Bar lines of the answer that stand inside a bar of the key: the key count before them, and the token.
    pub(super) inside: Vec<(usize, usize)>,
}

impl<'a> Sheet<'a> {
    pub(super) fn new(keys: &'a Keys, tokens: &'a [Token], steps: &[Step]) -> Self {
        let silences = keys.silences.as_slice();
        let mut sheet = Self { keys: &keys.counts, tokens, silences, cells: Vec::new(), inside: Vec::new() };
        sheet.place(steps);
        sheet.find_misplaced();
        sheet
    }

    /// Lays the answer along its key by these steps.
    pub(super) fn place(&mut self, steps: &[Step]) {
        let (keys, tokens) = (self.keys, self.tokens);
        let mut silences = self.silences.to_vec();
        let mut cells: Vec<Cell> = Vec::with_capacity(steps.len());
        let mut inside = Vec::new();
        let mut passed: Option<usize> = None;
        // A bar line was passed, and no count of the bar behind it yet.
        let mut fresh = true;
        for step in steps {
            let (key, found) = match *step {
                Step::BarLine(_) => {
                    fresh = true;
                    continue;
                }
                Step::BarLineInside(token) => {
                    let last = passed.filter(|last| !fresh && same_bar(keys, *last, last + 1));
                    inside.extend(last.map(|last| (last, token)));
                    continue;
                }
                Step::Extra(token) => {
                    let Some(extra) = word(tokens, token) else { continue };
                    // A dash that marks no hold is a way to write a blank.
                    if extra.word.is_empty() && extra.deed == Deed::Hold {
                        continue;
                    }
                    // Where the key is silent and says nothing, a silence may be written all the same.
                    let silent =
                        silences.get_mut(passed.map_or(0, |last| last + 1)).filter(|left| **left > 0);
                    if let (Some(left), Deed::Rest) = (silent, extra.deed) {
                        *left -= 1;
                        continue;
                    }
                    (None, Some(token))
                }
                Step::Missing(key) => (Some(key), None),
                Step::Pair(key, token) => (Some(key), Some(token)),
            };
            if key.is_some() {
                passed = key;
                fresh = false;
            }
            let next = passed.map_or(0, |last| last + 1).min(keys.len().saturating_sub(1));
            let place = key.or(if fresh { Some(next) } else { passed }).and_then(|key| keys.get(key));
            let bar = place.map_or(0, |key| key.bar);
            let beat = match key {
                Some(_) => place.map_or(1, |key| key.beat),
                // A word that answers nothing belongs to the beat of the word written before it.
                None => {
                    let before = cells.iter().rev().take_while(|cell| cell.bar == bar);
                    let before = before.filter(|cell| cell.word.is_some()).map(|cell| cell.beat).next();
                    before.unwrap_or_else(|| place.map_or(1, |key| key.beat))
                }
            };
            cells.push(Cell { bar, beat, key, word: found, misplaced: false, explained: false });
        }
        self.cells = cells;
        self.inside = inside;
    }

    /// A word that answers nothing, and the same word missing in the same bar not further than a beat or a count away, are
    /// one word in the wrong place. A word of a beat that has as many words as the key stays in its beat.
    fn find_misplaced(&mut self) {
        let filled = self.filled();
        let mut at = 0;
        let mut moved = Vec::new();
        while at < self.cells.len() {
            let bar = self.cells[at].bar;
            let end = at + self.cells[at..].iter().take_while(|cell| cell.bar == bar).count();
            let mut missing: Vec<usize> = (at..end).filter(|&i| self.cells[i].word.is_none()).collect();
            for extra in (at..end).filter(|&i| self.cells[i].key.is_none()) {
                let Some(word) = self.word_of(&self.cells[extra]) else { continue };
                let fits = |&index: &usize| {
                    let cell = &self.cells[index];
                    if cell.beat != self.cells[extra].beat && (filled[index] || filled[extra]) {
                        return false;
                    }
                    let key = cell.key.map(|key| &self.keys[key]);
                    let near = || {
                        let (first, behind) = (index.min(extra) + 1, index.max(extra));
                        // Of equal words side by side, any may be the one that is missing.
                        let other = |cell: &&Cell| self.key_of(cell).is_some_and(|key| key.word != word.word);
                        let between = || self.cells[first..behind].iter().filter(other);
                        cell.beat.abs_diff(self.cells[extra].beat) <= 1
                            || (behind - first < NEAR && between().count() <= 1)
                    };
                    key.is_some_and(|key| key.word == word.word) && near()
                };
                let near = missing.iter().copied().filter(fits).min_by_key(|index| index.abs_diff(extra));
                if let Some(index) = near {
                    missing.retain(|other| *other != index);
                    moved.push((index, extra));
                }
            }
            at = end;
        }
        for (index, extra) in &moved {
            self.cells[*index].word = self.cells[*extra].word;
            self.cells[*index].misplaced = true;
            self.cells[*extra].word = None;
        }
        self.cells.retain(|cell| cell.key.is_some() || cell.word.is_some());
    }

    /// Whether each cell is of a beat that begins with its own word and has as many words as the key: somebody who wrote
    /// `1 & a 2 e &` for `1 e & 2 & a` took each figure for another, and no word for one of the beat beside it.
    fn filled(&self) -> Vec<bool> {
        let begins = |cell: &Cell| {
            let as_in_key = |key: &Key| self.word_of(cell).is_some_and(|word| word.word == key.word);
            self.key_of(cell).is_some_and(|key| *key.part.numer() == 0 && as_in_key(key))
        };
        let mut filled = Vec::with_capacity(self.cells.len());
        for beat in self.cells.chunk_by(|a, b| a.bar == b.bar && !begins(b)) {
            let one = beat.iter().all(|cell| cell.beat == beat[0].beat);
            let words = beat.iter().filter(|cell| cell.word.is_some()).count();
            let keys = beat.iter().filter(|cell| cell.key.is_some()).count();
            filled.resize(filled.len() + beat.len(), one && words == keys && begins(&beat[0]));
        }
        filled
    }

    /// Where each bar's cells stand.
    pub(super) fn bars(&self) -> Vec<Range<usize>> {
        let mut bars: Vec<Range<usize>> = Vec::new();
        for (index, cell) in self.cells.iter().enumerate() {
            match bars.last_mut() {
                Some(last) if self.cells[last.start].bar == cell.bar => last.end = index + 1,
                _ => bars.push(index..index + 1),
            }
        }
        bars
    }

    pub(super) fn key_of(&self, cell: &Cell) -> Option<&'a Key> {
        self.keys.get(cell.key?)
    }

    pub(super) fn word_of(&self, cell: &Cell) -> Option<&'a Written> {
        word(self.tokens, cell.word?)
    }

    /// The keys of some cells, in order.
    pub(super) fn keys_in(&self, cells: Range<usize>) -> Vec<&'a Key> {
        self.cells[cells].iter().filter_map(|cell| self.key_of(cell)).collect()
    }

    /// The tokens of some cells, in the order in which they are written.
    pub(super) fn tokens_in(&self, cells: Range<usize>) -> Vec<usize> {
        let mut tokens: Vec<usize> = self.cells[cells].iter().filter_map(|cell| cell.word).collect();
        tokens.sort_unstable();
        tokens
    }

    /// The words of some tokens.
    pub(super) fn words(&self, tokens: &[usize]) -> Vec<&'a Written> {
        tokens.iter().filter_map(|&token| word(self.tokens, token)).collect()
    }

    /// Whether the cell is as in the key.
    pub(super) fn is_right(&self, cell: &Cell) -> bool {
        match (self.key_of(cell), self.word_of(cell)) {
            (Some(key), Some(word)) => {
                !cell.misplaced && key.word == word.word && key.accepted.hold(word.deed)
            }
            _ => false,
        }
    }
}

fn same_bar(keys: &[Key], a: usize, b: usize) -> bool {
    matches!((keys.get(a), keys.get(b)), (Some(a), Some(b)) if a.bar == b.bar)
}
