//! Misunderstandings that show in the answer as a whole.

use std::collections::HashSet;

use rhythm::Rhythm;

use super::super::MisunderstandingKind as Kind;
use super::super::cells::Sheet;
use super::super::token::{Token, Written};
use super::super::words;
use super::super::{align, key};
use super::{Case, sentence};
use crate::CountLine;

/// Needless words that make a habit.
const HABIT: usize = 3;

/// Words shown of an answer in another system.
const SHOWN: usize = 8;

/// The answer is in another system: it has most counts right there, and far fewer, `own`, in the key's.
pub(super) fn another_system(
    sheet: &mut Sheet<'_>,
    own: usize,
    line: &CountLine,
    rhythm: &Rhythm,
) -> Option<Case> {
    let of = sheet.keys.len();
    let written = sheet.tokens.iter().filter(|token| matches!(token, Token::Word(_))).count();
    if own * 5 >= of * 3 || written == 0 {
        return None;
    }
    let mut best: Option<(usize, usize, &str)> = None;
    for (name, other) in words::other_lines(line, rhythm) {
        let keys = key::Keys::of(&other, rhythm).counts;
        let right = words_right(&keys, sheet.tokens);
        let better = best.as_ref().is_none_or(|(most, ..)| right > *most);
        // Four in five of what that system has, most of what is written, and half as many again as in the key's own.
        if right * 5 >= keys.len() * 4 && right * 5 >= written * 4 && right * 2 >= own * 3 && better {
            best = Some((right, keys.len(), name));
        }
    }
    let (right, of_other, name) = best?;
    let tokens: Vec<usize> = (0..sheet.tokens.len()).collect();
    let words = sheet.words(&tokens);
    let shown = sentence::words(words.iter().copied().take(SHOWN));
    let expected = sentence::keys(sheet.keys.iter().take(SHOWN));
    let wrong = sheet.cells.iter().filter(|cell| !sheet.is_right(cell)).count();
    let first = sheet.keys.first()?;
    sheet.cells.iter_mut().for_each(|cell| cell.explained = true);
    Some(Case {
        kind: Kind::AnotherSystem,
        bar: first.bar,
        at: first.at,
        evidence: words.iter().map(|word| word.span.clone()).collect(),
        explains: wrong,
        says: format!(
            "the words are those of {name}, {shown}, and {right} of {of_other} are right there; the key counts in {}, {expected}",
            line.system().title()
        ),
    })
}

/// How many keys have their word, whatever is done there.
pub(super) fn words_right(keys: &[key::Key], tokens: &[Token]) -> usize {
    let pairs = align::align(keys, tokens).into_iter();
    let same = |step| match step {
        align::Step::Pair(key, token) => {
            align::word(tokens, token).is_some_and(|word| word.word == keys[key].word)
        }
        _ => false,
    };
    pairs.filter(|step| same(*step)).count()
}

/// A word in every beat, also where nothing begins.
pub(super) fn every_division(sheet: &mut Sheet<'_>, line: &CountLine, rhythm: &Rhythm) -> Option<Case> {
    let needless = |sheet: &Sheet<'_>, index: usize| {
        let cell = &sheet.cells[index];
        let word = sheet.word_of(cell).filter(|_| cell.key.is_none() && !cell.explained)?;
        word.number.is_none().then(|| word.clone())
    };
    let found: Vec<usize> = (0..sheet.cells.len()).filter(|&i| needless(sheet, i).is_some()).collect();
    let words: Vec<_> = found.iter().filter_map(|&i| needless(sheet, i)).collect();
    // They are words of the key or of its system for parts of a beat, so that they are no slips, and there are more of
    // them than beats without.
    let own: HashSet<&str> = sheet.keys.iter().map(|key| key.word.as_str()).chain(["&"]).collect();
    let parts = words::BeatWords::of(line.system());
    let known = words.iter().all(|word| own.contains(word.word.as_str()) || parts.says(&word.word));
    let beats = sheet.keys.iter().filter(|key| key.on_beat).count();
    if words.len() < HABIT || words.len() * 3 < beats || !known {
        return None;
    }
    let first = sheet.cells[found[0]];
    let range = sheet.bars().into_iter().find(|range| range.contains(&found[0]))?;
    let keys = sheet.keys_in(range.clone());
    let written = sheet.tokens_in(range);
    let mut different: Vec<&Written> = Vec::new();
    for word in &words {
        if different.iter().all(|other| other.word != word.word) {
            different.push(word);
        }
    }
    different.sort_by_key(|word| parts.first_place(&word.word));
    let shown = sentence::words(different.iter().copied());
    let written_are = match different.as_slice() {
        [_] => format!("{shown} is written"),
        _ => format!("words between the beats, {shown}, are written"),
    };
    let says = format!(
        "{written_are} {} times where nothing begins, first in {}, {}; the key has a word between the beats only where a \
         note or a rest begins, {}",
        words.len(),
        sentence::bar(rhythm, first.bar),
        sentence::words(sheet.words(&written)),
        sentence::keys(keys.iter().copied())
    );
    let at = keys.iter().find(|key| key.beat >= first.beat).or(keys.first()).map(|key| key.at)?;
    found.iter().for_each(|&i| sheet.cells[i].explained = true);
    let evidence = words.iter().map(|word| word.span.clone()).collect();
    Some(Case { kind: Kind::EveryDivision, bar: first.bar, at, evidence, explains: words.len(), says })
}

/// Bar lines inside a bar.
pub(super) fn bar_lines(sheet: &Sheet<'_>, rhythm: &Rhythm) -> Vec<Case> {
    let case = |&(before, token): &(usize, usize)| {
        let Some(Token::BarLine(span)) = sheet.tokens.get(token) else { return None };
        let (before, behind) = (sheet.keys.get(before)?, sheet.keys.get(before + 1)?);
        let says = format!(
            "a bar line is written behind {} in {}; in the key the bar goes on with {}",
            sentence::keys([before]),
            sentence::bar(rhythm, before.bar),
            sentence::keys([behind])
        );
        let evidence = vec![span.clone()];
        Some(Case { kind: Kind::BarLineInside, bar: before.bar, at: behind.at, evidence, explains: 0, says })
    };
    sheet.inside.iter().filter_map(case).collect()
}
