//! The words of an answer laid along its key as its writer had the bars and the beats.
//!
//! Words alone can mislead: `1 2 | 3 4 5 6` under a pickup of two beats has the words of bar 1, and takadimi says `ta` on
//! every beat. Where the answer's own bar lines, or its words for the beats, part it as the key is parted, they hold.

use std::ops::Range;

use super::align::{Step, align, word};
use super::key::{Key, Keys};
use super::token::Token;

/// The steps through all of `keys` and `tokens`.
pub(super) fn lay(keys: &Keys, tokens: &[Token]) -> Vec<Step> {
    let keys_of = &keys.counts;
    let steps = bar_by_bar(keys, tokens).or_else(|| straight_on(keys_of, tokens));
    let steps = steps.unwrap_or_else(|| align(keys_of, tokens));
    steps
        .split_inclusive(|step| matches!(step, Step::BarLine(_)))
        .flat_map(|bar| beat_by_beat(keys_of, tokens, bar).unwrap_or_else(|| bar.to_vec()))
        .collect()
}

/// Every bar by itself, where there are as many bars as in the key and two in three have as many words.
fn bar_by_bar(keys: &Keys, tokens: &[Token]) -> Option<Vec<Step>> {
    let of_key = bars(&keys.counts);
    let lines: Vec<usize> =
        (0..tokens.len()).filter(|&index| matches!(tokens[index], Token::BarLine(_))).collect();
    let starts = std::iter::once(0).chain(lines.iter().map(|line| line + 1));
    let ends = lines.iter().copied().chain([tokens.len()]);
    let written: Vec<Range<usize>> = starts.zip(ends).map(|(start, end)| start..end).collect();
    if of_key.len() != written.len() || written.len() < 2 {
        return None;
    }
    let alike = of_key.iter().zip(&written).filter(|(key, bar)| {
        // A mark without a word may stand for a count or for none.
        let words = tokens[bar.start..bar.end].iter().filter_map(Token::word);
        let said = words.filter(|word| !word.word.is_empty()).count();
        (said..=bar.len()).contains(&key.len())
    });
    if alike.count() * 3 < written.len() * 2 {
        return None;
    }
    let mut steps = Vec::with_capacity(keys.counts.len() + lines.len());
    for (index, (key, bar)) in of_key.into_iter().zip(written).enumerate() {
        steps.extend(index.checked_sub(1).map(|before| Step::BarLine(Some(lines[before]))));
        steps.extend(inside(&keys.counts, tokens, key, bar));
    }
    Some(steps)
}

/// Every bar as long as in the key, where no bar line is written, there are as many words as counts, and the numbers go
/// straight on from 1: somebody who counts so never begins again, whatever bar a 1 would fit.
fn straight_on(keys: &[Key], tokens: &[Token]) -> Option<Vec<Step>> {
    let numbers = tokens.iter().filter_map(|token| token.word()?.number);
    let straight = numbers.zip(1..).all(|(number, expected)| number == expected);
    let of_key = bars(keys);
    if !straight
        || of_key.len() < 2
        || tokens.len() != keys.len()
        || tokens.iter().any(|token| token.word().is_none())
    {
        return None;
    }
    let mut steps = Vec::with_capacity(keys.len() + of_key.len());
    for bar in of_key {
        steps.extend((bar.start > 0).then_some(Step::BarLine(None)));
        steps.extend(inside(keys, tokens, bar.clone(), bar));
    }
    Some(steps)
}

/// The steps of one bar anew, every beat by itself, where the bar has as many words as the key and each beat begins
/// with its own word in the same place; a bar line that ends it stays.
fn beat_by_beat(keys: &[Key], tokens: &[Token], bar: &[Step]) -> Option<Vec<Step>> {
    let (mut of_key, mut written, mut line) = (Vec::new(), Vec::new(), None);
    for step in bar {
        match *step {
            Step::Pair(key, token) => {
                of_key.push(key);
                written.push(token);
            }
            Step::Missing(key) => of_key.push(key),
            Step::Extra(token) => written.push(token),
            Step::BarLine(_) => line = Some(*step),
            Step::BarLineInside(_) => return None,
        }
    }
    let begins = |index: usize| *keys[of_key[index]].part.numer() == 0;
    let as_in_key =
        |index: usize| word(tokens, written[index]).is_some_and(|word| word.word == keys[of_key[index]].word);
    if of_key.len() != written.len() || !(0..of_key.len()).all(|index| !begins(index) || as_in_key(index)) {
        return None;
    }
    let beats = ranges(of_key.len(), begins).into_iter();
    let steps = beats.flat_map(|beat| {
        let (first, last) = (beat.start, beat.end - 1);
        inside(keys, tokens, of_key[first]..of_key[last] + 1, written[first]..written[last] + 1)
    });
    Some(steps.chain(line).collect())
}

/// The steps through some of the keys and tokens.
fn inside(keys: &[Key], tokens: &[Token], key: Range<usize>, token: Range<usize>) -> Vec<Step> {
    let steps = align(&keys[key.clone()], &tokens[token.clone()]);
    steps.into_iter().map(|step| step.moved(key.start, token.start)).collect()
}

/// The counts of each bar of the key.
fn bars(keys: &[Key]) -> Vec<Range<usize>> {
    ranges(keys.len(), |index| keys[index - 1].bar != keys[index].bar)
}

/// `0..len` cut before every index, beside 0, that `begins` one.
fn ranges(len: usize, begins: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
    let starts: Vec<usize> = (0..len).filter(|&index| index == 0 || begins(index)).collect();
    let ends = starts.iter().skip(1).copied().chain([len]);
    starts.iter().copied().zip(ends).map(|(start, end)| start..end).collect()
}
