//! Misunderstandings that show in the counts of a whole bar.

use rhythm::{Deed, Rhythm};

use super::super::MisunderstandingKind as Kind;
use super::super::cells::{Cell, Sheet};
use super::super::key::Key;
use super::{Case, sentence};

/// Whoever goes on counting from bar to bar does so up to here.
const NUMBERED_UP_TO: u32 = 10_000;

/// What would be written for a bar: a word for some of its counts, as indices into them.
type Guess = Vec<(String, usize)>;

/// What the bar before tells.
#[derive(Clone, Copy)]
struct Before {
    /// The number written last.
    last: u32,
    /// Its notes were numbered.
    numbered: bool,
}

/// Looks at every bar; where a guess fits, its cells are paired as guessed.
pub(super) fn cases(sheet: &mut Sheet<'_>, rhythm: &Rhythm) -> Vec<Case> {
    let mut found = Vec::new();
    let mut before = Before { last: 0, numbered: false };
    let mut cells = Vec::with_capacity(sheet.cells.len());
    for range in sheet.bars() {
        let keys = sheet.keys_in(range.clone());
        let tokens = sheet.tokens_in(range.clone());
        let words = sheet.words(&tokens);
        let fits = |guess: &Guess| {
            guess.len() == words.len()
                && guess.iter().zip(&words).all(|((word, key), written)| {
                    *word == written.word
                        && (written.deed == Deed::Attack || keys[*key].accepted.hold(written.deed))
                })
        };
        let bar = sheet.cells[range.start].bar;
        let is_pickup = rhythm.bars().get(bar).is_some_and(rhythm::Bar::is_pickup);
        let all_right = sheet.cells[range.clone()].iter().all(|cell| sheet.is_right(cell));
        let guessed = if all_right {
            None
        } else {
            guesses(&keys, before, is_pickup).into_iter().find(|(_, guess)| fits(guess))
        };
        before.numbered = matches!(guessed, Some((Kind::NumberedNotes, _)));
        let last = words.iter().rev().find_map(|word| word.number.filter(|number| *number < NUMBERED_UP_TO));
        before.last = last.unwrap_or(before.last);
        let Some((kind, guess)) = guessed else {
            cells.extend_from_slice(&sheet.cells[range]);
            continue;
        };
        let first = sheet.cells[range.start];
        let key_indices: Vec<usize> = sheet.cells[range].iter().filter_map(|cell| cell.key).collect();
        let start = cells.len();
        for (index, key) in keys.iter().enumerate() {
            let word = guess.iter().position(|(_, of)| *of == index).map(|place| tokens[place]);
            let key_index = key_indices[index];
            cells.push(Cell {
                beat: key.beat,
                key: Some(key_index),
                word,
                misplaced: false,
                explained: true,
                ..first
            });
        }
        let wrong: Vec<&Cell> = cells[start..].iter().filter(|cell| !sheet.is_right(cell)).collect();
        let at = wrong.first().and_then(|cell| sheet.key_of(cell)).map_or(keys[0].at, |key| key.at);
        let written = sentence::words(words.iter().copied());
        let expected = sentence::keys(keys.iter().copied());
        found.push(Case {
            kind,
            bar,
            at,
            evidence: words.iter().map(|word| word.span.clone()).collect(),
            explains: wrong.len(),
            says: says(kind, &sentence::bar(rhythm, bar), &written, &expected),
        });
    }
    sheet.cells = cells;
    found
}

fn says(kind: Kind, bar: &str, written: &str, expected: &str) -> String {
    match kind {
        Kind::NumberedNotes => {
            format!("the notes of {bar} are numbered, {written}; the key counts the beats, {expected}")
        }
        Kind::WentOn => {
            format!(
                "{bar} goes on from the bar before, {written}; in the key every bar begins again, {expected}"
            )
        }
        Kind::BeganAgain => {
            format!(
                "in {bar} the numbers begin again after the rest, {written}; in the key they go on, {expected}"
            )
        }
        Kind::CountedValues => {
            format!(
                "in {bar} every note is counted from 1, {written}; the key counts through the bar, {expected}"
            )
        }
        Kind::PickupFromOne => {
            format!(
                "the pickup is counted {written}; in the key it ends on the last count of a bar, {expected}"
            )
        }
        Kind::RestLeftOut => {
            format!(
                "{bar} counts as if its rests took no time, {written}; the key counts through them, {expected}"
            )
        }
        _ => {
            format!(
                "{bar} counts as if held beats took no time, {written}; the key counts through them, {expected}"
            )
        }
    }
}

/// Every guess at a bar that is not the key itself, the likeliest first.
fn guesses(keys: &[&Key], before: Before, is_pickup: bool) -> Vec<(Kind, Guess)> {
    let mut guesses: Vec<(Kind, Guess)> = Vec::new();
    if !keys.iter().any(|key| key.number.is_some()) {
        return guesses;
    }
    let numbered = |guesses: &mut Vec<(Kind, Guess)>| {
        // Where nothing but beats and rests is counted, numbered notes are beats with the rests left out.
        if keys.iter().any(|key| key.deed == Deed::Hold || !key.on_beat) {
            for first in [1, before.last + 1] {
                guesses.push((Kind::NumberedNotes, numbering(keys, first, |key| key.deed == Deed::Attack)));
                guesses.push((Kind::NumberedNotes, numbering(keys, first, |key| key.deed != Deed::Hold)));
            }
        }
    };
    if before.numbered {
        numbered(&mut guesses);
    }
    let first = keys.iter().find_map(|key| key.number).unwrap_or(1);
    if is_pickup && first > 1 {
        guesses.push((
            Kind::PickupFromOne,
            renumbered(keys, |_| true, |number| number.saturating_sub(first - 1)),
        ));
    } else if before.last > 0 {
        guesses.push((
            Kind::WentOn,
            renumbered(keys, |_| true, |number| (number + before.last + 1).saturating_sub(first)),
        ));
    }
    guesses.extend(beginning_again(keys).into_iter().map(|guess| (Kind::BeganAgain, guess)));
    guesses.extend(values(keys).map(|guess| (Kind::CountedValues, guess)));
    if !before.numbered {
        numbered(&mut guesses);
    }
    for (kind, deed) in [(Kind::RestLeftOut, Deed::Rest), (Kind::HoldLeftOut, Deed::Hold)] {
        let gone = |number: u32| {
            let before = keys.iter().filter(|key| key.deed == deed && key.number.is_some_and(|n| n < number));
            number.saturating_sub(u32::try_from(before.count()).unwrap_or(0))
        };
        guesses.push((kind, renumbered(keys, |key| key.deed != deed, gone)));
    }
    let is_key = |guess: &Guess| guess.iter().all(|(word, key)| keys[*key].word == *word);
    guesses.retain(|(_, guess)| !guess.is_empty() && !is_key(guess));
    guesses
}

/// The counts that `counted` picks, numbered from `first`.
fn numbering(keys: &[&Key], first: u32, counted: impl Fn(&Key) -> bool) -> Guess {
    let picked = keys.iter().enumerate().filter(|(_, key)| counted(key));
    picked.zip(first..).map(|((index, _), number)| (number.to_string(), index)).collect()
}

/// The counts that `counted` picks, with other numbers.
fn renumbered(keys: &[&Key], counted: impl Fn(&Key) -> bool, number: impl Fn(u32) -> u32) -> Guess {
    let picked = keys.iter().enumerate().filter(|(_, key)| counted(key));
    let word = |key: &Key| key.number.map_or_else(|| key.word.clone(), |n| number(n).to_string());
    picked.map(|(index, key)| (word(key), index)).collect()
}

/// Numbers that begin again behind every silence, the silence counted or left out.
fn beginning_again(keys: &[&Key]) -> Vec<Guess> {
    let with_rests = {
        let mut taken = 0;
        let mut guess = Guess::new();
        for (index, key) in keys.iter().enumerate() {
            let behind = index > 0 && keys[index - 1].deed == Deed::Rest && key.deed == Deed::Attack;
            if let Some(number) = key.number.filter(|_| behind) {
                taken = number.saturating_sub(1);
            }
            let word = key.number.map_or_else(|| key.word.clone(), |n| n.saturating_sub(taken).to_string());
            guess.push((word, index));
        }
        guess
    };
    // Without a note before the rest, leaving it out and beginning at 1 is no beginning again.
    let sounded = keys.iter().position(|key| key.deed == Deed::Attack);
    let silent = keys.iter().rposition(|key| key.deed == Deed::Rest);
    let between = matches!((sounded, silent), (Some(sounded), Some(silent)) if sounded < silent);
    let mut guesses = vec![with_rests];
    if between {
        let without = guesses[0].iter().filter(|(_, key)| keys[*key].deed != Deed::Rest);
        let without: Guess = without.cloned().collect();
        guesses.push(without);
    }
    guesses
}

/// The beats of every note counted from 1, where only beats are counted and a note is longer than one.
fn values(keys: &[&Key]) -> Option<Guess> {
    let only_beats = keys.iter().all(|key| key.on_beat && key.number.is_some());
    if !only_beats || !keys.iter().any(|key| key.deed == Deed::Hold) {
        return None;
    }
    let mut number = 0;
    let mut silent = false;
    let guess = keys.iter().enumerate().map(|(index, key)| {
        let goes_on = key.deed == Deed::Hold || (key.deed == Deed::Rest && silent);
        number = if goes_on { number + 1 } else { 1 };
        silent = key.deed == Deed::Rest;
        (number.to_string(), index)
    });
    Some(guess.collect())
}
